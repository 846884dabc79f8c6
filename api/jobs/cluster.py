"""A Dask cluster: as an executor for `--scheduler ADDRESS`, as a crew for `CUTOPT_SCHEDULER`.

Only this module knows the cluster's client. Workers need the same version of cutopt and one
thread each (`--nthreads 1`): threads of one worker die together.
"""

from __future__ import annotations

import contextlib
import threading
import time
import uuid
from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import Any

from api.jobs.crew import Crew, Tell
from api.jobs.job import Told
from api.jobs.work import Done, Task, perform
from api.operation import adopt
from cutopt.records import CutoptError

__all__ = ["ClusterCrew", "executor"]

_CONNECT_SECONDS = "5s"
#: Seconds between two looks at how many workers there are.
_COUNT_EVERY = 5.0
#: Seconds between two words of a task, and between two looks at its flag: each is a message that
#: the scheduler handles.
_TELL_EVERY = 1.0
_LOOK_EVERY = 1.0


def executor(address: str) -> Executor:
    """The cluster behind a scheduler's address, such as `tcp://mill-1:8786`, as an executor.

    The workers need the same version of cutopt. Raises CutoptError where no client is installed
    or nobody answers at the address.
    """
    found: Executor = _client(address).get_executor(pure=False)
    return found


def _client(address: str) -> Any:
    try:
        from distributed import Client
    except ImportError as error:
        raise CutoptError("no cluster client is installed; install cutopt[cluster]") from error
    adopt("distributed")
    try:
        return Client(address, timeout=_CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise CutoptError(f"no scheduler answers at {address}") from error


class ClusterCrew(Crew):
    """The workers of a Dask cluster, as many as there are at the moment.

    A scheduler that goes away is looked for again at the next task.
    """

    def __init__(self, address: str) -> None:
        self._address = address
        self._topic = f"cutopt-{uuid.uuid4().hex}"
        self._client: Any = None
        self._executor: Executor | None = None
        self._tells: dict[int, Tell] = {}
        self._futures: dict[int, Future[Done]] = {}
        self._flags: dict[int, Any] = {}
        self._dropped: set[int] = set()
        self._stale = False
        self._places = 0
        self._counted = -_COUNT_EVERY

    def open(self) -> None:
        """Connect, unless there is a connection. Raises CutoptError."""
        if self._client is not None and self._client.status == "running" and not self._stale:
            return
        if self._client is not None:
            self.close()
        self._stale = False
        self._client = _client(self._address)
        self._executor = self._client.get_executor(pure=False)
        self._client.subscribe_topic(self._topic, self._hear)
        self._counted = -_COUNT_EVERY

    def places(self) -> int:
        """One for each thread of each worker; looked up every few seconds."""
        now = time.monotonic()
        client = self._client
        if client is not None and now - self._counted >= _COUNT_EVERY:
            self._counted = now
            with contextlib.suppress(OSError, TimeoutError, RuntimeError):
                self._places = sum(client.nthreads().values())
        return self._places

    def start(self, task: Task, tell: Tell) -> Future[Done]:
        """Send a task to the scheduler."""
        if self._executor is None:
            raise CutoptError("not connected")
        self._tells[task.number] = tell
        future = self._executor.submit(perform_there, task, self._topic)
        self._futures[task.number] = future
        return future

    def cancel(self, number: int) -> None:
        """Set the event that the task looks at."""
        if number in self._futures and number not in self._flags:
            from distributed import Event

            with contextlib.suppress(OSError, TimeoutError, RuntimeError):
                flag = Event(_flag_name(self._topic, number), client=self._client)
                flag.set()
                self._flags[number] = flag

    def kill(self, number: int) -> None:
        """Let go of it: the scheduler forgets it, and its worker ends it when it next looks."""
        if number in self._futures:
            self._dropped.add(number)
            self._futures[number].cancel()

    def ended(self, number: int, error: BaseException | None) -> tuple[str, int] | None:
        """A task that killed its workers comes back with the number of them."""
        future = self._futures.pop(number, None)
        if future is not None and future.cancelled() and number not in self._dropped:
            self._stale = True  # the scheduler was lost; what it had for us is gone
        self._dropped.discard(number)
        self._tells.pop(number, None)
        flag = self._flags.pop(number, None)
        if flag is not None:
            with contextlib.suppress(OSError, TimeoutError, RuntimeError):
                flag.clear()
        if error is None or self._client is None:
            return None
        from distributed import KilledWorker

        if isinstance(error, KilledWorker):
            return "its worker on the cluster was lost", error.allowed_failures + 1
        return None

    def close(self) -> None:
        """Let go of every task and of the scheduler."""
        client, self._client, self._executor = self._client, None, None
        if client is not None:
            with contextlib.suppress(OSError, TimeoutError, RuntimeError):
                client.close(timeout=2)

    def _hear(self, event: Any) -> None:
        """Progress, as it came through the scheduler."""
        _, (number, told) = event
        tell = self._tells.get(number)
        if tell is not None:
            materials, phase, objective, bound, done = told
            tell(Told(tuple(materials), phase, objective, bound, done))


def _flag_name(topic: str, number: int) -> str:
    return f"{topic}-{number}"


def perform_there(task: Task, topic: str) -> Done:
    """Do a task in a worker of the cluster."""
    from distributed import Event, get_client, get_worker

    worker = get_worker()
    key = worker.get_current_task()
    flag = Event(_flag_name(topic, task.number), client=get_client())
    cancelled, ended = threading.Event(), threading.Event()

    def let_go() -> bool:
        """Whether nobody waits for the task any more."""
        found = worker.state.tasks.get(key)
        return found is None or found.state not in ("executing", "long-running")

    def raised() -> bool:
        try:
            return bool(flag.is_set())
        except (OSError, TimeoutError, RuntimeError):
            return False  # the scheduler is away; the task is not told of anything

    def tell(told: Told) -> None:
        words = (list(told.materials), told.phase, told.objective, told.bound, told.done)
        worker.log_event(topic, (task.number, words))

    watcher = threading.Thread(
        target=_watch, args=(lambda: let_go() or raised(), cancelled, ended), daemon=True
    )
    watcher.start()
    try:
        return perform(task, cancelled.is_set, tell, _TELL_EVERY)
    finally:
        ended.set()
        watcher.join()


def _watch(look: Callable[[], bool], cancelled: threading.Event, ended: threading.Event) -> None:
    while not ended.wait(_LOOK_EVERY):
        if look():
            cancelled.set()
            return

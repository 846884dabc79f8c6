"""Who does the work: worker processes of this machine, each behind an executor of its own.

A process pool that loses one process is broken as a whole: every task that it had is lost, and
nobody can tell which one was to blame. So each worker is a pool of one. Whatever kills a worker
takes one task with it, and its pool is made anew.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
import time
from abc import ABC, abstractmethod
from collections.abc import Callable
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnContext
from multiprocessing.process import BaseProcess
from typing import Any

from api.jobs.job import Told
from api.jobs.work import Done, Task, perform

__all__ = ["Crew", "LocalCrew"]

#: Requests come before plans where cores are few.
_NICE = 10
#: Seconds between two words of a task.
_TELL_EVERY = 0.1
_LAST_WORDS = 5.0
_LITTLE = 0.01

Tell = Callable[[Told], None]


class Crew(ABC):
    """Workers behind executors. All of it is called by one thread, but for `close`."""

    @abstractmethod
    def open(self) -> None:
        """Be ready to start tasks. Raises CutoptError where the workers can't be reached."""

    @abstractmethod
    def places(self) -> int:
        """How many tasks may run side by side."""

    @abstractmethod
    def start(self, task: Task, tell: Tell) -> Future[Done]:
        """Give a task to a free worker; `tell` hears of its progress, from some thread."""

    @abstractmethod
    def cancel(self, number: int) -> None:
        """Raise the flag of a running task: it ends with the best that it has."""

    @abstractmethod
    def kill(self, number: int) -> None:
        """End a running task at once, or let go of it where it can't be reached."""

    @abstractmethod
    def ended(self, number: int, error: BaseException | None) -> tuple[str, int] | None:
        """A task's future has ended: how its worker was lost and how often, or None if it was not.

        Called once for each task, before another one takes its place.
        """

    @abstractmethod
    def close(self) -> None:
        """End whatever still runs."""


class LocalCrew(Crew):
    """So many processes of this machine, each spawned when it is first needed, and kept.

    Parameters
    ----------
    count
        Worker processes; 0 for as many as there are cores.
    """

    def __init__(self, count: int) -> None:
        self._idle = [_Worker() for _ in range(count or os.cpu_count() or 1)]
        self._all = list(self._idle)
        self._busy: dict[int, _Worker] = {}

    def open(self) -> None:
        """They are spawned as they are needed."""

    def places(self) -> int:
        """One for each process."""
        return len(self._all)

    def start(self, task: Task, tell: Tell) -> Future[Done]:
        """Give a task to an idle process, preferably one that runs already."""
        worker = max(self._idle, key=lambda w: w.warm)
        future = worker.start(task, tell)
        self._idle.remove(worker)
        self._busy[task.number] = worker
        return future

    def cancel(self, number: int) -> None:
        """Send the word through the worker's pipe."""
        if number in self._busy:
            self._busy[number].cancel(number)

    def kill(self, number: int) -> None:
        """Kill the process; its pool is made anew."""
        if number in self._busy:
            self._busy[number].kill()

    def ended(self, number: int, error: BaseException | None) -> tuple[str, int] | None:
        """The worker is free again, with a new process where the old one died."""
        worker = self._busy.pop(number)
        self._idle.append(worker)
        if not isinstance(error, BrokenProcessPool):
            return None
        how = worker.how_it_ended()
        worker.renew()
        return how, 1

    def close(self) -> None:
        """Kill every process."""
        for worker in self._all:
            worker.close()


class _Context(SpawnContext):
    """Remembers the process that an executor starts: how it ended, only it can tell."""

    started: BaseProcess | None = None

    def Process(self, *words: Any, **more: Any) -> BaseProcess:  # type: ignore[override] # noqa: N802
        self.started = SpawnContext.Process(*words, **more)
        return self.started


class _Worker:
    """A pool of one process, and the pipe to it."""

    def __init__(self) -> None:
        self._make()

    def _make(self) -> None:
        self._context = _Context()
        self._pipe, self._theirs = self._context.Pipe()
        self._pool: Executor = ProcessPoolExecutor(1, self._context, start_worker, (self._theirs,))
        self._tells: dict[int, Tell] = {}
        self.warm = False

    def start(self, task: Task, tell: Tell) -> Future[Done]:
        self._tells = {task.number: tell}
        try:
            future = self._pool.submit(perform_here, task)
        except BrokenProcessPool:  # it died while it had nothing to do
            self.renew()
            self._tells = {task.number: tell}
            future = self._pool.submit(perform_here, task)
        if not self.warm:
            # Its end of the pipe is its alone, so that each hears of the other's death.
            self.warm = True
            self._theirs.close()
            hears = threading.Thread(
                target=_hear, args=(self._pipe, self._tells_of), name="worker-news", daemon=True
            )
            hears.start()
        return future

    def _tells_of(self, number: int) -> Tell | None:
        return self._tells.get(number)

    def cancel(self, number: int) -> None:
        with contextlib.suppress(OSError):
            self._pipe.send(number)

    def kill(self) -> None:
        process = self._context.started
        if process is not None and process.pid is not None:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.kill(process.pid, signal.SIGKILL)

    def how_it_ended(self) -> str:
        process = self._context.started
        code = None
        until = time.monotonic() + _LAST_WORDS
        while process is not None and code is None and time.monotonic() < until:
            process.join(_LAST_WORDS)
            code = process.exitcode
            if code is None:
                # The pool's own thread waits for it too: whoever comes second hears a little later.
                time.sleep(_LITTLE)
        if code is not None and code < 0:
            return f"the planning process was ended by {signal.Signals(-code).name}"
        if code is None:
            return "the planning process was lost"
        return f"the planning process ended with code {code}"

    def renew(self) -> None:
        self.close()
        self._make()

    def close(self) -> None:
        self.kill()
        self._pool.shutdown(wait=False)
        if not self.warm:
            self._pipe.close()
            self._theirs.close()


def _hear(pipe: Connection, tell_of: Callable[[int], Tell | None]) -> None:
    """Pass on what a worker tells until it dies."""
    with contextlib.suppress(EOFError, OSError), pipe:
        while True:
            number, told = pipe.recv()
            tell = tell_of(number)
            if tell is not None:
                tell(told)


# What runs in a worker

_pipe: Connection | None = None
_sending = threading.Lock()
_cancelled: set[int] = set()


def start_worker(pipe: Connection) -> None:
    """Set up a worker process. It leads a group of its own and ends when the service dies."""
    global _pipe
    _pipe = pipe
    with contextlib.suppress(OSError):
        os.setpgrp()
    os.nice(_NICE)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_listen, args=(pipe,), daemon=True).start()


def _listen(pipe: Connection) -> None:
    try:
        while True:
            _cancelled.add(pipe.recv())
    except (EOFError, OSError):
        os.killpg(os.getpgrp(), signal.SIGKILL)


def perform_here(task: Task) -> Done:
    """Do a task in this worker process."""
    pipe = _pipe
    if pipe is None:
        raise RuntimeError("a worker that was never started")

    def tell(told: Told) -> None:
        with _sending, contextlib.suppress(OSError):  # the listener ends us if nobody hears
            pipe.send((task.number, told))

    done = perform(task, lambda: task.number in _cancelled, tell, _TELL_EVERY)
    _cancelled.discard(task.number)
    return done

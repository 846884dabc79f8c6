"""Whose turn it is: tasks of all plants over one crew, one plant after the other.

Each plant has a queue of its own. Whenever a worker is free, the plant whose turn it is gives it
the first task of its queue and goes to the end of the line; so a plant with a thousand tasks and
one with a single task wait equally long for their next worker.
"""

from __future__ import annotations

import itertools
import logging
import threading
from collections import deque
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from queue import SimpleQueue
from typing import Any

from api.jobs.crew import Crew
from api.jobs.job import Told
from api.jobs.work import Done, Task
from cutopt.records import CutoptError

__all__ = ["Ended", "Entry", "Gone", "Lost", "Turns"]

_LOG = logging.getLogger("cutopt.planner")
_numbers = itertools.count(1)


@dataclass(frozen=True, slots=True)
class Lost:
    """A task's worker was lost `times` times: how."""

    why: str
    times: int = 1


@dataclass(frozen=True, slots=True)
class Gone:
    """The workers can't be reached at all."""

    why: str


Ended = Done | Lost | Gone


@dataclass(eq=False, slots=True)
class Entry:
    """A task that waits or runs.

    Parameters
    ----------
    plant
        In whose turn it is started.
    make
        Makes the task at the moment when a worker is free; given its number.
    tell
        Hears of its progress, from some thread.
    ended
        Hears once how it ended, unless it was dropped before.
    first
        Goes before what its plant has waiting.
    """

    plant: int
    make: Callable[[int], Task]
    tell: Callable[[Told], None]
    ended: Callable[[Ended], None]
    first: bool = False
    number: int = 0
    cancelled: bool = False
    dropped: bool = False
    running: bool = field(default=False, init=False)


class Turns:
    """One thread that gives tasks to a crew's free workers."""

    def __init__(self, crew: Crew) -> None:
        self._crew = crew
        self._inbox: SimpleQueue[tuple[Any, ...]] = SimpleQueue()
        self._waiting: dict[int, deque[Entry]] = {}  # in the order of the plants' turns
        self._running: dict[int, Entry] = {}
        self._thread = threading.Thread(target=self._run, name="turns", daemon=True)

    def start(self) -> None:
        """Begin to give out tasks."""
        self._thread.start()

    def stop(self) -> None:
        """End every task; nobody hears of it."""
        if self._thread.is_alive():
            self._inbox.put((self._stop,))
            self._thread.join()
        self._crew.close()

    def add(self, entry: Entry) -> None:
        """Let a task wait for its turn."""
        self._inbox.put((self._add, entry))

    def cancel(self, entry: Entry) -> None:
        """Raise a task's flag, wherever it is: one that still waits is started with it raised."""
        self._inbox.put((self._cancel, entry))

    def drop(self, entry: Entry) -> None:
        """End a task; nobody hears of it any more."""
        self._inbox.put((self._drop, entry))

    def reached(self) -> str | None:
        """Why the workers can't be reached, or None where they can."""
        answer: SimpleQueue[str | None] = SimpleQueue()
        self._inbox.put((self._reach, answer))
        return answer.get()

    @property
    def places(self) -> int:
        """Workers at the moment."""
        return max(1, self.count)

    @property
    def count(self) -> int:
        """Workers at the moment; 0 where there are none."""
        return self._crew.places()

    # In the thread

    def _run(self) -> None:
        while True:
            act, *words = self._inbox.get()
            if act == self._stop:
                return
            try:
                act(*words)
                self._fill()
            except Exception:  # the thread never dies: what it held is planned again
                _LOG.exception("a task could not be given out")

    def _stop(self) -> None:
        """Only its name is of use."""

    def _reach(self, answer: SimpleQueue[str | None]) -> None:
        why: str | None = "the service could not look"
        try:
            self._crew.open()
            why = None
        except CutoptError as error:
            why = str(error)
        finally:
            answer.put(why)

    def _add(self, entry: Entry) -> None:
        queue = self._waiting.setdefault(entry.plant, deque())
        if entry.first:
            queue.appendleft(entry)
        else:
            queue.append(entry)

    def _cancel(self, entry: Entry) -> None:
        entry.cancelled = True
        if entry.running:
            self._crew.cancel(entry.number)

    def _drop(self, entry: Entry) -> None:
        entry.dropped = True
        if entry.running:
            self._crew.kill(entry.number)
            return
        queue = self._waiting.get(entry.plant, deque())
        if entry in queue:
            queue.remove(entry)
        if not queue:
            self._waiting.pop(entry.plant, None)

    def _ended(self, entry: Entry, future: Future[Done]) -> None:
        del self._running[entry.number]
        entry.running = False
        error = CancelledWorkError() if future.cancelled() else future.exception()
        lost = self._crew.ended(entry.number, error)
        if entry.dropped:
            return
        if lost is not None:
            entry.ended(Lost(*lost))
        elif future.cancelled():
            entry.ended(Gone("the cluster let go of it"))
        elif error is not None:
            entry.ended(Lost(f"{type(error).__name__}: {error}"))
        else:
            entry.ended(future.result())

    def _fill(self) -> None:
        if not self._waiting:
            return
        try:
            self._crew.open()
            while self._waiting and len(self._running) < self._crew.places():
                self._start(self._next())
        except CutoptError as error:
            self._give_up(str(error))

    def _next(self) -> Entry:
        plant = next(iter(self._waiting))
        queue = self._waiting.pop(plant)
        entry = queue.popleft()
        if queue:
            self._waiting[plant] = queue  # at the end of the line
        return entry

    def _start(self, entry: Entry) -> None:
        entry.number = next(_numbers)
        try:
            future = self._crew.start(entry.make(entry.number), entry.tell)
        except Exception as error:
            entry.ended(Gone(f"{type(error).__name__}: {error}"))
            raise
        entry.running = True
        self._running[entry.number] = entry
        future.add_done_callback(lambda f: self._inbox.put((self._ended, entry, f)))

    def _give_up(self, why: str) -> None:
        waiting = [entry for queue in self._waiting.values() for entry in queue]
        self._waiting.clear()
        for entry in waiting:
            entry.ended(Gone(why))


class CancelledWorkError(Exception):
    """A future was cancelled by those who ran it."""

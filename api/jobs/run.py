"""A plan or a curve under way: read, each group of materials searched, the answer written.

Each step is a task of its own, so that the materials of all plants and days are spread over all
workers. A task whose worker is lost runs again; one that loses its worker too often is set aside
with its plan, for the reason that is told, and no other plan suffers.
"""

from __future__ import annotations

import time
from functools import partial
from queue import Empty, SimpleQueue
from types import TracebackType
from typing import Any

from api.jobs.job import Crashed, Job, Told
from api.jobs.turns import Ended, Entry, Gone, Lost, Turns
from api.jobs.work import Answer, Groups, PackedGroup, Task, make_answer, read_groups, search

__all__ = ["Run"]

#: A group may take so many times its due of the time that is left, and at most so much of it.
_DUE, _MOST_SHARE = 1.5, 0.75
#: Told of a group whose worker was lost.
_AGAIN = "its worker was lost; planned again"

Said = Told | Lost | Gone | Answer


class Run:
    """A context: whatever still waits or runs when it closes is ended.

    Parameters
    ----------
    turns
        Who gives out its tasks.
    job
        What is to be made.
    plant
        In whose turn.
    most_lost
        A task that lost its worker so often is set aside.
    grace
        Seconds that a task may take beyond its search before it is ended.
    """

    def __init__(
        self, turns: Turns, job: Job, plant: int, most_lost: int = 3, grace: float = 120.0
    ) -> None:
        self._turns = turns
        self._job = job
        self._plant = plant
        self._most_lost = most_lost
        self._grace = grace
        self._news: SimpleQueue[tuple[_Step, Told | Ended]] = SimpleQueue()
        self._steps: set[_Step] = set()
        self._found: dict[int, Any] = {}
        self._groups = 0
        self._cancelled = False
        self._add(_Step("read", (), read_groups, (job,)))

    def __enter__(self) -> Run:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()

    def next(self, seconds: float) -> Said | None:
        """What is to be said next, or None where there is nothing for so long."""
        end = time.monotonic() + seconds
        while True:
            try:
                step, news = self._news.get(timeout=max(0.0, end - time.monotonic()))
            except Empty:
                return self._overdue()
            said = self._hear(step, news)
            if said is not None:
                return said

    def cancel(self) -> None:
        """Ask for the best so far, of what runs and of what still waits; twice changes nothing."""
        if not self._cancelled:
            self._cancelled = True
            for step in self._steps:
                self._turns.cancel(step.entry)

    def kill(self) -> None:
        """End everything at once."""
        for step in self._steps:
            self._turns.drop(step.entry)
        self._steps.clear()

    # Its steps

    def _add(self, step: _Step, first: bool = False) -> None:
        entry = Entry(
            self._plant,
            partial(self._make, step),
            lambda told: self._news.put((step, told)),
            lambda ended: self._news.put((step, ended)),
            first=first,
            cancelled=self._cancelled,
        )
        step.entry, step.began = entry, None
        self._steps.add(step)
        self._turns.add(entry)

    def _make(self, step: _Step, number: int) -> Task:
        """The task of a step whose turn has come; called by the thread that gives out tasks."""
        words = step.words
        step.seconds = 0.0
        if step.group is not None:
            step.seconds = self._share()
            words = (self._job.of, step.group, step.seconds, self._job.seed)
        step.began = time.monotonic()
        return Task(number, step.do, words, step.entry.cancelled)

    def _share(self) -> float:
        """Seconds for a group, of those that the whole plan may take.

        Only time in which its groups ran counts, over as many workers as it could have: a plan
        that waits for other plants' turns loses nothing by it. What comes behind a group keeps
        some.
        """
        searches = [s for s in tuple(self._steps) if s.group is not None]
        now = time.monotonic()
        running = [now - s.began for s in searches if s.began is not None]
        width = min(self._turns.places, self._groups) or 1
        left = max(0.0, self._job.seconds - (self._spent + sum(running)) / width)
        waiting = len(searches) - len(running)
        if waiting <= width:
            return left
        return left * min(_MOST_SHARE, _DUE * width / waiting)

    _spent = 0.0

    def _hear(self, step: _Step, news: Told | Ended) -> Said | None:
        if step not in self._steps or news == step.told:
            return None
        if isinstance(news, Told):
            step.told = news
        if isinstance(news, Told | Gone):
            return news
        self._steps.discard(step)
        if isinstance(news, Lost):
            return self._lost(step, news)
        if isinstance(news.value, Groups):
            self._search(news.value)
            return None
        if step.group is None or isinstance(news.value, Crashed):
            self.kill()
            answer: Answer = news.value
            return answer
        self._found[step.position] = news.value
        self._spent += news.seconds
        if len(self._found) == self._groups:
            self._finish()
        # It may have been told already: what is told and what is made come by ways of their own.
        return news.told if news.told != step.told else None

    def _search(self, read: Groups) -> None:
        self._groups = len(read.groups)
        for position in read.heaviest:
            group = read.groups[position]
            name = ", ".join(group.materials)
            self._add(_Step(name, group.materials, search, (), position, group))
        if not read.groups:
            self._finish()

    def _finish(self) -> None:
        found = tuple(self._found[position] for position in range(self._groups))
        self._add(_Step("write", (), make_answer, (self._job, found)), first=True)

    def _lost(self, step: _Step, lost: Lost) -> Said:
        step.lost += lost.times
        if step.lost >= self._most_lost:
            self.kill()
            what = f"{step.name}: " if step.group is not None else ""
            often = f", {step.lost} times" if step.lost > 1 else ""
            return Crashed(f"{what}{lost.why}{often}", died=True)
        if step.materials:
            self._news.put((step, Told(step.materials, _AGAIN, None, None, done=False)))
        self._add(step, first=True)
        return lost

    def _overdue(self) -> Crashed | None:
        now = time.monotonic()
        for step in self._steps:
            if step.began is not None and now - step.began > step.seconds + self._grace:
                guard = step.seconds + self._grace
                self.kill()
                return Crashed(f"{step.name}: it did not end within {guard:.0f} s")
        return None


class _Step:
    """One step of a run; its entry is another one after its worker was lost."""

    entry: Entry

    def __init__(
        self,
        name: str,
        materials: tuple[str, ...],
        do: Any,
        words: tuple[Any, ...],
        position: int = 0,
        group: PackedGroup | None = None,
    ) -> None:
        self.name = name
        self.materials = materials
        self.do = do
        self.words = words
        self.position = position
        self.group = group
        self.told: Told | None = None
        self.lost = 0
        self.seconds = 0.0
        self.began: float | None = None

"""Groups of materials solved side by side in their own processes.

Processes are spawned, never forked: a fork after a HiGHS solve hangs. The biggest groups start
first; results come back in the order of the groups whatever the order in which they end, so that
the number of workers changes nothing but the time.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from multiprocessing.synchronize import Event
from queue import Empty, SimpleQueue
from typing import Any, TypeVar

from cutopt.materials import Kind
from cutopt.plan import Group, MaterialPlan
from cutopt.solve.least_orders import with_least_orders
from cutopt.solve.outcome import Outcome
from cutopt.solve.search import Progress, Report, Watch, no_report

__all__ = [
    "each_group",
    "each_group_on",
    "heaviest_first",
    "solve_group",
    "solve_groups",
    "solve_groups_on",
]

T = TypeVar("T")
#: What is done with a group: (group, seconds, seed, cancelled, report). It is sent to other
#: processes: a function of a module, or a `functools.partial` of one.
One = Callable[[Group, float, int, Callable[[], bool], Report], T]

#: Seconds between two looks at the flag.
_LOOK = 0.1
#: A group may take so many times its due of the time that is left, and at most so much of it.
_DUE, _MOST_SHARE = 1.5, 0.75
#: Seconds that a worker elsewhere may take beyond the deadline to come back.
_GRACE = 10.0


def solve_group(
    group: Group,
    seconds: float,
    seed: int,
    cancelled: Callable[[], bool],
    report: Report,
) -> tuple[MaterialPlan, ...]:
    """The plans of one group's materials, found in this process."""
    watch = Watch(seconds, cancelled)
    solver = _solver(group.kind)
    report(Progress(group.materials, "started"))
    plans = with_least_orders(group, lambda g: solver(g, watch, seed, report))
    report(
        Progress(
            group.materials,
            "done",
            float(sum(p.objective for p in plans)),
            float(sum(p.bound for p in plans)),
            done=True,
        )
    )
    return plans


def _solver(kind: Kind) -> Callable[[Group, Watch, int, Report], Outcome]:
    """The room for a kind of material: a worker loads only what its groups need."""
    if kind is Kind.LUMBER:
        from cutopt.solve.lumber import solve_sticks

        return solve_sticks
    from cutopt.solve.sheets import solve_sheets

    return solve_sheets


_cancel: Event | None = None
_news: Any = None


def _start_worker(cancel: Event, news: Any) -> None:
    """A worker leaves Ctrl-C to its parent, which raises the flag."""
    global _cancel, _news
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _cancel, _news = cancel, news


def _share(deadline: float, waiting: int, workers: int) -> float:
    """Seconds for a group while so many, itself included, have not begun.

    Several times what is its due, since most groups end by themselves; but what comes behind it
    keeps some.
    """
    left = max(0.0, deadline - time.time())
    if waiting <= workers:
        return left
    return left * min(_MOST_SHARE, _DUE * workers / waiting)


def _work(one: One[T], group: Group, deadline: float, waiting: int, workers: int, seed: int) -> T:
    cancel, news = _cancel, _news
    if cancel is None:
        raise RuntimeError("a worker that was never started")
    return one(group, _share(deadline, waiting, workers), seed, cancel.is_set, news.put)


def _heavy(group: Group) -> tuple[int, int, int]:
    """Sheets and many sizes take longest: start them first."""
    kinds = len({(p.length, p.width) for p in group.parts})
    runs = sum(p.qty for p in group.parts if p.joints is not None)
    return (group.kind is Kind.SHEET and len(group.offers) > 1, kinds + 4 * runs, group.pieces)


def heaviest_first(groups: Sequence[Group]) -> list[int]:
    """Positions of the groups from the one that is likely to take longest."""
    return sorted(range(len(groups)), key=lambda i: _heavy(groups[i]), reverse=True)


def solve_groups(
    groups: Sequence[Group],
    seconds: float,
    seed: int,
    workers: int,
    report: Report,
    cancelled: Callable[[], bool],
) -> list[tuple[MaterialPlan, ...]]:
    """Solve every group within `seconds`, on `workers` processes (1: in this one)."""
    return each_group(solve_group, groups, seconds, seed, workers, report, cancelled)


def each_group(
    one: One[T],
    groups: Sequence[Group],
    seconds: float,
    seed: int,
    workers: int,
    report: Report,
    cancelled: Callable[[], bool],
) -> list[T]:
    """What `one` makes of every group within `seconds`, on `workers` processes (1: in this one).

    `cancelled` is asked about ten times a second; once it says True, or on Ctrl-C, every search
    ends with the best that it has. A worker that dies has its groups solved again, in this process.
    """
    deadline = time.time() + seconds
    flag = _Interrupt(cancelled)
    if workers <= 1 or len(groups) <= 1:
        with flag:
            return [
                one(g, _share(deadline, len(groups) - i, 1), seed, flag, report)
                for i, g in enumerate(groups)
            ]
    results: dict[int, T] = {}
    context = multiprocessing.get_context("spawn")
    cancel = context.Event()
    news = context.Queue()
    order = heaviest_first(groups)
    workers = min(workers, len(groups))
    with flag:
        try:
            with ProcessPoolExecutor(workers, context, _start_worker, (cancel, news)) as pool:
                futures = {
                    pool.submit(_work, one, groups[i], deadline, len(order) - n, workers, seed): i
                    for n, i in enumerate(order)
                }
                for future in _as_they_end(futures, flag, cancel, news, report):
                    results[futures[future]] = future.result()
        except BrokenProcessPool:
            report(Progress((), "a worker died; its materials are planned again"))
        for i in order:
            if i not in results:
                left = max(0.0, deadline - time.time())
                results[i] = one(groups[i], left, seed, flag, report)
    _tell(news, report)
    return [results[i] for i in range(len(groups))]


def _work_alone(one: One[T], group: Group, seconds: float, seed: int) -> T:
    """For an executor of somebody else's, perhaps on another machine: no flag, no news."""
    return one(group, seconds, seed, lambda: False, no_report)


def solve_groups_on(
    executor: Executor,
    groups: Sequence[Group],
    seconds: float,
    seed: int,
    report: Report,
    cancelled: Callable[[], bool],
) -> list[tuple[MaterialPlan, ...]]:
    """Solve every group on a given executor, such as a cluster's."""
    return each_group_on(solve_group, executor, groups, seconds, seed, report, cancelled)


def each_group_on(
    one: One[T],
    executor: Executor,
    groups: Sequence[Group],
    seconds: float,
    seed: int,
    report: Report,
    cancelled: Callable[[], bool],
) -> list[T]:
    """What `one` makes of every group on a given executor.

    What has not come back when the caller cancels, or whose worker fails, is planned in this
    process: at once with what can be had at once, or again in full.
    """
    flag = _Interrupt(cancelled)
    results: dict[int, T] = {}
    deadline = time.time() + seconds
    order = heaviest_first(groups)
    with flag:
        futures = {executor.submit(_work_alone, one, groups[i], seconds, seed): i for i in order}
        waiting = set(futures)
        while waiting and not flag() and time.time() < deadline + _GRACE:
            done, waiting = wait(waiting, timeout=_LOOK, return_when=FIRST_COMPLETED)
            for future in done:
                materials = groups[futures[future]].materials
                if future.exception() is not None:
                    report(Progress(materials, "failed on its worker; planned again here"))
                    continue
                results[futures[future]] = future.result()
                report(Progress(materials, "done", done=True))
        for future in waiting:
            future.cancel()
        for i in order:
            if i not in results:
                left = max(0.0, deadline - time.time())
                results[i] = one(groups[i], left, seed, flag, report)
    return [results[i] for i in range(len(groups))]


def _as_they_end(
    futures: dict[Future[T], int],
    flag: _Interrupt,
    cancel: Event,
    news: Any,
    report: Report,
) -> Iterator[Future[T]]:
    waiting = set(futures)
    while waiting:
        done, waiting = wait(waiting, timeout=_LOOK, return_when=FIRST_COMPLETED)
        if flag():
            cancel.set()
        _tell(news, report)
        yield from sorted(done, key=lambda f: futures[f])


def _tell(news: Any, report: Report) -> None:
    with contextlib.suppress(Empty):
        while True:
            report(news.get_nowait())


class _Interrupt:
    """True once the caller cancelled or Ctrl-C was pressed; a second Ctrl-C ends the program."""

    def __init__(self, cancelled: Callable[[], bool]) -> None:
        self._cancelled = cancelled
        self._pressed: SimpleQueue[int] = SimpleQueue()
        self._old: Any = None
        self._set = False

    def __call__(self) -> bool:
        return not self._pressed.empty() or self._cancelled()

    def __enter__(self) -> _Interrupt:
        with contextlib.suppress(ValueError):  # signals can only be set in the main thread
            self._old = signal.signal(signal.SIGINT, self._press)
            self._set = True
        return self

    def __exit__(self, *exc: object) -> None:
        if self._set:
            signal.signal(signal.SIGINT, self._old)

    def _press(self, number: int, frame: object) -> None:
        if not self._pressed.empty():
            raise KeyboardInterrupt
        self._pressed.put(number)

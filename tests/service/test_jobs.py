"""Jobs over a crew of workers: whose turn it is, lost workers, poisoned tasks, cancel."""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from pathlib import Path
from typing import Any

import pytest

from api.jobs import (
    Crashed,
    Crew,
    DayFiles,
    Job,
    LocalCrew,
    Lost,
    PlannedFiles,
    Refused,
    Run,
    Told,
    Turns,
)
from api.jobs import run as runs
from api.jobs.turns import Entry
from api.jobs.work import Done, Task, search
from tests.service.days import demo_files, small_files

SMALL = Job((DayFiles("2026-03-02", "files", small_files()),), 60, 1)


@pytest.fixture
def turns() -> Iterator[Turns]:
    """Two workers of this machine."""
    turns = Turns(LocalCrew(2))
    turns.start()
    yield turns
    turns.stop()


def until_ended(run: Run, seconds: float = 150) -> tuple[Any, list[Any]]:
    """What came of it, and what was said before."""
    said: list[Any] = []
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        news = run.next(0.2)
        if news is not None and not isinstance(news, Told | Lost):
            return news, said
        if news is not None:
            said.append(news)
    raise AssertionError(f"it did not end: {said}")


def die(*_: object) -> None:
    """Takes its worker with it."""
    os.kill(os.getpid(), signal.SIGKILL)


def die_once(of: Any, group: Any, seconds: float, seed: int, *rest: Any) -> Any:
    """Takes the first worker with it, and is searched by the second."""
    flag = Path(os.environ["CUTOPT_TEST_FLAG"])
    if group.materials == ("OSB-7/16",) and not flag.exists():
        flag.touch()
        die()
    return search(of, group, seconds, seed, *rest)


def die_of_sheets(of: Any, group: Any, seconds: float, seed: int, *rest: Any) -> Any:
    """Takes every worker with it that looks at sheets."""
    if group.materials == ("OSB-7/16",):
        die()
    return search(of, group, seconds, seed, *rest)


class ByHand(Crew):
    """Workers that end when the test says so."""

    def __init__(self, places: int) -> None:
        self._places = places
        self.started: list[tuple[Task, Future[Done]]] = []

    def open(self) -> None: ...

    def places(self) -> int:
        return self._places

    def start(self, task: Task, tell: Callable[[Told], None]) -> Future[Done]:
        future: Future[Done] = Future()
        self.started.append((task, future))
        return future

    def cancel(self, number: int) -> None: ...

    def kill(self, number: int) -> None: ...

    def ended(self, number: int, error: BaseException | None) -> None: ...

    def close(self) -> None: ...


def wait_until(what: Callable[[], bool]) -> None:
    end = time.monotonic() + 10
    while not what():
        assert time.monotonic() < end
        time.sleep(0.005)


def test_no_plant_starves_another() -> None:
    """Plant 1 has a hundred tasks before plants 2 and 3 come with two each."""
    crew = ByHand(1)
    turns = Turns(crew)
    turns.start()
    ended: list[Any] = []
    for plant, count in ((1, 100), (2, 2), (3, 2)):
        for turn in range(count):
            words = (plant, turn)
            turns.add(
                Entry(
                    plant,
                    lambda number, words=words: Task(number, die, words),  # type: ignore[misc]
                    lambda told: None,
                    ended.append,
                )
            )
    for step in range(8):
        wait_until(lambda step=step: len(crew.started) == step + 1)  # type: ignore[misc]
        time.sleep(0.01)
        crew.started[step][1].set_result(Done(None, None, 0.0))
    turns.stop()
    order = [task.words for task, _ in crew.started[:8]]
    assert order == [(1, 0), (1, 1), (2, 0), (3, 0), (1, 2), (2, 1), (3, 1), (1, 3)]
    assert len(ended) >= 7


def test_a_plan_is_made_of_tasks(turns: Turns) -> None:
    with Run(turns, SMALL, 1) as run:
        answer, said = until_ended(run)
    assert isinstance(answer, PlannedFiles)
    assert {"plan.json", "report.html"} <= set(answer.files)
    done = [told.materials for told in said if told.done]
    assert sorted(done) == [("2x4-SPF-2",), ("OSB-7/16",)]


def where_it_runs(*_: object) -> tuple[int, int, int]:
    """Its session, whether it leads a group of its own, and how nice it is."""
    return os.getsid(0), int(os.getpgrp() == os.getpid()), os.nice(0)


def test_workers_give_way_to_requests(turns: Turns) -> None:
    """Within the service's session: in one of their own, Linux would share out cores by session."""
    ended: list[Any] = []
    turns.add(
        Entry(1, lambda n: Task(n, where_it_runs, ()), lambda told: None, ended.append)  # type: ignore[misc]
    )
    wait_until(lambda: bool(ended))
    assert ended[0].value == (os.getsid(0), 1, min(19, os.nice(0) + 10))


def test_a_day_that_cannot_be_read_is_refused(turns: Turns) -> None:
    job = Job((DayFiles("x", "files", small_files(stock=b"nothing\n")),), 60, 1)
    with Run(turns, job, 1) as run:
        answer, _ = until_ended(run)
    assert isinstance(answer, Refused)
    assert answer.faults


def test_the_task_of_a_lost_worker_runs_again(
    turns: Turns, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("CUTOPT_TEST_FLAG", str(tmp_path / "died"))
    monkeypatch.setattr(runs, "search", die_once)
    with Run(turns, SMALL, 1) as run:
        answer, said = until_ended(run)
    assert isinstance(answer, PlannedFiles)
    assert Lost("the planning process was ended by SIGKILL") in said
    told = [s for s in said if isinstance(s, Told) and "planned again" in s.phase]
    assert [t.materials for t in told] == [("OSB-7/16",)]


def test_a_poisoned_task_is_set_aside_and_takes_no_other_with_it(
    turns: Turns, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two plans side by side on two workers: one kills every worker that it gets."""
    long = Job((DayFiles("2026-03-02", "files", demo_files(lists=("walls",))),), 60, 1)
    with Run(turns, long, 2) as sound:
        monkeypatch.setattr(runs, "search", die_of_sheets)
        with Run(turns, SMALL, 1, most_lost=3) as poisoned:
            answer, said = until_ended(poisoned)
        monkeypatch.undo()
        assert answer == Crashed(
            "OSB-7/16: the planning process was ended by SIGKILL, 3 times", died=True
        )
        assert sum(isinstance(s, Lost) for s in said) == 2
        answer, said = until_ended(sound)
    assert isinstance(answer, PlannedFiles)
    assert not any(isinstance(s, Lost) for s in said)


def test_what_runs_and_what_waits_is_cancelled(turns: Turns) -> None:
    """A day of more groups than workers, cancelled at once: all end with what they have."""
    job = Job((DayFiles("2026-03-02", "files", demo_files()),), 600, 1)
    with Run(turns, job, 1) as run:
        while not isinstance(run.next(1), Told):
            pass
        run.cancel()
        began = time.monotonic()
        answer, _ = until_ended(run)
    assert isinstance(answer, PlannedFiles)
    assert answer.interrupted
    assert time.monotonic() - began < 100


def test_what_is_dropped_frees_its_workers(turns: Turns) -> None:
    job = Job((DayFiles("2026-03-02", "files", demo_files()),), 600, 1)
    with Run(turns, job, 1) as run:
        while not isinstance(run.next(1), Told):
            pass
    with Run(turns, SMALL, 1) as run:
        answer, said = until_ended(run)
    assert isinstance(answer, PlannedFiles)
    assert not any(isinstance(s, Lost) for s in said)


def test_a_task_without_end_is_ended(turns: Turns, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runs, "search", sleep)
    job = Job(SMALL.days, 0.5, 1)
    with Run(turns, job, 1, grace=3.0) as run:
        answer, _ = until_ended(run)
    assert isinstance(answer, Crashed)
    assert "it did not end within" in answer.why


def sleep(*_: object) -> None:
    """Hears of nothing."""
    time.sleep(600)

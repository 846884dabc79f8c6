"""Plans on the workers of a Dask cluster, which stands in processes of its own."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from api.jobs import Crashed, DayFiles, Gone, Job, LocalCrew, Lost, PlannedFiles, Run, Told, Turns
from api.jobs import run as runs
from api.jobs.cluster import ClusterCrew
from tests.service.days import demo_files
from tests.service.test_jobs import SMALL, die_of_sheets, until_ended
from tests.service.test_plans import timeless

CLUSTER = """
import sys
import dask
from distributed import LocalCluster
if __name__ == "__main__":
    dask.config.set({"distributed.scheduler.allowed-failures": 0})
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
"""
ROOT = Path(__file__).resolve().parents[2]


@contextmanager
def started(folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """A cluster's process and its scheduler's address."""
    script = folder / "cluster.py"
    script.write_text(CLUSTER, encoding="utf-8")
    with (folder / "log").open("wb") as log:
        cluster = subprocess.Popen(
            [sys.executable, script],
            cwd=folder,
            env=os.environ | {"PYTHONPATH": str(ROOT)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        )
    with cluster:
        assert cluster.stdout is not None
        yield cluster, cluster.stdout.readline().strip()
        if cluster.poll() is None:
            cluster.communicate("", timeout=30)


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A scheduler that lives as long as these tests."""
    pytest.importorskip("distributed")
    with started(tmp_path_factory.mktemp("cluster")) as (_, address):
        yield address


@pytest.fixture
def turns(address: str) -> Iterator[Turns]:
    turns = Turns(ClusterCrew(address))
    turns.start()
    yield turns
    turns.stop()


def test_a_cluster_gives_the_same_plan(turns: Turns) -> None:
    with Run(turns, SMALL, 1) as run:
        far, said = until_ended(run)
    assert isinstance(far, PlannedFiles)
    assert {told.materials for told in said if told.done} == {("2x4-SPF-2",), ("OSB-7/16",)}
    here = Turns(LocalCrew(1))
    here.start()
    with Run(here, SMALL, 1) as run:
        near, _ = until_ended(run)
    here.stop()
    assert isinstance(near, PlannedFiles)
    assert timeless(far.files["plan.json"]) == timeless(near.files["plan.json"])


def test_what_runs_on_a_cluster_hears_that_it_is_cancelled(turns: Turns) -> None:
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


def test_a_poisoned_task_is_set_aside_on_a_cluster(
    turns: Turns, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(runs, "search", die_of_sheets)
    with Run(turns, SMALL, 1, most_lost=2) as run:
        answer, said = until_ended(run)
    assert answer == Crashed("OSB-7/16: its worker on the cluster was lost, 2 times", died=True)
    assert sum(isinstance(s, Lost) for s in said) == 1
    monkeypatch.undo()
    with Run(turns, SMALL, 1) as run:
        answer, _ = until_ended(run)
    assert isinstance(answer, PlannedFiles)


def test_nobody_at_the_address_is_told() -> None:
    pytest.importorskip("distributed")
    turns = Turns(ClusterCrew("tcp://127.0.0.1:9"))
    turns.start()
    with Run(turns, SMALL, 1) as run:
        answer, _ = until_ended(run)
    turns.stop()
    assert answer == Gone("no scheduler answers at tcp://127.0.0.1:9")


def test_a_scheduler_that_goes_away_gives_plans_back(tmp_path: Path) -> None:
    """Gone in the middle of a plan: what it had can be planned again elsewhere."""
    pytest.importorskip("distributed")
    with started(tmp_path) as (process, address):
        turns = Turns(ClusterCrew(address))
        turns.start()
        job = Job((DayFiles("2026-03-02", "files", demo_files()),), 600, 1)
        with Run(turns, job, 1) as run:
            while not isinstance(run.next(1), Told):
                pass
            process.kill()
            answer, _ = until_ended(run)
        assert isinstance(answer, Gone)
        assert turns.reached() == f"no scheduler answers at {address}"
        turns.stop()

"""`cutopt plan --scheduler ADDRESS`: the same plan from workers of a Dask cluster."""

from __future__ import annotations

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from cutopt.cli import main
from cutopt.files import read_days
from cutopt.plan import Problem
from cutopt.solve import Settings, solve

pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.fixture(scope="module")
def address() -> Iterator[str]:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        yield cluster.scheduler_address


def test_a_cluster_gives_the_same_plan(day, tmp_path, address) -> None:  # type: ignore[no-untyped-def]
    folder = day()
    assert main(["plan", str(folder), "--out", str(tmp_path / "far"), "--scheduler", address]) == 0
    assert main(["plan", str(folder), "--out", str(tmp_path / "near"), "--workers", "1"]) == 0
    far, near = (
        re.sub(rb'"seconds": [0-9.eE+-]+', b"", (tmp_path / n / "plan.json").read_bytes())
        for n in ("far", "near")
    )
    assert far == near


def test_nobody_at_the_address_is_told(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    pytest.importorskip("distributed")
    code = main(["plan", str(day()), "--out", str(tmp_path), "--scheduler", "tcp://127.0.0.1:9"])
    assert code == 2
    assert "no scheduler answers at tcp://127.0.0.1:9" in capsys.readouterr().err


class Broken(ThreadPoolExecutor):
    """An executor whose workers die."""

    def submit(self, *_: object, **__: object):  # type: ignore[no-untyped-def,override]
        def fail() -> None:
            raise RuntimeError("lost")

        return super().submit(fail)


def test_what_fails_elsewhere_is_planned_here(day: object) -> None:
    folder: Path = day()  # type: ignore[operator]
    problem = Problem(read_days([folder]).days)
    phases: list[str] = []
    with Broken(1) as executor:
        plan = solve(
            problem, Settings(workers=1), lambda p: phases.append(p.phase), executor=executor
        )
    assert len(plan.materials) == 3
    assert all(m.layouts for m in plan.materials)
    assert any("planned again here" in p for p in phases)

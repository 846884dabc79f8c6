"""`cutopt plan --scheduler ADDRESS`: the same plan from workers of a Dask cluster."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from cutopt.files import read_days
from cutopt.plan import Problem
from cutopt.solve import Settings, solve

CLUSTER = """
import sys
from distributed import LocalCluster
if __name__ == "__main__":
    with LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A cluster in processes of its own, so that none of its threads stays behind in the tests."""
    pytest.importorskip("distributed")
    script = tmp_path_factory.mktemp("cluster") / "cluster.py"
    script.write_text(CLUSTER, encoding="utf-8")
    cluster = subprocess.Popen(
        [sys.executable, script],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    )
    with cluster:
        assert cluster.stdout is not None
        yield cluster.stdout.readline().strip()
        cluster.communicate("", timeout=30)


def planned(day: Path, out: Path, *words: str) -> subprocess.CompletedProcess[str]:
    command = Path(sys.executable).parent / "cutopt"
    return subprocess.run(
        [command, "plan", day, "--out", out, *words], capture_output=True, text=True, check=False
    )


def test_a_cluster_gives_the_same_plan(day, tmp_path, address) -> None:  # type: ignore[no-untyped-def]
    folder = day()
    assert planned(folder, tmp_path / "far", "--scheduler", address).returncode == 0
    assert planned(folder, tmp_path / "near", "--workers", "1").returncode == 0
    far, near = (
        re.sub(rb'"seconds": [0-9.eE+-]+', b"", (tmp_path / n / "plan.json").read_bytes())
        for n in ("far", "near")
    )
    assert far == near


def test_nobody_at_the_address_is_told(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    pytest.importorskip("distributed")
    done = planned(day(), tmp_path / "out", "--scheduler", "tcp://127.0.0.1:9")
    assert done.returncode == 2
    assert "no scheduler answers at tcp://127.0.0.1:9" in done.stderr


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

"""`python -m tests.bench soak`: many plants' days through two services, a PostgreSQL and a cluster.

40 plants with 5 days each (`--quick`: 3 with 2 small ones; `--plants`, `--days`, `--share`,
`--workers`), all waiting at the start, are planned by the workers of a distributed LocalCluster,
and one busy worker is killed in the middle. Then the days that lost their worker, and some others
(`--again`), are planned once more by the library alone. It exits 1 unless every plan ended, each
exactly once, a worker was lost indeed, and those plans are the same. CPU seconds, memory, bytes and
messages are printed for each plan: what `What 1,000 plants would need` in DEVELOPERS.md is worked
out from.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from random import Random
from typing import Any

import psutil
from sqlalchemy import text

from api.services.days import DayService
from api.services.plans import PlanService
from api.settings import Settings
from api.shapes import NewPlan
from api.store import Database
from api.store.models import PlantRow
from cutopt.cutlist import read_raw_days
from cutopt.files import outputs, raw_day_from_files
from cutopt.plan import Problem
from cutopt.solve import Settings as Planning
from cutopt.solve import solve
from tests.bench.load.service import Service, database
from tests.bench.soak.days import days_of
from tests.bench.soak.watch import Watch

__all__ = ["main"]

_ROOT = Path(__file__).resolve().parents[3]
_LOOK = 0.5
_SECONDS = 600.0
_SMALL = ("floors", "walls")


@dataclass(slots=True)
class Soak:
    """What one run came to."""

    plans: dict[str, str] = field(default_factory=dict)  # digest by day
    faults: list[str] = field(default_factory=list)
    seconds: float = 0.0
    lost: int = 0
    hit: list[str] = field(default_factory=list)  # days whose plan lost a worker
    figures: dict[str, float] = field(default_factory=dict)
    messages: dict[str, Any] = field(default_factory=dict)
    served: list[str] = field(default_factory=list)


def main(words: Sequence[str]) -> int:
    """Run, print the figures, compare; 1 where a promise is missed."""
    asked = _asked(words)
    soak = _run(asked)
    faults = list(soak.faults)
    if not soak.lost:
        faults.append("no worker was lost: the plans were too quick to be hit")
    _print(soak)
    compared = _compared(asked, soak)
    faults += [
        f"{day}: another plan than the library alone makes"
        for day in compared
        if _digest(_alone(asked, day)) != soak.plans[day]
    ]
    print(f"{len(compared)} plans made again by the library alone, {len(soak.hit)} that were hit")
    for fault in faults:
        print(f"short: {fault}")
    print("short of what is promised" if faults else "all plans ended once, none was changed")
    return 1 if faults else 0


def _compared(asked: argparse.Namespace, soak: Soak) -> list[str]:
    """The days that were hit, and some others by a seed."""
    others = sorted(set(soak.plans) - set(soak.hit))
    return [*soak.hit, *Random(1).sample(others, min(asked.again, len(others)))]


def _alone(asked: argparse.Namespace, day: str) -> bytes:
    """plan.json of a day as the library makes it, with nobody beside it."""
    plant = int(day.partition(",")[0].removeprefix("Plant "))
    files = days_of(plant, asked.days, asked.share, asked.lists)[day]
    reading = read_raw_days([raw_day_from_files(day, files)])
    problem = Problem(reading.days, reading.warnings)
    return outputs(problem, solve(problem, Planning(_SECONDS)))["plan.json"]


def _digest(document: bytes) -> str:
    """Of a plan.json, but for seconds."""
    timeless = re.sub(rb'("seconds": )[0-9.eE+-]+', rb"\1 0", document)
    return hashlib.sha256(timeless).hexdigest()


def _asked(words: Sequence[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench soak")
    parser.add_argument("--quick", action="store_true", help="3 plants, 2 small days each")
    parser.add_argument("--plants", type=int)
    parser.add_argument("--days", type=int)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--services", type=int, default=2)
    parser.add_argument("--whole", action="store_true", help="whole demo days with --quick too")
    parser.add_argument("--share", type=float, help="of each list's sections that a day keeps")
    parser.add_argument("--again", type=int, help="so many plans are made again to compare with")
    asked = parser.parse_args(words)
    asked.plants = asked.plants or (3 if asked.quick else 40)
    asked.days = asked.days or (2 if asked.quick else 5)
    small = asked.quick and not asked.whole
    asked.share = asked.share or (0.34 if small else 0.9)
    asked.lists = _SMALL if small else ()
    asked.again = (2 if asked.quick else 10) if asked.again is None else asked.again
    return asked


@contextmanager
def _cluster(workers: int, folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    with (folder / "cluster").open("wb") as log:
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.soak.cluster", str(workers)],
            cwd=_ROOT,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        )
    with process:
        try:
            assert process.stdout is not None
            yield process, process.stdout.readline().strip()
        finally:
            if process.poll() is None:
                process.kill()


def _run(asked: argparse.Namespace) -> Soak:
    soak = Soak()
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        address = stack.enter_context(database("postgresql", folder))
        store = Database(address)
        stack.callback(store.close)
        store.make_tables()
        empty = _stored(store)
        _fill(store, asked)
        filled = _stored(store)
        cluster, scheduler = stack.enter_context(_cluster(asked.workers, folder))
        began = time.monotonic()
        services = [
            stack.enter_context(
                Service(
                    folder,
                    address,
                    CUTOPT_SCHEDULER=scheduler,
                    CUTOPT_PLANS_AT_ONCE=str(max(2, asked.workers)),
                )
            )
            for _ in range(asked.services)
        ]
        roots = {s.process.pid: "services" for s in services if s.process is not None}
        roots[cluster.pid] = "scheduler"
        with Watch(roots, lambda name: "workers" if name == "scheduler" else "") as watch:
            _follow(store, asked, cluster.pid)
        soak.seconds = time.monotonic() - began
        _judge(store, soak)
        _measure(soak, watch, asked, empty, filled, _stored(store))
        soak.messages = json.loads(cluster.communicate("", timeout=60)[0].splitlines()[-1])
    return soak


def _fill(store: Database, asked: argparse.Namespace) -> None:
    """All days of all plants, queued one plant after the other: the first could take all turns."""
    settings = Settings(most_waiting=asked.plants * asked.days + 1)
    days, plans = DayService(store), PlanService(store, settings, lambda: None)
    for plant in range(1, asked.plants + 1):
        row = PlantRow(
            id=uuid.uuid4().hex,
            name=f"Plant {plant:02}",
            zone="UTC",
            unit="in",
            created=datetime.now(UTC),
        )
        with store.write() as session:
            session.add(row)
        for name, files in days_of(plant, asked.days, asked.share, asked.lists).items():
            day = days.add_files(name, files, plant=row.id)
            plans.start(NewPlan(days=[day.id], seconds=_SECONDS))


def _follow(store: Database, asked: argparse.Namespace, cluster: int) -> None:
    """Wait until all have ended; kill a busy worker once a third have."""
    count = asked.plants * asked.days
    killed = False
    end = time.monotonic() + 60 + _SECONDS * count / max(1, asked.workers)
    while time.monotonic() < end:
        with store.read() as session:
            query = text("SELECT count(*) FROM plans WHERE status IN ('queued', 'running')")
            left = int(session.execute(query).scalar_one())
        if not left:
            return
        if not killed and left <= count * 2 / 3:
            _kill_busiest(cluster)
            killed = True
        time.sleep(_LOOK)


def _kill_busiest(cluster: int) -> None:
    below = [p for p in psutil.Process(cluster).children() if "spawn_main" in " ".join(p.cmdline())]
    for process in below:
        process.cpu_percent()
    time.sleep(0.3)
    busiest = max(below, key=lambda p: p.cpu_percent())
    os.kill(busiest.pid, signal.SIGKILL)


def _judge(store: Database, soak: Soak) -> None:
    """Every plan done, ended exactly once; what its plan.json is, but for seconds."""
    query = text(
        "SELECT days.name, plans.status, plans.crashes, plans.ended, "
        "(SELECT count(*) FROM plan_events e WHERE e.plan = plans.number AND e.kind = 'ended'), "
        "(SELECT content FROM plan_files f WHERE f.plan = plans.number AND f.name = 'plan.json') "
        "FROM plans JOIN plan_days ON plan_days.plan = plans.number "
        "JOIN days ON days.number = plan_days.day_number ORDER BY plans.ended"
    )
    with store.read() as session:
        for day, status, crashes, _, ended, content in session.execute(query):
            soak.lost += crashes
            soak.hit += [day] * (crashes > 0)
            soak.served.append(day.partition(",")[0].removeprefix("Plant "))
            if status != "done":
                soak.faults.append(f"{day}: it is {status}")
            if ended != 1:
                soak.faults.append(f"{day}: it ended {ended} times")
            soak.plans[day] = _digest(bytes(content or b""))


def _stored(store: Database) -> dict[str, float]:
    """What the database holds and has done; a connection's doings are told once it is closed."""
    store.close()
    time.sleep(_LOOK)
    with store.read() as session:

        def one(query: str) -> float:
            return float(session.execute(text(query)).scalar_one() or 0)

        name = "WHERE datname = current_database()"
        return {
            "size": one("SELECT pg_database_size(current_database())"),
            "commits": one(f"SELECT xact_commit FROM pg_stat_database {name}"),
            "inserts": one(f"SELECT tup_inserted FROM pg_stat_database {name}"),
            "updates": one(f"SELECT tup_updated FROM pg_stat_database {name}"),
            "wal": one("SELECT pg_current_wal_insert_lsn() - '0/0'::pg_lsn"),
            "events": one("SELECT count(*) FROM plan_events"),
            "files": one("SELECT sum(length(content)) FROM plan_files"),
            "pieces": one("SELECT sum(pieces) FROM days"),
            "materials": one("SELECT sum(json_array_length(materials)) FROM days"),
        }


def _measure(
    soak: Soak,
    watch: Watch,
    asked: argparse.Namespace,
    empty: dict[str, float],
    filled: dict[str, float],
    full: dict[str, float],
) -> None:
    count = asked.plants * asked.days
    each = {
        "pieces of a plan": full["pieces"] / count,
        "materials of a plan": full["materials"] / count,
        "CPU s of workers a plan": watch.cpu.get("workers", 0) / count,
        "CPU s of scheduler and nannies a plan": watch.cpu.get("scheduler", 0) / count,
        "CPU s of services a plan": watch.cpu.get("services", 0) / count,
        "database KiB a posted day": (filled["size"] - empty["size"]) / count / 1024,
        "database KiB a plan": (full["size"] - filled["size"]) / count / 1024,
        "result files KiB a plan": full["files"] / count / 1024,
        "log (WAL) KiB a plan": (full["wal"] - filled["wal"]) / count / 1024,
        "events a plan": full["events"] / count,
        "commits a plan": (full["commits"] - filled["commits"]) / count,
        "rows inserted a plan": (full["inserts"] - filled["inserts"]) / count,
        "rows updated a plan": (full["updates"] - filled["updates"]) / count,
    }
    memory = {f"MiB of the largest of {n}": size for n, size in watch.peak_each.items()}
    total = {f"MiB of all {n}": size for n, size in watch.peak.items()}
    speed = {"plans a minute": count / soak.seconds * 60, "seconds": soak.seconds}
    soak.figures = speed | each | memory | total


def _print(soak: Soak) -> None:
    count = max(1, len(soak.plans))
    print(f"{count} plans, workers lost: {soak.lost}")
    for name, figure in soak.figures.items():
        print(f"  {name:<40} {figure:>10,.2f}")
    work = soak.messages.get("work", {})
    print(f"  {'scheduler messages a plan':<40} {sum(work.values()) / count:>10,.1f}")
    told = ", ".join(f"{op} {n / count:.1f}" for op, n in sorted(work.items()))
    print(f"    of these {told}")
    print(f"    heartbeats in all {soak.messages.get('life', 0)}")
    print(f"  plants in the order of their ends: {' '.join(soak.served[:40])}", flush=True)

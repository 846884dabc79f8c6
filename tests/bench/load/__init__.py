"""`python -m tests.bench load [--quick] [--seconds S] [--rate R] [--on DATABASE]`: a day's traffic.

The installed service over an SQLite and over a PostgreSQL, with twenty stations that read cut
lists and a planner who posts days and reads results, a hundred requests a second in an open loop
for thirty minutes (thirty seconds with `--quick`), while demo days are planned one after the other
and five readers follow each plan's events. Printed are the milliseconds of every route, errors,
CPU and memory of the service, and how late the measuring itself was.

Promises: 99 of 100 requests are answered within 100 ms, on every route too where there are enough
of them to tell; no error; memory does not grow by more than 24 MiB beyond the noise of its line.
"""

from __future__ import annotations

import argparse
import asyncio
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

import psutil

from tests.bench.load.figures import Line, fitted, percentile
from tests.bench.load.plant import Planning, furnished
from tests.bench.load.service import DATABASES, Service, database
from tests.bench.load.traffic import Asked, Mix, run

__all__ = ["main"]

MIB = 1024 * 1024
MOST_SECONDS = 0.100
MOST_GROWTH = 24 * MIB
#: Requests of a route below which its hundredth is no figure.
ENOUGH = 400
STATIONS = 20
#: What is not yet warm is not measured.
WARM = 10.0


@dataclass(frozen=True, slots=True)
class Measured:
    """One database's figures."""

    routes: dict[str, Asked]
    late: list[float]
    memory: Line
    level: float
    cpu: float
    planned: int
    failed: list[str]

    def short(self) -> list[str]:
        """What falls short, in words."""
        every = [s for asked in self.routes.values() for s in asked.seconds]
        found = [f"a plan: {why}" for why in self.failed]
        if percentile(every, 0.99) > MOST_SECONDS:
            found.append(f"p99 of all requests {1000 * percentile(every, 0.99):.0f} ms")
        for route, asked in self.routes.items():
            found += [f"{route}: {error}" for error in asked.errors[:3]]
            if len(asked.seconds) >= ENOUGH and percentile(asked.seconds, 0.99) > MOST_SECONDS:
                found.append(f"{route}: p99 {1000 * percentile(asked.seconds, 0.99):.0f} ms")
        if self.memory.grows(MOST_GROWTH):
            found.append(f"memory grew by {self.memory.growth / MIB:.0f} MiB")
        if not self.planned:
            found.append("no plan ran beside it to its end")
        return found


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept on every database, 1 where one falls short."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench load", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="30 seconds instead of 30 minutes")
    parser.add_argument("--seconds", type=float, help="how long, on each database")
    parser.add_argument("--rate", type=float, default=100.0, help="requests a second")
    parser.add_argument("--on", choices=DATABASES, help="this database alone")
    parser.add_argument("--idle", action="store_true", help="no plan beside it, to find its share")
    words = parser.parse_args(arguments)
    seconds = words.seconds or (30.0 if words.quick else 1800.0)
    short = []
    for kind in [words.on] if words.on else DATABASES:
        measured = measure(kind, words.rate, seconds, not words.idle)
        show(kind, measured, words.rate, seconds)
        missed = [] if not words.idle else ["no plan ran beside it to its end"]
        short += [f"{kind}: {what}" for what in measured.short() if what not in missed]
    for what in short:
        print(f"SHORT {what}")
    print("SHORT" if short else "ok", "(a sample)" if seconds < 1800 else "")
    return 1 if short else 0


def measure(kind: str, rate: float, seconds: float, plan: bool = True) -> Measured:
    """Start a service on such a database and load it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with database(kind, folder) as address, Service(folder, address) as service:
            plant = furnished(service, STATIONS)
            assert service.process is not None
            process = psutil.Process(service.process.pid)
            memory: list[tuple[float, float]] = []
            stop = threading.Event()
            planning = Planning(service, plant, stop)
            if plan:
                planning.start()
            asyncio.run(run(plant, Mix(plant, Random(1)), rate, WARM, lambda: None))
            began = time.perf_counter()
            used = process.cpu_times()

            def look() -> None:
                memory.append((time.perf_counter() - began, process.memory_info().rss))

            routes, late = asyncio.run(run(plant, Mix(plant, Random(2)), rate, seconds, look))
            after = process.cpu_times()
            took = time.perf_counter() - began
            stop.set()
            if plan:
                planning.join()
            return Measured(
                routes,
                late,
                fitted(memory),
                memory[-1][1] if memory else 0.0,
                (after.user + after.system - used.user - used.system) / took,
                planning.done,
                planning.failed,
            )


def show(kind: str, measured: Measured, rate: float, seconds: float) -> None:
    """Print the figures: milliseconds by route, then the rest."""
    print(f"\n{kind}: {rate:g} requests a second, {seconds:g} s; milliseconds by route")
    print(f"{'':<32}{'count':>8}{'errors':>8}{'p50':>8}{'p95':>8}{'p99':>8}{'most':>9}{'KiB':>8}")
    every = Asked()
    for route, asked in sorted(measured.routes.items()):
        _line(route, asked)
        every.seconds += asked.seconds
        every.errors += asked.errors
        every.bytes += asked.bytes
    _line("all", every)
    memory = measured.memory
    print(
        f"memory {measured.level / MIB:.0f} MiB, {memory.growth / MIB:+.1f} MiB in "
        f"{memory.seconds:.0f} s (± {memory.error * memory.seconds / MIB:.1f}); CPU of the service "
        f"{measured.cpu:.0%} of a core; {measured.planned} plans ended beside it; requests went "
        f"out late by {1000 * percentile(measured.late, 0.99):.1f} ms (p99)",
        flush=True,
    )


def _line(name: str, asked: Asked) -> None:
    figures = (
        [1000 * percentile(asked.seconds, share) for share in (0.5, 0.95, 0.99, 1.0)]
        if asked.seconds
        else [0.0] * 4
    )
    count = len(asked.seconds) + len(asked.errors)
    texts = "".join(f"{f:>8.1f}" for f in figures[:3]) + f"{figures[3]:>9.1f}"
    size = asked.bytes / 1024 / max(1, count)
    print(f"{name:<32}{count:>8,}{len(asked.errors):>8}{texts}{size:>8.1f}")

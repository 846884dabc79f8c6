"""`python -m tests.bench kills [--quick] [--kills N] [--on DATABASE]`: killed at random.

Three planners' programs post days and plan them, every request with a key and sent until it is
answered, while the service, or a planning process below it, is ended by SIGKILL a hundred times
(six with `--quick`), half of them on an SQLite and half on a PostgreSQL. What is killed, and when,
comes from a seed.

Promises: every day and plan that was accepted is there afterwards, once; every plan is done and the
same to the last figure as undisturbed; the database's own checks pass, no row lacks its parent, and
every plan's events are numbered without a gap and end once.
"""

from __future__ import annotations

import argparse
import tempfile
import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random

from api.access.rights import Role
from tests.bench.kills.after import result, sound_database, wrong_after
from tests.bench.kills.clients import Planner, Work, ask
from tests.bench.load.plant import client_of, headers_of, until_ended
from tests.bench.load.service import DATABASES, Service, database
from tests.service.days import CUTS, small_document

__all__ = ["main"]

PLANNERS = 3
#: Leases are short, so that what was lost is taken up soon; what is killed often is not given up.
SETTINGS = {
    "CUTOPT_LEASE_SECONDS": "2",
    "CUTOPT_MOST_CRASHES": "1000",
    "CUTOPT_WORKERS": "1",
}
_PAUSE = (0.1, 2.0)
_SOON = 15.0


@dataclass(slots=True)
class Kills:
    """How often what was killed."""

    service: int = 0
    planning: int = 0


def main(arguments: Sequence[str]) -> int:
    """0 where nothing was lost, doubled or changed, 1 where something was."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench kills", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="six kills instead of a hundred")
    parser.add_argument("--kills", type=int, help="in all")
    parser.add_argument("--on", choices=DATABASES, help="this database alone")
    parser.add_argument("--seed", type=int, default=1)
    words = parser.parse_args(arguments)
    kinds = [words.on] if words.on else list(DATABASES)
    each = (words.kills or (6 if words.quick else 100)) // len(kinds)
    wrong = []
    for kind in kinds:
        wrong += [f"{kind}: {why}" for why in killed(kind, each, words.seed)]
    for why in wrong:
        print(f"SHORT {why}")
    print("SHORT" if wrong else "ok", "(a sample)" if each * len(kinds) < 100 else "")
    return 1 if wrong else 0


def killed(kind: str, times: int, seed: int) -> list[str]:
    """Kill so often on such a database; what is wrong afterwards."""
    works = [Work(_day(number), number) for number in range(4)]
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with database(kind, folder) as address:
            with Service(folder, address, **SETTINGS) as service:
                headers = headers_of(service, Role.PLANNER)
                expected = {id(work): _undisturbed(service, headers, work) for work in works}
                stop = threading.Event()
                planners = [
                    Planner(number, service, headers_of(service, Role.PLANNER), works, stop)
                    for number in range(PLANNERS)
                ]
                for planner in planners:
                    planner.start()
                kills = _kill(service, times, Random(seed))
                stop.set()
                for planner in planners:
                    planner.join()
                accepted = [planner.accepted for planner in planners]
                wrong = wrong_after(service, headers, accepted, expected)
            wrong += sound_database(address)
    days = sum(len(one.days) for one in accepted)
    plans = sum(len(one.plans) for one in accepted)
    again = sum(one.again for one in accepted)
    print(
        f"{kind}: the service killed {kills.service} times, a planning process {kills.planning} "
        f"times; {days} days and {plans} plans accepted, {again} requests sent again; "
        f"{time.monotonic() - began:.0f} s",
        flush=True,
    )
    return wrong


def _day(number: int) -> dict[str, object]:
    """A day that plans in a moment, each another."""
    return small_document(cuts=[{**row, "qty": int(row["qty"]) + 7 * number} for row in CUTS])


def _undisturbed(service: Service, headers: Mapping[str, str], work: Work) -> object:
    day, _ = ask(service, "POST", "/days", headers, work.document)
    wanted = {"days": [day["id"]], "seed": work.seed, "seconds": 30}
    plan, _ = ask(service, "POST", "/plans", headers, wanted)
    with client_of(service, headers) as client:
        until_ended(client, plan["id"])
    return result(service, headers, plan["id"])


def _kill(service: Service, times: int, random: Random) -> Kills:
    kills = Kills()
    which = ["planning"] * (times // 2) + ["service"] * (times - times // 2)
    random.shuffle(which)
    for one in which:
        time.sleep(random.uniform(*_PAUSE))
        if one == "planning" and _kill_planning(service):
            kills.planning += 1
            continue
        service.kill()
        kills.service += 1
        service.start()
        # Now and then it is killed before it is ready.
        if random.random() < 0.8:
            service.wait_ready()
    if not service.alive:
        service.start()
    service.wait_ready()
    return kills


def _kill_planning(service: Service) -> bool:
    """Whether a planning process came up soon enough to be killed."""
    if not service.alive:
        service.start()
    service.wait_ready()
    end = time.monotonic() + _SOON
    while time.monotonic() < end:
        if service.kill_planner():
            return True
        time.sleep(0.02)
    return False

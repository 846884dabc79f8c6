"""What stations and a planner ask, when, and how long each answer took.

Requests go out at their times whether or not those before were answered (an open loop), and each
is timed from when it should have gone out: a service that stalls can't slow down its measuring.
"""

from __future__ import annotations

import asyncio
import itertools
import json
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from random import Random

from tests.bench.load.wire import Answer, Wire, WireError

__all__ = ["Asked", "Mix", "Plant", "run"]

_GOOD = frozenset({200, 201, 202, 204, 304})
#: Nobody waits longer for an answer.
_LONGEST = 20.0


@dataclass(slots=True)
class Asked:
    """What one route answered: seconds for each good answer, what was wrong with the others."""

    seconds: list[float] = field(default_factory=list)
    bytes: int = 0
    errors: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Plant:
    """What there is to ask for: plans that have ended, the one that runs, days, keys."""

    port: int
    station_keys: list[Mapping[str, str]]
    planner_key: Mapping[str, str]
    days: list[str]
    plans: list[str]
    day: bytes
    running: str = ""
    posted: dict[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Request:
    route: str
    method: str
    path: str
    headers: Mapping[str, str]
    body: bytes = b""
    key: str = ""


class Mix:
    """The requests of a plant in a seeded order.

    Of a hundred, some eighty are of stations that read their cut list and how their plan is, the
    rest of a planner who looks at days, plans and results and posts days, each of them twice.
    """

    def __init__(self, plant: Plant, random: Random) -> None:
        self._plant = plant
        self._random = random
        self._tags: dict[tuple[int, str], str] = {}
        self._count = itertools.count()
        self._again: list[str] = []
        station: list[tuple[int, Callable[[], _Request]]] = [
            (16, lambda: self._station("cut-list", "text/csv")),
            (12, lambda: self._station("cut-list", "application/json")),
            (12, lambda: self._station("cuts", "text/csv")),
            (24, lambda: self._station("", "application/json")),
            (14, lambda: self._station("events", "text/event-stream")),
            (2, lambda: self._plain("/livez", "/livez")),
        ]
        planner: list[tuple[int, Callable[[], _Request]]] = [
            (4, lambda: self._planner("/days", "/days?limit=50")),
            (3, lambda: self._planner("/days/{day}", f"/days/{self._day()}")),
            (4, lambda: self._planner("/plans", "/plans?limit=50")),
            (4, lambda: self._planner("/plans/{plan}", f"/plans/{self._plant.running}")),
            (1, lambda: self._result("stock-order")),
            (1, lambda: self._result("yield")),
            (1, lambda: self._result("plan.json")),
            (1, lambda: self._result("report")),
            (1, self._post),
        ]
        both = [*station, *planner]
        self._makers = [make for _, make in both]
        self._weights = [weight for weight, _ in both]

    def next(self) -> tuple[_Request, Callable[[Answer], str]]:
        """The next request, and what is wrong with its answer ('' where nothing is)."""
        (make,) = self._random.choices(self._makers, self._weights)
        request = make()
        return request, lambda answer: self._wrong(request, answer)

    def _day(self) -> str:
        return self._random.choice(self._plant.days)

    def _station(self, path: str, accept: str) -> _Request:
        number = self._random.randrange(len(self._plant.station_keys))
        plan = self._plant.plans[number % len(self._plant.plans)]
        place = f"/plans/{plan}/{path}".rstrip("/")
        headers = {**self._plant.station_keys[number], "Accept": accept}
        if path == "events":  # it has seen them all
            headers["Last-Event-ID"] = "999999999"
        tag = self._tags.get((number, f"{place} {accept}"))
        # A station asks anew after a restart only; that happens every so often.
        if tag and self._random.random() < 0.5:
            headers["If-None-Match"] = tag
        short = accept.rpartition("/")[2] if path == "cut-list" else ""
        route = f"/plans/{{plan}}/{path}".rstrip("/") + (f" {short}" if short else "")
        return _Request(route, "GET", place, headers, key=f"{number} {place} {accept}")

    def _result(self, path: str) -> _Request:
        plan = self._random.choice(self._plant.plans)
        return self._planner(f"/plans/{{plan}}/{path}", f"/plans/{plan}/{path}")

    def _planner(self, route: str, path: str) -> _Request:
        return _Request(route, "GET", path, self._plant.planner_key)

    def _plain(self, route: str, path: str) -> _Request:
        return _Request(route, "GET", path, {})

    def _post(self) -> _Request:
        key = self._again.pop() if self._again else ""
        if not key:
            key = f"load-{self._random.getrandbits(64):016x}"
        headers = {
            **self._plant.planner_key,
            "Content-Type": "application/json",
            "Idempotency-Key": key,
        }
        return _Request("POST /days", "POST", "/days", headers, self._plant.day, key)

    def _wrong(self, request: _Request, answer: Answer) -> str:
        if answer.status not in _GOOD:
            return f"{answer.status} {answer.body[:160].decode(errors='replace')}"
        if request.method == "POST":
            id = str(json.loads(answer.body)["id"])
            if request.key not in self._plant.posted:
                self._plant.posted[request.key] = id
                self._again.append(request.key)
            elif self._plant.posted[request.key] != id:
                return "one key, two days"
        elif "etag" in answer.headers and request.key:
            number, _, place = request.key.partition(" ")
            self._tags[int(number), place] = answer.headers["etag"]
        return ""


async def run(
    plant: Plant, mix: Mix, rate: float, seconds: float, beside: Callable[[], object]
) -> tuple[dict[str, Asked], list[float]]:
    """Ask `rate` times a second; what came back by route, and how late each request went out.

    `beside` is called about once a second.
    """
    found: dict[str, Asked] = {}
    late: list[float] = []
    idle: list[Wire] = []
    under_way: set[asyncio.Task[None]] = set()

    async def one(request: _Request, wrong: Callable[[Answer], str], due: float) -> None:
        wire = idle.pop() if idle else Wire(plant.port)
        asked = found.setdefault(request.route, Asked())
        late.append(time.perf_counter() - due)
        try:
            answer = await asyncio.wait_for(
                wire.ask(request.method, request.path, request.headers, request.body), _LONGEST
            )
            problem = wrong(answer)
        except (WireError, TimeoutError) as error:
            wire.close()
            problem = f"{type(error).__name__}: {error}"
        else:
            idle.append(wire)
            asked.bytes += len(answer.body)
        if problem:
            asked.errors.append(problem)
        else:
            asked.seconds.append(time.perf_counter() - due)

    began = time.perf_counter()
    looked = began
    for number in range(int(rate * seconds)):
        due = began + number / rate
        wait = due - time.perf_counter()
        if wait > 0:
            await asyncio.sleep(wait)
        task = asyncio.create_task(one(*mix.next(), due))
        under_way.add(task)
        task.add_done_callback(under_way.discard)
        if due - looked >= 1:
            looked = due
            beside()
    while under_way:
        await asyncio.wait(set(under_way))
    for wire in idle:
        await wire.closed()
    return found, late

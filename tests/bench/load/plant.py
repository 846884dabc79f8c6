"""A plant to load: its days and plans in the service, and a planner who plans one after another."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Mapping
from contextlib import suppress
from types import SimpleNamespace

import httpx2

from api.access.rights import Role
from api.services import make_services
from api.settings import Settings
from tests.bench.load.service import Service
from tests.bench.load.traffic import Plant
from tests.service.conftest import signed_in
from tests.service.days import demo_files, parts, small_document

__all__ = ["Planning", "client_of", "furnished", "headers_of", "posted", "started", "until_ended"]

#: Cut lists of a demo day; with all of them a day is planned beside the load.
LISTS = (("walls",), ("floors", "trusses"), ("decks", "board"))
FOLLOWERS = 5
_ENDED = frozenset({"done", "stopped", "failed"})
_LONGEST = 180.0


def headers_of(service: Service, role: Role) -> dict[str, str]:
    """What somebody new of such a role sends with every request: a session's or a key's headers."""
    services = make_services(Settings(database=service.settings["CUTOPT_DATABASE"]))
    try:
        found = signed_in(SimpleNamespace(state=SimpleNamespace(services=services)), role)
    finally:
        services.database.close()
    if "Cookie" in found:  # on this machine, without https, the cookie has its plain name
        found["Cookie"] = found["Cookie"].removeprefix("__Host-")
    return found


def client_of(service: Service, headers: Mapping[str, str]) -> httpx2.Client:
    """A client of somebody who is signed in."""
    return httpx2.Client(base_url=service.base, timeout=30, headers=dict(headers))


def posted(client: httpx2.Client, lists: tuple[str, ...] | None = None) -> str:
    """The id of a posted demo day, of some of its cut lists only where `lists` names them."""
    answer = client.post("/days", files=parts(demo_files(lists=lists)))
    answer.raise_for_status()
    return str(answer.json()["id"])


def started(client: httpx2.Client, day: str, seed: int = 1, seconds: float = 60.0) -> str:
    """The id of a started plan."""
    answer = client.post("/plans", json={"days": [day], "seed": seed, "seconds": seconds})
    answer.raise_for_status()
    return str(answer.json()["id"])


def until_ended(client: httpx2.Client, plan: str, stop: threading.Event | None = None) -> str:
    """A plan's last status, or what it is when told to stop."""
    end = time.monotonic() + _LONGEST
    while True:
        answer = client.get(f"/plans/{plan}")
        answer.raise_for_status()
        status = str(answer.json()["status"])
        if status in _ENDED or (stop is not None and stop.is_set()):
            return status
        if time.monotonic() > end:
            raise RuntimeError(f"plan {plan} is {status} after {_LONGEST:.0f} s")
        time.sleep(0.5)


def furnished(service: Service, stations: int) -> Plant:
    """Days and ended plans for so many stations to read."""
    planner = headers_of(service, Role.PLANNER)
    with client_of(service, planner) as client:
        days = [posted(client, lists) for lists in LISTS]
        plans = [started(client, day, seconds=10.0) for day in days]
        for plan in plans:
            status = until_ended(client, plan)
            if status != "done":
                raise RuntimeError(f"plan {plan} is {status}: {service.log()[-2000:]}")
        days.append(posted(client))
    return Plant(
        port=service.port,
        station_keys=[headers_of(service, Role.STATION) for _ in range(stations)],
        planner_key=planner,
        days=days,
        plans=plans,
        day=json.dumps(small_document()).encode(),
        running=plans[-1],
    )


class Planning(threading.Thread):
    """Plans a whole demo day again and again, each with a seed of its own, followed by some."""

    def __init__(self, service: Service, plant: Plant, stop: threading.Event) -> None:
        super().__init__(name="planning", daemon=True)
        self._service = service
        self._plant = plant
        self._stop_asked = stop
        self.done = 0
        self.failed: list[str] = []

    def run(self) -> None:
        """Until told to stop."""
        with client_of(self._service, self._plant.planner_key) as client:
            seed = 0
            while not self._stop_asked.is_set():
                seed += 1
                try:
                    plan = started(client, self._plant.days[-1], seed)
                    self._plant.running = plan
                    for _ in range(FOLLOWERS):
                        threading.Thread(target=_follow, args=(client, plan), daemon=True).start()
                    status = until_ended(client, plan, self._stop_asked)
                except (httpx2.HTTPError, RuntimeError) as error:
                    self.failed.append(f"{type(error).__name__}: {error}")
                    return
                if status == "done":
                    self.done += 1
                elif not self._stop_asked.is_set():
                    self.failed.append(f"{plan} is {status}")


def _follow(client: httpx2.Client, plan: str) -> None:
    """On the planner's client: to make another costs the measuring as much as a stall would."""
    with (
        suppress(httpx2.HTTPError),  # the service was stopped beneath it
        client.stream("GET", f"/plans/{plan}/events", timeout=_LONGEST) as events,
    ):
        for _ in events.iter_bytes():
            pass

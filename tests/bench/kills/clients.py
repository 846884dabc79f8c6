"""Planners whose programs never give up: each request has a key, and is sent until it is answered.

Whether a request that broke off was carried out nobody knows; sent again under its key it must
come out the same.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Any

import httpx2

from tests.bench.load.service import Service

__all__ = ["Accepted", "Planner", "Work", "ask"]

#: A request that is not answered for so long, restarts and all, is lost.
LONGEST = 120.0
_LOOK = 0.2
_WAIT = frozenset({429, 503})
_ENDED = frozenset({"done", "stopped", "failed"})


@dataclass(frozen=True, slots=True)
class Work:
    """A day and the seed of its plan: few of them, so that every result can be compared."""

    document: Mapping[str, Any]
    seed: int


@dataclass(slots=True)
class Accepted:
    """What the service said that it has: ids by the name that the day was given."""

    days: dict[str, str] = field(default_factory=dict)
    plans: dict[str, str] = field(default_factory=dict)
    work: dict[str, Work] = field(default_factory=dict)
    #: Requests sent again because no answer came.
    again: int = 0
    wrong: list[str] = field(default_factory=list)


class Planner(threading.Thread):
    """Posts days and plans them, one after the other, until told to stop; then ends its last."""

    def __init__(
        self,
        number: int,
        service: Service,
        headers: Mapping[str, str],
        works: Sequence[Work],
        stop: threading.Event,
    ) -> None:
        super().__init__(name=f"planner-{number}", daemon=True)
        self._number = number
        self._service = service
        self._headers = headers
        self._works = works
        self._stop_asked = stop
        self.accepted = Accepted()

    def run(self) -> None:
        """Until told to stop, or a request is lost."""
        random = Random(self._number)
        count = 0
        while not self._stop_asked.is_set():
            count += 1
            try:
                self._one(f"p{self._number}-{count}", random.choice(self._works))
            except (RuntimeError, KeyError, ValueError) as error:
                self.accepted.wrong.append(f"{type(error).__name__}: {error}")
                return

    def _one(self, name: str, work: Work) -> None:
        found = self.accepted
        day = self._ask("POST", f"/days?name={name}", f"day-{name}", work.document)
        found.days[name] = str(day["id"])
        found.work[name] = work
        wanted = {"days": [day["id"]], "seed": work.seed, "seconds": 30}
        plan = self._ask("POST", "/plans", f"plan-{name}", wanted)
        found.plans[name] = str(plan["id"])
        undisturbed = 0.0  # seconds are counted once nothing is killed any more
        while self._ask("GET", f"/plans/{plan['id']}")["status"] not in _ENDED:
            if undisturbed > LONGEST:
                raise RuntimeError(f"plan {plan['id']} has not ended after {LONGEST:.0f} s")
            time.sleep(_LOOK)
            undisturbed += _LOOK * self._stop_asked.is_set()

    def _ask(
        self, method: str, path: str, key: str = "", body: Mapping[str, Any] | None = None
    ) -> dict[str, Any]:
        headers = {**self._headers, **({"Idempotency-Key": key} if key else {})}
        answer, times = ask(self._service, method, path, headers, body)
        self.accepted.again += times - 1
        return answer


def ask(
    service: Service,
    method: str,
    path: str,
    headers: Mapping[str, str],
    body: Mapping[str, Any] | None = None,
) -> tuple[dict[str, Any], int]:
    """What a request is answered, and how often it was sent. RuntimeError where it is refused.

    A broken connection, 429, 503 and 409 while the same key is under way are waited out.
    """
    end = time.monotonic() + LONGEST
    times = 0
    while True:
        times += 1
        try:
            # A connection of its own each time: none outlives a service that was killed.
            # To read the machine's certificates, which plain HTTP needs not, took 30 ms each time.
            answer = httpx2.request(
                method,
                service.base + path,
                headers=dict(headers),
                json=body,
                timeout=20,
                verify=False,
            )
        except httpx2.TransportError:
            again = True
        else:
            again = answer.status_code in _WAIT or (
                answer.status_code == 409 and "key-in-flight" in answer.text
            )
            if not again:
                if answer.status_code >= 400:
                    raise RuntimeError(f"{method} {path}: {answer.status_code} {answer.text[:300]}")
                found: dict[str, Any] = answer.json()
                return found, times
        if time.monotonic() > end:
            raise RuntimeError(f"{method} {path} was not answered for {LONGEST:.0f} s")
        time.sleep(0.1)

"""Checking a plan against its days, as `cutopt check` does."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from typing import Any

from api.jobs import read_sources
from api.services.errors import Busy
from api.services.plans import day_sources
from api.shapes import CheckResult
from api.store import Database
from api.store.days import DayStore
from cutopt.plan.check import check_plan

__all__ = ["CheckService"]

_AT_ONCE = 2
_RETRY = 5


class CheckService:
    """The checker, a few plans at a time."""

    def __init__(self, database: Database) -> None:
        self._database = database
        self._room = threading.BoundedSemaphore(_AT_ONCE)

    def check(self, days: Sequence[str], plan: Mapping[str, Any]) -> CheckResult:
        """Every promise that a plan breaks.

        Raises RequestInvalid naming days that are not there, InputRefused where the days can't be
        planned together, Busy while enough others are being checked.
        """
        if not self._room.acquire(blocking=False):
            raise Busy(f"{_AT_ONCE} plans are being checked", _RETRY)
        try:
            with self._database.read() as session:
                sources = day_sources(DayStore(session), days)
            faults = check_plan(read_sources(sources).days, plan)
        finally:
            self._room.release()
        return CheckResult(checks=not faults, faults=list(faults))

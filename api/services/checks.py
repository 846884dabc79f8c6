"""Checking a plan against its days, as `cutopt check` does."""

from __future__ import annotations

import csv
import threading
from collections.abc import Mapping, Sequence
from typing import Any

from api.access.who import Caller
from api.jobs import read_sources
from api.services.errors import Busy, RequestInvalid
from api.services.keys import keep_alone
from api.services.queue import day_sources
from api.shapes import CheckResult, Fault
from api.store import Database
from api.store.days import DayStore
from cutopt.files import tables_of
from cutopt.plan.check import TABLES, check_plan
from cutopt.records import known_or_nearest

__all__ = ["CheckService"]

_AT_ONCE = 2
_RETRY = 5


class CheckService:
    """The checker, a few plans at a time."""

    def __init__(
        self,
        database: Database,
        caller: Caller | None = None,
        room: threading.BoundedSemaphore | None = None,
    ) -> None:
        self._database = database
        self._plant = None if caller is None else caller.plant
        self._room = room or threading.BoundedSemaphore(_AT_ONCE)

    def seen_by(self, caller: Caller) -> CheckService:
        """The same, with the days that a caller sees."""
        return CheckService(self._database, caller, self._room)

    def check(
        self, days: Sequence[str], plan: Mapping[str, Any], tables: Mapping[str, str]
    ) -> CheckResult:
        """Every promise that a plan, or a table beside it, breaks.

        Raises RequestInvalid naming days that are not there and tables that can't be read,
        InputRefused where the days can't be planned together, Busy while enough others are being
        checked.
        """
        if not self._room.acquire(blocking=False):
            raise Busy(f"{_AT_ONCE} plans are being checked", _RETRY)
        try:
            with self._database.read() as session:
                sources = day_sources(DayStore(session, self._plant), days)
            faults = check_plan(read_sources(sources).days, plan, _rows(tables))
        finally:
            self._room.release()
        result = CheckResult(checks=not faults, faults=list(faults))
        keep_alone(self._database, result)
        return result


def _rows(tables: Mapping[str, str]) -> dict[str, list[dict[str, str]]]:
    rows: dict[str, list[dict[str, str]]] = {}
    for name, text in tables.items():
        if name not in TABLES:
            wrong = Fault(
                place=f"body.tables.{name[:80]}",
                wrong="no such table",
                right=known_or_nearest(name, TABLES),
            )
            raise RequestInvalid([wrong])
        try:
            rows |= tables_of({name: text.encode()})
        except csv.Error as error:
            wrong = Fault(place=f"body.tables.{name}", wrong=f"no table: {error}")
            raise RequestInvalid([wrong]) from error
    return rows

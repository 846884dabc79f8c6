"""Plans: started, followed, cancelled, read."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from api.jobs import DayFiles, read_sources
from api.services.days import is_id
from api.services.errors import (
    Busy,
    Finished,
    NoResult,
    NotFinished,
    NotFound,
    RequestInvalid,
)
from api.services.paging import cursor, next_page
from api.services.views import plan_summary, plan_view
from api.settings import Settings
from api.shapes import Fault, NewPlan, Plan, PlanPage, PlanStatus
from api.store import Database, DayRow, PlanDayRow, PlanRow
from api.store.days import DayStore
from api.store.plans import PlanStore

__all__ = ["ENDED", "Event", "PlanService", "day_sources"]

_FULL_RETRY = 30
_OPEN = {PlanStatus.QUEUED, PlanStatus.RUNNING}
#: The kind of the last event of a plan.
ENDED = "ended"


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to a plan; `kind` is status, progress or ended."""

    number: int
    kind: str
    data: dict[str, Any]


class PlanService:
    """What can be done with plans. `wake` tells the planner that there is something to do."""

    def __init__(self, database: Database, settings: Settings, wake: Callable[[], None]) -> None:
        self._database = database
        self._settings = settings
        self._wake = wake

    def start(self, wanted: NewPlan) -> Plan:
        """Queue a plan.

        Raises
        ------
        RequestInvalid
            Naming each day that is not there.
        InputRefused
            Where the days can't be planned together.
        Busy
            Where too many plans are waiting.
        """
        with self._database.read() as session:
            sources = day_sources(DayStore(session), wanted.days)
        read_sources(sources)
        row = PlanRow(
            id=uuid.uuid4().hex,
            seconds=wanted.seconds,
            seed=wanted.seed,
            status=PlanStatus.QUEUED.value,
            created=datetime.now(UTC),
            cancel_asked=False,
            crashes=0,
            progress=[],
        )
        with self._database.write() as session:
            days, plans = DayStore(session), PlanStore(session)
            if plans.waiting() >= self._settings.most_waiting:
                raise Busy(f"{self._settings.most_waiting} plans are waiting already", _FULL_RETRY)
            found = _days(days, wanted.days)
            row.days = [
                PlanDayRow(position=position, day=day) for position, day in enumerate(found)
            ]
            plans.add(row)
            plans.add_events(row.number, [("status", {"status": row.status})])
            view = plan_view(row)
        self._wake()
        return view

    def get(self, id: str) -> Plan:
        """One plan. Raises NotFound."""
        with self._database.read() as session:
            return plan_view(_found(PlanStore(session).find, id))

    def page(self, after: int | None, limit: int, day: str | None) -> PlanPage:
        """The newest plans, from behind a cursor; those that use one day, where given."""
        if day is not None and not is_id(day):
            return PlanPage(items=[], next=None)
        with self._database.read() as session:
            rows = PlanStore(session).page(after, limit + 1, day)
            return PlanPage(
                items=[plan_summary(row) for row in rows[:limit]],
                next=next_page("/plans", limit, cursor(rows, limit), {"day": day} if day else None),
            )

    def cancel(self, id: str) -> Plan:
        """End a plan with the best that it has; asking twice changes nothing.

        Raises NotFound, or Finished where the plan ended otherwise.
        """
        with self._database.write() as session:
            plans = PlanStore(session)
            row = _found(plans.lock, id)
            if row.status in (PlanStatus.DONE, PlanStatus.FAILED):
                raise Finished(f"plan '{id}' is {row.status}")
            row.cancel_asked = True
            if row.status == PlanStatus.QUEUED:
                row.status = PlanStatus.STOPPED.value
                row.ended = datetime.now(UTC)
                plans.add_events(row.number, [(ENDED, {"status": row.status, "outcome": None})])
            return plan_view(row)

    def remove(self, id: str) -> None:
        """Remove a plan that has ended, with its files. Raises NotFound or NotFinished."""
        with self._database.write() as session:
            plans = PlanStore(session)
            row = _found(plans.lock, id)
            if row.status in _OPEN:
                raise NotFinished(f"plan '{id}' is {row.status}")
            plans.remove(row)

    def file(self, id: str, name: str) -> bytes:
        """One file of a result. Raises NotFound, NotFinished or NoResult."""
        with self._database.read() as session:
            plans = PlanStore(session)
            row = _found(plans.find, id)
            if row.status in _OPEN:
                raise NotFinished(f"plan '{id}' is {row.status}")
            content = plans.file(row.number, name)
        if content is None:
            raise NoResult(f"plan '{id}' is {row.status} without a result")
        return content

    def events(self, id: str, last: int, limit: int = 500) -> list[Event]:
        """What happened to a plan behind event number `last`. Raises NotFound."""
        with self._database.read() as session:
            plans = PlanStore(session)
            row = _found(plans.find, id)
            return [
                Event(event.number, event.kind, event.data)
                for event in plans.events_after(row.number, last, limit)
            ]


def day_sources(days: DayStore, ids: Sequence[str]) -> list[DayFiles]:
    """What days came as, in the order asked for. Raises RequestInvalid."""
    return [
        DayFiles(day.name, day.form, {file.name: file.content for file in day.files})
        for day in _days(days, ids)
    ]


def _days(days: DayStore, ids: Sequence[str]) -> list[DayRow]:
    found = days.find_all([id for id in ids if is_id(id)])
    faults = []
    for position, id in enumerate(ids):
        place = f"body.days[{position}]"
        if id not in found:
            faults.append(Fault(place=place, wrong="there is no such day", read=id))
        elif id in ids[:position]:
            faults.append(Fault(place=place, wrong="given twice", read=id, right="each day once"))
    if faults:
        raise RequestInvalid(faults)
    return [found[id] for id in ids]


def _found(find: Callable[[str], PlanRow | None], id: str) -> PlanRow:
    row = find(id) if is_id(id) else None
    if row is None:
        raise NotFound(f"there is no plan '{id[:64]}'")
    return row

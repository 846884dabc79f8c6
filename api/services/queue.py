"""What plans and curves share: queued, followed, cancelled, removed, read."""

from __future__ import annotations

import uuid
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import ClassVar, Generic, TypeVar

from pydantic import BaseModel

from api.access.who import Caller
from api.jobs import DayFiles, read_sources
from api.services.audit import record
from api.services.days import is_id
from api.services.errors import (
    Busy,
    Finished,
    NoResult,
    NotFinished,
    NotFound,
    RequestInvalid,
)
from api.services.keys import keep
from api.services.seen import hold
from api.settings import Settings
from api.shapes import Fault, PlanStatus
from api.store import CurveRow, Database, DayRow, PlanDayRow, PlanRow
from api.store.days import DayStore
from api.store.plans import Brief, PlanStore
from api.tags import ANY

__all__ = ["ENDED", "Queue", "day_sources"]

_FULL_RETRY = 30
_OPEN = {PlanStatus.QUEUED, PlanStatus.RUNNING}
#: The kind of the last event of a plan.
ENDED = "ended"

View = TypeVar("View", bound=BaseModel)


class Queue(ABC, Generic[View]):
    """Jobs of one kind. `wake` tells the planner that there is something to do."""

    #: What one is called, and whether it is a curve.
    noun: ClassVar[str]
    curves: ClassVar[bool]

    def __init__(
        self,
        database: Database,
        settings: Settings,
        wake: Callable[[], None],
        caller: Caller | None = None,
    ) -> None:
        self._database = database
        self._settings = settings
        self._wake = wake
        self._caller = caller
        self._plant = None if caller is None else caller.plant

    @abstractmethod
    def _view(self, row: PlanRow) -> View:
        """The row as it goes over the wire."""

    def _queue(self, ids: Sequence[str], seconds: float, seed: int, of: str | None) -> View:
        """Queue a job; `of` is what a curve is of.

        Raises
        ------
        RequestInvalid
            Naming each day that is not there.
        InputRefused
            Where the days can't be planned together.
        Busy
            Where too many plans and curves are waiting.
        """
        with self._database.read() as session:
            sources = day_sources(DayStore(session, self._plant), ids)
        read_sources(sources)
        row = PlanRow(
            id=uuid.uuid4().hex,
            seconds=seconds,
            seed=seed,
            status=PlanStatus.QUEUED.value,
            created=datetime.now(UTC),
            cancel_asked=False,
            crashes=0,
            progress=[],
            curve=None if of is None else CurveRow(of=of),
        )
        with self._database.write() as session:
            days, plans = DayStore(session, self._plant), PlanStore(session, self._plant)
            if plans.waiting() >= self._settings.most_waiting:
                most = self._settings.most_waiting
                raise Busy(f"{most} plans and curves are waiting already", _FULL_RETRY)
            found = _days(days, ids)
            row.plant_number = _one_plant(found)
            row.days = [
                PlanDayRow(position=position, day=day) for position, day in enumerate(found)
            ]
            plans.add(row)
            plans.add_events(row.number, [("status", {"status": row.status})])
            record(session, self._caller, f"{self.noun}.start", row.id, row.plant_number)
            view = self._view(row)
            keep(session, view)
        self._wake()
        return view

    def get(self, id: str) -> View:
        """One of them. Raises NotFound."""
        with self._database.read() as session:
            return self._view(self._found(PlanStore(session, self._plant).find, id))

    def cancel(self, id: str, seen: str | None = None) -> View:
        """End it with the best that it has; asking twice changes nothing.

        `seen`, where given, names the state that may be ended.

        Raises NotFound, ChangedMeanwhile, or Finished where it ended otherwise.
        """
        with self._database.write() as session:
            plans = PlanStore(session, self._plant)
            row = self._found(plans.lock, id)
            self._hold(row, seen)
            if row.status in (PlanStatus.DONE, PlanStatus.FAILED):
                raise Finished(f"{self.noun} '{id}' is {row.status}")
            row.cancel_asked = True
            if row.status == PlanStatus.QUEUED:
                row.status = PlanStatus.STOPPED.value
                row.ended = datetime.now(UTC)
                plans.add_events(row.number, [(ENDED, {"status": row.status, "outcome": None})])
            record(session, self._caller, f"{self.noun}.cancel", row.id, row.plant_number)
            view = self._view(row)
            keep(session, view)
            return view

    def remove(self, id: str, seen: str = ANY) -> None:
        """Remove one that has ended, with its files, where its tag is among `seen`.

        Raises NotFound, ChangedMeanwhile or NotFinished.
        """
        with self._database.write() as session:
            plans = PlanStore(session, self._plant)
            row = self._found(plans.lock, id)
            if row.status in _OPEN:
                raise NotFinished(f"{self.noun} '{id}' is {row.status}")
            self._hold(row, seen)
            plans.remove(row)
            record(session, self._caller, f"{self.noun}.remove", row.id, row.plant_number)
            keep(session, None)

    def file(self, id: str, name: str) -> bytes:
        """One file of a result. Raises NotFound, NotFinished or NoResult."""
        with self._database.read() as session:
            found = self._brief(PlanStore(session, self._plant), id, name)
        if found.status in _OPEN:
            raise NotFinished(f"{self.noun} '{id}' is {found.status}")
        if found.content is None:
            raise NoResult(f"{self.noun} '{id}' is {found.status} without a result")
        return found.content

    def _hold(self, row: PlanRow, seen: str | None) -> None:
        hold(f"{self.noun} '{row.id}'", self._view(row), seen)

    def _brief(self, plans: PlanStore, id: str, file: str = "") -> Brief:
        found = plans.brief(id, file) if is_id(id) else None
        if found is None or found.is_curve != self.curves:
            raise NotFound(f"there is no {self.noun} '{id[:64]}'")
        return found

    def _found(self, find: Callable[[str], PlanRow | None], id: str) -> PlanRow:
        row = find(id) if is_id(id) else None
        if row is None or (row.curve is not None) != self.curves:
            raise NotFound(f"there is no {self.noun} '{id[:64]}'")
        return row


def day_sources(days: DayStore, ids: Sequence[str]) -> list[DayFiles]:
    """What days came as, in the order asked for. Raises RequestInvalid."""
    found = _days(days, ids)
    _one_plant(found)
    return [
        DayFiles(day.name, day.form, {file.name: file.content for file in day.files})
        for day in found
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


def _one_plant(days: Sequence[DayRow]) -> int:
    """The number of the plant that all days belong to. Raises RequestInvalid."""
    first = days[0].plant_number
    faults = [
        Fault(
            place=f"body.days[{position}]",
            wrong="a day of another plant",
            read=day.id,
            right="days of one plant",
        )
        for position, day in enumerate(days)
        if day.plant_number != first
    ]
    if faults:
        raise RequestInvalid(faults)
    return first

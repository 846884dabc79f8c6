"""Reading and writing plans, their leases, events and files."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Select, and_, case, delete, func, or_, select, update
from sqlalchemy.orm import Session, defer, selectinload

from api.store.models import (
    CurveRow,
    DayRow,
    EventRow,
    PlanDayRow,
    PlanFileRow,
    PlanRow,
)

__all__ = ["Brief", "PlanStore", "Turn"]


@dataclass(frozen=True, slots=True)
class Turn:
    """A plant with a plan that nobody works on: its oldest, and how many of it are under way."""

    plant: int
    oldest: int
    running: int


class Brief(NamedTuple):
    """What must be known of a plan before one of its files is sent."""

    number: int
    status: str
    is_curve: bool
    content: bytes | None


class PlanStore:
    """Plans within one transaction: those of one plant, or of all where it is None."""

    def __init__(self, session: Session, plant: int | None = None) -> None:
        self._session = session
        self._plant = plant

    def _mine(self) -> Select[PlanRow]:
        query = select(PlanRow)
        return query if self._plant is None else query.where(PlanRow.plant_number == self._plant)

    def add(self, plan: PlanRow) -> PlanRow:
        """Keep a plan, numbered."""
        self._session.add(plan)
        self._session.flush()
        return plan

    def find(self, id: str) -> PlanRow | None:
        """One plan with its days' ids."""
        return self._session.scalar(self._mine().where(PlanRow.id == id).options(_DAY_IDS))

    def brief(self, id: str, file: str = "") -> Brief | None:
        """How a plan is and, where it has one of that name, a file of its result: in one query."""
        query = (
            select(PlanRow.number, PlanRow.status, CurveRow.plan, PlanFileRow.content)
            .outerjoin(CurveRow, CurveRow.plan == PlanRow.number)
            .outerjoin(
                PlanFileRow, and_(PlanFileRow.plan == PlanRow.number, PlanFileRow.name == file)
            )
            .where(PlanRow.id == id)
        )
        if self._plant is not None:
            query = query.where(PlanRow.plant_number == self._plant)
        row = self._session.execute(query).first()
        return None if row is None else Brief(row[0], row[1], row[2] is not None, row[3])

    def lock(self, id: str) -> PlanRow | None:
        """One plan that nobody else changes until this transaction ends."""
        return self._session.scalar(
            self._mine()
            .where(PlanRow.id == id)
            .options(selectinload(PlanRow.days))
            .with_for_update(of=PlanRow)
        )

    def page(
        self, before: int | None, limit: int, day: str | None, curves: bool = False
    ) -> list[PlanRow]:
        """The newest first, from below number `before`; those that use one day, where given.

        Plans, or with `curves` the curves among them.
        """
        query = (
            self._mine()
            .order_by(PlanRow.number.desc())
            .limit(limit)
            .options(_DAY_IDS, *_NOT_LISTED)
        )
        of = select(CurveRow.plan).where(CurveRow.plan == PlanRow.number).exists()
        query = query.where(of if curves else ~of)
        if before is not None:
            query = query.where(PlanRow.number < before)
        if day is not None:
            uses = select(PlanDayRow.plan).join(DayRow).where(DayRow.id == day)
            query = query.where(PlanRow.number.in_(uses))
        return list(self._session.scalars(query))

    def waiting(self) -> int:
        """How many plans and curves are queued."""
        query = select(func.count()).select_from(PlanRow).where(PlanRow.status == "queued")
        return self._session.scalar(query) or 0

    def open_figures(self) -> dict[str, tuple[int, datetime]]:
        """Of what has not ended, by status: how many, and when the oldest came."""
        query = (
            select(PlanRow.status, func.count(), func.min(PlanRow.created))
            .where(PlanRow.status.in_(("queued", "running")))
            .group_by(PlanRow.status)
        )
        return {status: (count, oldest) for status, count, oldest in self._session.execute(query)}

    def any(self) -> bool:
        """Whether there is a plan at all."""
        return self._session.scalar(select(PlanRow.number).limit(1)) is not None

    def remove(self, plan: PlanRow) -> None:
        """Remove a plan with its events and files."""
        self._session.execute(delete(PlanRow).where(PlanRow.number == plan.number))

    # Who works on it

    def free(self, now: float) -> int | None:
        """The oldest plan that nobody works on."""
        return self._session.scalar(
            select(PlanRow.number).where(_free(now)).order_by(PlanRow.number).limit(1)
        )

    def turns(self, now: float) -> list[Turn]:
        """Of every plant with a plan that nobody works on.

        Only open plans are looked at, of which there are few.
        """
        free = case((_free(now), PlanRow.number))
        query = (
            select(PlanRow.plant_number, func.min(free), func.count() - func.count(free))
            .where(PlanRow.status.in_(("queued", "running")))
            .group_by(PlanRow.plant_number)
            .having(func.count(free) > 0)
        )
        return [Turn(*row) for row in self._session.execute(query)]

    def claim(self, number: int, owner: str, now: float, until: float, started: datetime) -> bool:
        """Take a plan, unless somebody else was quicker."""
        taken = self._session.execute(
            update(PlanRow)
            .where(PlanRow.number == number, _free(now))
            .values(
                status="running",
                owner=owner,
                lease_until=until,
                started=func.coalesce(PlanRow.started, started),
            )
            .execution_options(synchronize_session=False)
        )
        return taken.rowcount == 1  # type: ignore[attr-defined, no-any-return]

    def hold(self, number: int, owner: str, until: float) -> bool | None:
        """Renew a lease: whether to cancel, or None where the plan is no longer ours.

        A lease that ran out unnoticed is renewed: whoever takes a plan writes another owner.
        """
        held = self._session.execute(
            update(PlanRow)
            .where(PlanRow.number == number, PlanRow.owner == owner)
            .values(lease_until=until)
            .execution_options(synchronize_session=False)
        )
        if held.rowcount != 1:  # type: ignore[attr-defined]
            return None
        return self._session.scalar(select(PlanRow.cancel_asked).where(PlanRow.number == number))

    def owned(self, number: int, owner: str) -> PlanRow | None:
        """A plan that is ours, locked until this transaction ends."""
        return self._session.scalar(
            select(PlanRow)
            .where(PlanRow.number == number, PlanRow.owner == owner)
            .with_for_update(of=PlanRow)
            .execution_options(populate_existing=True)
        )

    # What happened to it

    def add_events(self, number: int, events: Iterable[tuple[str, dict[str, Any]]]) -> None:
        """Append events; the caller holds the plan."""
        last = self._session.scalar(
            select(func.max(EventRow.number)).where(EventRow.plan == number)
        )
        for offset, (kind, data) in enumerate(events, start=1):
            self._session.add(
                EventRow(plan=number, number=(last or 0) + offset, kind=kind, data=data)
            )
        self._session.flush()

    def events_after(self, number: int, last: int, limit: int) -> list[EventRow]:
        """The next events behind number `last`."""
        return list(
            self._session.scalars(
                select(EventRow)
                .where(EventRow.plan == number, EventRow.number > last)
                .order_by(EventRow.number)
                .limit(limit)
            )
        )

    # What came of it

    def keep_files(self, number: int, files: Mapping[str, bytes]) -> None:
        """Keep the files of a result."""
        for name, content in files.items():
            self._session.add(PlanFileRow(plan=number, name=name, content=content))
        self._session.flush()

    def file(self, number: int, name: str) -> bytes | None:
        """One file of a result."""
        return self._session.scalar(
            select(PlanFileRow.content).where(PlanFileRow.plan == number, PlanFileRow.name == name)
        )


#: A plan's view names its days; what else a day's row holds is large.
_DAY_IDS = selectinload(PlanRow.days).joinedload(PlanDayRow.day).load_only(DayRow.id)
#: What a list does not show.
_NOT_LISTED = (
    defer(PlanRow.progress, raiseload=True),
    defer(PlanRow.materials, raiseload=True),
    defer(PlanRow.failure, raiseload=True),
)


def _free(now: float) -> Any:
    return or_(
        PlanRow.status == "queued",
        and_(PlanRow.status == "running", PlanRow.lease_until < now),
    )

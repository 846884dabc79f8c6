"""Reading and writing days."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import Select, delete, select
from sqlalchemy.orm import Session, defer, selectinload

from api.store.models import DayFileRow, DayRow, PlanDayRow

__all__ = ["DayStore"]


class DayStore:
    """Days within one transaction: those of one plant, or of all where it is None."""

    def __init__(self, session: Session, plant: int | None = None) -> None:
        self._session = session
        self._plant = plant

    def _mine(self) -> Select[DayRow]:
        query = select(DayRow)
        return query if self._plant is None else query.where(DayRow.plant_number == self._plant)

    def add(self, day: DayRow) -> DayRow:
        """Keep a day, numbered."""
        self._session.add(day)
        self._session.flush()
        return day

    def find(self, id: str, files: bool = False) -> DayRow | None:
        """One day, with its files where asked."""
        query = self._mine().where(DayRow.id == id)
        if files:
            query = query.options(selectinload(DayRow.files))
        return self._session.scalar(query)

    def find_all(self, ids: Sequence[str]) -> dict[str, DayRow]:
        """Those of the days that are there, by id, with their files."""
        query = self._mine().where(DayRow.id.in_(ids)).options(selectinload(DayRow.files))
        return {day.id: day for day in self._session.scalars(query)}

    def with_digest(self, digest: str) -> DayRow | None:
        """The first day with this content."""
        query = self._mine().where(DayRow.digest == digest).order_by(DayRow.number).limit(1)
        return self._session.scalar(query)

    def file_names(self, day: DayRow) -> list[str]:
        """The names of its files, without what they hold."""
        query = (
            select(DayFileRow.name)
            .where(DayFileRow.day == day.number)
            .order_by(DayFileRow.position)
        )
        return list(self._session.scalars(query))

    def page(self, before: int | None, limit: int) -> list[DayRow]:
        """The newest first, from below number `before`."""
        query = self._mine().order_by(DayRow.number.desc()).limit(limit)
        query = query.options(
            defer(DayRow.sections, raiseload=True),
            defer(DayRow.materials, raiseload=True),
            defer(DayRow.warnings, raiseload=True),
        )
        if before is not None:
            query = query.where(DayRow.number < before)
        return list(self._session.scalars(query))

    def in_use(self, day: DayRow) -> bool:
        """Whether a plan uses it."""
        query = select(PlanDayRow.plan).where(PlanDayRow.day_number == day.number).limit(1)
        return self._session.scalar(query) is not None

    def remove(self, day: DayRow) -> None:
        """Remove a day and its files."""
        self._session.execute(delete(DayRow).where(DayRow.number == day.number))

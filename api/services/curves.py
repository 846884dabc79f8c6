"""Curves: cost against joints or set-ups, found in the queue of the plans."""

from __future__ import annotations

from typing import ClassVar

from api.curve_shapes import Curve, CurvePage, NewCurve
from api.services.days import is_id
from api.services.paging import cursor, next_page
from api.services.queue import Queue
from api.services.views import curve_summary, curve_view
from api.store import PlanRow
from api.store.plans import PlanStore

__all__ = ["CurveService"]


class CurveService(Queue[Curve]):
    """What can be done with curves."""

    noun: ClassVar[str] = "curve"
    curves: ClassVar[bool] = True

    def _view(self, row: PlanRow) -> Curve:
        return curve_view(row)

    def start(self, wanted: NewCurve) -> Curve:
        """Queue a curve. Raises RequestInvalid, InputRefused or Busy."""
        return self._queue(wanted.days, wanted.seconds, wanted.seed, wanted.of)

    def page(self, after: int | None, limit: int, day: str | None) -> CurvePage:
        """The newest curves, from behind a cursor; those that use one day, where given."""
        if day is not None and not is_id(day):
            return CurvePage(items=[], next=None)
        with self._database.read() as session:
            rows = PlanStore(session, self._plant).page(after, limit + 1, day, curves=True)
            more = {"day": day} if day else None
            return CurvePage(
                items=[curve_summary(row) for row in rows[:limit]],
                next=next_page("/curves", limit, cursor(rows, limit), more),
            )

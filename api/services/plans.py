"""Plans: started, followed, cancelled, read."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, ClassVar

from api.services.days import is_id
from api.services.paging import cursor, next_page
from api.services.queue import Queue
from api.services.views import plan_summary, plan_view
from api.shapes import NewPlan, Plan, PlanPage
from api.store import PlanRow
from api.store.plans import PlanStore

__all__ = ["Event", "PlanService"]


@dataclass(frozen=True, slots=True)
class Event:
    """Something that happened to a plan; `kind` is status, progress or ended."""

    number: int
    kind: str
    data: dict[str, Any]


class PlanService(Queue[Plan]):
    """What can be done with plans."""

    noun: ClassVar[str] = "plan"
    curves: ClassVar[bool] = False

    def _view(self, row: PlanRow) -> Plan:
        return plan_view(row)

    def start(self, wanted: NewPlan) -> Plan:
        """Queue a plan. Raises RequestInvalid, InputRefused or Busy."""
        return self._queue(wanted.days, wanted.seconds, wanted.seed, None)

    def page(self, after: int | None, limit: int, day: str | None) -> PlanPage:
        """The newest plans, from behind a cursor; those that use one day, where given."""
        if day is not None and not is_id(day):
            return PlanPage(items=[], next=None)
        with self._database.read() as session:
            rows = PlanStore(session, self._plant).page(after, limit + 1, day)
            return PlanPage(
                items=[plan_summary(row) for row in rows[:limit]],
                next=next_page("/plans", limit, cursor(rows, limit), {"day": day} if day else None),
            )

    def events(self, id: str, last: int, limit: int = 500) -> list[Event]:
        """What happened to a plan behind event number `last`. Raises NotFound."""
        with self._database.read() as session:
            plans = PlanStore(session, self._plant)
            number = self._brief(plans, id).number
            return [
                Event(event.number, event.kind, event.data)
                for event in plans.events_after(number, last, limit)
            ]

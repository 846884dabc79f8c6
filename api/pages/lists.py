"""What several pages show: the names of days, plans with what came of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from api.services import Services
from api.services.errors import NotFound
from api.shapes import DaySummary, Outcome, Plan, PlanStatus

__all__ = ["OPEN", "PlanLine", "cursor_of", "days_of", "plan_lines", "state_key", "weighed"]

OPEN = (PlanStatus.QUEUED, PlanStatus.RUNNING)


@dataclass(frozen=True, slots=True)
class PlanLine:
    """A plan in a list, with the days that it is for."""

    plan: Plan
    days: list[DaySummary]

    @property
    def open(self) -> bool:
        """Whether it is still waiting or being planned."""
        return self.plan.status in OPEN

    @property
    def whole(self) -> bool:
        """Whether there is a result."""
        return self.plan.materials is not None

    @property
    def state(self) -> str:
        """The key of the text that says how it stands."""
        return state_key(self.plan)

    @property
    def unplanned(self) -> int:
        """Parts that can't be cut from the stock offered."""
        return sum(part.qty for m in self.plan.materials or () for part in m.unplanned)

    @property
    def bought(self) -> int:
        """Pieces to buy."""
        return sum(m.bought for m in self.plan.materials or ())

    @property
    def cost(self) -> float:
        """What the stock used costs, from the yard or bought."""
        return sum(m.cost for m in self.plan.materials or ())


def state_key(plan: Plan) -> str:
    """How a plan stands, as a key below `state`."""
    if plan.status in OPEN and plan.cancel_asked:
        return "state.stopping"
    if plan.outcome is Outcome.NOT_CUTTABLE:
        return "state.some_left"
    return f"state.{plan.status.value}"


def days_of(
    services: Services, ids: Iterable[str], seen: dict[str, DaySummary]
) -> list[DaySummary]:
    """Days by their ids; `seen` keeps those already read for this page."""
    found = []
    for id in ids:
        if id not in seen:
            try:
                seen[id] = services.days.get(id)
            except NotFound:
                continue
        found.append(seen[id])
    return found


def plan_lines(
    services: Services, after: int | None, limit: int, day: str | None = None
) -> tuple[list[PlanLine], int | None]:
    """The newest plans, and the cursor behind them where there are more."""
    listed = services.plans.page(after, limit, day)
    seen: dict[str, DaySummary] = {}
    lines = [
        PlanLine(services.plans.get(p.id), days_of(services, p.days, seen)) for p in listed.items
    ]
    return lines, cursor_of(listed.next)


def cursor_of(address: str | None) -> int | None:
    """The cursor in the address of a list's next page."""
    return None if address is None else int(address.rsplit("after=", 1)[-1].split("&")[0])


def weighed(lines: Iterable[PlanLine]) -> list[PlanLine]:
    """The newest plan with a result for each set of days."""
    newest: dict[frozenset[str], PlanLine] = {}
    for line in lines:
        if line.whole:
            newest.setdefault(frozenset(line.plan.days), line)
    return list(newest.values())

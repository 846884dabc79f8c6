"""One instance planned by cutopt and by the comparisons, all in one run, each plan checked."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from tests.bench.lumber.measure import Ours, gap_of, planned
from tests.bench.sheets.instance import Instance

__all__ = ["Ours", "Row", "gap_of", "measure", "ours_of"]


@dataclass
class Row:
    """An instance, what cutopt made of it, and what the comparisons did: dollars, or why none."""

    instance: Instance
    family: str
    ours: Ours
    costs: dict[str, Fraction] = field(default_factory=dict)
    why: dict[str, str] = field(default_factory=dict)

    def ratio(self, name: str) -> float | None:
        """What a comparison costs beside our bound; None where it has no plan."""
        cost = self.costs.get(name)
        return float(cost / self.ours.bound) if cost is not None and self.ours.bound > 0 else None

    @property
    def ours_ratio(self) -> float:
        """What our plan costs beside its bound."""
        return float(self.ours.objective / self.ours.bound) if self.ours.bound > 0 else 1.0

    @property
    def within_a_sheet(self) -> bool:
        """Whether the plan costs less than one sheet more than the bound."""
        return self.ours.optimal or self.ours.objective - self.ours.bound <= self.instance.sheet


def ours_of(instance: Instance, seconds: float) -> Ours:
    """Plan an instance and have the checker, which shares nothing with the solver, look at it."""
    plan, cpu, wall = planned(instance.day, seconds)
    faults = check_plan([instance.day], plan_document(plan))
    cut = [m for m in plan.materials if m.layouts or m.unplanned]
    return Ours(
        objective=sum((m.objective for m in cut), Fraction(0)),
        bound=sum((m.bound for m in cut), Fraction(0)),
        gaps=tuple(gap_of(m.objective, m.bound) for m in cut),
        cpu=cpu,
        wall=wall,
        optimal=all(m.status.value == "optimal" for m in cut),
        stops=tuple(dict.fromkeys(m.stop.value for m in cut)),
        left_out=sum(u.qty for m in cut for u in m.unplanned),
        faults=tuple(faults),
    )


def measure(instance: Instance, family: str, seconds: float = 60.0) -> Row:
    """A row of the table."""
    return Row(instance, family, ours_of(instance, seconds))

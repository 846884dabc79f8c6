"""One instance planned by cutopt and by the comparisons, all in one run, each plan checked."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from tests.bench.lumber.measure import Ours, gap_of, planned
from tests.bench.sheets.instance import Instance
from tests.bench.sheets.models import MODELS, answered
from tests.bench.sheets.rows import mix_first, one_size
from tests.bench.sheets.shelves import shelves
from tests.bench.sheets.task import Filled, Laid, Task, checked_cost, tasks_of

__all__ = ["FIELDS", "PARTS", "Ours", "Row", "gap_of", "measure", "ours_of"]

#: What a shop does for parts, and what it does for ceiling fields.
PARTS: dict[str, Callable[[Task], list[Filled] | None]] = {
    "next fit": lambda task: shelves(task, first=False, ordered=False),
    "next fit, sorted": lambda task: shelves(task, first=False, ordered=True),
    "first fit": lambda task: shelves(task, first=True, ordered=False),
    "first fit, sorted": lambda task: shelves(task, first=True, ordered=True),
}
FIELDS: dict[str, Callable[[Task], list[Laid] | None]] = {
    "one size": one_size,
    "mix first": mix_first,
}


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


def measure(
    instance: Instance,
    family: str,
    seconds: float = 60.0,
    heuristics: bool = True,
    models: Sequence[str] = (),
    model_seconds: float = 60.0,
) -> Row:
    """A row of the table. What a comparison leaves out counts as no plan at all.

    Comparisons see parts alone or fields alone: a day with both in one material has none.
    """
    row = Row(instance, family, ours_of(instance, seconds))
    tasks = tasks_of(instance.day)
    if any(t.parts for t in tasks) and any(t.fields for t in tasks):
        return row
    own = FIELDS if any(t.fields for t in tasks) else PARTS
    for name, plan_of in own.items() if heuristics else ():
        _compare(row, tasks, name, lambda task, by=plan_of: (by(task), "no plan"))
    for solver in models:

        def asked(task: Task, by: str = solver) -> tuple[list[Filled | Laid] | None, str]:
            answer = answered(task, by, model_seconds)
            return answer.plan, answer.why

        _compare(row, tasks, MODELS[solver], asked)
    return row


def _compare(
    row: Row,
    tasks: Sequence[Task],
    name: str,
    plan_of: Callable[[Task], tuple[Sequence[Filled | Laid] | None, str]],
) -> None:
    """Add what a comparison costs in all, checked, or why it has no plan."""
    total = Fraction(0)
    for task in tasks:
        plan, why = plan_of(task)
        if plan is None:
            row.why[name] = why
            return
        total += checked_cost(task, plan)
    row.costs[name] = total

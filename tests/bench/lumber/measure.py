"""One instance planned by cutopt and by the comparisons, all in one run, each plan checked."""

from __future__ import annotations

import resource
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from cutopt.cutlist import Day
from cutopt.plan import Plan, Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.solve import Settings, solve
from tests.bench.lumber.heuristics import best_fit, first_fit, greedy
from tests.bench.lumber.instance import Instance
from tests.bench.lumber.models import MODELS, answered
from tests.bench.lumber.task import checked_cost, tasks_of

__all__ = ["HEURISTICS", "Ours", "Row", "gap_of", "measure", "planned"]

HEURISTICS = {"first fit": first_fit, "best fit": best_fit, "greedy": greedy}


@dataclass(frozen=True)
class Ours:
    """What cutopt planned. `gaps` material by material; `faults` of the checker."""

    objective: Fraction
    bound: Fraction
    gaps: tuple[Fraction, ...]
    cpu: float
    wall: float
    optimal: bool
    stops: tuple[str, ...]
    left_out: int
    faults: tuple[str, ...]

    @property
    def gap(self) -> Fraction:
        """(objective - bound) / objective of the whole."""
        return gap_of(self.objective, self.bound)


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


def gap_of(objective: Fraction, bound: Fraction) -> Fraction:
    """The share of the objective that is not proved; 0 for a plan that costs nothing."""
    return (objective - bound) / objective if objective > 0 else Fraction(0)


def _cpu() -> float:
    """CPU seconds of this process and of those that it started and that have ended."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + ended.ru_utime + ended.ru_stime


def planned(day: Day, seconds: float, workers: int = 1, seed: int = 1) -> tuple[Plan, float, float]:
    """The plan through the library's entry, its CPU and wall seconds."""
    problem = Problem((day,))
    cpu, wall = _cpu(), time.perf_counter()
    plan = solve(problem, Settings(seconds=seconds, seed=seed, workers=workers))
    return plan, _cpu() - cpu, time.perf_counter() - wall


def ours_of(instance: Instance, seconds: float, workers: int) -> Ours:
    """Plan an instance and have the checker, which shares nothing with the solver, look at it."""
    plan, cpu, wall = planned(instance.day, seconds, workers)
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
    workers: int = 1,
    heuristics: bool = True,
    models: Sequence[str] = (),
    model_seconds: float = 60.0,
) -> Row:
    """A row of the table. What a comparison leaves out counts as no plan at all."""
    row = Row(instance, family, ours_of(instance, seconds, workers))
    tasks = tasks_of(instance.day)
    for name, plan_of in HEURISTICS.items() if heuristics else ():
        total = Fraction(0)
        for task in tasks:
            plan = plan_of(task)
            if plan is None:
                row.why[name] = "no plan"
                break
            total += checked_cost(task, plan)
        else:
            row.costs[name] = total
    for solver in models:
        name = MODELS[solver]
        total = Fraction(0)
        for task in tasks:
            answer = answered(task, solver, model_seconds)
            if answer.plan is None:
                row.why[name] = answer.why
                break
            total += checked_cost(task, answer.plan)
        else:
            row.costs[name] = total
    return row

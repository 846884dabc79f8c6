"""One instance planned by cutopt and by the comparisons, all in one run, each plan checked."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Generic, Protocol, TypeVar

from cutopt.cutlist import Day
from cutopt.plan import Plan, Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.solve import Settings, solve

__all__ = ["Measured", "Ours", "Row", "compare", "gap_of", "ours_of", "planned"]


class Measured(Protocol):
    """What is measured: a named day."""

    @property
    def name(self) -> str:
        """What the table calls it."""

    @property
    def day(self) -> Day:
        """What is planned."""

    @property
    def pieces(self) -> int:
        """Parts wanted."""

    @property
    def sizes(self) -> int:
        """Rows of stock."""


Inst = TypeVar("Inst", bound=Measured)
T = TypeVar("T")
P = TypeVar("P")


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

    @property
    def stop(self) -> str:
        """Why it ended, in a word."""
        return "proved" if self.optimal else "+".join(self.stops)


@dataclass
class Row(Generic[Inst]):
    """An instance, what cutopt made of it, and what the comparisons did: dollars, or why none."""

    instance: Inst
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


def ours_of(instance: Measured, seconds: float, workers: int = 1) -> Ours:
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


def compare(
    row: Row[Inst],
    tasks: Sequence[T],
    name: str,
    plan_of: Callable[[T], tuple[Sequence[P] | None, str]],
    cost_of: Callable[[T, Sequence[P]], Fraction],
) -> None:
    """Add what a comparison costs in all, checked, or why it has no plan.

    What it leaves out of one material counts as no plan at all.
    """
    total = Fraction(0)
    for task in tasks:
        plan, why = plan_of(task)
        if plan is None:
            row.why[name] = why
            return
        total += cost_of(task, plan)
    row.costs[name] = total

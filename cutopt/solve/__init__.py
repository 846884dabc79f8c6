"""The least-cost plan, with a proved bound and the reason why the search stopped."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

from cutopt.plan import MaterialPlan, Plan, Problem
from cutopt.solve.pool import heaviest_first, solve_group, solve_groups, solve_groups_on
from cutopt.solve.search import Progress, Report, no_report

__all__ = [
    "Progress",
    "Report",
    "Settings",
    "heaviest_first",
    "no_report",
    "plan_of",
    "solve",
    "solve_group",
]


@dataclass(frozen=True, slots=True)
class Settings:
    """How long and how wide to search.

    Parameters
    ----------
    seconds
        A guard on the whole plan; the search ends by its own work well before on a usual day.
    seed
        Same input, seed and version: same plan.
    workers
        Processes side by side; 0 for as many as there are cores.
    """

    seconds: float = 60.0
    seed: int = 1
    workers: int = 0


def _never() -> bool:
    return False


def solve(
    problem: Problem,
    settings: Settings | None = None,
    report: Report = no_report,
    cancelled: Callable[[], bool] = _never,
    executor: Executor | None = None,
) -> Plan:
    """Plan every material of the problem.

    Parameters
    ----------
    problem
        Days planned together.
    settings
        Time, seed, workers.
    report
        Told of every step, in this process.
    cancelled
        Asked while the search runs; True ends it with the best plan so far, as Ctrl-C does.
    executor
        Where to solve instead of in a process pool of our own, such as a cluster's executor.

    Returns
    -------
    Plan
        Material by material, in the order of stock.csv. What cannot be cut from the stock offered
        is named in its material's `unplanned`.
    """
    settings = settings or Settings()
    workers = settings.workers or os.cpu_count() or 1
    if executor is not None:
        plans = solve_groups_on(
            executor, problem.groups, settings.seconds, settings.seed, report, cancelled
        )
    else:
        plans = solve_groups(
            problem.groups, settings.seconds, settings.seed, workers, report, cancelled
        )
    return plan_of(problem, plans)


def plan_of(problem: Problem, plans: Sequence[Sequence[MaterialPlan]]) -> Plan:
    """One plan of what was found for every group, material by material as stock.csv has them."""
    first = {o.material: o.row for o in reversed(problem.offers)}
    materials = sorted((m for group in plans for m in group), key=lambda m: first[m.material])
    return Plan(
        problem.unit,
        tuple(materials),
        problem.days[0].plant,
        tuple(day.date.isoformat() for day in problem.days),
    )

"""One instance planned by cutopt and by the comparisons, all in one run, each plan checked."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tests.bench.common.measure import Row, compare, ours_of
from tests.bench.common.models import MODELS
from tests.bench.lumber.heuristics import best_fit, first_fit, greedy
from tests.bench.lumber.instance import Instance
from tests.bench.lumber.models import answered
from tests.bench.lumber.task import Filled, Task, checked_cost, tasks_of

__all__ = ["HEURISTICS", "measure"]

HEURISTICS: dict[str, Callable[[Task], list[Filled] | None]] = {
    "first fit": first_fit,
    "best fit": best_fit,
    "greedy": greedy,
}


def measure(
    instance: Instance,
    family: str,
    seconds: float = 60.0,
    workers: int = 1,
    heuristics: bool = True,
    models: Sequence[str] = (),
    model_seconds: float = 60.0,
) -> Row[Instance]:
    """A row of the table."""
    row = Row(instance, family, ours_of(instance, seconds, workers))
    tasks = tasks_of(instance.day)
    for name, plan_of in HEURISTICS.items() if heuristics else ():
        compare(row, tasks, name, lambda task, by=plan_of: (by(task), "no plan"), checked_cost)
    for solver in models:

        def asked(task: Task, by: str = solver) -> tuple[list[Filled] | None, str]:
            answer = answered(task, by, model_seconds)
            return answer.plan, answer.why

        compare(row, tasks, MODELS[solver], asked, checked_cost)
    return row

"""General-purpose models of sticks.

`python -m tests.bench.lumber.models cbc|highs|cpsat SECONDS` reads a task and writes the plan.
"""

from __future__ import annotations

import sys
from typing import Any

from tests.bench.common.models import Answer, answer, serve
from tests.bench.lumber.assignment import MOST_VARIABLES, plan_with_pulp, variables_of
from tests.bench.lumber.task import Filled, Task

__all__ = ["answered"]


def answered(task: Task, solver: str, seconds: float) -> Answer[Filled]:
    """The plan of one solver within its time."""
    size = (variables_of(task), MOST_VARIABLES)
    module = "tests.bench.lumber.models"
    return answer(module, task.to_json(), solver, seconds, size, _read)


def _read(plan: list[Any]) -> list[Filled]:
    return [Filled(k, tuple((i, q) for i, q in cuts), n) for k, cuts, n in plan]


def _plan(text: str, solver: str, seconds: float) -> list[list[Any]] | None:
    task = Task.from_json(text)
    if solver == "cpsat":
        from tests.bench.lumber.cpsat import plan_with_cpsat

        plan = plan_with_cpsat(task, seconds)
    else:
        plan = plan_with_pulp(task, solver, seconds)
    return None if plan is None else [[f.stick, f.cuts, f.count] for f in plan]


if __name__ == "__main__":
    sys.exit(serve(_plan))

"""General-purpose models of sheets and ceilings.

`python -m tests.bench.sheets.models cbc|highs|cpsat SECONDS` reads a task and writes the plan.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import Any

from tests.bench.common.models import Answer, answer, serve
from tests.bench.sheets.level import MOST_VARIABLES, plan_with_pulp, variables_of
from tests.bench.sheets.task import Filled, Laid, Task

__all__ = ["answered"]


def answered(task: Task, solver: str, seconds: float) -> Answer[Filled | Laid]:
    """The plan of one solver within its time."""
    size = (variables_of(task), MOST_VARIABLES)
    module = "tests.bench.sheets.models"
    return answer(module, task.to_json(), solver, seconds, size, _read)


def _written(plan: Sequence[Filled | Laid]) -> list[list[Any]]:
    return [
        [f.field, f.sheet, f.count] if isinstance(f, Laid) else [f.sheet, f.rip, f.shelves, None]
        for f in plan
    ]


def _read(plan: Sequence[Sequence[Any]]) -> list[Filled | Laid]:
    found: list[Filled | Laid] = []
    for row in plan:
        if len(row) == 3:
            found.append(Laid(*row))
        else:
            shelves = tuple((high, tuple((i, turned) for i, turned in own)) for high, own in row[2])
            found.append(Filled(row[0], row[1], shelves))
    return found


def _plan(text: str, solver: str, seconds: float) -> list[list[Any]] | None:
    task = Task.from_json(text)
    if solver == "cpsat":
        from tests.bench.sheets.cpsat import plan_with_cpsat

        plan = plan_with_cpsat(task, seconds)
    else:
        plan = plan_with_pulp(task, solver, seconds)
    return None if plan is None else _written(plan)


if __name__ == "__main__":
    sys.exit(serve(_plan))

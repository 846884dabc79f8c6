"""One instance planned by cutopt and by the comparisons, all in one run, each plan checked."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from tests.bench.common.measure import Row, compare, ours_of
from tests.bench.common.models import MODELS
from tests.bench.sheets.instance import Instance
from tests.bench.sheets.models import answered
from tests.bench.sheets.rows import mix_first, one_size
from tests.bench.sheets.shelves import shelves
from tests.bench.sheets.task import Filled, Laid, Task, checked_cost, tasks_of

__all__ = ["FIELDS", "PARTS", "measure"]

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


def measure(
    instance: Instance,
    family: str,
    seconds: float = 60.0,
    heuristics: bool = True,
    models: Sequence[str] = (),
    model_seconds: float = 60.0,
) -> Row[Instance]:
    """A row of the table.

    Comparisons see parts alone or fields alone: a day with both in one material has none.
    """
    row = Row(instance, family, ours_of(instance, seconds))
    tasks = tasks_of(instance.day)
    if any(t.parts for t in tasks) and any(t.fields for t in tasks):
        return row
    own = FIELDS if any(t.fields for t in tasks) else PARTS
    for name, plan_of in own.items() if heuristics else ():
        compare(row, tasks, name, lambda task, by=plan_of: (by(task), "no plan"), checked_cost)
    for solver in models:

        def asked(task: Task, by: str = solver) -> tuple[list[Filled | Laid] | None, str]:
            answer = answered(task, by, model_seconds)
            return answer.plan, answer.why

        compare(row, tasks, MODELS[solver], asked, checked_cost)
    return row

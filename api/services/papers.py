"""A plan as it was found, from the files that were kept of it: to draw its layouts anew."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from threading import Lock

from sqlalchemy import select
from sqlalchemy.orm import selectinload

from api.jobs import DayFiles, read_sources
from api.services.errors import NoResult
from api.services.plans import PlanService
from api.store import Database, DayRow
from cutopt.files import parse_document, tables_of
from cutopt.files.read_back import plan_from
from cutopt.plan import Plan, Problem

__all__ = ["Found", "found_plan"]

#: Plans that are held read: one that is looked at is mostly looked at again.
_HELD = 6
_held: OrderedDict[str, Found] = OrderedDict()
_holding = Lock()


@dataclass(frozen=True, slots=True)
class Found:
    """A plan and the days that it is for."""

    problem: Problem
    plan: Plan


def found_plan(database: Database, plans: PlanService, id: str) -> Found:
    """A plan with its layouts. What it holds never changes once it has ended.

    Raises NotFound, NotFinished, or NoResult where there is none or its days are gone.
    """
    view = plans.get(id)  # whoever may not see it learns nothing from what is held
    with _holding:
        if id in _held:
            _held.move_to_end(id)
            return _held[id]
    document = parse_document(plans.file(id, "plan.json"))
    cuts = tables_of({"cut_list.csv": plans.file(id, "cut_list.csv")})["cut_list.csv"]
    with database.read() as session:
        rows = session.scalars(
            select(DayRow).where(DayRow.id.in_(view.days)).options(selectinload(DayRow.files))
        )
        of_days = {
            row.id: DayFiles(row.name, row.form, {file.name: file.content for file in row.files})
            for row in rows
        }
    if len(of_days) < len(view.days):
        raise NoResult(f"plan '{id}' is for a day that is gone")
    reading = read_sources([of_days[day] for day in view.days])
    problem = Problem(reading.days, reading.warnings)
    found = Found(problem, plan_from(problem, document, cuts))
    with _holding:
        _held[id] = found
        while len(_held) > _HELD:
            _held.popitem(last=False)
    return found

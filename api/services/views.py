"""Rows of the store as the documents that go over the wire."""

from __future__ import annotations

from typing import Any, Literal, cast

from api.curve_shapes import Curve, CurveSummary, MaterialCurve, Of
from api.shapes import (
    Day,
    DaySummary,
    Failure,
    MaterialProgress,
    MaterialResult,
    Outcome,
    Plan,
    PlanStatus,
    PlanSummary,
    ReadFault,
)
from api.store import DayRow, PlanRow

__all__ = [
    "RESULT_FILES",
    "curve_summary",
    "curve_view",
    "day_summary",
    "day_view",
    "plan_summary",
    "plan_view",
]

#: Where each file of a result is, behind the plan's own address.
RESULT_FILES = {
    "plan.json": "plan.json",
    "stock_order.csv": "stock-order",
    "cut_list.csv": "cut-list",
    "cuts.csv": "cuts",
    "yield.csv": "yield",
    "rack.csv": "rack",
    "report.html": "report",
}
_CURVE_FILES = {"curve.csv": "points", "curve.svg": "drawing"}


def day_summary(row: DayRow) -> DaySummary:
    """A day in a list."""
    return DaySummary(**_day(row))


def day_view(row: DayRow, files: list[str]) -> Day:
    """A day in full."""
    return Day(
        **_day(row),
        sections=row.sections,
        materials=row.materials,
        files=files,
        digest=row.digest,
        warnings=[ReadFault(**warning) for warning in row.warnings],
    )


def _day(row: DayRow) -> dict[str, Any]:
    return {
        "id": row.id,
        "name": row.name,
        "plant": row.plant,
        "date": row.date,
        "unit": cast(Literal["in", "mm"], row.unit),
        "rows": row.rows,
        "pieces": row.pieces,
        "created": row.created,
    }


def plan_summary(row: PlanRow) -> PlanSummary:
    """A plan in a list."""
    return PlanSummary(**_plan(row))


def plan_view(row: PlanRow) -> Plan:
    """A plan in full."""
    materials = (
        None if row.materials is None else [MaterialResult(**figures) for figures in row.materials]
    )
    place = f"/plans/{row.id}"
    return Plan(
        **_plan(row),
        progress=[MaterialProgress(**step) for step in row.progress],
        materials=materials,
        objective=None if materials is None else round(sum(m.objective for m in materials), 4),
        bound=None if materials is None else round(sum(m.bound for m in materials), 4),
        failure=None if row.failure is None else Failure(**row.failure),
        files={}
        if materials is None
        else {name: f"{place}/{path}" for name, path in RESULT_FILES.items()},
    )


def curve_summary(row: PlanRow) -> CurveSummary:
    """A curve in a list."""
    return CurveSummary(**_plan(row), of=_of(row))


def curve_view(row: PlanRow) -> Curve:
    """A curve in full."""
    found = row.materials
    return Curve(
        **_plan(row),
        of=_of(row),
        progress=[MaterialProgress(**step) for step in row.progress],
        curves=None if found is None else [MaterialCurve.model_validate(c) for c in found],
        failure=None if row.failure is None else Failure(**row.failure),
        files={}
        if found is None
        else {name: f"/curves/{row.id}/{path}" for name, path in _CURVE_FILES.items()},
    )


def _of(row: PlanRow) -> Of:
    if row.curve is None:
        raise ValueError(f"plan '{row.id}' is no curve")
    return cast(Of, row.curve.of)


def _plan(row: PlanRow) -> dict[str, Any]:
    return {
        "id": row.id,
        "status": PlanStatus(row.status),
        "outcome": None if row.outcome is None else Outcome(row.outcome),
        "days": [used.day.id for used in row.days],
        "seconds": row.seconds,
        "seed": row.seed,
        "cancel_asked": row.cancel_asked,
        "created": row.created,
        "started": row.started,
        "ended": row.ended,
    }

"""The first page: plans and curves with their files, days, and what could not be cut."""

from __future__ import annotations

from html import escape
from pathlib import Path

from fastapi import APIRouter, Response

from api.curve_shapes import Curve
from api.routes.common import ServicesOf
from api.shapes import DaySummary, Outcome, Plan, PlanStatus

__all__ = ["router"]

router = APIRouter(include_in_schema=False)

_STYLE = (Path(__file__).parent / "home.css").read_text()
_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; "
    "form-action 'none'"
)
_SHOWN = 20
_REFRESH_SECONDS = 2
_FILES = (
    ("report.html", "report"),
    ("stock_order.csv", "stock order"),
    ("cut_list.csv", "cut list"),
    ("cuts.csv", "sheet cuts"),
    ("yield.csv", "yield"),
    ("rack.csv", "rack"),
)
_CURVE_FILES = (("curve.svg", "drawing"), ("curve.csv", "points"))
_AGAINST = {"joints": "joints", "setups": "set-ups", "lengths": "board lengths"}
_OPEN = (PlanStatus.QUEUED, PlanStatus.RUNNING)


@router.get("/")
def home(services: ServicesOf) -> Response:
    """The latest plans and days. It comes anew by itself while a plan is under way."""
    days = services.days.page(None, _SHOWN).items
    plans = [services.plans.get(p.id) for p in services.plans.page(None, _SHOWN, None).items]
    names = {day.id: day.name for day in days}
    curves = [services.curves.get(c.id) for c in services.curves.page(None, _SHOWN, None).items]
    under_way = any(job.status in _OPEN for job in (*plans, *curves))
    refresh = f'<meta http-equiv="refresh" content="{_REFRESH_SECONDS}">' if under_way else ""
    page = f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><title>cutopt</title>
<meta name="viewport" content="width=device-width, initial-scale=1">{refresh}
<style>{_STYLE}</style></head><body>
<main><h1>What to buy and how to cut it</h1>
<h2>Plans</h2>{_plans(plans, names)}
{_curves(curves, names)}
<h2>Days</h2>{_days(days)}</main>
</body></html>
"""
    return Response(page, media_type="text/html", headers={"Content-Security-Policy": _POLICY})


def _plans(plans: list[Plan], names: dict[str, str]) -> str:
    if not plans:
        return "<p>No plan yet: start one with POST /plans.</p>"
    rows = "".join(
        f"<tr><td>{escape(', '.join(names.get(day, day) for day in plan.days))}</td>"
        f"<td>{_state(plan)}</td>"
        f'<td class="figure">{_money(plan.objective)}</td>'
        f'<td class="figure">{_money(plan.bound)}</td>'
        f"<td>{_linked(plan.files, _FILES)}</td></tr>"
        for plan in plans
    )
    return (
        '<div class="scroll"><table><thead><tr><th scope="col">days</th><th scope="col">state</th>'
        '<th scope="col" class="figure">objective</th><th scope="col" class="figure">bound</th>'
        f'<th scope="col">files</th></tr></thead><tbody>{rows}</tbody></table></div>'
    )


def _curves(curves: list[Curve], names: dict[str, str]) -> str:
    """What fewer joints, set-ups or lengths would cost; nothing where nobody asked."""
    if not curves:
        return ""
    rows = "".join(
        f"<tr><td>{escape(', '.join(names.get(day, day) for day in curve.days))}</td>"
        f"<td>{_AGAINST[curve.of]}</td>"
        f"<td>{_state(curve)}</td>"
        f"<td>{_linked(curve.files, _CURVE_FILES)}</td></tr>"
        for curve in curves
    )
    return (
        "<h2>Curves of cost</h2>"
        '<div class="scroll"><table><thead><tr><th scope="col">days</th>'
        '<th scope="col">against</th><th scope="col">state</th><th scope="col">files</th></tr>'
        f"</thead><tbody>{rows}</tbody></table></div>"
    )


def _state(plan: Plan | Curve) -> str:
    if plan.failure is not None:
        return f'<span class="trouble">failed: {escape(plan.failure.detail)}</span>'
    if plan.status is PlanStatus.RUNNING:
        done = sum(len(step.materials) for step in plan.progress if step.done)
        return f"running, {done} material{'s' * (done != 1)} done"
    if isinstance(plan, Curve):
        return plan.status.value
    if plan.outcome is Outcome.NOT_CUTTABLE:
        left = sum(part.qty for m in plan.materials or [] for part in m.unplanned)
        word = "stopped" if plan.status is PlanStatus.STOPPED else "planned"
        parts = f"{left} part{'s' * (left != 1)}"
        return f'{word}, <span class="trouble">{parts} can\'t be cut</span>'
    return "planned" if plan.status is PlanStatus.DONE else plan.status.value


def _money(value: float | None) -> str:
    return "" if value is None else f"{value:,.2f}"


def _linked(files: dict[str, str], named: tuple[tuple[str, str], ...]) -> str:
    return " ".join(
        f'<a href="{escape(files[name])}">{label}</a>' for name, label in named if name in files
    )


def _days(days: list[DaySummary]) -> str:
    if not days:
        return "<p>No day yet: send one with POST /days.</p>"
    rows = "".join(
        f"<tr><td>{escape(day.name)}</td>"
        f"<td>{escape(day.plant)}</td><td>{day.date.isoformat()}</td>"
        f'<td class="figure">{day.pieces:,}</td></tr>'
        for day in days
    )
    return (
        '<div class="scroll"><table><thead><tr><th scope="col">day</th><th scope="col">plant</th>'
        '<th scope="col">date</th><th scope="col" class="figure">pieces</th></tr></thead>'
        f"<tbody>{rows}</tbody></table></div>"
    )

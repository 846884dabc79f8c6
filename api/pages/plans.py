"""Plans: started, watched while they are made, stopped, looked at."""

from __future__ import annotations

import contextlib
from typing import Annotated

from fastapi import Form, Query, Request, Response
from pydantic import ValidationError

from api.access.caller import needs
from api.access.rights import Right
from api.pages.lists import PlanLine, days_of, plan_lines
from api.pages.looks import page, pages_router, seen
from api.pages.viewer import ViewerOf
from api.problems import validation_faults
from api.routes.common import LARGEST_CURSOR, PlanId, ServicesOf
from api.services.errors import Finished, RequestInvalid
from api.shapes import DaySummary, MaterialProgress, NewPlan, Plan

__all__ = ["router"]

router = pages_router()

_SHOWN, _CURVES = 30, 10


@router.get("/pages/plans", dependencies=[needs(Right.PLANS_READ)])
def plans(
    request: Request,
    services: ServicesOf,
    viewer: ViewerOf,
    after: Annotated[int | None, Query(ge=1, le=LARGEST_CURSOR)] = None,
) -> Response:
    """The plans, the newest first."""
    lines, more = plan_lines(services, after, _SHOWN)
    curves = [] if after else services.curves.page(None, _CURVES, None).items
    seen_days: dict[str, DaySummary] = {}
    return page(
        request,
        viewer,
        "plans.html",
        lines=lines,
        next=more,
        after=after,
        curves=[(services.curves.get(c.id), days_of(services, c.days, seen_days)) for c in curves],
    )


@router.post("/pages/plans", dependencies=[needs(Right.PLANS_START)])
def start_plan(
    services: ServicesOf,
    viewer: ViewerOf,
    day: Annotated[list[str], Form()],
    seconds: Annotated[float, Form()] = 60.0,
) -> Response:
    """Plan one day, or several together against the stock of the first."""
    try:
        wanted = NewPlan(days=list(dict.fromkeys(day)), seconds=seconds)
    except ValidationError as error:
        raise RequestInvalid(validation_faults(error, "body")) from error
    return seen(f"/pages/plans/{services.plans.start(wanted).id}")


@router.get("/pages/plans/{plan}", dependencies=[needs(Right.PLANS_READ)])
def one_plan(request: Request, services: ServicesOf, viewer: ViewerOf, plan: PlanId) -> Response:
    """A plan: how far it is while it is being made, what came of it afterwards."""
    found = services.plans.get(plan)
    line = PlanLine(found, days_of(services, found.days, {}))
    return page(
        request,
        viewer,
        "watch.html" if line.open else "plan.html",
        line=line,
        plan=found,
        steps=_steps(found),
    )


@router.post("/pages/plans/{plan}/cancel", dependencies=[needs(Right.PLANS_START)])
def cancel_plan(services: ServicesOf, viewer: ViewerOf, plan: PlanId) -> Response:
    """End a plan with the best that it has; one that has just ended is shown as it is."""
    with contextlib.suppress(Finished):
        services.plans.cancel(plan)
    return seen(f"/pages/plans/{plan}")


@router.post("/pages/plans/{plan}/remove", dependencies=[needs(Right.PLANS_START)])
def remove_plan(
    services: ServicesOf,
    viewer: ViewerOf,
    plan: PlanId,
    sure: Annotated[str, Form(max_length=8)] = "",
) -> Response:
    """Remove a plan that has ended, with its papers."""
    if sure != "yes":
        return seen(f"/pages/plans/{plan}")
    services.plans.remove(plan)
    return seen("/pages/plans")


def _steps(plan: Plan) -> list[MaterialProgress]:
    """Groups of materials under way, those that still cost most on top, then the done ones."""
    steps = [step for step in plan.progress if step.materials]
    return sorted(steps, key=lambda s: (s.done, s.materials))

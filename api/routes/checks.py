"""Checking a plan against its days, as `cutopt check` does."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request, Response

from api.access.caller import needs
from api.access.rights import Right
from api.routes.bodies import READING, json_body, json_document, posted, read_shape
from api.routes.common import ServicesOf, example
from api.routes.exchange import RequestKey, changed, kept, once
from api.services.errors import RequestInvalid
from api.shapes import Check, CheckResult, Fault

__all__ = ["router"]

router = APIRouter(tags=["checks"])


@router.post(
    "/check",
    operation_id="checkPlan",
    dependencies=[needs(Right.DAYS_READ)],
    summary="Check a plan",
    response_model=CheckResult,
    openapi_extra={"requestBody": posted("Check", "examples.CHECK")},
    responses=changed(
        200,
        "Whether the plan keeps its promises; each that it breaks.",
        example("examples.CHECK_RESULT"),
        *READING,
        "busy",
    ),
)
def check_plan(
    request: Request,
    services: ServicesOf,
    body: Annotated[bytes, Depends(json_body)],
    key: RequestKey = None,
) -> Response:
    """Derive every promise of a plan again from the days alone. Nothing is kept."""
    wanted = read_shape(Check, json_document(body, exact=True))
    if not isinstance(wanted.plan, dict):
        raise RequestInvalid(
            [Fault(place="body.plan", wrong="not a JSON object", right="a plan.json")]
        )
    plan, tables = wanted.plan, wanted.tables
    return once(
        request,
        services,
        key,
        lambda: services.checks.check(wanted.days, plan, tables),
        kept(200),
        body,
    )

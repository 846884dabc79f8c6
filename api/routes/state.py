"""Whether the service is alive and ready, and what its problems mean."""

from __future__ import annotations

import hmac
from typing import Annotated, Any

from fastapi import APIRouter, Path, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse

from api.access.caller import address_of, caller_of, is_loopback, public
from api.access.rights import Right
from api.operation import Health
from api.operation.metrics import MEDIA_TYPE as METRICS_TYPE
from api.problems import KINDS, Kind
from api.routes.bodies import JSON
from api.routes.common import After, AllServicesOf, Limit, answers, example
from api.routes.results import accepted
from api.services.errors import NotAllowed, NotFound, NotReady
from api.services.paging import next_page
from api.settings import Settings
from api.shapes import ProblemKind, ProblemKindPage, Readiness, ReadyPart, State

__all__ = ["router"]

router = APIRouter(tags=["state"])


@router.get(
    "/livez",
    operation_id="isAlive",
    dependencies=[public],
    summary="Whether the service is alive",
    responses=answers(200, "It is.", example({"status": "ok"})),
)
async def is_alive() -> State:
    """Whether the process answers at all: where it does not, start it again.

    Nothing else is looked at: a database that is away is no reason to start it again.
    """
    return State(status="ok")


@router.get(
    "/readyz",
    operation_id="isReady",
    dependencies=[public],
    summary="Whether the service is ready",
    responses=answers(
        200,
        "It is.",
        example(
            {
                "status": "ok",
                "parts": [
                    {"name": "service", "ok": True, "told": "it takes requests", "needed": True},
                    {"name": "database", "ok": True, "told": "it answered in 2 ms", "needed": True},
                    {"name": "schema", "ok": True, "told": "it is at step 0001", "needed": True},
                    {"name": "planner", "ok": True, "told": "1 of 1 threads live", "needed": True},
                    {
                        "name": "disk",
                        "ok": True,
                        "told": "51,200 MiB are free",
                        "needed": True,
                    },
                    {
                        "name": "workers",
                        "ok": True,
                        "told": "2 can work side by side",
                        "needed": False,
                    },
                ],
            }
        ),
    ),
)
def is_ready(request: Request) -> Readiness:
    """Whether every part can work: where one can't, send nobody here for now."""
    health: Health = request.app.state.health
    parts = health.look()
    if not all(part.ok for part in parts if part.needed):
        raise NotReady(parts)
    return Readiness(
        status="ok",
        parts=[
            ReadyPart(name=part.name, ok=part.ok, told=part.told, needed=part.needed)
            for part in parts
        ],
    )


@router.get(
    "/metrics",
    operation_id="readMetrics",
    dependencies=[public],
    summary="Read what is measured",
    response_class=Response,
    responses=answers(
        200,
        "Every figure, in the form that Prometheus reads.",
        {
            METRICS_TYPE.split(";")[0]: {
                "schema": {"type": "string"},
                "example": 'cutopt_queue_plans{status="queued"} 3.0\n',
            }
        },
        "not-signed-in",
        "not-allowed",
    ),
)
async def read_metrics(request: Request, services: AllServicesOf) -> Response:
    """The figures of this process, and the queue of its database.

    Whoever may read the service's state may read them. So may a program: with a `metrics_key` set
    by sending it, without one from this machine.
    """
    settings: Settings = request.app.state.settings
    if not _is_watcher(request, settings.metrics_key):
        caller = await caller_of(request)
        if not caller.may(Right.STATE_READ):
            raise NotAllowed(f"'{caller.role}' has no right to {Right.STATE_READ}")
    text = await run_in_threadpool(services.metrics.text)
    return Response(text, headers={"Content-Type": METRICS_TYPE})


def _is_watcher(request: Request, key: str) -> bool:
    if not key:
        return is_loopback(address_of(request))
    told = request.headers.get("authorization", "")
    return hmac.compare_digest(told.encode(), f"Bearer {key}".encode())


_HTML = "text/html"
#: Where people read what problems mean.
_PAGE = "/pages/problems"
_LED: dict[int | str, dict[str, Any]] = {
    303: {"description": "To the page, for who likes a page best."}
}
_EXAMPLE = {
    "type": "/problems/in-use",
    "title": "A plan uses this day",
    "status": 409,
    "remedy": "Remove the plans that use it first.",
}


@router.get(
    "/problems",
    operation_id="listProblems",
    dependencies=[public],
    summary="List the kinds of problems",
    response_model=ProblemKindPage,
    responses={
        **answers(
            200,
            "Kinds of problems, by their status.",
            example({"items": [_EXAMPLE], "next": "/problems?limit=1&after=7"}),
            "not-acceptable",
        ),
        **_LED,
    },
)
async def list_problems(
    request: Request, limit: Limit = 50, after: After = None
) -> ProblemKindPage | Response:
    """Every kind of problem that the service answers with; a browser is led to their page."""
    if accepted(request, JSON, _HTML) == _HTML:
        return RedirectResponse(_PAGE, 303, {"Vary": "Accept"})
    begin = after or 0
    kinds = list(KINDS.values())
    end = begin + limit
    return ProblemKindPage(
        items=[_described(kind) for kind in kinds[begin:end]],
        next=next_page("/problems", limit, end if end < len(kinds) else None),
    )


@router.get(
    "/problems/{name}",
    operation_id="readProblem",
    dependencies=[public],
    summary="Read what a problem means",
    response_model=ProblemKind,
    responses={
        **answers(200, "The kind.", example(_EXAMPLE), "not-found", "not-acceptable"),
        **_LED,
    },
)
async def read_problem(
    request: Request,
    name: Annotated[str, Path(description="The last part of `type`.", examples=["in-use"])],
) -> ProblemKind | Response:
    """What a problem's `type` means, and what to do about it; a browser is led to their page."""
    if name not in KINDS:
        raise NotFound(f"there is no kind of problem '{name[:64]}'")
    if accepted(request, JSON, _HTML) == _HTML:
        return RedirectResponse(f"{_PAGE}#{name}", 303, {"Vary": "Accept"})
    return _described(KINDS[name])


def _described(kind: Kind) -> ProblemKind:
    return ProblemKind(type=kind.type, title=kind.title, status=kind.status, remedy=kind.remedy)

"""Plans: started, listed, followed, cancelled, removed."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Header, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.responses import StreamingResponse

from api.access.caller import needs
from api.access.rights import Right
from api.routes.bodies import json_body, json_document, read_shape
from api.routes.common import After, Limit, PlanId, ServicesOf, answers
from api.routes.exchange import KnownTag, RequestKey, SeenTag, SeenTagOrNone, kept, once, send_view
from api.routes.queued import cancelling, listing, of_day, reading, removing, starting
from api.services import Services
from api.services.errors import Busy
from api.services.plans import Event
from api.services.queue import ENDED
from api.settings import Settings
from api.shapes import NewPlan, Plan, PlanPage, PlanStatus

__all__ = ["router"]

router = APIRouter(tags=["plans"])

_LOOK = 0.4
#: How often it is looked whether who follows is still let in.
_LET_IN_EVERY = 5.0
_STREAMS_RETRY = 10


@router.post(
    "/plans",
    response_model=Plan,
    **starting(
        "plan",
        {
            "read": "readPlan",
            "follow": "followPlan",
            "cancel": "cancelPlan",
            "plan.json": "readPlanDocument",
            "stock-order": "readStockOrder",
        },
    ),
)
def start_plan(
    request: Request,
    services: ServicesOf,
    body: Annotated[bytes, Depends(json_body)],
    key: RequestKey = None,
) -> Response:
    """Plan one day, or several together against the stock of the first.

    Read the plan at Location until its status is done, stopped or failed, or follow its events.
    """
    wanted = read_shape(NewPlan, json_document(body, exact=False))
    start = partial(services.plans.start, wanted)
    return once(request, services, key, start, kept(202, "/plans"), body)


@router.get("/plans", **listing("plan"))
def list_plans(
    services: ServicesOf,
    limit: Limit = 50,
    after: After = None,
    day: Annotated[str | None, of_day("plan")] = None,
) -> PlanPage:
    """List plans, the newest first."""
    return services.plans.page(after, limit, day)


@router.get("/plans/{plan}", response_model=Plan, **reading("plan"))
def read_plan(services: ServicesOf, plan: PlanId, known: KnownTag = None) -> Response:
    """How far a plan is, what came of it, what could not be cut and why, where its files are."""
    return send_view(known, services.plans.get(plan))


@router.delete("/plans/{plan}", **removing("plan"))
def remove_plan(
    request: Request, services: ServicesOf, plan: PlanId, seen: SeenTag, key: RequestKey = None
) -> Response:
    """Remove a plan that has ended, with its files."""
    return once(request, services, key, lambda: services.plans.remove(plan, seen), kept(204))


@router.post(
    "/plans/{plan}/cancel", response_model=Plan, **cancelling("plan", "the best that it has")
)
def cancel_plan(
    request: Request,
    services: ServicesOf,
    plan: PlanId,
    seen: SeenTagOrNone = None,
    key: RequestKey = None,
) -> Response:
    """End a plan. The best plan so far is kept where there is one; asking twice changes nothing."""
    cancel = partial(services.plans.cancel, plan, seen)
    return once(request, services, key, cancel, kept(202))


@router.get(
    "/plans/{plan}/events",
    operation_id="followPlan",
    dependencies=[needs(Right.PLANS_READ)],
    summary="Follow a plan",
    response_class=Response,
    responses={
        **answers(
            200,
            "Server-sent events `status`, `progress` and, as the last, `ended`, each with its "
            "JSON; comments in between while nothing happens.",
            {"text/event-stream": {"example": "examples.EVENTS"}},
            "not-found",
            "busy",
        ),
        204: {"description": "The plan has ended and all of its events were read."},
    },
)
async def follow_plan(
    request: Request,
    services: ServicesOf,
    plan: PlanId,
    last_event_id: Annotated[
        str,
        Header(
            pattern=r"^[0-9]{1,9}$",
            description="Go on behind this event, as a client does after a lost connection.",
            examples=["2"],
        ),
    ] = "0",
) -> Response:
    """Follow a plan until it ends."""
    state = request.app.state
    settings: Settings = state.settings
    last = int(last_event_id)
    events = await run_in_threadpool(services.plans.events, plan, last)
    if not events:
        view = await run_in_threadpool(services.plans.get, plan)
        if view.status not in (PlanStatus.QUEUED, PlanStatus.RUNNING):
            return Response(status_code=204)
    if len(state.streams) >= settings.most_streams:
        raise Busy(f"{settings.most_streams} event streams are open", _STREAMS_RETRY)
    let_in = partial(services.access.still_in, request.state.caller)
    stream = _stream(
        services, plan, last, events, settings.heartbeat_seconds, state.stopping, let_in
    )
    mark = object()
    state.streams.add(mark)
    return _Stream(_until_closed(stream, state.streams, mark))


class _Stream(StreamingResponse):
    media_type = "text/event-stream"


async def _until_closed(
    stream: AsyncIterator[str], streams: set[object], mark: object
) -> AsyncIterator[str]:
    try:
        async for text in stream:
            yield text
    finally:
        streams.discard(mark)


async def _stream(
    services: Services,
    plan: str,
    last: int,
    events: list[Event],
    heartbeat: float,
    stopping: asyncio.Event,
    let_in: Callable[[], bool],
) -> AsyncIterator[str]:
    yield "retry: 2000\n\n"
    silent = asked = 0.0
    while True:
        for event in events:
            yield f"id: {event.number}\nevent: {event.kind}\ndata: {json.dumps(event.data)}\n\n"
            last = event.number
            silent = 0.0
            if event.kind == ENDED:
                return
        if stopping.is_set():
            return
        if silent >= heartbeat:
            yield ": nothing new\n\n"
            silent = 0.0
        await asyncio.sleep(_LOOK)
        silent += _LOOK
        asked += _LOOK
        if asked >= _LET_IN_EVERY:
            if not await run_in_threadpool(let_in):
                return
            asked = 0.0
        events = await run_in_threadpool(services.plans.events, plan, last)

"""Days: posted, listed, read, removed."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from api.access.caller import needs
from api.access.rights import Right
from api.routes.bodies import JSON, MULTIPART, READING, json_document, media_type, upload
from api.routes.common import After, DayId, Limit, ServicesOf, answers, example
from api.routes.exchange import (
    IF_MATCH,
    KnownTag,
    RequestKey,
    SeenTag,
    changed,
    gone,
    kept,
    once,
    send_view,
    tagged,
)
from api.shapes import Day, DayPage

__all__ = ["router"]

router = APIRouter(tags=["days"])

_FOLDER = {
    "type": "object",
    "required": ["files"],
    "additionalProperties": False,
    "properties": {
        "files": {
            "type": "array",
            "minItems": 1,
            "description": "The day folder's files, each under its path (day.toml, stock.csv, "
            "cuts/walls.csv ...; a csv without a folder is a cut list), or one .xlsx workbook with "
            "or without its day.toml.",
            "items": {"type": "string", "format": "binary"},
        }
    },
}
_BODY = {
    "required": True,
    "content": {
        JSON: {
            "schema": {"$ref": "#/components/schemas/DayDocument"},
            "example": "examples.DAY_DOCUMENT",
        },
        MULTIPART: {
            "schema": _FOLDER,
            "encoding": {"files": {"contentType": "text/csv, application/toml"}},
            "example": {"files": ['plant = "Hask Lake Section Works"\ndate = 2026-03-02\n']},
        },
    },
}
_LINKS = {
    "read": {"operationId": "readDay", "parameters": {"day": "$response.body#/id"}},
    "remove": {"operationId": "removeDay", "parameters": {"day": "$response.body#/id"}},
}


@router.post(
    "/days",
    operation_id="postDay",
    dependencies=[needs(Right.DAYS_WRITE)],
    summary="Post a day",
    status_code=201,
    response_model=Day,
    openapi_extra={"requestBody": _BODY},
    responses=changed(
        201,
        "The day was read without a fault and is kept.",
        example("examples.DAY"),
        *READING,
        headers={"Location": {"description": "The day.", "schema": {"type": "string"}}},
        links=_LINKS,
    ),
)
async def post_day(
    request: Request,
    services: ServicesOf,
    name: Annotated[
        str | None,
        Query(
            min_length=1,
            max_length=80,
            pattern=r"^[^\x00-\x1f\x7f]+$",
            description="What the day is called: by default its folder or workbook, else its date.",
        ),
    ] = None,
    first: Annotated[
        str | None,
        Query(
            max_length=64,
            description="The id of the day that this one will be planned together with: read "
            "against its stock and rules, so that a stock of its own may be absent.",
        ),
    ] = None,
    plant: Annotated[
        str | None,
        Query(
            max_length=64,
            description="The id of the plant that it belongs to: for people of the group, where "
            "there are several plants.",
        ),
    ] = None,
    key: RequestKey = None,
) -> Response:
    """Keep a day folder's files, its workbook, or the same as one JSON document.

    Every fault of every file is told at once, and then nothing is kept.
    """
    if media_type(request, JSON, MULTIPART) == JSON:
        body = await request.body()
        await run_in_threadpool(json_document, body, exact=True)
        add = partial(services.days.add_document, name, body, first, plant)
        return await run_in_threadpool(once, request, services, key, add, kept(201, "/days"), body)
    files = await upload(request, request.app.state.settings.most_files)
    add = partial(services.days.add_files, name, files, first, plant)
    return await run_in_threadpool(once, request, services, key, add, kept(201, "/days"), files)


@router.get(
    "/days",
    operation_id="listDays",
    dependencies=[needs(Right.DAYS_READ)],
    summary="List days",
    responses=answers(200, "Days, the newest first.", example("examples.DAY_PAGE")),
)
def list_days(services: ServicesOf, limit: Limit = 50, after: After = None) -> DayPage:
    """List days, the newest first."""
    return services.days.page(after, limit)


@router.get(
    "/days/{day}",
    operation_id="readDay",
    dependencies=[needs(Right.DAYS_READ)],
    summary="Read a day",
    response_model=Day,
    responses=tagged("The day.", example("examples.DAY"), "not-found"),
)
def read_day(services: ServicesOf, day: DayId, known: KnownTag = None) -> Response:
    """What a day asks for, and what a person should look at before it is cut."""
    return send_view(known, services.days.get(day))


@router.delete(
    "/days/{day}",
    operation_id="removeDay",
    dependencies=[needs(Right.DAYS_WRITE)],
    summary="Remove a day",
    status_code=204,
    response_class=Response,
    openapi_extra={"parameters": [IF_MATCH]},
    responses=gone("The day is gone.", "not-found", "in-use"),
)
def remove_day(
    request: Request, services: ServicesOf, day: DayId, seen: SeenTag, key: RequestKey = None
) -> Response:
    """Remove a day that no plan uses."""
    return once(request, services, key, lambda: services.days.remove(day, seen), kept(204))

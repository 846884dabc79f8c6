"""What routes share: the services, paging, answers in the description, query checks."""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated, Any

from fastapi import Depends, Path, Query, Request
from fastapi.routing import APIRoute

from api.access.caller import CallerOf
from api.problems import KINDS, MEDIA_TYPE
from api.services import Services
from api.services.errors import RequestInvalid
from api.shapes import Fault
from cutopt.records import known_or_nearest

__all__ = [
    "After",
    "AllServicesOf",
    "DayId",
    "Limit",
    "PlanId",
    "ServicesOf",
    "answers",
    "errors",
    "example",
    "known_query",
]

LARGEST_CURSOR = 2**53


async def _services(request: Request, caller: CallerOf) -> Services:
    services: Services = request.app.state.services
    return services.seen_by(caller)


async def _all_services(request: Request) -> Services:
    services: Services = request.app.state.services
    return services


#: What the caller sees: their plant's, or all of the group.
ServicesOf = Annotated[Services, Depends(_services)]
#: For routes that are public, and for what belongs to no plant.
AllServicesOf = Annotated[Services, Depends(_all_services)]
DayId = Annotated[
    str,
    Path(alias="day", description="The day's id.", examples=["8f14e45fceea467a9d0c1f2b3a4c5d6e"]),
]
PlanId = Annotated[
    str,
    Path(alias="plan", description="The plan's id.", examples=["3c59dc048e8850243be8079a5c74d079"]),
]
Limit = Annotated[int, Query(ge=1, le=200, description="Most entries of a page.")]
After = Annotated[
    int | None,
    Query(
        ge=1,
        le=LARGEST_CURSOR,
        description="Where a page begins; `next` of the page before holds it.",
    ),
]


async def known_query(request: Request) -> None:
    """Refuse a query parameter that the route does not know, naming the nearest one."""
    route = request.scope.get("route")
    known = (
        {field.alias for field in route.dependant.query_params}
        if isinstance(route, APIRoute)
        else set()
    )
    faults = [
        Fault(
            place=f"query.{name[:80]}",
            wrong="no such parameter",
            right=known_or_nearest(name, known) if known else "none is known here",
        )
        for name in dict.fromkeys(request.query_params)
        if name not in known
    ]
    if faults:
        raise RequestInvalid(faults)


def example(value: Any, media_type: str = "application/json") -> dict[str, Any]:
    """An example for one media type of an answer."""
    return {media_type: {"example": value}}


_RETRY_AFTER = {
    "Retry-After": {
        "description": "Seconds until it is worth asking again.",
        "schema": {"type": "integer", "minimum": 0},
    }
}
_FAULTS = {
    "request-invalid": [
        {
            "place": "query.limt",
            "wrong": "no such parameter",
            "read": "",
            "right": "did you mean 'limit'?",
        }
    ],
    "input-refused": [
        {
            "file": "cuts/walls.csv",
            "row": 14,
            "column": "material",
            "wrong": "no such material in stock.csv",
            "read": "'2x4-SFP-2'",
            "right": "did you mean '2x4-SPF-2'?",
            "text": "cuts/walls.csv:14:material: no such material in stock.csv, read '2x4-SFP-2', "
            "would be right: did you mean '2x4-SPF-2'?",
        }
    ],
}


def errors(*names: str) -> dict[int | str, dict[str, Any]]:
    """The problems that an operation may answer with, for its description.

    Every operation may also be asked with an unknown parameter, fail, or miss its database.
    """
    answers: dict[int | str, dict[str, Any]] = {}
    for name in dict.fromkeys((*names, "request-invalid", "internal", "not-ready")):
        kind = KINDS[name]
        problem = {
            "type": kind.type,
            "title": kind.title,
            "status": kind.status,
            "detail": kind.remedy,
            "instance": "/days",
        }
        if name in _FAULTS:
            problem["faults"] = _FAULTS[name]
        answer = answers.setdefault(
            kind.status,
            {
                "description": HTTPStatus(kind.status).phrase,
                "content": {
                    MEDIA_TYPE: {
                        "schema": {"$ref": "#/components/schemas/Problem"},
                        "examples": {},
                    }
                },
            },
        )
        answer["content"][MEDIA_TYPE]["examples"][name] = {"value": problem}
        if kind.status == HTTPStatus.SERVICE_UNAVAILABLE:
            answer["headers"] = _RETRY_AFTER
    return answers


def answers(
    status: int,
    description: str,
    content: dict[str, Any] | None = None,
    *problems: str,
    headers: dict[str, Any] | None = None,
    links: dict[str, Any] | None = None,
) -> dict[int | str, dict[str, Any]]:
    """All answers of an operation: the good one, then its problems."""
    more = {"content": content, "headers": headers, "links": links}
    good = {"description": description, **{key: value for key, value in more.items() if value}}
    return {status: good, **errors(*problems)}

"""Whether the service is alive and ready, and what its problems mean."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path

from api.problems import KINDS, Kind
from api.routes.common import ServicesOf, answers, example
from api.services.errors import NotFound
from api.shapes import ProblemKind, State

__all__ = ["router"]

router = APIRouter(tags=["state"])


@router.get(
    "/livez",
    operation_id="isAlive",
    summary="Whether the service is alive",
    responses=answers(200, "It is.", example({"status": "ok"})),
)
async def is_alive() -> State:
    """Whether the process answers at all: where it does not, start it again."""
    return State(status="ok")


@router.get(
    "/readyz",
    operation_id="isReady",
    summary="Whether the service is ready",
    responses=answers(200, "It is.", example({"status": "ok"})),
)
def is_ready(services: ServicesOf) -> State:
    """Whether the database answers: where it does not, send nobody here for now."""
    services.ready()
    return State(status="ok")


_EXAMPLE = {
    "type": "/problems/in-use",
    "title": "A plan uses this day",
    "status": 409,
    "remedy": "Remove the plans that use it first.",
}


@router.get(
    "/problems",
    operation_id="listProblems",
    summary="List the kinds of problems",
    responses=answers(200, "Every kind.", example([_EXAMPLE])),
)
async def list_problems() -> list[ProblemKind]:
    """Every kind of problem that the service answers with."""
    return [_described(kind) for kind in KINDS.values()]


@router.get(
    "/problems/{name}",
    operation_id="readProblem",
    summary="Read what a problem means",
    responses=answers(200, "The kind.", example(_EXAMPLE), "not-found"),
)
async def read_problem(
    name: Annotated[str, Path(description="The last part of `type`.", examples=["in-use"])],
) -> ProblemKind:
    """What a problem's `type` means, and what to do about it."""
    if name not in KINDS:
        raise NotFound(f"there is no kind of problem '{name[:64]}'")
    return _described(KINDS[name])


def _described(kind: Kind) -> ProblemKind:
    return ProblemKind(type=kind.type, title=kind.title, status=kind.status, remedy=kind.remedy)

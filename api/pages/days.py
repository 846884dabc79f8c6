"""Days: sent in, listed, looked at, removed, and put into a plan."""

from __future__ import annotations

from typing import Annotated

from fastapi import Form, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from api.access.caller import needs
from api.access.rights import Right
from api.pages.lists import cursor_of, plan_lines
from api.pages.looks import page, pages_router, seen
from api.pages.sending import merged, pack, read_sent
from api.pages.viewer import Viewer, ViewerOf
from api.problems import refused
from api.routes.common import LARGEST_CURSOR, DayId, ServicesOf
from api.services import Services
from api.shapes import ReadFault
from cutopt.records import InputRefused

__all__ = ["router"]

router = pages_router()

_SHOWN = 30
_TOGETHER = 12
_MOST_FAULTS = 500
_MOST_PLANTS = 200


@router.get("/pages/days", dependencies=[needs(Right.DAYS_READ)])
def days(
    request: Request,
    services: ServicesOf,
    viewer: ViewerOf,
    after: Annotated[int | None, Query(ge=1, le=LARGEST_CURSOR)] = None,
) -> Response:
    """The days that were sent in, the newest first."""
    found = services.days.page(after, _SHOWN)
    return page(
        request, viewer, "days.html", days=found.items, next=cursor_of(found.next), after=after
    )


@router.get("/pages/days/new", dependencies=[needs(Right.DAYS_WRITE)])
def new_day(request: Request, services: ServicesOf, viewer: ViewerOf) -> Response:
    """The form that sends a day in."""
    return _form(request, services, viewer)


@router.post("/pages/days", dependencies=[needs(Right.DAYS_WRITE)])
async def send_day(request: Request, services: ServicesOf, viewer: ViewerOf) -> Response:
    """Read the files; keep the day, or show every fault with the form as it was."""
    sent = await read_sent(request)
    files = merged(sent.kept, sent.files, sent.left_out)
    name = "".join(c for c in sent.words.get("name", "") if c.isprintable()).strip()[:80]
    first = sent.words.get("first") or None
    plant = sent.words.get("plant") or None
    if not files:
        return await run_in_threadpool(
            _form,
            request,
            services,
            viewer,
            status=422,
            name=name,
            first=first,
            plant=plant,
            missing=True,
        )
    try:
        day = await run_in_threadpool(services.days.add_files, name or None, files, first, plant)
    except InputRefused as error:
        faults = [ReadFault(**fault) for fault in refused(error.faults)["faults"]]
        return await run_in_threadpool(
            _form,
            request,
            services,
            viewer,
            status=422,
            name=name,
            first=first,
            plant=plant,
            kept=sorted(files),
            packed=pack(files),
            faults=faults,
        )
    return seen(f"/pages/days/{day.id}")


def _form(
    request: Request,
    services: Services,
    viewer: Viewer,
    status: int = 200,
    name: str = "",
    first: str | None = None,
    plant: str | None = None,
    kept: list[str] | None = None,
    packed: list[str] | None = None,
    faults: list[ReadFault] | None = None,
    missing: bool = False,
) -> Response:
    return page(
        request,
        viewer,
        "send.html",
        status,
        name=name,
        first=first,
        plants=[] if viewer.plant else services.people.plants(None, _MOST_PLANTS).items,
        given={"plant": plant or ""},
        kept=kept or [],
        packed=packed or [],
        faults=(faults or [])[:_MOST_FAULTS],
        count=len(faults or []),
        faulty=_faulty(kept or [], faults or []),
        missing=missing,
        others=services.days.page(None, _TOGETHER).items,
    )


def _faulty(kept: list[str], faults: list[ReadFault]) -> set[str]:
    """Files that have faults, under the names they were sent with: with or without their folder."""
    named = {f"/{fault.file}" for fault in faults}
    return {
        file
        for file in kept
        if any(f"/{file}".endswith(name) or name.endswith(f"/{file}") for name in named)
    }


@router.get("/pages/days/{day}", dependencies=[needs(Right.DAYS_READ)])
def one_day(request: Request, services: ServicesOf, viewer: ViewerOf, day: DayId) -> Response:
    """What a day asks for, what a person should look at, and the plans that use it."""
    found = services.days.get(day)
    lines, _ = plan_lines(services, None, 10, day)
    others = [d for d in services.days.page(None, _TOGETHER).items if d.id != found.id]
    return page(request, viewer, "day.html", day=found, lines=lines, others=others)


@router.post("/pages/days/{day}/remove", dependencies=[needs(Right.DAYS_WRITE)])
def remove_day(
    request: Request,
    services: ServicesOf,
    viewer: ViewerOf,
    day: DayId,
    sure: Annotated[str, Form(max_length=8)] = "",
) -> Response:
    """Remove a day that no plan uses."""
    if sure != "yes":
        return seen(f"/pages/days/{day}")
    services.days.remove(day)
    return seen("/pages/days")

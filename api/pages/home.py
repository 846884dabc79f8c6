"""The first page: leads each role to its work."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlsplit

from fastapi import Form, Request, Response

from api.access.caller import needs, public
from api.pages.lists import plan_lines, weighed
from api.pages.looks import page, pages_router, seen
from api.pages.viewer import LANGUAGE_COOKIE, ViewerOf
from api.pages.words import LANGUAGES
from api.routes.common import ServicesOf

__all__ = ["router"]

router = pages_router()

_PLANS, _DAYS = 12, 12
_YEAR = 365 * 24 * 3600


@router.get("/", dependencies=[needs()])
def home(request: Request, services: ServicesOf, viewer: ViewerOf) -> Response:
    """What there is to do: days without a plan, plans under way, and the papers of the latest."""
    lines, _ = plan_lines(services, None, _PLANS)
    days = services.days.page(None, _DAYS).items
    planned = {day for line in lines for day in line.plan.days}
    waiting = [
        day
        for day in days
        if day.id not in planned and not services.plans.page(None, 1, day.id).items
    ]
    return page(
        request,
        viewer,
        "home.html",
        lines=lines,
        under_way=[line for line in lines if line.open],
        ready=weighed(lines),
        waiting=waiting,
        any_day=bool(days),
    )


@router.post("/pages/language", dependencies=[public])
def choose_language(
    request: Request,
    language: Annotated[str, Form(max_length=8)],
    back: Annotated[str, Form(max_length=500)] = "/",
) -> Response:
    """Keep a language for this browser, and go back to where it was chosen."""
    address = urlsplit(back)
    within = back.startswith("/") and not back.startswith(("//", "/\\")) and not address.netloc
    answer = seen(back if within and back.isprintable() else "/")
    if language in LANGUAGES:
        answer.set_cookie(
            LANGUAGE_COOKIE,
            language,
            max_age=_YEAR,
            samesite="lax",
            httponly=True,
            secure=request.url.scheme == "https",
        )
    return answer

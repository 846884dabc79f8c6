"""How every page is made: templates with the words of a language, static files, a strict policy."""

from __future__ import annotations

import hashlib
import inspect
import json
from collections.abc import Callable, Coroutine
from functools import cache
from importlib.resources import files
from typing import Any

from fastapi import APIRouter, Request, Response
from fastapi.routing import APIRoute
from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from api.access.caller import public
from api.pages.shown import Shown
from api.pages.viewer import Viewer, viewer_of
from api.pages.words import LANGUAGES, Words
from api.problems import MEDIA_TYPE
from cutopt.draw import COLOURS, DRAWING_STYLE

__all__ = ["POLICY", "PageRoute", "asset", "page", "pages_router", "seen", "static"]

#: Nothing but what this service serves itself, and no script or style within a page.
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
    "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
_KINDS = {"css": "text/css; charset=utf-8", "js": "text/javascript; charset=utf-8"}
_FOREVER = {"Cache-Control": "public, max-age=31536000, immutable"}
_ENVIRONMENT = Environment(
    loader=PackageLoader("api.pages", "templates"),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


@cache
def _asset(kind: str) -> bytes:
    text = files("api.pages").joinpath("static", f"pages.{kind}").read_text(encoding="utf-8")
    return ((COLOURS + DRAWING_STYLE if kind == "css" else "") + text).encode()


@cache
def asset(kind: str) -> str:
    """The address of the pages' `css` or `js`: its name holds a hash of what is in it."""
    return f"/static/pages.{hashlib.sha256(_asset(kind)).hexdigest()[:16]}.{kind}"


def page(
    request: Request, viewer: Viewer, template: str, status: int = 200, **context: Any
) -> Response:
    """A template as an answer, in the viewer's language and zone."""
    words = Words(viewer.language)
    text = _ENVIRONMENT.get_template(template).render(
        t=words,
        shown=Shown(viewer.zone, viewer.unit, words),
        viewer=viewer,
        languages=[(name, Words(name)("language.own")) for name in LANGUAGES],
        here=request.url.path,
        asset=asset,
        **context,
    )
    return Response(
        text,
        status,
        {
            "Content-Security-Policy": POLICY,
            # Without one, browsers send forms with the origin "null", which is refused.
            "Referrer-Policy": "same-origin",
            "Content-Language": viewer.language,
            "Vary": "Accept-Language, Cookie",
        },
        "text/html",
    )


def seen(path: str) -> Response:
    """Go and look at another page: what a form answers when it did what it was to do."""
    return RedirectResponse(path, 303)


class PageRoute(APIRoute):
    """A route whose refusals are pages as well, with the status and words of the problem."""

    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        """The route's handler, its refusals caught."""
        inner = super().get_route_handler()

        async def handle(request: Request) -> Response:
            try:
                return await inner(request)
            except Exception as error:
                answer = await _problem(request, error)
                if answer is None:
                    raise
                return answer

        return handle


async def _problem(request: Request, error: Exception) -> Response | None:
    """What the application makes of an error, as a page; None where it has nothing to say of it."""
    known = request.app.exception_handlers
    found = next((known[kind] for kind in type(error).__mro__ if kind in known), None)
    if found is None or found is known.get(Exception):
        return None
    answer = found(request, error)
    if inspect.isawaitable(answer):
        answer = await answer
    if not isinstance(answer, Response) or answer.media_type != MEDIA_TYPE:
        return answer if isinstance(answer, Response) else None
    problem = json.loads(bytes(answer.body))
    made = page(
        request,
        viewer_of(request),
        "trouble.html",
        answer.status_code,
        problem=problem,
        name=str(problem["type"]).rsplit("/", 1)[-1],
    )
    for name in ("retry-after", "connection", "allow"):
        if name in answer.headers:
            made.headers[name] = answer.headers[name]
    return made


def pages_router() -> APIRouter:
    """A router of pages: not part of the described API."""
    return APIRouter(include_in_schema=False, route_class=PageRoute)


static = APIRouter(include_in_schema=False)


@static.get("/static/{name}", dependencies=[public])
def read_static(name: str) -> Response:
    """The pages' style and script, under names that change with what is in them."""
    for kind, media_type in _KINDS.items():
        if f"/static/{name}" == asset(kind):
            return Response(_asset(kind), media_type=media_type, headers=_FOREVER)
    raise HTTPException(404)

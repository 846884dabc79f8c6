"""Who calls, and what a route asks of them.

Every route declares `needs(...)` or `public` among its dependencies. A caller is known by the
cookie of a session, or by a key (`Authorization: Bearer KEY`). A cookie is sent by a browser
whoever made the page, so whatever changes something must bring the session's own token too: as the
header `X-CSRF-Token`, or as the field `csrf` of a form.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterator
from typing import Annotated, Any
from urllib.parse import urlsplit

from fastapi import Depends, Request
from starlette.concurrency import run_in_threadpool
from starlette.responses import Response

from api.access.rights import Right
from api.access.secrets import csrf_of, same
from api.access.who import Caller
from api.services import Services
from api.services.errors import NotAllowed, NotSignedIn

__all__ = [
    "CSRF_FIELD",
    "CSRF_HEADER",
    "Caller",
    "CallerOf",
    "address_of",
    "caller_of",
    "clear_cookie",
    "cookie_name",
    "csrf_for",
    "is_loopback",
    "needs",
    "needs_of",
    "of_same_origin",
    "public",
    "routes_of",
    "session_token",
    "set_cookie",
]

CSRF_HEADER = "X-CSRF-Token"
CSRF_FIELD = "csrf"
_SAFE = {"GET", "HEAD", "OPTIONS"}
_FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")
_COOKIE = "cutopt"


async def caller_of(request: Request) -> Caller:
    """Whoever is signed in.

    Raises NotSignedIn, or NotAllowed where a page of others may have asked.
    """
    known = getattr(request.state, "caller", None)
    if isinstance(known, Caller):
        return known
    services: Services = request.app.state.services
    scheme, _, key = request.headers.get("authorization", "").partition(" ")
    if scheme:
        if scheme.casefold() != "bearer" or not key:
            raise NotSignedIn("the header Authorization is no 'Bearer KEY'")
        caller = await run_in_threadpool(services.access.caller_of_key, key.strip())
        if caller is None:
            raise NotSignedIn("the key is not known, or no longer")
    else:
        token = session_token(request)
        caller = await run_in_threadpool(services.access.caller_of_session, token)
        if caller is None:
            raise NotSignedIn("nobody is signed in, or the session has ended")
        if request.method not in _SAFE:
            await _hold_csrf(request, token)
    if request.method not in _SAFE:
        await run_in_threadpool(services.access.count_write, caller)
    request.state.caller = caller
    return caller


#: Whoever is signed in. Raises NotSignedIn, or NotAllowed where a page of others may have asked.
CallerOf = Annotated[Caller, Depends(caller_of)]


def needs(*rights: Right) -> Any:
    """What a route asks of its caller: all of these rights; without any, to be signed in.

    Raises NotSignedIn or NotAllowed.
    """

    async def check(caller: CallerOf) -> None:
        lacking = [right for right in rights if not caller.may(right)]
        if lacking:
            raise NotAllowed(f"'{caller.role}' has no right to {', '.join(lacking)}")

    check.rights = rights  # type: ignore[attr-defined]
    return Depends(check)


async def _anybody() -> None:
    """Asks nothing."""


_anybody.rights = None  # type: ignore[attr-defined]
#: What a route declares that needs nobody to be signed in.
public: Any = Depends(_anybody)


def routes_of(app: Any) -> Iterator[Any]:
    """Every route of an application, those of routers that were included too."""
    for route in app.routes:
        if hasattr(route, "original_router"):
            yield from route.original_router.routes
        else:
            yield route


def needs_of(route: Any) -> list[tuple[Right, ...] | None]:
    """What a route declares: the rights of each `needs`, None for `public`."""
    return [
        depends.dependency.rights
        for depends in getattr(route, "dependencies", ())
        if hasattr(depends.dependency, "rights")
    ]


# The session's cookie


def session_token(request: Request) -> str:
    """The token of the session that a request came with; blank where there is none."""
    return request.cookies.get(cookie_name(request), "")


def csrf_for(request: Request) -> str:
    """What a page puts into its forms, as the field `csrf`."""
    token = session_token(request)
    return csrf_of(token) if token else ""


def cookie_name(request: Request) -> str:
    """`__Host-` binds a cookie to this very host; browsers allow it with Secure alone."""
    return f"__Host-{_COOKIE}" if _secure(request) else _COOKIE


def set_cookie(request: Request, response: Response, token: str, seconds: int) -> None:
    """Give a session's token to the browser; it goes over https alone, but to this machine."""
    response.set_cookie(
        cookie_name(request),
        token,
        max_age=seconds,
        path="/",
        secure=_secure(request),
        httponly=True,
        samesite="lax",
    )


def clear_cookie(request: Request, response: Response) -> None:
    """Take a session's token back."""
    response.delete_cookie(
        cookie_name(request), path="/", secure=_secure(request), httponly=True, samesite="lax"
    )


def address_of(request: Request) -> str:
    """Where a request came from."""
    return request.client.host if request.client else "nowhere"


def of_same_origin(request: Request) -> bool:
    """Whether a browser says that a page of ours asked; other programs say nothing."""
    if request.headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return False
    origin = request.headers.get("origin")
    if origin is None:
        return True
    return urlsplit(origin).netloc == request.headers.get("host", "")


def _secure(request: Request) -> bool:
    return request.url.scheme == "https" or not is_loopback(request.url.hostname or "")


def is_loopback(host: str) -> bool:
    """Whether an address is this machine's own."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


async def _hold_csrf(request: Request, token: str) -> None:
    if not of_same_origin(request):
        raise NotAllowed("a page of another origin asked")
    given = request.headers.get(CSRF_HEADER)
    if given is None:
        kind = request.headers.get("content-type", "").partition(";")[0].strip().casefold()
        if kind in _FORMS:
            if getattr(request, "_form", None) is None:  # not read by the route already
                await request.body()  # kept, so that whoever reads the form next still can
            field = (await request.form()).get(CSRF_FIELD)
            given = field if isinstance(field, str) else None
    if given is None or not same(given, csrf_of(token)):
        raise NotAllowed(
            f"the session's token is missing or wrong: send it as the header {CSRF_HEADER}, or "
            f"as the form's field {CSRF_FIELD}"
        )

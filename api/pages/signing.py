"""Pages of signing in and out, setting up, choosing a password, pairing a station's screen."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlsplit

from fastapi import Depends, Form, Query, Request, Response

from api.access.caller import (
    CallerOf,
    address_of,
    clear_cookie,
    is_loopback,
    needs,
    public,
    set_cookie,
)
from api.access.rights import Role
from api.pages.looks import page, pages_router, seen
from api.pages.viewer import Viewer, viewer_of
from api.routes.common import AllServicesOf
from api.routes.signing import of_ours
from api.services.errors import NotAllowed, NotSignedIn, RequestInvalid
from api.services.signing import NewPlant, SignedIn

__all__ = ["router"]

router = pages_router()

_Anybody = Annotated[Viewer, Depends(viewer_of)]
_Text = Annotated[str, Form(max_length=300)]
_Next = Annotated[str, Form(alias="next", max_length=500)]


def _within(path: str) -> str:
    """A path of this service, or the first page: nobody is led elsewhere by a link to sign in."""
    address = urlsplit(path)
    good = path.startswith("/") and not path.startswith(("//", "/\\")) and not address.netloc
    return path if good and path.isprintable() else "/"


def _begun(request: Request, signed: SignedIn, path: str = "/") -> Response:
    answer = seen(_within(path))
    set_cookie(request, answer, signed.token, signed.seconds)
    return answer


@router.get("/sign-in", dependencies=[public])
def sign_in_page(
    request: Request,
    services: AllServicesOf,
    viewer: _Anybody,
    path: Annotated[str, Query(alias="next", max_length=500)] = "/",
) -> Response:
    """Name and password; in the demo a button for each role."""
    roles = [role.value for role in Role if role is not Role.STATION]
    return page(
        request,
        viewer,
        "sign_in.html",
        next=_within(path),
        demo=roles if services.access.demo else [],
        wrong=False,
    )


@router.post("/sign-in", dependencies=[public, Depends(of_ours)])
def sign_in(
    request: Request,
    services: AllServicesOf,
    viewer: _Anybody,
    name: _Text = "",
    password: _Text = "",
    role: _Text = "",
    path: _Next = "/",
) -> Response:
    """Sign in by name and password, or in the demo by role."""
    if role:
        if role not in list(Role) or not is_loopback(request.url.hostname or ""):
            raise NotAllowed("without a password only the demo on this machine is entered")
        return _begun(request, services.access.sign_in_as(Role(role)), path)
    try:
        signed = services.access.sign_in(name, password, address_of(request))
    except NotSignedIn:
        context = {"next": _within(path), "demo": [], "wrong": True}
        return page(request, viewer, "sign_in.html", 401, **context)
    return _begun(request, signed, path)


@router.post("/sign-out", dependencies=[needs()])
def sign_out(request: Request, services: AllServicesOf, caller: CallerOf) -> Response:
    """End the session."""
    services.access.sign_out(caller)
    answer = seen("/sign-in")
    clear_cookie(request, answer)
    return answer


@router.get("/set-up/{link}", dependencies=[public])
def set_up_page(request: Request, viewer: _Anybody, link: str) -> Response:
    """The first person and plant."""
    return page(request, viewer, "set_up.html", link=link, faults=[], given={})


@router.post("/set-up/{link}", dependencies=[public, Depends(of_ours)])
def set_up(
    request: Request,
    services: AllServicesOf,
    viewer: _Anybody,
    link: str,
    name: _Text = "",
    password: _Text = "",
    plant: _Text = "",
    zone: _Text = "UTC",
    unit: _Text = "in",
) -> Response:
    """Make them, with the link that the first start printed."""
    try:
        signed = services.access.set_up(
            link, name, password, NewPlant(plant, zone, unit), address_of(request)
        )
    except RequestInvalid as refused:
        given = {"name": name, "plant": plant, "zone": zone, "unit": unit}
        context = {"link": link, "faults": refused.faults, "given": given}
        return page(request, viewer, "set_up.html", 422, **context)
    return _begun(request, signed)


@router.get("/password/{link}", dependencies=[public])
def password_page(request: Request, viewer: _Anybody, link: str) -> Response:
    """Somebody's own password."""
    return page(request, viewer, "password.html", link=link, faults=[])


@router.post("/password/{link}", dependencies=[public, Depends(of_ours)])
def choose_password(
    request: Request, services: AllServicesOf, viewer: _Anybody, link: str, password: _Text = ""
) -> Response:
    """Keep it, and sign in."""
    try:
        signed = services.access.choose_password(link, password, address_of(request))
    except RequestInvalid as refused:
        return page(request, viewer, "password.html", 422, link=link, faults=refused.faults)
    return _begun(request, signed)


@router.get("/pair/{code}", dependencies=[public])
def pair_page(request: Request, viewer: _Anybody, code: str) -> Response:
    """The code as the QR code brought it: it is used once the button is pressed."""
    return page(request, viewer, "pair.html", code=code)


@router.post("/pair/{code}", dependencies=[public, Depends(of_ours)])
def pair(request: Request, services: AllServicesOf, code: str) -> Response:
    """Sign this screen in as the station."""
    return _begun(request, services.access.pair_screen(code, address_of(request)))

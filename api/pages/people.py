"""People, stations, plants and the record of acts, for those who manage them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any, get_args

from fastapi import Form, Query, Request, Response
from markupsafe import Markup
from pydantic import ValidationError

from api.access.caller import needs
from api.access.rights import Right
from api.access_shapes import (
    NewPerson,
    NewStation,
    PersonChange,
    PersonRole,
    PlantChange,
    StationRole,
)
from api.pages.lists import cursor_of
from api.pages.looks import page, pages_router, seen
from api.pages.viewer import Viewer, ViewerOf
from api.problems import validation_faults
from api.routes.common import LARGEST_CURSOR, ServicesOf
from api.services import Services
from api.services.errors import NotFound, RequestInvalid
from api.shapes import Fault

__all__ = ["router"]

router = pages_router()

_SHOWN = 50
_MOST_PLANTS = 200
_GROUP = "group"
_PEOPLE = [needs(Right.PEOPLE_MANAGE)]
_STATIONS = [needs(Right.STATIONS_MANAGE)]
_PLANTS = [needs(Right.SETTINGS_MANAGE)]
_After = Annotated[int | None, Query(ge=1, le=LARGEST_CURSOR)]
_Word = Annotated[str, Form(max_length=200)]


def _form(
    services: Services,
    roles: tuple[str, ...],
    given: dict[str, str] | None,
    faults: Sequence[Fault],
) -> dict[str, Any]:
    """What the form below a list shows: whom it may let in where, and what was refused."""
    plants = services.people.plants(None, _MOST_PLANTS).items
    return {"plants": plants, "roles": roles, "given": given or {}, "faults": faults}


# People


@router.get("/pages/people", dependencies=_PEOPLE)
def people(
    request: Request, services: ServicesOf, viewer: ViewerOf, after: _After = None
) -> Response:
    """Who is let in, and the form that lets somebody in."""
    return _people(request, services, viewer, after)


def _people(
    request: Request,
    services: Services,
    viewer: Viewer,
    after: int | None = None,
    given: dict[str, str] | None = None,
    faults: Sequence[Fault] = (),
) -> Response:
    found = services.people.people(after, _SHOWN)
    more = _form(services, get_args(PersonRole), given, faults)
    status = 422 if faults else 200
    following = cursor_of(found.next)
    return page(request, viewer, "people.html", status, people=found.items, next=following, **more)


@router.post("/pages/people", dependencies=_PEOPLE)
def add_person(
    request: Request,
    services: ServicesOf,
    viewer: ViewerOf,
    name: _Word = "",
    role: _Word = "planner",
    plant: _Word = "",
) -> Response:
    """Let somebody in, and show the link by which they choose their password."""
    try:
        try:
            wanted = NewPerson.model_validate(
                {
                    "name": name.strip(),
                    "role": role,
                    "plant": plant if plant not in ("", _GROUP) else None,
                    "group": plant == _GROUP,
                }
            )
        except ValidationError as error:
            raise RequestInvalid(validation_faults(error, "body")) from error
        link = services.people.add_person(wanted)
    except RequestInvalid as refused:
        given = {"name": name, "role": role, "plant": plant}
        return _people(request, services, viewer, None, given, refused.faults)
    return page(request, viewer, "link.html", link=link, address=_address(request, link.path))


@router.post("/pages/people/{person}", dependencies=_PEOPLE)
def change_person(
    services: ServicesOf, viewer: ViewerOf, person: str, role: _Word = "", active: _Word = ""
) -> Response:
    """Give somebody another role, or let them in or out."""
    change: dict[str, object] = {}
    if role:
        change["role"] = role
    if active:
        change["active"] = active == "yes"
    try:
        wanted = PersonChange.model_validate(change)
    except ValidationError as error:
        raise RequestInvalid(validation_faults(error, "body")) from error
    services.people.change_person(person, wanted)
    return seen("/pages/people")


@router.post("/pages/people/{person}/link", dependencies=_PEOPLE)
def link_person(request: Request, services: ServicesOf, viewer: ViewerOf, person: str) -> Response:
    """Show a new link for who forgot a password."""
    link = services.people.link_person(person)
    return page(request, viewer, "link.html", link=link, address=_address(request, link.path))


# Stations


@router.get("/pages/stations", dependencies=_STATIONS)
def stations(
    request: Request, services: ServicesOf, viewer: ViewerOf, after: _After = None
) -> Response:
    """The saws' screens and programs, and the form that lets one in."""
    return _stations(request, services, viewer, after)


def _stations(
    request: Request,
    services: Services,
    viewer: Viewer,
    after: int | None = None,
    given: dict[str, str] | None = None,
    faults: Sequence[Fault] = (),
) -> Response:
    found = services.people.stations(after, _SHOWN)
    more = _form(services, get_args(StationRole), given, faults)
    status = 422 if faults else 200
    following = cursor_of(found.next)
    return page(
        request, viewer, "stations.html", status, stations=found.items, next=following, **more
    )


@router.post("/pages/stations", dependencies=_STATIONS)
def add_station(
    request: Request,
    services: ServicesOf,
    viewer: ViewerOf,
    name: _Word = "",
    role: _Word = "station",
    plant: _Word = "",
) -> Response:
    """Let a station in; it is paired from the list."""
    try:
        try:
            wanted = NewStation.model_validate(
                {"name": name.strip(), "role": role, "plant": plant or None}
            )
        except ValidationError as error:
            raise RequestInvalid(validation_faults(error, "body")) from error
        services.people.add_station(wanted)
    except RequestInvalid as refused:
        given = {"name": name, "role": role, "plant": plant}
        return _stations(request, services, viewer, None, given, refused.faults)
    return seen("/pages/stations")


@router.post("/pages/stations/{station}/code", dependencies=_STATIONS)
def pair_station(
    request: Request, services: ServicesOf, viewer: ViewerOf, station: str
) -> Response:
    """Show the code that pairs a station, in large letters and as a drawing for its camera."""
    code = services.people.pair_station(station, str(request.base_url))
    return page(
        request,
        viewer,
        "pairing.html",
        code=code,
        address=_address(request, code.path),
        drawing=Markup(code.qr),  # noqa: S704  drawn by us: squares alone
    )


@router.post("/pages/stations/{station}/end", dependencies=_STATIONS)
def end_station(services: ServicesOf, viewer: ViewerOf, station: str, sure: _Word = "") -> Response:
    """A station's key and screens are no longer good."""
    if sure == "yes":
        services.people.end_station(station)
    return seen("/pages/stations")


# Plants and the record


@router.get("/pages/plants", dependencies=_PLANTS)
def plants(request: Request, services: ServicesOf, viewer: ViewerOf) -> Response:
    """Each plant's name, zone and unit."""
    return _plants(request, services, viewer)


def _plants(
    request: Request, services: Services, viewer: Viewer, faults: Sequence[Fault] = ()
) -> Response:
    found = services.people.plants(None, _MOST_PLANTS).items
    status = 422 if faults else 200
    return page(request, viewer, "plants.html", status, plants=found, faults=faults)


@router.post("/pages/plants/{plant}", dependencies=_PLANTS)
def change_plant(
    request: Request,
    services: ServicesOf,
    viewer: ViewerOf,
    plant: str,
    name: _Word = "",
    zone: _Word = "",
    unit: _Word = "",
) -> Response:
    """Give a plant another name, zone or unit."""
    if all(plant != known.id for known in services.people.plants(None, _MOST_PLANTS).items):
        raise NotFound(f"there is no plant '{plant[:64]}'")
    try:
        try:
            wanted = PlantChange.model_validate({"name": name, "zone": zone, "unit": unit})
        except ValidationError as error:
            raise RequestInvalid(validation_faults(error, "body")) from error
        services.people.change_plant(plant, wanted)
    except RequestInvalid as refused:
        return _plants(request, services, viewer, refused.faults)
    return seen("/pages/plants")


@router.get("/pages/audit", dependencies=[needs(Right.AUDIT_READ)])
def audit(
    request: Request, services: ServicesOf, viewer: ViewerOf, after: _After = None
) -> Response:
    """Who did what, the newest first."""
    found = services.people.acts(after, _SHOWN)
    return page(
        request, viewer, "audit.html", acts=found.items, next=cursor_of(found.next), after=after
    )


def _address(request: Request, path: str) -> str:
    return str(request.base_url).rstrip("/") + path

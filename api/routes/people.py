"""People, stations, plants and the audit trail, for admins.

What answers with a secret takes no key of a request: the answer would be kept, and with it the
secret. Asked again, it makes a new secret, which takes the place of the one before.
"""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Request, Response

from api.access.caller import needs
from api.access.rights import Right
from api.access_shapes import (
    ActPage,
    Link,
    NewPerson,
    NewStation,
    PairingCode,
    Person,
    PersonChange,
    PersonPage,
    Plant,
    PlantChange,
    PlantPage,
    Station,
    StationPage,
)
from api.routes.bodies import READING, json_body, json_document, posted, read_shape
from api.routes.common import After, Limit, ServicesOf, answers, example
from api.routes.exchange import (
    CONDITIONAL,
    IF_MATCH,
    KnownTag,
    RequestKey,
    SeenTag,
    SeenTagOrNone,
    changed,
    gone,
    kept,
    once,
    send_view,
    tagged,
)

__all__ = ["router"]

router = APIRouter(tags=["access"])

_ID = "5b2f1e6c9f4f4f6a8a3d3f0b7a1c2d3e"
_SECRET = "Zk1mS3QyWm1xT0h2bWJ0d3pYcGxQTkRrV1ZhR2FzUT0"  # noqa: S105 an example
_PERSON = {
    "id": _ID,
    "name": "Ada Rind",
    "role": "planner",
    "plant": _ID,
    "active": True,
    "password_set": True,
    "created": "2026-03-02T12:00:00.000Z",
}
_LINK = {"person": _PERSON, "path": f"/password/{_SECRET}", "seconds": 86400}
_STATION = {
    "id": _ID,
    "name": "Saw 1",
    "role": "station",
    "plant": _ID,
    "active": True,
    "paired": True,
    "created": "2026-03-02T12:00:00.000Z",
}
_CODE = {
    "station": _STATION,
    "code": "7K2M9-QX4TD",
    "path": "/pair/7K2M9QX4TD",
    "qr": "<svg></svg>",
    "seconds": 600,
}
_PLANT_NAMED = {"name": "Hask Lake Section Works", "zone": "America/Chicago", "unit": "in"}
_PLANT = {**_PLANT_NAMED, "id": _ID, "created": "2026-03-02T12:00:00.000Z"}
_ACT = {
    "number": 12,
    "moment": "2026-03-02T12:00:00.000Z",
    "who": "person",
    "name": "Ada Rind",
    "act": "day.post",
    "target": _ID,
    "request": "1842573375a1416ba059020c7177bb0c",
    "outcome": "done",
}

_PEOPLE = needs(Right.PEOPLE_MANAGE)
_STATIONS = needs(Right.STATIONS_MANAGE)
_SETTINGS = needs(Right.SETTINGS_MANAGE)
PersonId = Annotated[str, Path(alias="person", description="The person's id.", examples=[_ID])]
StationId = Annotated[str, Path(alias="station", description="The station's id.", examples=[_ID])]
PlantId = Annotated[str, Path(alias="plant", description="The plant's id.", examples=[_ID])]
Body = Annotated[bytes, Depends(json_body)]


def _sent(shape: str, value: dict[str, Any]) -> dict[str, Any]:
    return {"requestBody": posted(shape, value)}


@router.get(
    "/people",
    operation_id="listPeople",
    dependencies=[_PEOPLE],
    summary="List people",
    responses=answers(
        200, "The newest first.", example({"items": [_PERSON], "next": "/people?limit=1&after=7"})
    ),
)
def list_people(services: ServicesOf, limit: Limit = 50, after: After = None) -> PersonPage:
    """List people, the newest first."""
    return services.people.people(after, limit)


@router.post(
    "/people",
    operation_id="addPerson",
    dependencies=[_PEOPLE],
    summary="Let somebody in",
    status_code=201,
    response_model=Link,
    openapi_extra=_sent("NewPerson", {"name": "Ada Rind", "role": "planner"}),
    responses=answers(
        201, "They are let in; the link is told this once.", example(_LINK), *READING
    ),
)
def add_person(request: Request, services: ServicesOf, body: Body) -> Response:
    """Let somebody in. They choose their password with the link, so that nobody else knows it."""
    wanted = read_shape(NewPerson, json_document(body, exact=False))
    act = partial(services.people.add_person, wanted)
    return once(request, services, None, act, kept(201), body)


@router.get(
    "/people/{person}",
    operation_id="readPerson",
    dependencies=[_PEOPLE],
    summary="Read a person",
    response_model=Person,
    responses=tagged("The person.", example(_PERSON), "not-found"),
)
def read_person(services: ServicesOf, person: PersonId, known: KnownTag = None) -> Response:
    """One person."""
    return send_view(known, services.people.person(person))


@router.patch(
    "/people/{person}",
    operation_id="changePerson",
    dependencies=[_PEOPLE],
    summary="Change a person",
    response_model=Person,
    openapi_extra=_sent("PersonChange", {"role": "purchasing"}) | {"parameters": [IF_MATCH]},
    responses=changed(
        200,
        "The person.",
        example(_PERSON),
        *READING,
        *CONDITIONAL,
        "not-found",
        "not-possible",
    ),
)
def change_person(
    request: Request,
    services: ServicesOf,
    person: PersonId,
    body: Body,
    seen: SeenTag,
    key: RequestKey = None,
) -> Response:
    """Give another role, or let in or out; they have to sign in anew."""
    change = read_shape(PersonChange, json_document(body, exact=False))
    act = partial(services.people.change_person, person, change, seen)
    return once(request, services, key, act, kept(200), body)


@router.post(
    "/people/{person}/link",
    operation_id="linkPerson",
    dependencies=[_PEOPLE],
    summary="Make a link to choose a password",
    status_code=201,
    response_model=Link,
    responses=answers(
        201, "The link, told this once.", example(_LINK), "not-found", "not-possible"
    ),
)
def link_person(request: Request, services: ServicesOf, person: PersonId) -> Response:
    """A link for who forgot a password; the link before is no longer good."""
    return once(request, services, None, partial(services.people.link_person, person), kept(201))


@router.get(
    "/stations",
    operation_id="listStations",
    dependencies=[_STATIONS],
    summary="List stations",
    responses=answers(
        200,
        "The newest first.",
        example({"items": [_STATION], "next": "/stations?limit=1&after=7"}),
    ),
)
def list_stations(services: ServicesOf, limit: Limit = 50, after: After = None) -> StationPage:
    """List stations, the newest first."""
    return services.people.stations(after, limit)


@router.post(
    "/stations",
    operation_id="addStation",
    dependencies=[_STATIONS],
    summary="Let a station in",
    status_code=201,
    response_model=Station,
    openapi_extra=_sent("NewStation", {"name": "Saw 1"}),
    responses=changed(201, "The station, not paired yet.", example(_STATION), *READING),
)
def add_station(
    request: Request, services: ServicesOf, body: Body, key: RequestKey = None
) -> Response:
    """Let a saw's screen or a program in; pair it to give it its key."""
    wanted = read_shape(NewStation, json_document(body, exact=False))
    act = partial(services.people.add_station, wanted)
    return once(request, services, key, act, kept(201, "/stations"), body)


@router.get(
    "/stations/{station}",
    operation_id="readStation",
    dependencies=[_STATIONS],
    summary="Read a station",
    response_model=Station,
    responses=tagged("The station.", example(_STATION), "not-found"),
)
def read_station(services: ServicesOf, station: StationId, known: KnownTag = None) -> Response:
    """One station."""
    return send_view(known, services.people.station(station))


@router.post(
    "/stations/{station}/code",
    operation_id="pairingCode",
    dependencies=[_STATIONS],
    summary="Make a pairing code",
    status_code=201,
    response_model=PairingCode,
    responses=answers(
        201, "The code, told this once.", example(_CODE), "not-found", "not-possible"
    ),
)
def make_code(request: Request, services: ServicesOf, station: StationId) -> Response:
    """A code that is exchanged for the station's key within minutes, once; also as a QR code."""
    act = partial(services.people.pair_station, station, str(request.base_url))
    return once(request, services, None, act, kept(201))


@router.post(
    "/stations/{station}/end",
    operation_id="endStation",
    dependencies=[_STATIONS],
    summary="End a station",
    status_code=204,
    response_class=Response,
    responses=gone("Its key is no longer good.", "not-found"),
)
def end_station(
    request: Request,
    services: ServicesOf,
    station: StationId,
    seen: SeenTagOrNone = None,
    key: RequestKey = None,
) -> Response:
    """Its key and its screens are no longer good; what it did stays in the trail."""
    act = partial(services.people.end_station, station, seen)
    return once(request, services, key, act, kept(204))


@router.get(
    "/plants",
    operation_id="listPlants",
    dependencies=[needs()],
    summary="List plants",
    responses=answers(
        200, "The newest first.", example({"items": [_PLANT], "next": "/plants?limit=1&after=7"})
    ),
)
def list_plants(services: ServicesOf, limit: Limit = 50, after: After = None) -> PlantPage:
    """The caller's plant; for people of the group all of them, the newest first."""
    return services.people.plants(after, limit)


@router.get(
    "/plants/{plant}",
    operation_id="readPlant",
    dependencies=[needs()],
    summary="Read a plant",
    response_model=Plant,
    responses=tagged("The plant.", example(_PLANT), "not-found"),
)
def read_plant(services: ServicesOf, plant: PlantId, known: KnownTag = None) -> Response:
    """One plant: its name, time zone and unit."""
    return send_view(known, services.people.plant(plant))


@router.post(
    "/plants",
    operation_id="addPlant",
    dependencies=[_SETTINGS],
    summary="Add a plant",
    status_code=201,
    response_model=Plant,
    openapi_extra=_sent("PlantChange", _PLANT_NAMED),
    responses=changed(201, "The plant.", example(_PLANT), *READING),
)
def add_plant(
    request: Request, services: ServicesOf, body: Body, key: RequestKey = None
) -> Response:
    """Add a plant to the group; only an admin of the group may."""
    wanted = read_shape(PlantChange, json_document(body, exact=False))
    act = partial(services.people.add_plant, wanted)
    return once(request, services, key, act, kept(201, "/plants"), body)


@router.put(
    "/plants/{plant}",
    operation_id="changePlant",
    dependencies=[_SETTINGS],
    summary="Change a plant",
    response_model=Plant,
    openapi_extra=_sent("PlantChange", _PLANT_NAMED) | {"parameters": [IF_MATCH]},
    responses=changed(200, "The plant.", example(_PLANT), *READING, *CONDITIONAL, "not-found"),
)
def change_plant(
    request: Request,
    services: ServicesOf,
    plant: PlantId,
    body: Body,
    seen: SeenTag,
    key: RequestKey = None,
) -> Response:
    """Give a plant another name, time zone or unit."""
    wanted = read_shape(PlantChange, json_document(body, exact=False))
    act = partial(services.people.change_plant, plant, wanted, seen)
    return once(request, services, key, act, kept(200), body)


@router.get(
    "/audit",
    operation_id="listActs",
    dependencies=[needs(Right.AUDIT_READ)],
    summary="Read who did what",
    responses=answers(
        200, "The newest first.", example({"items": [_ACT], "next": "/audit?limit=1&after=12"})
    ),
)
def list_acts(services: ServicesOf, limit: Limit = 50, after: After = None) -> ActPage:
    """Who did what to what, the newest first. It is only ever added to."""
    return services.people.acts(after, limit)

"""Signing in and out, setting up, choosing a password, pairing a station."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request, Response

from api.access.caller import (
    CallerOf,
    address_of,
    clear_cookie,
    csrf_for,
    needs,
    of_same_origin,
    public,
    set_cookie,
)
from api.access.who import Caller
from api.access_shapes import ChosenPassword, Me, Pairing, SetUp, SignIn, StationKey
from api.routes.bodies import READING, json_body, json_document, posted, read_shape
from api.routes.common import AllServicesOf, answers, example
from api.services.errors import NotAllowed
from api.services.signing import NewPlant, SignedIn

__all__ = ["begin", "of_ours", "router", "who"]

router = APIRouter(tags=["access"])

_ME = {
    "kind": "person",
    "name": "Ada Rind",
    "role": "planner",
    "rights": ["days.read", "days.write"],
    "plant": "5b2f1e6c9f4f4f6a8a3d3f0b7a1c2d3e",
    "plant_name": "Hask Lake Section Works",
    "zone": "America/Chicago",
    "csrf": "2f9d6c3e0f",
}
_BEGUN = {
    "Set-Cookie": {"description": "The session, for a browser.", "schema": {"type": "string"}}
}


def of_ours(request: Request) -> None:
    """Refuse what a page of another origin asks: nobody signs in unawares."""
    if not of_same_origin(request):
        raise NotAllowed("a page of another origin asked")


def _beginning(shape: str, sent: dict[str, Any]) -> dict[str, Any]:
    return {
        "dependencies": [public, Depends(of_ours)],
        "status_code": 201,
        "response_model": Me,
        "openapi_extra": {"requestBody": posted(shape, sent)},
        "responses": answers(
            201,
            "A session has begun.",
            example(_ME),
            *READING,
            "not-signed-in",
            "not-allowed",
            "too-many",
            headers=_BEGUN,
        ),
    }


@router.post(
    "/session",
    operation_id="signIn",
    summary="Sign in",
    **_beginning("SignIn", {"name": "Ada Rind", "password": "four quiet blue planers"}),
)
def sign_in(
    request: Request,
    response: Response,
    services: AllServicesOf,
    body: Annotated[bytes, Depends(json_body)],
) -> Me:
    """Begin a session of a person. After some wrong tries it is refused for a while."""
    told = read_shape(SignIn, json_document(body, exact=False))
    return begin(
        request, response, services.access.sign_in(told.name, told.password, address_of(request))
    )


@router.get(
    "/session",
    operation_id="readSession",
    dependencies=[needs()],
    summary="Read who is signed in",
    responses=answers(200, "Who it is.", example(_ME)),
)
def read_session(request: Request, caller: CallerOf) -> Me:
    """Who the caller is, and what they may do."""
    return who(caller, csrf_for(request) if caller.session else "")


@router.delete(
    "/session",
    operation_id="signOut",
    dependencies=[needs()],
    summary="Sign out",
    status_code=204,
    response_class=Response,
    responses=answers(204, "The session has ended."),
)
def sign_out(request: Request, services: AllServicesOf, caller: CallerOf) -> Response:
    """End the session."""
    services.access.sign_out(caller)
    response = Response(status_code=204)
    clear_cookie(request, response)
    return response


@router.post(
    "/set-up",
    operation_id="setUp",
    summary="Set the service up",
    **_beginning(
        "SetUp",
        {
            "link": "Zk1mS3QyWm1xT0h2bWJ0d3pYcGxQTkRrV1ZhR2FzUT0",
            "name": "Ada Rind",
            "password": "four quiet blue planers",
            "plant": "Hask Lake Section Works",
            "zone": "America/Chicago",
            "unit": "in",
        },
    ),
)
def set_up(
    request: Request,
    response: Response,
    services: AllServicesOf,
    body: Annotated[bytes, Depends(json_body)],
) -> Me:
    """Make the first person and plant, with the link that the first start printed."""
    told = read_shape(SetUp, json_document(body, exact=False))
    plant = NewPlant(told.plant, told.zone, told.unit)
    signed = services.access.set_up(told.link, told.name, told.password, plant, address_of(request))
    return begin(request, response, signed)


@router.post(
    "/password",
    operation_id="choosePassword",
    summary="Choose a password",
    **_beginning(
        "ChosenPassword",
        {
            "link": "Zk1mS3QyWm1xT0h2bWJ0d3pYcGxQTkRrV1ZhR2FzUT0",
            "password": "four quiet blue planers",
        },
    ),
)
def choose_password(
    request: Request,
    response: Response,
    services: AllServicesOf,
    body: Annotated[bytes, Depends(json_body)],
) -> Me:
    """Choose a password with a link that an admin gave; sessions from before end."""
    told = read_shape(ChosenPassword, json_document(body, exact=False))
    signed = services.access.choose_password(told.link, told.password, address_of(request))
    return begin(request, response, signed)


@router.post(
    "/pair",
    operation_id="pairStation",
    dependencies=[public, Depends(of_ours)],
    summary="Exchange a pairing code for a key",
    status_code=201,
    openapi_extra={"requestBody": posted("Pairing", {"code": "7K2M9-QX4TD"})},
    responses=answers(
        201,
        "The station's key, told this once.",
        example(
            {
                "station": "Saw 1",
                "role": "station",
                "key": "Zk1mS3QyWm1xT0h2bWJ0d3pYcGxQTkRrV1ZhR2FzUT0",
            }
        ),
        *READING,
        "not-signed-in",
        "not-allowed",
        "too-many",
    ),
)
def pair(
    request: Request, services: AllServicesOf, body: Annotated[bytes, Depends(json_body)]
) -> StationKey:
    """Exchange a pairing code for the key of a station. The key before is no longer good."""
    told = read_shape(Pairing, json_document(body, exact=False))
    caller, key = services.access.pair(told.code, address_of(request))
    return StationKey.model_validate(
        {"station": caller.name, "role": caller.role.value, "key": key}
    )


def begin(request: Request, response: Response, signed: SignedIn) -> Me:
    """Give a session's cookie, and tell who it is."""
    set_cookie(request, response, signed.token, signed.seconds)
    return who(signed.caller, signed.csrf)


def who(caller: Caller, csrf: str) -> Me:
    """A caller as a document."""
    return Me(
        kind=caller.kind,
        name=caller.name,
        role=caller.role,
        rights=sorted(caller.rights),
        plant=caller.plant_id,
        plant_name=caller.plant_name,
        zone=caller.zone,
        csrf=csrf,
    )

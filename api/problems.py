"""Every error of the service as RFC 9457 problem details, in one place.

Kinds are listed in `KINDS`; each is described at `/problems/{name}`. Errors of the library and of
the services, refusals of the framework and faults of our own all end here.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from http import HTTPStatus
from typing import Any
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from pydantic import ValidationError
from sqlalchemy.exc import OperationalError, TimeoutError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Match

from api.operation import current_request
from api.services.errors import (
    Busy,
    ChangedMeanwhile,
    ConditionMissing,
    Finished,
    InUse,
    KeyInFlight,
    KeyUsedOtherwise,
    NoResult,
    NotAllowed,
    NotFinished,
    NotFound,
    NotPossible,
    NotReady,
    NotSignedIn,
    RequestInvalid,
    TooMany,
)
from api.shapes import Fault, read_faults
from cutopt.records import Fault as LibraryFault
from cutopt.records import InputRefused

__all__ = [
    "KINDS",
    "MEDIA_TYPE",
    "Kind",
    "allowed_methods",
    "install",
    "problem_response",
    "refused",
    "validation_faults",
]

MEDIA_TYPE = "application/problem+json"
_LOG = logging.getLogger("cutopt.service")


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of problem: its name, status and title, and what to do about it."""

    name: str
    status: int
    title: str
    remedy: str

    @property
    def type(self) -> str:
        """The reference that stands in a problem's `type`."""
        return f"/problems/{self.name}"


_ALL = (
    Kind("malformed", 400, "The request can't be read", "Send well-formed JSON or multipart."),
    Kind("not-signed-in", 401, "You are not signed in", "Sign in, or send your key."),
    Kind("not-allowed", 403, "You may not do this", "Ask your plant's admin for the right."),
    Kind("not-found", 404, "Nothing is here", "List what there is, and use its address."),
    Kind("method-not-allowed", 405, "This can't be done here", "Use a method that Allow names."),
    Kind("not-acceptable", 406, "It is not kept in that form", "Accept one of the named types."),
    Kind("timeout", 408, "The request took too long to arrive", "Send it again."),
    Kind("in-use", 409, "A plan or a curve uses this day", "Remove what uses it first."),
    Kind("not-finished", 409, "It has not ended", "Wait for it to end, or cancel it."),
    Kind("finished", 409, "It has ended", "Nothing needs to be done; read its result."),
    Kind("no-result", 409, "It ended without a result", "Read why it failed."),
    Kind("not-possible", 409, "It would leave nobody to manage", "Name somebody else first."),
    Kind("key-in-flight", 409, "This very request is being carried out", "Send it again shortly."),
    Kind("changed-meanwhile", 412, "It was changed meanwhile", "Read it again, then decide anew."),
    Kind("too-large", 413, "The request is too large", "Send less, or in parts."),
    Kind("unsupported-media-type", 415, "This form can't be read", "Send a type that is named."),
    Kind("request-invalid", 422, "The request can't be carried out", "Mend what `faults` names."),
    Kind("input-refused", 422, "The day has faults", "Mend every one of `faults`, post again."),
    Kind("key-used-otherwise", 422, "This key came with another request", "Take a new key."),
    Kind("precondition-required", 428, "It must be said which state is meant", "Send If-Match."),
    Kind("too-many", 429, "It was tried too often", "Come back after Retry-After seconds."),
    Kind("internal", 500, "A fault of the service", "Report what was asked, and when."),
    Kind("busy", 503, "There is no room now", "Come back after Retry-After seconds."),
    Kind("not-ready", 503, "The service is not ready", "Come back after Retry-After seconds."),
)
KINDS: Mapping[str, Kind] = {kind.name: kind for kind in _ALL}
#: What stands in these keys of a body is never sent back.
_SECRET = {"password", "link", "code"}
#: Answered while the body may still be coming: the rest of it is not waited for.
_BREAK_OFF = {401, 403, 408, 413, 429}
_BY_STATUS = {
    400: "malformed",
    401: "not-signed-in",
    403: "not-allowed",
    404: "not-found",
    405: "method-not-allowed",
    406: "not-acceptable",
    408: "timeout",
    413: "too-large",
    415: "unsupported-media-type",
    422: "request-invalid",
    503: "busy",
}


def problem_response(
    name: str,
    detail: str,
    instance: str,
    headers: Mapping[str, str] | None = None,
    **more: Any,
) -> Response:
    """A problem of the named kind as an answer."""
    kind = KINDS[name]
    body = {
        "type": kind.type,
        "title": kind.title,
        "status": kind.status,
        "detail": detail,
        "instance": instance,
        **more,
    }
    request = current_request()
    if request:
        body["request"] = request
    sent = dict(headers or {})
    if kind.status in _BREAK_OFF:
        sent["Connection"] = "close"
    return JSONResponse(body, kind.status, sent, MEDIA_TYPE)


def refused(faults: Sequence[LibraryFault]) -> dict[str, Any]:
    """What a problem of kind `input-refused` says."""
    count = len(faults)
    return {
        "detail": f"{count} fault{'s' * (count != 1)}; nothing was kept",
        "faults": [fault.model_dump() for fault in read_faults(faults)],
    }


def validation_faults(
    error: ValidationError | RequestValidationError, root: str = ""
) -> list[Fault]:
    """What a schema found wrong, one fault each."""
    return [
        Fault(
            place=_place(root, fault["loc"]),
            read="" if _SECRET & set(fault["loc"]) else _shown(fault.get("input")),
            **_in_words(fault["type"], str(fault["msg"])),
        )
        for fault in error.errors()
    ]


def _in_words(kind: str, message: str) -> dict[str, str]:
    """A schema's own message as all faults say it: what is wrong, what would be right."""
    if kind == "missing":
        return {"wrong": "missing"}
    if kind == "extra_forbidden":
        return {"wrong": "no such key"}
    subject, should, right = message.partition(" should ")
    if not should:
        return {"wrong": message}
    return {"wrong": "not what it has to be", "right": f"{subject.lower()} should {right}"}


def _place(root: str, location: Sequence[str | int]) -> str:
    text = root
    for step in location:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else str(step)
    return text


def _shown(value: object) -> str:
    if value is None or isinstance(value, dict | list):
        return ""
    text = str(value)
    return text if len(text) <= 80 else text[:77] + "..."


def allowed_methods(app: FastAPI, scope: Mapping[str, Any]) -> list[str]:
    """Every method that some route has for the path that was asked; HEAD goes with GET."""
    found = [
        method
        for method in ("DELETE", "GET", "PATCH", "POST", "PUT")
        if any(route.matches({**scope, "method": method})[0] is Match.FULL for route in app.routes)
    ]
    return sorted([*found, "HEAD"]) if "GET" in found else found


def install(app: FastAPI) -> None:
    """Make every error of the application a problem."""
    plain: dict[type[Exception], str] = {
        NotFound: "not-found",
        InUse: "in-use",
        NotFinished: "not-finished",
        Finished: "finished",
        NoResult: "no-result",
        NotAllowed: "not-allowed",
        NotPossible: "not-possible",
        KeyUsedOtherwise: "key-used-otherwise",
        ChangedMeanwhile: "changed-meanwhile",
        ConditionMissing: "precondition-required",
    }
    for error, name in plain.items():
        app.add_exception_handler(error, _plain_handler(name))

    @app.exception_handler(Busy)
    async def busy(request: Request, error: Busy) -> Response:
        headers = {"Retry-After": str(error.seconds)}
        return problem_response("busy", str(error), request.url.path, headers)

    @app.exception_handler(NotSignedIn)
    async def not_signed_in(request: Request, error: NotSignedIn) -> Response:
        if _is_page(request):
            asked = quote(request.url.path, safe="/")
            return RedirectResponse(f"/sign-in?next={asked}", 303)
        headers = {"WWW-Authenticate": "Bearer"}
        return problem_response("not-signed-in", str(error), request.url.path, headers)

    @app.exception_handler(TooMany)
    async def too_many(request: Request, error: TooMany) -> Response:
        headers = {"Retry-After": str(error.seconds)}
        return problem_response("too-many", str(error), request.url.path, headers)

    @app.exception_handler(NotReady)
    async def not_ready(request: Request, error: NotReady) -> Response:
        parts = [asdict(part) for part in error.parts]
        return problem_response(
            "not-ready", str(error), request.url.path, {"Retry-After": "5"}, parts=parts
        )

    @app.exception_handler(KeyInFlight)
    async def in_flight(request: Request, error: KeyInFlight) -> Response:
        return problem_response("key-in-flight", str(error), request.url.path, {"Retry-After": "1"})

    @app.exception_handler(RequestInvalid)
    async def invalid(request: Request, error: RequestInvalid) -> Response:
        return _invalid(request, error.faults)

    @app.exception_handler(RequestValidationError)
    async def unread(request: Request, error: RequestValidationError) -> Response:
        return _invalid(request, validation_faults(error))

    @app.exception_handler(InputRefused)
    async def input_refused(request: Request, error: InputRefused) -> Response:
        return problem_response("input-refused", instance=request.url.path, **refused(error.faults))

    @app.exception_handler(HTTPException)
    async def framework(request: Request, error: HTTPException) -> Response:
        return _framework(app, request, error)

    @app.exception_handler(OperationalError)
    @app.exception_handler(TimeoutError)
    async def database(request: Request, error: Exception) -> Response:
        _LOG.error("the database does not answer: %s", error)
        return problem_response(
            "not-ready", "the database does not answer", request.url.path, {"Retry-After": "5"}
        )

    @app.exception_handler(Exception)
    async def internal(request: Request, error: Exception) -> Response:
        # What failed outside of `Requests`; the caller learns nothing of our insides.
        return problem_response(
            "internal", "the service failed; the fault is in its log", request.url.path
        )


def _is_page(request: Request) -> bool:
    """Whether somebody looks at a page, and can be led to sign in."""
    route = request.scope.get("route")
    return request.method in ("GET", "HEAD") and not getattr(route, "include_in_schema", True)


def _plain_handler(name: str) -> Any:
    async def handle(request: Request, error: Exception) -> Response:
        return problem_response(name, str(error), request.url.path)

    return handle


def _invalid(request: Request, faults: Sequence[Fault]) -> Response:
    count = len(faults)
    detail = f"{count} fault{'s' * (count != 1)}: " + "; ".join(
        f"{fault.place}: {fault.wrong}" for fault in faults[:3]
    )
    return problem_response(
        "request-invalid",
        detail,
        request.url.path,
        faults=[fault.model_dump() for fault in faults],
    )


def _framework(app: FastAPI, request: Request, error: HTTPException) -> Response:
    headers = dict(error.headers or {})
    detail = str(error.detail)
    if error.status_code == 404:
        detail = f"nothing is at {request.url.path}"
    elif error.status_code == 405:
        methods = allowed_methods(app, request.scope)
        headers["Allow"] = ", ".join(methods)
        detail = f"{request.method} is not for {request.url.path}; {', '.join(methods)} may be used"
    name = _BY_STATUS.get(error.status_code)
    if name is None:
        name = "malformed" if error.status_code < HTTPStatus.INTERNAL_SERVER_ERROR else "internal"
    return problem_response(name, detail, request.url.path, headers)

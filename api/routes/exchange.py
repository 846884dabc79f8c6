"""What headers say of an exchange: which state is known or meant, and whether it came before.

Whoever reads one thing gets its tag (`ETag`), and no body where the tag is known already. Whoever
removes it names the tag that was seen (`If-Match`). Whoever changes anything may send a key
(`Idempotency-Key`): the same request under the same key is carried out once.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Header, Request, Response
from pydantic import BaseModel

from api.routes.bodies import JSON
from api.routes.common import answers
from api.services import Services
from api.services.errors import ConditionMissing
from api.services.keys import KEPT_HOURS, Answer, Key
from api.tags import content_tag, is_known, view_tag

__all__ = [
    "CONDITIONAL",
    "IF_MATCH",
    "KEYED",
    "KnownTag",
    "RequestKey",
    "SeenTag",
    "SeenTagOrNone",
    "changed",
    "gone",
    "kept",
    "once",
    "send_file",
    "send_view",
    "tagged",
]

#: May be kept by who asked, and asked for again by its tag.
_REVALIDATED = {"Cache-Control": "private, no-cache"}
_REPLAY = "Idempotent-Replay"
_LONGEST_TAGS = 2000
_TAG_HEADER = {
    "ETag": {
        "description": "What tells this state from every other.",
        "schema": {"type": "string", "example": '"0f343b0931126a20f133d67c2b018a3b"'},
    }
}
_REPLAY_HEADER = {
    _REPLAY: {
        "description": "`true` where this is what was answered to the same key before.",
        "schema": {"type": "string", "enum": ["true"]},
    }
}
#: The problems that a key may bring.
KEYED = ("key-in-flight", "key-used-otherwise")
#: The problems that a condition may bring.
CONDITIONAL = ("changed-meanwhile", "precondition-required")
IF_MATCH = {
    "name": "If-Match",
    "in": "header",
    "required": True,
    "description": "The ETag of the state that was seen, several of them, or * for any.",
    "schema": {"type": "string", "minLength": 1, "examples": ["*"]},
}

View = TypeVar("View", bound=BaseModel | None)

KnownTag = Annotated[
    str | None,
    Header(
        alias="If-None-Match",
        max_length=_LONGEST_TAGS,
        description="ETags that the caller holds: where one still holds, 304 and no body.",
    ),
]
RequestKey = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        min_length=1,
        max_length=100,
        pattern=r"^[!-~]+$",
        description="The caller's own name for this request, such as a UUID. The same request "
        f"under the same key is carried out once: for {KEPT_HOURS} h its answer is sent again.",
    ),
]
SeenTagOrNone = Annotated[
    str | None,
    Header(
        alias="If-Match",
        max_length=_LONGEST_TAGS,
        description="Where sent: the ETag of the state that was seen, or * for any.",
    ),
]


async def _seen(request: Request) -> str:
    told = ",".join(request.headers.getlist("if-match")).strip()
    if not told:
        raise ConditionMissing("send If-Match with the ETag that was read")
    return told


#: If-Match, which must be there.
SeenTag = Annotated[str, Depends(_seen)]


def tagged(
    description: str,
    content: dict[str, Any],
    *problems: str,
    headers: dict[str, Any] | None = None,
) -> dict[int | str, dict[str, Any]]:
    """The answers of an operation that reads one thing."""
    return {
        **answers(200, description, content, *problems, headers={**_TAG_HEADER, **(headers or {})}),
        304: {"description": "It is as If-None-Match says; there is no body."},
    }


def changed(
    status: int,
    description: str,
    content: dict[str, Any],
    *problems: str,
    headers: dict[str, Any] | None = None,
    links: dict[str, Any] | None = None,
) -> dict[int | str, dict[str, Any]]:
    """The answers of an operation that makes or changes something."""
    sent = {**_TAG_HEADER, **_REPLAY_HEADER, **(headers or {})}
    return answers(status, description, content, *problems, *KEYED, headers=sent, links=links)


def gone(description: str, *problems: str) -> dict[int | str, dict[str, Any]]:
    """The answers of an operation that removes something."""
    return answers(204, description, None, *problems, *CONDITIONAL, *KEYED, headers=_REPLAY_HEADER)


def send_view(known: str | None, view: BaseModel) -> Response:
    """A document, or nothing where the caller has it as it is."""
    return _send(known, view_tag(view), view.model_dump_json().encode(), JSON, {})


def send_file(
    known: str | None, content: bytes, kind: str, headers: Mapping[str, str] | None = None
) -> Response:
    """A file in one of its forms, or nothing where the caller has it as it is."""
    return _send(known, content_tag(content, kind), content, kind, headers or {})


def _send(
    known: str | None, tag: str, content: bytes, kind: str, headers: Mapping[str, str]
) -> Response:
    sent = {"ETag": tag, **_REVALIDATED, **headers}
    if known is not None and is_known(tag, known):
        return Response(status_code=304, headers=sent)
    return Response(content, media_type=kind, headers=sent)


def kept(status: int, at: str | None = None) -> Callable[[Any], Answer]:
    """How a document is answered that was made or changed; `at` begins its address."""

    def answer(view: Any) -> Answer:
        if view is None:
            return Answer(status, {}, b"")
        headers = {"Content-Type": JSON, "ETag": view_tag(view)}
        if at is not None:
            headers["Location"] = f"{at}/{view.id}"
        return Answer(status, headers, view.model_dump_json().encode())

    return answer


def once(
    request: Request,
    services: Services,
    key: str | None,
    act: Callable[[], View],
    answer: Callable[[View], Answer],
    content: bytes | Mapping[str, bytes] = b"",
) -> Response:
    """Act and answer; under a key, once. To be called where waiting is no harm, in a thread.

    `content` is the body, or the files that came in it: what tells a request from another.
    """
    if key is None:
        found, again = answer(act()), False
    else:
        named = Key(_caller(request), key, _digest(request, content))
        found, again = services.keys.once(named, act, answer)
    response = Response(found.body or None, found.status, dict(found.headers))
    if again:
        response.headers[_REPLAY] = "true"
    return response


def _caller(request: Request) -> str:
    """Whose key it is: two callers may use the same one."""
    caller = getattr(request.state, "caller", None)
    return "" if caller is None else f"{caller.kind}:{caller.number}"


def _digest(request: Request, content: bytes | Mapping[str, bytes]) -> str:
    told = (
        hashlib.sha256(content).hexdigest()
        if isinstance(content, bytes)
        else sorted((name, hashlib.sha256(file).hexdigest()) for name, file in content.items())
    )
    query = sorted(request.query_params.multi_items())
    whole = [request.method, request.url.path, query, told]
    return hashlib.sha256(json.dumps(whole).encode()).hexdigest()

"""Reading the bodies of requests: what type, how deep, how many files; text that can be kept."""

from __future__ import annotations

import re
from email.message import Message
from typing import Any, TypeVar

import simplejson
from fastapi import Request
from pydantic import BaseModel, ValidationError
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from api.problems import validation_faults
from api.services.errors import RequestInvalid
from api.shapes import Fault

__all__ = [
    "JSON",
    "MULTIPART",
    "READING",
    "json_body",
    "json_document",
    "media_type",
    "posted",
    "read_shape",
    "upload",
]

JSON = "application/json"
MULTIPART = "multipart/form-data"
#: The problems that a body may have, whatever it is.
READING = ("malformed", "timeout", "too-large", "unsupported-media-type", "input-refused")
_Shape = TypeVar("_Shape", bound=BaseModel)
_DEEPEST = 32
#: Words, numbers, lists and objects in one document: each takes up to thirty times its bytes.
_MOST_VALUES = 500_000
_LONGEST_NAME = 200
_LONGEST_END = 4096
_ESCAPED = re.compile(rb"\\u[dD][89a-fA-F]")
_WORD = re.compile(rb'"(?:[^"\\]|\\.)*+"', re.DOTALL)
_UNFIT_TEXT = re.compile("[\ud800-\udfff]")
_UNFIT_NAME = re.compile(r"[\x00-\x1f\x7f]|(^|/)\.\.?(/|$)|^/|//|^$")


def posted(shape: str, example: Any) -> dict[str, Any]:
    """The description of a JSON body that a route reads itself: its shape and example by name."""
    schema = {"$ref": f"#/components/schemas/{shape}"}
    return {"required": True, "content": {JSON: {"schema": schema, "example": example}}}


def media_type(request: Request, *known: str) -> str:
    """The body's type. Raises HTTPException 415 where it is none of `known`."""
    header = Message()
    header["content-type"] = request.headers.get("content-type", "application/octet-stream")
    found = header.get_content_type()
    if found not in known:
        raise HTTPException(415, f"read {found}, would be right: {' or '.join(known)}")
    return found


async def json_body(request: Request) -> bytes:
    """A JSON body, not yet parsed."""
    media_type(request, JSON)
    return await request.body()


def json_document(body: bytes, exact: bool) -> Any:
    """A body's JSON; numbers with a point as Decimals where `exact`, else as floats.

    Raises HTTPException 400 where it is none, is nested too deeply, holds more values than are
    read at once, or half a surrogate pair, which no file could hold.
    """
    if _values(body) > _MOST_VALUES and _values(_WORD.sub(b"", body)) > _MOST_VALUES:
        raise HTTPException(400, f"the body holds more than {_MOST_VALUES} values")
    try:
        document = simplejson.loads(body, use_decimal=exact)
    except (ValueError, RecursionError) as error:
        raise HTTPException(400, f"the body is no JSON: {error}"[:300]) from error
    _refuse_deep(document)
    if _ESCAPED.search(body):
        _refuse_unfit(document)
    return document


def _values(body: bytes) -> int:
    """No fewer than there are in a document, whose words may hold the same signs."""
    return body.count(b",") + body.count(b"[") + body.count(b"{") + 1


def read_shape(shape: type[_Shape], document: Any) -> _Shape:
    """A document as a shape. Raises RequestInvalid with every fault."""
    try:
        return shape.model_validate(document)
    except ValidationError as error:
        raise RequestInvalid(validation_faults(error, "body")) from error


async def upload(request: Request, most_files: int) -> dict[str, bytes]:
    """The files of a multipart body by name. Raises HTTPException 400 or RequestInvalid."""
    await _whole(request)
    async with request.form(max_files=most_files, max_fields=8) as form:
        files: dict[str, bytes] = {}
        faults = []
        for field, part in form.multi_items():
            if not isinstance(part, UploadFile):
                faults.append(Fault(place=f"body.{field[:80]}", wrong="not a file", right="files"))
                continue
            name = (part.filename or "").replace("\\", "/").removeprefix("./")
            if field != "files":
                faults.append(
                    Fault(place=f"body.{field[:80]}", wrong="no such part", right="files")
                )
            elif _UNFIT_NAME.search(name) or len(name) > _LONGEST_NAME:
                faults.append(
                    Fault(
                        place="body.files",
                        wrong="not a file's name within a day folder",
                        read=name[:80],
                        right="such as cuts/walls.csv",
                    )
                )
            elif name in files:
                faults.append(Fault(place="body.files", wrong="sent twice", read=name))
            else:
                files[name] = await part.read()
    if not files and not faults:
        faults.append(
            Fault(
                place="body.files", wrong="no file", right="the day folder's files, or a workbook"
            )
        )
    if faults:
        raise RequestInvalid(faults)
    return files


async def _whole(request: Request) -> None:
    """Refuse a body that breaks off: the parser would hold its last part open."""
    header = Message()
    header["content-type"] = request.headers["content-type"]
    boundary = str(header.get_param("boundary", "")).encode("latin-1", "replace")
    body = await request.body()
    if not boundary or b"--" + boundary + b"--" not in body[-_LONGEST_END:]:
        raise HTTPException(400, "the body ends before its last boundary, or names none")


def _refuse_deep(document: Any) -> None:
    level = [document]
    for _ in range(_DEEPEST):
        level = [
            inner
            for value in level
            if isinstance(value, dict | list)
            for inner in (value.values() if isinstance(value, dict) else value)
            if isinstance(inner, dict | list)
        ]
        if not level:
            return
    raise HTTPException(400, f"the body is nested more than {_DEEPEST} deep")


def _refuse_unfit(document: Any) -> None:
    waiting = [document]
    while waiting:
        value = waiting.pop()
        if isinstance(value, dict):
            waiting += value.keys()
            waiting += value.values()
        elif isinstance(value, list):
            waiting += value
        elif isinstance(value, str) and _UNFIT_TEXT.search(value):
            raise HTTPException(400, "the body holds half a surrogate pair")

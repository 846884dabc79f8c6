"""The form that sends a day in: its files, and those that a refused attempt brought before.

A browser forgets chosen files with every answer. So a refused form carries what it brought, packed
into one field of the page: only the mended file has to be chosen again.
"""

from __future__ import annotations

import base64
import re
import zlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import simplejson
from fastapi import Request
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from api.settings import Settings

__all__ = ["Sent", "merged", "pack", "read_sent", "unpack"]

_LONGEST_NAME = 200
_MOST_FIELDS = 1000
_FIELD = 500_000
_UNFIT_NAME = re.compile(r"[\x00-\x1f\x7f]|(^|/)\.\.?(/|$)|^/|//|^$")
_BOOKS = (".xlsx", ".xlsm")
#: What a folder holds beside a day: left aside, where a browser sends all that is in it.
_BESIDE = re.compile(r"(^|/)[.~]|(^|/)(Thumbs\.db|desktop\.ini)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Sent:
    """What a form holds: words by field, the files chosen now, those of the attempt before."""

    words: Mapping[str, str]
    files: Mapping[str, bytes]
    kept: Mapping[str, bytes]
    left_out: frozenset[str]


async def read_sent(request: Request) -> Sent:
    """Read a form with files. Raises HTTPException where it can't be read."""
    settings: Settings = request.app.state.settings
    async with request.form(
        max_files=settings.most_files + 2,
        max_fields=_MOST_FIELDS,
        max_part_size=settings.body_bytes,
    ) as form:
        words: dict[str, str] = {}
        files: dict[str, bytes] = {}
        left_out: set[str] = set()
        for field, part in form.multi_items():
            if not isinstance(part, UploadFile):
                if field == "left_out":
                    left_out.add(part)
                elif field == "kept":
                    words["kept"] = words.get("kept", "") + part
                else:
                    words[field] = part
                continue
            name = (part.filename or "").replace("\\", "/").removeprefix("./")
            if not name or _BESIDE.search(name):
                continue
            if _UNFIT_NAME.search(name) or len(name) > _LONGEST_NAME:
                raise HTTPException(400, f"not a file's name within a day folder: {name[:80]}")
            files[name] = await part.read()
    kept = unpack(words.pop("kept", ""), settings.body_bytes)
    if len(kept) + len(files) > settings.most_files:
        raise HTTPException(413, f"a day may have {settings.most_files} files at most")
    return Sent(words, files, kept, frozenset(left_out))


def merged(
    kept: Mapping[str, bytes], files: Mapping[str, bytes], left_out: Collection[str] = ()
) -> dict[str, bytes]:
    """The files of the attempt before with those chosen now in their places.

    A file takes the place of the one of its name, in whatever folder, where there is just one; a
    workbook takes that of any workbook.
    """
    found = {name: content for name, content in kept.items() if name not in left_out}
    if any(name.casefold().endswith(_BOOKS) for name in files):
        found = {n: c for n, c in found.items() if not n.casefold().endswith(_BOOKS)}
    for name, content in files.items():
        last = name.rsplit("/", 1)[-1]
        same = [other for other in found if other.rsplit("/", 1)[-1] == last]
        place = name if name in found or len(same) != 1 else same[0]
        found[place] = content
    return found


def pack(files: Mapping[str, bytes]) -> list[str]:
    """Files as fields of a form, none larger than a form's reader takes."""
    held = {name: base64.b64encode(content).decode() for name, content in files.items()}
    text = base64.b64encode(zlib.compress(simplejson.dumps(held).encode(), 6)).decode()
    return [text[i : i + _FIELD] for i in range(0, len(text), _FIELD)]


def unpack(text: str, most: int) -> dict[str, bytes]:
    """What `pack` made, put together.

    Raises HTTPException 400 where it is not that, 413 above `most` bytes.
    """
    if not text:
        return {}
    try:
        unpacking = zlib.decompressobj()
        raw = unpacking.decompress(base64.b64decode(text, validate=True), 2 * most)
        if unpacking.unconsumed_tail:
            raise HTTPException(413, f"a day may hold {most} bytes at most")
        held = simplejson.loads(raw)
        files = {name: base64.b64decode(content, validate=True) for name, content in held.items()}
    except (ValueError, TypeError, AttributeError, RecursionError, zlib.error) as error:
        raise HTTPException(
            400, "the form does not hold the files of the attempt before"
        ) from error
    if any(_UNFIT_NAME.search(name) or len(name) > _LONGEST_NAME for name in files):
        raise HTTPException(400, "the form does not hold the files of the attempt before")
    return files

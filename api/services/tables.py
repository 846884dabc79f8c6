"""The CSV files of a result as rows of JSON, every number exactly as it is written there."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from json.encoder import encode_basestring_ascii as _word

__all__ = ["rows_json"]

_WORDS = {
    *("material", "layout", "pattern", "source", "section", "jig", "mark", "per", "turned"),
    *("direction", "piece", "from", "yields", "marks"),
}
#: Words that may be missing.
_SOME_WORDS = {"run", "books", "lot", "kind", "nominal", "edges"}


_NUMBER = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?", re.ASCII)


def rows_json(content: bytes) -> bytes:
    """`{"rows": [...]}`: words as they are, counts as whole numbers, measures as decimals.

    Numbers are sent as they are written there, digit by digit, so none need be read.
    """
    reader = csv.reader(io.StringIO(content.decode(), newline=""))
    columns = next(reader, [])
    heads = [("{" if i == 0 else ", ") + _word(name) + ": " for i, name in enumerate(columns)]
    kinds = [_kind(name) for name in columns]
    rows = [
        "".join([head + kind(text) for head, kind, text in zip(heads, kinds, row, strict=True)])
        for row in reader
        if row
    ]
    whole = "}, ".join(rows)
    return f'{{"rows": [{whole}{"}" if rows else ""}]}}'.encode()


def _kind(column: str) -> Callable[[str], str]:
    if column in _WORDS:
        return _word
    if column in _SOME_WORDS:
        return lambda text: _word(text) if text else "null"
    return _measure


def _measure(text: str) -> str:
    if not text:
        return "null"
    if text.endswith("mm"):
        return _word(text)
    if _NUMBER.fullmatch(text) is None:
        raise ValueError(f"'{text[:40]}' in a table of ours is no number")
    return text

"""The CSV files of a result as rows of JSON, every number exactly as it is written there."""

from __future__ import annotations

import csv
import io
from decimal import Decimal

import simplejson

__all__ = ["rows_json"]

_WORDS = {
    *("material", "layout", "pattern", "source", "section", "jig", "mark", "per", "turned"),
    *("direction", "piece", "from", "yields", "marks"),
}
#: Words that may be missing, and counts.
_SOME_WORDS = {"run", "books", "lot", "kind", "nominal", "edges"}
_COUNTS = {"count", "cut", "stage", "pieces", "bundles", "need", "on_hand", "limit", "bundle"}


def rows_json(content: bytes) -> bytes:
    """`{"rows": [...]}`: words as they are, counts as whole numbers, measures as decimals."""
    reader = csv.DictReader(io.StringIO(content.decode(), newline=""))
    rows = [{column: _value(column, text) for column, text in row.items()} for row in reader]
    return str(simplejson.dumps({"rows": rows}, use_decimal=True)).encode()


def _value(column: str, text: str) -> str | int | Decimal | None:
    if column in _WORDS:
        return text
    if not text:
        return None
    if column in _SOME_WORDS or text.endswith("mm"):
        return text
    return int(text) if column in _COUNTS else Decimal(text)

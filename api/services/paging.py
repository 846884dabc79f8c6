"""Lists in pages: the newest first, each page beginning behind the last row of the one before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol
from urllib.parse import urlencode

__all__ = ["cursor", "next_page"]


class _Numbered(Protocol):
    @property
    def number(self) -> int: ...


def cursor(rows: Sequence[_Numbered], limit: int) -> int | None:
    """The number behind which the next page begins, where one row more than `limit` was found."""
    return rows[limit - 1].number if len(rows) > limit else None


def next_page(
    path: str, limit: int, after: int | None, filters: Mapping[str, str] | None = None
) -> str | None:
    """The address of the next page."""
    if after is None:
        return None
    return f"{path}?{urlencode({**(filters or {}), 'limit': limit, 'after': after})}"

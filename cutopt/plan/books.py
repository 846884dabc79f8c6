"""Pieces of stock cut at once: books of sheets, stacks of sticks, set-up by set-up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from cutopt.plan.layout import Layout

__all__ = ["books", "books_text", "sheets_of"]


def sheets_of(layouts: Iterable[Layout]) -> Counter[str]:
    """Pieces of stock by pattern: all that one set-up of the saw cuts, whatever they are for."""
    counts: Counter[str] = Counter()
    for layout in layouts:
        counts[layout.pattern] += layout.count
    return counts


def books(count: int, stack: int) -> tuple[tuple[int, int], ...]:
    """(how many, of how many pieces): whole books first, then the rest as one."""
    whole, rest = divmod(count, stack)
    found = ((whole, stack), (1, rest))
    return tuple((n, size) for n, size in found if n and size)


def books_text(count: int, stack: int) -> str:
    """As the cut list says it: `32x3+1x1`."""
    return "+".join(f"{n}x{size}" for n, size in books(count, stack))

"""Ceilings and other parts together, exactly, for a handful of pieces: every way to lay a field,
every way to part rows and parts among boards, each board cut by the rule.

Where a row lies on its board is left open: rows are pieces like others, at most one to a board and
only on a board of the width that it was laid for. A row can always be moved to a corner of its
board without another cut, so that it keeps a factory edge.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import product

from cutopt.materials import SheetRules
from cutopt.plan.guillotine import first_axes
from tests.solve.sheets.shop import fits

__all__ = ["least_cost"]

#: span, run
Asked = tuple[int, int]
#: length, width, turn
Piece = tuple[int, int, bool]
#: length, width, price, available
Had = tuple[int, int, int, int | None]


def least_cost(
    fields: Sequence[Asked], parts: Sequence[Piece], boards: Sequence[Had], rule: SheetRules
) -> int | None:
    """The least cost of everything; None where it can't all be cut."""
    widths = sorted({b[1] for b in boards})
    best: int | None = None
    for ways in product(*(list(_laid(run, widths)) for _, run in fields)):
        rows = [
            (span, finished, width)
            for (span, _), way in zip(fields, ways, strict=True)
            for finished, width in way
        ]
        found = _parted(rows, parts, boards, rule, best)
        if found is not None and (best is None or found < best):
            best = found
    return best


def _laid(run: int, widths: Sequence[int]) -> Iterator[tuple[tuple[int, int], ...]]:
    """Rows (finished, board width) of a field: whole ones, and one ripped where they don't end."""

    def extend(left: int, at: int) -> Iterator[tuple[tuple[int, int], ...]]:
        for k in range(at, len(widths)):
            if widths[k] < left:
                for rest in extend(left - widths[k], k):
                    yield ((widths[k], widths[k]), *rest)
        # The last row is ripped from any board that is wide enough.
        for width in widths:
            if width >= left:
                yield ((left, width),)

    yield from extend(run, 0)


def _parted(
    rows: Sequence[tuple[int, int, int]],
    parts: Sequence[Piece],
    boards: Sequence[Had],
    rule: SheetRules,
    below: int | None,
) -> int | None:
    pieces: list[Piece] = [(span, finished, False) for span, finished, _ in rows]
    pieces += parts
    lone = len(rows)
    options: list[list[tuple[int, int]]] = [[] for _ in pieces]
    for mask in range(1, 1 << len(pieces)):
        held = [i for i in range(lone) if mask >> i & 1]
        if len(held) > 1:
            continue
        members = tuple(sorted(pieces[i] for i in range(len(pieces)) if mask >> i & 1))
        lowest = (mask & -mask).bit_length() - 1
        for q, (length, width, _, _) in enumerate(boards):
            if held and rows[held[0]][2] != width:
                continue
            if any(
                fits(members, length, width, axis, rule.stages, rule.kerf)
                for axis in first_axes(rule.first_cut)
            ):
                options[lowest].append((mask, q))

    @cache
    def least(left: int, used: tuple[int, ...]) -> int | None:
        if not left:
            return 0
        best: int | None = None
        for mask, q in options[(left & -left).bit_length() - 1]:
            _, _, price, limit = boards[q]
            if mask & ~left or (limit is not None and used[q] >= limit):
                continue
            counted = tuple(n + (i == q and limit is not None) for i, n in enumerate(used))
            rest = least(left & ~mask, counted)
            if rest is not None and (best is None or rest + price < best):
                best = rest + price
        return best

    return least((1 << len(pieces)) - 1, (0,) * len(boards))

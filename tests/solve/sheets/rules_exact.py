"""An exact search by hand for the trade's rules: factory edges, narrow rips, most parts of a sheet.

As `shop.least_cost`, and shares as little with the solver: pieces are parted among sheets in every
way, and a region is cut in every way that the words of the rule allow, knowing which of its long
sides still are the sheet's own. For a handful of pieces.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

from cutopt.materials import Edge, Edges, SheetRules
from cutopt.plan.guillotine import Axis, first_axes

__all__ = ["Board", "Wanted", "holds", "least_cost"]

#: length, width, may be turned, edge
Wanted = tuple[int, int, bool, str]
_Sides = frozenset[str]
_BARE: _Sides = frozenset()


@dataclass(frozen=True)
class Board:
    """A size of stock."""

    length: int
    width: int
    price: int
    available: int | None = None
    edges: Edges = Edges.BOTH


def _sides(edges: Edges) -> tuple[_Sides, _Sides]:
    """What may be asked for at y = 0 and at y = width: README, stock.csv."""
    squared = {"both": ("one", "groove"), "groove": ("one", "groove"), "one": ("one",)}
    far = {"both": ("one", "tongue"), "tongue": ("one", "tongue")}
    return frozenset(squared.get(edges.value, ())), frozenset(far.get(edges.value, ()))


def holds(pieces: Sequence[Wanted], board: Board, rules: SheetRules) -> bool:
    """Whether one sheet can give the pieces."""
    if rules.max_parts and len(pieces) > rules.max_parts:
        return False
    trim = rules.edge_trim
    length, width = board.length - 2 * trim, board.width - 2 * trim
    squared, far = (_BARE, _BARE) if trim else _sides(board.edges)
    members = []
    for a, b, turn, edge in pieces:
        ways = [(a, b)] + ([(b, a)] if turn else [])
        lies = tuple(
            (x, y) for x, y in ways if y >= rules.least_rip or (not trim and y == board.width)
        )
        members.append((lies, edge))
    return any(
        _fits(tuple(sorted(members)), length, width, axis, rules.stages, rules.kerf, squared, far)
        for axis in first_axes(rules.first_cut)
    )


_Member = tuple[tuple[tuple[int, int], ...], str]


@cache
def _fits(
    members: tuple[_Member, ...],
    length: int,
    width: int,
    axis: Axis,
    stages: int,
    kerf: int,
    squared: _Sides,
    far: _Sides,
) -> bool:
    """Whether a region whose next cuts run along `axis` can give the pieces.

    `squared` and `far` are what its sides at low and high y give to a part that lies flush.
    """
    if len(members) == 1:
        return _alone(members[0], length, width, axis, stages, squared, far)
    if stages == 0:
        return False
    rip = axis is Axis.RIP
    size = width if rip else length

    def part(group: tuple[_Member, ...], extent: int, low: bool, high: bool) -> bool:
        """A slice of this extent; `low`, `high`: whether it keeps the region's own sides."""
        if rip:
            sides = squared if low else _BARE, far if high else _BARE
            return _fits(group, length, extent, axis.other, stages - 1, kerf, *sides)
        return _fits(group, extent, width, axis.other, stages - 1, kerf, squared, far)

    for extent in _sums(members, size, kerf):
        whole = extent == size
        if part(members, extent, True, whole) or part(members, extent, whole, True):
            return True
    for mask in range(1, (1 << len(members)) - 1):
        near = tuple(m for i, m in enumerate(members) if mask >> i & 1)
        rest = tuple(m for i, m in enumerate(members) if not mask >> i & 1)
        for extent in _sums(near, size, kerf):
            if not part(near, extent, True, False):
                continue
            left = size - extent - kerf
            if left > 0:
                if rip:
                    beside = _fits(rest, length, left, axis, stages, kerf, _BARE, far)
                else:
                    beside = _fits(rest, left, width, axis, stages, kerf, squared, far)
                if beside:
                    return True
            break
    return False


def _alone(
    member: _Member,
    length: int,
    width: int,
    axis: Axis,
    stages: int,
    squared: _Sides,
    far: _Sides,
) -> bool:
    """One piece: where no stage is left a single trimming cut, along `axis`, frees it."""
    lies, edge = member
    for a, b in lies:
        if a > length or b > width:
            continue
        if stages == 0 and (a if axis is Axis.RIP else b) != (
            length if axis is Axis.RIP else width
        ):
            continue
        if edge == "both":
            kept = b == width and bool(squared) and bool(far)
        else:
            kept = not edge or edge in squared | far
        if kept:
            return True
    return False


@cache
def _sums(members: tuple[_Member, ...], most: int, kerf: int) -> tuple[int, ...]:
    """Extents that a slice of these pieces may have: sums of their measures, or all there is."""
    found = {0}
    for lies, _ in members:
        found |= {s + m + kerf for s in found for lie in lies for m in lie}
    sums = {s - kerf for s in found if 0 < s - kerf <= most}
    return tuple(sorted(sums | {most}))


def least_cost(
    parts: Sequence[tuple[int, int, int, bool, Edge]],
    boards: Sequence[Board],
    rules: SheetRules,
) -> Fraction | None:
    """The least cost over every way to part the pieces among sheets; None where there is none.

    `parts` are (length, width, qty, turn, edge).
    """
    pieces: list[Wanted] = [
        (a, b, turn, edge.value) for a, b, qty, turn, edge in parts for _ in range(qty)
    ]
    options: list[list[tuple[int, int]]] = [[] for _ in pieces]
    for mask in range(1, 1 << len(pieces)):
        lowest = (mask & -mask).bit_length() - 1
        members = sorted(pieces[i] for i in range(len(pieces)) if mask >> i & 1)
        for q, board in enumerate(boards):
            if holds(members, board, rules):
                options[lowest].append((mask, q))

    @cache
    def least(left: int, used: tuple[int, ...]) -> int | None:
        if not left:
            return 0
        best: int | None = None
        for mask, q in options[(left & -left).bit_length() - 1]:
            limit = boards[q].available
            if mask & ~left or (limit is not None and used[q] >= limit):
                continue
            counted = tuple(n + (i == q and limit is not None) for i, n in enumerate(used))
            rest = least(left & ~mask, counted)
            if rest is not None and (best is None or rest + boards[q].price < best):
                best = rest + boards[q].price
        return best

    found = least((1 << len(pieces)) - 1, (0,) * len(boards))
    return None if found is None else Fraction(found)

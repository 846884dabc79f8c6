"""What pricing with factory edges has in common in two stages and in three.

A pricer is `Edged` and knows how its tables are made; what they hold is told in `edged` and in
`edged_stacks`. `outside` is the step that all of them take: at most one thing at either side.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from cutopt.materials import Edge
from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.limit import Priced, Pricer
from cutopt.solve.sheets.model import Bench, Model
from cutopt.solve.sheets.pattern import Pattern, Strip, counts, trimmed
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.pricing import Lying, Room

__all__ = ["Edged", "Outside", "SideStrip", "Sides", "Tables", "outside", "sides_of"]

#: Below any value that a table can hold.
_NEVER = -(2**62)
#: A strip, its height, and the side that it takes: `squared`, `far`, `whole` or blank.
SideStrip = tuple[Strip, int, str]


@dataclass(frozen=True, slots=True)
class Sides:
    """Variants by where they may lie: anywhere, at the squared side, at the far one, or at both at
    once (as wide as their sheet). Those that take either side are in `squared` and in `far`.
    """

    free: tuple[Lying, ...]
    squared: tuple[Lying, ...]
    far: tuple[Lying, ...]
    both: tuple[Lying, ...]


def sides_of(model: Model, bench: Bench, lying: Sequence[Lying]) -> Sides:
    """The variants of a bench by where they may lie."""
    edge = [model.kinds[v.kind].edge for v in lying]
    at = list(zip(lying, edge, strict=True))
    return Sides(
        tuple(v for v, e in at if e is Edge.NONE),
        tuple(v for v, e in at if e in bench.edges.squared),
        tuple(v for v, e in at if e in bench.edges.far),
        tuple(v for v, e in at if e is Edge.BOTH),
    )


@dataclass(frozen=True, slots=True)
class Outside:
    """What lies outermost across a measure: indices of things at either side; −1 for none."""

    value: int
    squared: int = -1
    far: int = -1


def outside(
    inner: Ints,
    floor: Callable[[NDArray[np.int64]], NDArray[np.intp]],
    measure: int,
    squared: tuple[Ints, Ints],
    far: tuple[Ints, Ints],
) -> Outside:
    """The best of at most one thing at either side, and what fits between them.

    Parameters
    ----------
    inner
        Best worth between, by place.
    floor
        Index of the last place not above each measure (0 or more).
    measure
        What there is in all.
    squared, far
        (sizes, values) of the things that may lie at either side.
    """
    sizes_a, values_a = (np.append(a, 0) for a in squared)
    sizes_b, values_b = (np.append(b, 0) for b in far)
    rest = measure - sizes_a[:, None] - sizes_b[None, :]
    total = values_a[:, None] + values_b[None, :] + inner[floor(np.maximum(rest, 0))]
    total = np.where(rest >= 0, total, _NEVER)
    best = int(total.argmax())
    i, j = divmod(best, len(sizes_b))
    none = (len(sizes_a) - 1, len(sizes_b) - 1)
    if total[none] == total[i, j]:
        i, j = none
    return Outside(int(total[i, j]), -1 if i == none[0] else i, -1 if j == none[1] else j)


class Tables(Protocol):
    """The tables of one pricing."""

    def best(
        self, room: Room, across: int, squared: bool, far: bool
    ) -> tuple[int, list[SideStrip]]:
        """The best strips in what is left across, and what they are worth in all.

        `squared` and `far`: whether that side is free.
        """


class Edged(Pricer):
    """A pricer of which some parts keep factory edges."""

    axis: Axis
    _rooms: list[Room]

    @abstractmethod
    def _edged(self, worth: Ints, most: Ints) -> Tables:
        """The tables for these worths."""

    def unlimited(self, worth: Ints, most: Ints, open_sheets: Sequence[bool]) -> list[Priced]:
        """As `price`, with any number of parts."""
        tables = self._edged(worth, most)
        found: list[Priced] = []
        for r in self._rooms:
            if open_sheets[r.sheet]:
                value, strips = tables.best(r, r.across, True, True)
                if value > 0:
                    made = tuple(strip for strip, _, _ in strips)
                    found.append(Priced(value, Pattern(r.sheet, self.axis, made)))
        return found

    def _filled_up(self, worth: Ints, need: Ints, sheet: int) -> Pattern:
        """Strip by strip, those at a side first, nothing in it that is not wanted."""
        room = next(r for r in self._rooms if r.sheet == sheet)
        left, across = need.copy(), room.across
        made: list[Strip] = []
        squared = far = True
        while True:
            _, strips = self._edged(worth, left).best(room, across, squared, far)
            if not strips:
                return Pattern(sheet, self.axis, tuple(made))
            strip, height, side = max(strips, key=lambda s: (bool(s[2]), s[1]))
            kept = trimmed(Pattern(sheet, self.axis, (strip,)), left.tolist())
            left -= counts(kept, len(left))
            made += kept.strips
            across -= height
            squared &= side not in ("squared", "whole")
            far &= side not in ("far", "whole")

"""Patterns of small orders listed where parts keep factory edges or a sheet gives few parts.

As `listing`, with what these rules add: a pattern is gone on with only while some strips and
stacks of it can lie at the edges that their parts ask for. Which can is told by what is asked of
each side, and leaving parts out only makes it easier: so what can't be laid is never gone on with.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import reduce
from operator import and_

import numpy as np

from cutopt.materials import Edge
from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.listing import FullError, Listing
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.pricing import Bounds, Lying, StackPricer, StripPricer

__all__ = ["list_ruled"]

#: Sides as bits: the squared side, the far side, and a strip or stack as wide as the sheet.
_SQUARED, _FAR, _WHOLE = 1, 2, 4
_ANY = _SQUARED | _FAR | _WHOLE
_Signature = tuple[int, ...]


class _Full(Exception):  # noqa: N818 - ends a recursion, tells of no error
    """The allowed work is done."""


def list_ruled(
    model: Model,
    pricers: Sequence[StripPricer | StackPricer],
    worth: Ints,
    need: Ints,
    least: Callable[[int], int],
    nodes: int,
) -> Listing:
    """As `list_patterns`; a pattern listed holds no more parts than its sheet may give.

    `nodes` are the most steps of the search, all sheets and axes together.
    """
    found: dict[tuple[int, tuple[int, ...]], Pattern] = {}
    used = 0
    for pricer in pricers:
        for sheet in pricer.bench.sheets:
            bounds = pricer.bounds(worth, need, sheet)
            if bounds is None or bounds.sheet(bounds.across) < least(sheet):
                continue
            search = _Search(model, pricer, bounds, worth, need, least(sheet), nodes - used, found)
            try:
                search.strips(bounds.across, bounds.across, 0)
            except _Full:
                raise FullError from None
            used += search.nodes
    wanted = need.tolist()
    kept = [
        (pattern, cut)
        for (sheet, cut), pattern in found.items()
        if not any(
            (sheet, (*cut[:i], n + 1, *cut[i + 1 :])) in found
            for i, n in enumerate(cut)
            if n < wanted[i]
        )
    ]
    cuts = np.array([cut for _, cut in kept], dtype=np.int64).reshape(len(kept), len(need))
    sheets = np.array([pattern.sheet for pattern, _ in kept], dtype=np.int64)
    return Listing(cuts, sheets, [pattern for pattern, _ in kept].__getitem__, used)


class _Search:
    """One sheet and axis. Strips come by falling height, the first stack of each as high as it."""

    def __init__(
        self,
        model: Model,
        pricer: StripPricer | StackPricer,
        bounds: Bounds,
        worth: Ints,
        need: Ints,
        least: int,
        nodes: int,
        found: dict[tuple[int, tuple[int, ...]], Pattern],
    ) -> None:
        self.pricer, self.bounds, self.least, self.allowed = pricer, bounds, least, nodes
        self.found = found
        self.nodes = 0
        self.worth = worth.tolist()
        self.left = need.tolist()
        self.cut = [0] * len(self.left)
        self.lying: list[Lying] = [
            v
            for v in sorted(pricer.lying, key=lambda v: (-v.along, -v.across, v.kind))
            if v.along <= bounds.along and v.across <= bounds.across and self.left[v.kind]
        ]
        self.made: list[list[list[tuple[int, bool]]]] = []
        self.seen: set[tuple[object, ...]] = set()
        bench = pricer.bench
        self.parts = bench.max_parts or sum(self.left)
        self.edge = [k.edge for k in model.kinds]
        rip = pricer.axis is Axis.RIP
        wide = bounds.across if rip else bounds.along
        #: By kind, where a part that asks for an edge has it.
        self.sides: dict[int, int] = {}
        for v in self.lying:
            edge = self.edge[v.kind]
            whole = edge is Edge.BOTH and (v.across if rip else v.along) == wide
            bits = _SQUARED * (edge in bench.edges.squared) + _FAR * (edge in bench.edges.far)
            self.sides[v.kind] = _ANY if whole else bits and bits | _WHOLE
        self.rip = rip

    def _step(self) -> None:
        self.nodes += 1
        if self.nodes > self.allowed:
            raise _Full

    def _take(self, v: Lying) -> None:
        self.left[v.kind] -= 1
        self.cut[v.kind] += 1
        self.parts -= 1
        self.made[-1][-1].append((v.kind, v.turned))

    def _put_back(self, v: Lying) -> None:
        self.left[v.kind] += 1
        self.cut[v.kind] -= 1
        self.parts += 1
        self.made[-1][-1].pop()

    # -- edges -----------------------------------------------------------------------------------

    def _laid(self) -> _Signature | None:
        """What is asked of the sides so far, in order; None where it can't be had.

        With crosscuts first every strip reaches both sides: only the last can still change.
        """
        if not self.pricer.bench.edged or not self.made:
            return ()
        if self.rip:
            asked = [self._strip(s) for s in self.made if any(map(self._asking, s))]
            return _agreed(asked, len(self.made))
        stacks = [self._asking(stack) for stack in self.made[-1]]
        return _agreed([reduce(and_, asking) for asking in stacks if asking], len(stacks))

    def _asking(self, stack: Sequence[tuple[int, bool]]) -> list[int]:
        """The sides at which the parts of a stack that ask for an edge have it."""
        return [self.sides[kind] for kind, _ in stack if self.edge[kind]]

    def _strip(self, strip: Sequence[Sequence[tuple[int, bool]]]) -> int:
        """The sides at which a strip along the sheet can lie: each stack's outermost part asks."""
        sides = _ANY
        for stack in strip:
            asking = self._asking(stack)
            if len(asking) == 1:
                sides &= asking[0]
            elif asking:
                sides &= _WHOLE if _agreed(asking, len(asking)) is not None else 0
        return sides

    # -- the search ------------------------------------------------------------------------------

    def strips(self, across: int, highest: int, value: int) -> None:
        """Close the last strip; open another one no higher in what is left across."""
        self._step()
        signature = self._laid()
        if signature is None:
            return
        if not self.rip:
            signature = ()
        cut = tuple(self.cut)
        if value >= self.least:
            key = (self.bounds.number, cut)
            if key not in self.found:
                self.found[key] = Pattern(
                    key[0],
                    self.pricer.axis,
                    tuple(tuple(tuple(stack) for stack in strip) for strip in self.made),
                )
        state = (cut, across, highest, signature)
        if value + self.bounds.sheet(across) < self.least or state in self.seen:
            return
        self.seen.add(state)
        room = min(across, highest)
        for k, v in enumerate(self.lying):
            if self.left[v.kind] and self.parts and v.across <= room:
                self.made.append([[]])
                self._take(v)
                self._first(
                    k,
                    v,
                    v.across,
                    self.bounds.along - v.along,
                    across,
                    room,
                    value + self.worth[v.kind],
                )
                self._put_back(v)
                self.made.pop()

    def _first(
        self, at: int, lead: Lying, height: int, along: int, across: int, room: int, value: int
    ) -> None:
        """The strip's first stack, `height` high so far: grow it, or close it and go on."""
        self._step()
        b = self.bounds
        if (
            value + b.stack(lead, room - height) + b.strip(along, room) + b.sheet(across - height)
            < self.least
            or self._laid() is None
        ):
            return
        if b.stacked:
            for k in range(at, len(self.lying)):
                v = self.lying[k]
                if self.left[v.kind] and self.parts and v.across <= room - height:
                    self._take(v)
                    self._first(
                        k, lead, height + v.across, along, across, room, value + self.worth[v.kind]
                    )
                    self._put_back(v)
        self._others(0, height, along, across - height, value)

    def _others(self, at: int, height: int, along: int, across: int, value: int) -> None:
        """Further stacks beside the first, none higher; then the next strip."""
        self._step()
        signature = self._laid()
        if (
            signature is None
            or value + self.bounds.strip(along, height) + self.bounds.sheet(across) < self.least
        ):
            return
        key = (tuple(self.cut), at, height, along, across, signature)
        if key in self.seen:
            return
        self.seen.add(key)
        strip = self.made[-1]
        for k in range(at, len(self.lying)):
            v = self.lying[k]
            if self.left[v.kind] and self.parts and v.along <= along and v.across <= height:
                strip.append([])
                self._take(v)
                self._stack(
                    k,
                    k,
                    v,
                    height - v.across,
                    height,
                    along - v.along,
                    across,
                    value + self.worth[v.kind],
                )
                self._put_back(v)
                strip.pop()
        self.strips(across, height, value)

    def _stack(
        self,
        first: int,
        at: int,
        lead: Lying,
        room: int,
        height: int,
        along: int,
        across: int,
        value: int,
    ) -> None:
        """A further stack with `room` left in it."""
        self._step()
        b = self.bounds
        if (
            value + b.stack(lead, room) + b.strip(along, height) + b.sheet(across) < self.least
            or self._laid() is None
        ):
            return
        if b.stacked:
            for k in range(at, len(self.lying)):
                v = self.lying[k]
                if self.left[v.kind] and self.parts and v.across <= room:
                    self._take(v)
                    self._stack(
                        first,
                        k,
                        lead,
                        room - v.across,
                        height,
                        along,
                        across,
                        value + self.worth[v.kind],
                    )
                    self._put_back(v)
        self._others(first, height, along, across, value)


def _agreed(asked: Sequence[int], things: int) -> _Signature | None:
    """What so many things ask of the two sides, in order; None where they can't all have it.

    One alone may be as wide as the sheet; of two one lies at either side; more find no place.
    """
    if 0 in asked or len(asked) > 2:
        return None
    if len(asked) == 1 and not asked[0] & (_SQUARED | _FAR) and things > 1:
        return None
    if len(asked) == 2:
        a, b = asked
        if not ((a & _SQUARED and b & _FAR) or (a & _FAR and b & _SQUARED)):
            return None
    return tuple(sorted(asked))

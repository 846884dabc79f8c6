"""Every pattern that can be in a plan that costs less: for small orders, where that proves them.

In any plan below a known cost each pattern's cost exceeds its worth by less than what lies between
that cost and the bound that the worths prove. Depth first, strip by strip, all such patterns are
listed that cut nothing beyond the demand; the tables of the pricing bound what is still to come.
Integers throughout.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.pricing import Bounds, Lying, StackPricer, StripPricer

__all__ = ["Listing", "list_patterns"]


@dataclass(frozen=True, slots=True)
class Listing:
    """Maximal patterns by sheet and what they cut; `complete` unless the work ran out."""

    patterns: tuple[tuple[Pattern, tuple[int, ...]], ...]
    complete: bool
    nodes: int


class _Full(Exception):  # noqa: N818 - ends a recursion, tells of no error
    """The allowed work is done."""


def list_patterns(
    pricers: Sequence[StripPricer | StackPricer],
    worth: Ints,
    need: Ints,
    least: Callable[[int], int],
    nodes: int,
) -> Listing:
    """List the patterns that are worth enough.

    Parameters
    ----------
    pricers
        Those whose tables together hold every pattern of the rule.
    worth, need
        Per kind: what one is worth, and how many are wanted; shape (kinds,).
    least
        By sheet, the least worth of a pattern that may be in a better plan.
    nodes
        Most steps of the search, all sheets and axes together.
    """
    found: dict[tuple[int, tuple[int, ...]], Pattern] = {}
    used = 0
    for pricer in pricers:
        for sheet in pricer.bench.sheets:
            bounds = pricer.bounds(worth, need, sheet)
            if bounds is None or bounds.sheet(bounds.across) < least(sheet):
                continue
            search = _Search(pricer, bounds, worth, need, least(sheet), nodes - used, found)
            try:
                search.strips(bounds.across, bounds.across, 0)
            except _Full:
                return Listing((), False, nodes)
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
    return Listing(tuple(kept), True, used)


class _Search:
    """One sheet and axis. Strips come by falling height, the first stack of each as high as it."""

    def __init__(
        self,
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

    def _step(self) -> None:
        self.nodes += 1
        if self.nodes > self.allowed:
            raise _Full

    def _take(self, v: Lying) -> None:
        self.left[v.kind] -= 1
        self.cut[v.kind] += 1
        self.made[-1][-1].append((v.kind, v.turned))

    def _put_back(self, v: Lying) -> None:
        self.left[v.kind] += 1
        self.cut[v.kind] -= 1
        self.made[-1][-1].pop()

    def strips(self, across: int, highest: int, value: int) -> None:
        """Close the last strip; open another one no higher in what is left across."""
        self._step()
        cut = tuple(self.cut)
        if value >= self.least:
            key = (self.bounds.number, cut)
            if key not in self.found:
                self.found[key] = Pattern(
                    key[0],
                    self.pricer.axis,
                    tuple(tuple(tuple(stack) for stack in strip) for strip in self.made),
                )
        if value + self.bounds.sheet(across) < self.least or (cut, across, highest) in self.seen:
            return
        self.seen.add((cut, across, highest))
        room = min(across, highest)
        for k, v in enumerate(self.lying):
            if self.left[v.kind] and v.across <= room:
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
        ):
            return
        if b.stacked:
            for k in range(at, len(self.lying)):
                v = self.lying[k]
                if self.left[v.kind] and v.across <= room - height:
                    self._take(v)
                    self._first(
                        k, lead, height + v.across, along, across, room, value + self.worth[v.kind]
                    )
                    self._put_back(v)
        self._others(0, height, along, across - height, value)

    def _others(self, at: int, height: int, along: int, across: int, value: int) -> None:
        """Further stacks beside the first, none higher; then the next strip."""
        self._step()
        if value + self.bounds.strip(along, height) + self.bounds.sheet(across) < self.least:
            return
        key = (tuple(self.cut), at, height, along, across)
        if key in self.seen:
            return
        self.seen.add(key)
        strip = self.made[-1]
        for k in range(at, len(self.lying)):
            v = self.lying[k]
            if self.left[v.kind] and v.along <= along and v.across <= height:
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
        if value + b.stack(lead, room) + b.strip(along, height) + b.sheet(across) < self.least:
            return
        if b.stacked:
            for k in range(at, len(self.lying)):
                v = self.lying[k]
                if self.left[v.kind] and v.across <= room:
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

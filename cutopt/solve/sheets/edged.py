"""Pricing where parts ask for factory edges: two stages; three are in `edged_stacks`.

Each table of `pricing` gets a small state more. With rips first at most one strip at either side
holds parts that ask for an edge there, or one strip as wide as the sheet holds both. With
crosscuts first every strip holds at most one such part at either side. All other strips and places
are filled with parts that ask for none. So the tables still hold every pattern of the rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.model import Bench, Model
from cutopt.solve.sheets.pattern import Strip
from cutopt.solve.sheets.points import Ints, Knapsack
from cutopt.solve.sheets.pricing import Lying, Room, StripPricer
from cutopt.solve.sheets.sides import Edged, Sides, SideStrip, outside, sides_of

__all__ = ["EdgedStripPricer"]


@dataclass(frozen=True, slots=True)
class _Level:
    """A strip height: what strips up to it are worth by sheet length, and where it is read from."""

    height: int
    values: Ints
    mark: int
    copies: int
    along: Ints


class EdgedStripPricer(Edged, StripPricer):
    """Two stages: strips of parts, some of which keep factory edges."""

    def __init__(self, model: Model, bench: Bench, axis: Axis) -> None:
        super().__init__(model, bench, axis)
        self._sides = sides_of(model, bench, self.lying)
        self._all_free = frozenset(self._sides.free)
        self.effort *= 2

    def _edged(self, worth: Ints, most: Ints) -> _RipTables | _CrossTables:
        if self.axis is Axis.RIP:
            return _RipTables(self, worth, most)
        return _CrossTables(self, worth, most)


def _strip(taken: Sequence[tuple[int, int]]) -> Strip:
    return tuple(((t // 2, bool(t % 2)),) for t, n in taken for _ in range(n))


class _RipTables:
    """Rips first: strips at either side hold parts that ask for the edge there."""

    def __init__(self, of: EdgedStripPricer, worth: Ints, most: Ints) -> None:
        self.of, self.worth, self.most = of, worth, most
        sides = of._sides
        self.free = self._levels(of._all_free)
        self.squared = self._levels(of._all_free | frozenset(sides.squared))
        self.far = (
            self.squared
            if sides.far == sides.squared
            else self._levels(of._all_free | frozenset(sides.far))
        )
        self.between = Knapsack(of._across, len(of._lengths))
        for n, level in enumerate(self.free[1]):
            self.between.add(n, level.height, level.values, level.copies)
        self._whole: dict[int, tuple[Knapsack, list[_Level]]] = {}

    def _levels(self, allowed: frozenset[Lying], width: int = -1) -> tuple[Knapsack, list[_Level]]:
        """Strips of the allowed parts by height; with a width one height alone."""
        of, worth, most = self.of, self.worth, self.most
        strips = Knapsack(of._along)
        levels: list[_Level] = []
        copies = 0
        for height, variants in of._heights:
            copies = 0 if width < 0 else copies
            for v in variants:
                if v in allowed and worth[v.kind] > 0 and most[v.kind] > 0:
                    n = int(most[v.kind])
                    copies += n
                    tag = v.kind * 2 + v.turned
                    strips.add(tag, v.along, worth[v.kind : v.kind + 1], n)
            if copies and width < 0:
                values = strips.table[0, of._ends]
                levels.append(_Level(height, values, strips.mark, copies, strips.table[0]))
        if copies and width >= 0:
            values = strips.table[0, of._ends]
            levels.append(_Level(width, values, strips.mark, 1, strips.table[0]))
        return strips, levels

    def _of_width(self, width: int) -> tuple[Knapsack, list[_Level]]:
        """A single strip as wide as the sheet."""
        if width not in self._whole:
            sides = self.of._sides
            part = (*sides.free, *sides.squared, *sides.far)
            fitting = {v for v in part if v.across <= width}
            fitting |= {v for v in sides.both if v.across == width}
            self._whole[width] = self._levels(frozenset(fitting), width)
        return self._whole[width]

    def best(
        self, room: Room, across: int, squared: bool, far: bool
    ) -> tuple[int, list[SideStrip]]:
        """The best strips and what they are worth: (strip, height, side) each."""
        of = self.of
        row = of._lengths.index(room.along)
        end = of._ends[row]

        def things(levels: list[_Level], is_free: bool) -> tuple[Ints, Ints]:
            chosen = levels if is_free else []
            return (
                np.array([level.height for level in chosen], dtype=np.int64),
                np.array([level.values[row] for level in chosen], dtype=np.int64),
            )

        found = outside(
            self.between.table[row],
            of._across.floors,
            across,
            things(self.squared[1], squared),
            things(self.far[1], far),
        )
        made: list[SideStrip] = []
        if squared and far and across == room.across:
            strips, levels = self._of_width(across)
            if levels and int(levels[0].values[row]) > found.value:
                taken = strips.read(end, 0, levels[0].mark)
                return int(levels[0].values[row]), [(_strip(taken), across, "whole")]
        for at, (strips, levels), side in (
            (found.squared, self.squared, "squared"),
            (found.far, self.far, "far"),
        ):
            if at >= 0:
                level = levels[at]
                made.append((_strip(strips.read(end, 0, level.mark)), level.height, side))
                across -= level.height
        strips, levels = self.free
        for n, copies in self.between.read(of._across.floor(across), row):
            strip = _strip(strips.read(end, 0, levels[n].mark))
            made += [(strip, levels[n].height, "")] * copies
        return found.value, made


class _CrossTables:
    """Crosscuts first: the outermost parts of every strip may ask for the edge there."""

    def __init__(self, of: EdgedStripPricer, worth: Ints, most: Ints) -> None:
        self.of, self.worth, self.most = of, worth, most
        sides = of._sides
        self.strips = Knapsack(of._along)
        self.levels: list[_Level] = []
        self.piled = Knapsack(of._across, len(of._lengths))
        for height, variants in of._heights:
            copies = 0
            for v in variants:
                if worth[v.kind] > 0 and most[v.kind] > 0:
                    copies += int(most[v.kind])
                    if v in of._all_free:
                        tag = v.kind * 2 + v.turned
                        value = worth[v.kind : v.kind + 1]
                        self.strips.add(tag, v.along, value, int(most[v.kind]))
            if copies:
                inner = self.strips.table[0].copy()
                values = [self._ends(sides, height, inner, n)[0] for n in of._lengths]
                level = _Level(
                    height, np.array(values, dtype=np.int64), self.strips.mark, copies, inner
                )
                self.piled.add(len(self.levels), height, level.values, copies)
                self.levels.append(level)

    def _ends(
        self, sides: Sides, height: int, inner: Ints, along: int
    ) -> tuple[int, Lying | None, Lying | None]:
        """What a strip of this height and length is worth, and its outermost parts."""

        def useful(things: Sequence[Lying]) -> list[Lying]:
            return [
                v
                for v in things
                if v.across <= height and self.worth[v.kind] > 0 and self.most[v.kind] > 0
            ]

        def sized(things: Sequence[Lying]) -> tuple[Ints, Ints]:
            kinds = [v.kind for v in things]
            return np.array([v.along for v in things], dtype=np.int64), self.worth[kinds]

        squared, far = useful(sides.squared), useful(sides.far)
        found = outside(inner, self.of._along.floors, along, sized(squared), sized(far))
        whole = [v for v in useful(sides.both) if v.along == along]
        if whole:
            best = max(whole, key=lambda v: int(self.worth[v.kind]))
            if int(self.worth[best.kind]) > found.value:
                return int(self.worth[best.kind]), best, None
        return (
            found.value,
            squared[found.squared] if found.squared >= 0 else None,
            far[found.far] if found.far >= 0 else None,
        )

    def best(
        self, room: Room, across: int, squared: bool, far: bool
    ) -> tuple[int, list[SideStrip]]:
        """As `_RipTables.best`; every strip reaches both sides."""
        of = self.of
        row = of._lengths.index(room.along)
        at = of._across.floor(across)
        made: list[SideStrip] = []
        for n, copies in self.piled.read(at, row):
            level = self.levels[n]
            _, first, last = self._ends(of._sides, level.height, level.along, room.along)
            left = room.along - sum(v.along for v in (first, last) if v)
            taken = self.strips.read(of._along.floor(left), 0, level.mark)
            ends = tuple(((v.kind, v.turned),) for v in (first, last) if v)
            made += [(_strip(taken) + ends, level.height, "")] * copies
        return int(self.piled.table[row, at]), made

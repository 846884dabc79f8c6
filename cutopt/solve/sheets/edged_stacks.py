"""Pricing where parts ask for factory edges, three stages.

With rips first the outermost part of each stack in a strip at a side may ask for the edge there;
in a single strip as wide as the sheet either end of each stack. With crosscuts first a strip's
outermost stacks may hold any number of parts that ask for the edge at their side; a single stack
as wide as the sheet parts that ask for either.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.model import Bench, Model
from cutopt.solve.sheets.pattern import Stack, Strip
from cutopt.solve.sheets.points import Ints, Knapsack
from cutopt.solve.sheets.pricing import Lying, Room, StackPricer
from cutopt.solve.sheets.sides import Edged, Outside, SideStrip, outside, sides_of

__all__ = ["EdgedStackPricer"]


@dataclass(frozen=True, slots=True)
class _Stacks:
    """Stacks by the widths that are worth something: `rows` has shape (classes, heights).

    `knapsacks` and `marks` say from what, and as of when, each is read.
    """

    classes: NDArray[np.intp]
    rows: Ints
    knapsack: Knapsack
    marks: tuple[int, ...]


class EdgedStackPricer(Edged, StackPricer):
    """Three stages: strips of stacks of parts, some of which keep factory edges."""

    def __init__(self, model: Model, bench: Bench, axis: Axis) -> None:
        super().__init__(model, bench, axis)
        self._sides = sides_of(model, bench, self.lying)
        self.effort *= 2

    def _edged(self, worth: Ints, most: Ints) -> _RipTables | _CrossTables:
        if self.axis is Axis.RIP:
            return _RipTables(self, worth, most)
        return _CrossTables(self, worth, most)


class _Tables:
    """What both axes share: stacks of the allowed parts, and strips of them."""

    def __init__(self, of: EdgedStackPricer, worth: Ints, most: Ints) -> None:
        self.of, self.worth, self.most = of, worth, most

    def useful(self, things: Sequence[Lying]) -> list[Lying]:
        """Those that are worth something and wanted."""
        return [v for v in things if self.worth[v.kind] > 0 and self.most[v.kind] > 0]

    def stacks(self, allowed: Sequence[Lying]) -> _Stacks:
        """Stacks of any number of the allowed parts, for every width."""
        of = self.of
        chosen = frozenset(self.useful(allowed))
        knapsack = Knapsack(of._across)
        rows: list[Ints] = []
        marks: list[int] = []
        for _, variants in of._widths:
            for v in variants:
                if v in chosen:
                    tag, value = v.kind * 2 + v.turned, self.worth[v.kind : v.kind + 1]
                    knapsack.add(tag, v.across, value, int(self.most[v.kind]))
            rows.append(knapsack.table[0].copy())
            marks.append(knapsack.mark)
        return _Stacks(np.arange(len(rows)), np.array(rows), knapsack, tuple(marks))

    def strips(self, stacks: _Stacks) -> Ints:
        """Best worth of strips of these stacks by length and height."""
        return self.of._fill(stacks.classes, stacks.rows)

    def walk(self, strips: Ints, rows: Ints, at: int, height: int) -> Iterator[tuple[int, int]]:
        """The stacks of a strip: (class, place along) each; `height` is a column."""
        of = self.of
        while strips[at, height] > 0:
            for j in range(len(rows)):
                if of._widths[j][0] > of._along.at[at]:
                    continue
                back = int(of._back[at, j])
                if strips[back, height] + rows[j, height] == strips[at, height]:
                    if rows[j, height] > 0:
                        yield j, at
                    at = back
                    break

    def plain(self, stacks: _Stacks, j: int, at: int) -> Stack:
        """A stack of class `j` up to the height at index `at`."""
        taken = stacks.knapsack.read(at, 0, stacks.marks[j])
        return tuple((t // 2, bool(t % 2)) for t, n in taken for _ in range(n))


class _RipTables(_Tables):
    """Rips first."""

    def __init__(self, of: EdgedStackPricer, worth: Ints, most: Ints) -> None:
        super().__init__(of, worth, most)
        sides = of._sides
        self.free = self.stacks(sides.free)
        self.ends = (self.useful(sides.squared), self.useful(sides.far), self.useful(sides.both))
        self.inner = self.strips(self.free)
        self.piled = of._pile(self.inner[of._ends])
        self.rows = (self._ended(self.ends[0]), self._ended(self.ends[1]))
        self.outer = tuple(of._fill(self.free.classes, rows) for rows in self.rows)
        self._whole: dict[int, tuple[Ints, Ints]] = {}

    def _ended(self, ends: Sequence[Lying]) -> Ints:
        """Stacks that begin with at most one of these; shape (classes, heights)."""
        of, rows = self.of, self.free.rows.copy()
        for j, (width, _) in enumerate(of._widths):
            for v in ends:
                if v.along <= width:
                    low, back = of._across.back(v.across)
                    offered = self.free.rows[j, back] + self.worth[v.kind]
                    np.maximum(rows[j, low:], offered, out=rows[j, low:])
        return rows

    def _begun(self, j: int, height: int, side: int) -> Stack:
        """The stack of `_ended`, read back."""
        of, value = self.of, self.rows[side][j, height]
        if self.free.rows[j, height] == value:
            return self.plain(self.free, j, height)
        for v in self.ends[side]:
            if v.along <= of._widths[j][0] and v.across <= of._across.at[height]:
                back = of._across.floor(int(of._across.at[height]) - v.across)
                if self.free.rows[j, back] + self.worth[v.kind] == value:
                    return ((v.kind, v.turned), *self.plain(self.free, j, back))
        raise AssertionError("a stack that no table holds")

    def _both_ends(self, j: int, across: int) -> tuple[int, Lying | None, Outside]:
        """The best stack as high as the sheet: a part as wide as it, or at most one at each end."""
        of, width = self.of, self.of._widths[j][0]

        def sized(things: Sequence[Lying]) -> tuple[Ints, Ints]:
            here = [v if v.along <= width else None for v in things]
            sizes = [v.across if v else across + 1 for v in here]
            return np.array(sizes, dtype=np.int64), self.worth[[v.kind for v in things]]

        found = outside(
            self.free.rows[j],
            of._across.floors,
            across,
            sized(self.ends[0]),
            sized(self.ends[1]),
        )
        lone = [v for v in self.ends[2] if v.along <= width and v.across == across]
        if lone:
            best = max(lone, key=lambda v: int(self.worth[v.kind]))
            if int(self.worth[best.kind]) > found.value:
                return int(self.worth[best.kind]), best, found
        return found.value, None, found

    def _of_width(self, across: int) -> tuple[Ints, Ints]:
        """Rows and strips of a single strip as wide as the sheet, with one column."""
        if across not in self._whole:
            values = [self._both_ends(j, across)[0] for j in range(len(self.free.rows))]
            rows = np.array(values, dtype=np.int64)[:, None]
            self._whole[across] = rows, self.of._fill(self.free.classes, rows)
        return self._whole[across]

    def best(
        self, room: Room, across: int, squared: bool, far: bool
    ) -> tuple[int, list[SideStrip]]:
        """The best strips and what they are worth: (strip, height, side) each."""
        of = self.of
        row = of._lengths.index(room.along)
        end = of._ends[row]
        heights = of._across.at

        def things(side: int, is_free: bool) -> tuple[NDArray[np.intp], Ints]:
            gains = self.outer[side][end]
            useful = np.flatnonzero(np.diff(gains, prepend=0) > 0)
            useful = useful[heights[useful] <= across] if is_free else useful[:0]
            return useful, gains[useful]

        first, last = things(0, squared), things(1, far)
        found = outside(
            self.piled.best[row],
            of._stops.floors,
            across,
            (heights[first[0]], first[1]),
            (heights[last[0]], last[1]),
        )
        if squared and far and across == room.across:
            rows, strips = self._of_width(across)
            if int(strips[end, 0]) > found.value:
                made = tuple(
                    self._read_whole(j, across) for j, _ in self.walk(strips, rows, end, 0)
                )
                return int(strips[end, 0]), [(made, across, "whole")]
        made_of: list[SideStrip] = []
        for at, useful, side in ((found.squared, first[0], 0), (found.far, last[0], 1)):
            if at >= 0:
                h = int(useful[at])
                strip = tuple(
                    self._begun(j, h, side)
                    for j, _ in self.walk(self.outer[side], self.rows[side], end, h)
                )
                made_of.append((strip, int(heights[h]), ("squared", "far")[side]))
                across -= int(heights[h])
        for h in self.piled.read(row, of._stops.floor(across)):
            strip = tuple(
                self.plain(self.free, j, h)
                for j, _ in self.walk(self.inner, self.free.rows, end, h)
            )
            made_of.append((strip, int(heights[h]), ""))
        return found.value, made_of

    def _read_whole(self, j: int, across: int) -> Stack:
        _, lone, found = self._both_ends(j, across)
        if lone is not None:
            return ((lone.kind, lone.turned),)
        ends = [self.ends[side][at] for side, at in ((0, found.squared), (1, found.far)) if at >= 0]
        left = across - sum(v.across for v in ends)
        inner = self.plain(self.free, j, self.of._across.floor(left))
        return tuple((v.kind, v.turned) for v in ends) + inner


class _CrossTables(_Tables):
    """Crosscuts first: every strip reaches both sides."""

    def __init__(self, of: EdgedStackPricer, worth: Ints, most: Ints) -> None:
        super().__init__(of, worth, most)
        sides = of._sides
        self.free = self.stacks(sides.free)
        self.sided = (
            self.stacks((*sides.free, *sides.squared)),
            self.stacks((*sides.free, *sides.far)),
        )
        self.inner = self.strips(self.free)
        #: Classes of stacks at either side that are worth more than the narrower ones.
        self._wider = tuple(_wider(stacks.rows) for stacks in self.sided)
        self._first: dict[int, Ints] = {}
        self.whole = {n: self._as_wide(n) for n in of._lengths}
        self.values = np.array([self._ends(n) for n in of._lengths])
        self.piled = of._pile(self.values)

    def _as_wide(self, along: int) -> tuple[Ints, Knapsack]:
        """A single stack as wide as the sheet, by height."""
        sides = self.of._sides
        part = (*sides.free, *sides.squared, *sides.far)
        fitting = {v for v in part if v.along <= along}
        fitting |= {v for v in sides.both if v.along == along}
        knapsack = Knapsack(self.of._across)
        for v in sorted(self.useful(tuple(fitting)), key=lambda v: (v.along, -v.across, v.kind)):
            tag, value = v.kind * 2 + v.turned, self.worth[v.kind : v.kind + 1]
            knapsack.add(tag, v.across, value, int(self.most[v.kind]))
        return knapsack.table[0], knapsack

    def _begun(self, at: int) -> Ints:
        """Strips up to a place along, at most one stack of them at the squared side."""
        if at not in self._first:
            of, rows = self.of, self.sided[0].rows
            best = self.inner[at]
            reach = [j for j in self._wider[0] if of._widths[j][0] <= of._along.at[at]]
            if reach:
                offered = self.inner[of._back[at, reach]] + rows[reach]
                best = np.maximum(best, offered.max(axis=0))
            self._first[at] = best
        return self._first[at]

    def _ends(self, along: int) -> Ints:
        """What strips of this length are worth by height."""
        of = self.of
        best = np.maximum(self.whole[along][0], self._begun(of._along.floor(along)))
        for k in self._wider[1]:
            if of._widths[k][0] <= along:
                at = of._along.floor(along - of._widths[k][0])
                np.maximum(best, self._begun(at) + self.sided[1].rows[k], out=best)
        return best

    def best(
        self, room: Room, across: int, squared: bool, far: bool
    ) -> tuple[int, list[SideStrip]]:
        """As `_RipTables.best`; every strip reaches both sides."""
        of = self.of
        row = of._lengths.index(room.along)
        at = of._stops.floor(across)
        heights = self.piled.read(row, at)
        made = [(self._strip_of(room.along, row, h), int(of._across.at[h]), "") for h in heights]
        return int(self.piled.best[row, at]), made

    def _strip_of(self, along: int, row: int, height: int) -> Strip:
        of, value = self.of, int(self.values[row, height])
        table, knapsack = self.whole[along]
        for k in (-1, *self._wider[1]):
            width = of._widths[k][0] if k >= 0 else 0
            gain = int(self.sided[1].rows[k, height]) if k >= 0 else 0
            if width <= along:
                at = of._along.floor(along - width)
                if int(self._begun(at)[height]) + gain == value:
                    last = [self.plain(self.sided[1], k, height)] if gain else []
                    return (*self._read_begun(at, height), *last)
        assert table[height] == value  # noqa: S101  a value that some table holds
        taken = knapsack.read(height)
        return (tuple((t // 2, bool(t % 2)) for t, n in taken for _ in range(n)),)

    def _read_begun(self, at: int, height: int) -> Iterator[Stack]:
        of, value = self.of, int(self._begun(at)[height])
        if self.inner[at, height] != value:
            for j in self._wider[0]:
                back = int(of._back[at, j])
                gain = int(self.sided[0].rows[j, height])
                if of._widths[j][0] <= of._along.at[at] and (
                    self.inner[back, height] + gain == value
                ):
                    yield self.plain(self.sided[0], j, height)
                    at = back
                    break
        for i, _ in self.walk(self.inner, self.free.rows, at, height):
            yield self.plain(self.free, i, height)


def _wider(rows: Ints) -> list[int]:
    """Rows that hold more than the one before."""
    return np.flatnonzero(np.diff(rows, axis=0, prepend=0).any(axis=1)).tolist()

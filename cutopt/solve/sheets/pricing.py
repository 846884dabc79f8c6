"""The dearest pattern for given worths of the parts, for every sheet of a bench at once.

Both tables contain every pattern of their cutting rule, so that their values bound it from above:

* two stages: strips as high as their highest part, filled by a knapsack along the strip in which
  no kind is taken more often than it is needed; then a knapsack of strips across the sheet, of
  each height at most as many as there are parts that high;
* three stages: stacks as wide as their widest part, filled across the strip by the same bounded
  knapsack, for every strip height that is a sum of part sizes (a strip can always be lowered to
  its highest stack); any number of stacks along the strip; any number of strips across the sheet.

Worths are integers and so is every sum: what is proved from these values rests on no float.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.limit import LOOK, Priced, Pricer
from cutopt.solve.sheets.model import Bench, Model
from cutopt.solve.sheets.pattern import Pattern, Stack, Strip, counts, trimmed
from cutopt.solve.sheets.piles import Filled, Piles
from cutopt.solve.sheets.points import Ints, Knapsack, Points

__all__ = ["Bounds", "Lying", "Priced", "Room", "StackPricer", "StripPricer"]


#: Strip lengths that one table of strips side by side holds: it stays in the processor's cache.
_ROWS = 12


@dataclass(frozen=True, slots=True)
class Lying:
    """A variant as it lies in a strip."""

    kind: int
    turned: bool
    along: int
    across: int


@dataclass(frozen=True, slots=True)
class Bounds:
    """What can still be gained on one sheet, from the tables of a pricing.

    `along` and `across` are the sheet's measures as its strips see them; `stacked` is whether a
    stack may hold more than one part. `sheet` bounds strips in what is left across, `strip` what
    fits into a rest along a strip of a height, `stack` what fits behind a first part.
    """

    number: int
    along: int
    across: int
    stacked: bool
    sheet: Callable[[int], int]
    strip: Callable[[int, int], int]
    stack: Callable[[Lying, int], int]


@dataclass(frozen=True, slots=True)
class Room:
    """A sheet seen from its strips: how long a strip is and how many lie side by side."""

    sheet: int
    along: int
    across: int


def _lying(bench: Bench, axis: Axis) -> list[Lying]:
    if axis is Axis.RIP:
        return [Lying(v.kind, v.turned, v.length, v.width) for v in bench.variants]
    return [Lying(v.kind, v.turned, v.width, v.length) for v in bench.variants]


def _rooms(model: Model, bench: Bench, axis: Axis) -> list[Room]:
    sheets = [(q, model.sheets[q]) for q in bench.sheets]
    if axis is Axis.RIP:
        return [Room(q, s.length, s.width) for q, s in sheets]
    return [Room(q, s.width, s.length) for q, s in sheets]


class _Pile:
    """Strips side by side, height by height; a row per strip length.

    A height at which no strip becomes worth more is left out where as many lower strips as there is
    room for may be had.
    """

    def __init__(self, beside: Knapsack, ends: NDArray[np.intp]) -> None:
        self.beside, self.ends = beside, ends
        self._last: Ints | None = None
        self._most = int(beside.points.at[beside.table.shape[1] - 1])

    def offer(self, level: int, height: int, values: Ints, copies: int) -> None:
        """Up to `copies` strips of a height; `values` has shape (rows,)."""
        if self._last is not None and (values == self._last).all():
            return
        self.beside.add(level, height, values, copies)
        self._last = values if copies * height >= self._most else None


class StripPricer(Pricer):
    """Two stages: strips of parts.

    Parameters
    ----------
    model, bench, axis
        What is cut, from what, and along which axis first.
    """

    def __init__(self, model: Model, bench: Bench, axis: Axis) -> None:
        self.bench, self.axis = bench, axis
        self._rooms = _rooms(model, bench, axis)
        lying = sorted(_lying(bench, axis), key=lambda v: (v.across, -v.along, v.kind))
        self.lying = tuple(lying)
        self._heights = [(h, list(vs)) for h, vs in groupby(lying, key=lambda v: v.across)]
        self._lengths = sorted({r.along for r in self._rooms})
        most = model.most
        copies = [most[v.kind] for v in lying]
        widest = max(r.across for r in self._rooms)
        self._along = Points([v.along for v in lying], copies, self._lengths[-1], even=True)
        self._across = Points([v.across for v in lying], copies, widest, even=True)
        self._ends = [self._along.floor(a) for a in self._lengths]
        across = len(self._across) * len(self._lengths)
        self.effort = 3 * len(lying) * (1000 + len(self._along) + across)

    def unlimited(self, worth: Ints, most: Ints, open_sheets: Sequence[bool]) -> list[Priced]:
        """As `price`, with any number of parts."""
        rooms = [r for r in self._rooms if open_sheets[r.sheet]]
        strips, beside, marks = self._tables(worth, most, rooms)
        found: list[Priced] = []
        for r in rooms:
            row = self._lengths.index(r.along)
            at = self._across.floor(r.across)
            sheet, own = beside[row]
            value = int(sheet.table[own, at])
            if value > 0:
                made: list[Strip] = []
                for level, copies in sheet.read(at, own):
                    taken = strips.read(self._ends[row], 0, marks[level])
                    strip = tuple(((t // 2, bool(t % 2)),) for t, n in taken for _ in range(n))
                    made += [strip] * copies
                found.append(Priced(value, Pattern(r.sheet, self.axis, tuple(made))))
        return found

    def _tables(
        self, worth: Ints, most: Ints, rooms: Sequence[Room]
    ) -> tuple[Knapsack, dict[int, tuple[Knapsack, int]], list[int]]:
        """Strips filled, strips side by side (by strip length a table and its row in it), and when
        each height was.
        """
        strips = Knapsack(self._along)
        marks: list[int] = []
        widest: dict[int, int] = {}
        for r in rooms:
            row = self._lengths.index(r.along)
            widest[row] = max(widest.get(row, 0), self._across.floor(r.across) + 1)
        rows = sorted(widest, key=lambda row: (-widest[row], row))
        groups = [rows[n : n + _ROWS] for n in range(0, len(rows), _ROWS)]
        piles = [
            _Pile(
                Knapsack(self._across, len(group), widest[group[0]]),
                np.array([self._ends[row] for row in group]),
            )
            for group in groups
        ]
        for level, (height, variants) in enumerate(self._heights):
            if level % LOOK == 0:
                self.look()
            room = 0
            for v in variants:
                if worth[v.kind] > 0 and most[v.kind] > 0:
                    copies = int(most[v.kind])
                    room += copies
                    tag = v.kind * 2 + v.turned
                    strips.add(tag, v.along, worth[v.kind : v.kind + 1], copies)
            marks.append(strips.mark)
            if not room:
                continue
            for pile in piles:
                pile.offer(level, height, strips.table[0, pile.ends], room)
        beside = {
            row: (pile.beside, n)
            for group, pile in zip(groups, piles, strict=True)
            for n, row in enumerate(group)
        }
        return strips, beside, marks

    def _filled_up(self, worth: Ints, need: Ints, sheet: int) -> Pattern:
        room = next(r for r in self._rooms if r.sheet == sheet)
        row = self._lengths.index(room.along)
        left = need.copy()
        across = room.across
        made: list[Strip] = []
        while True:
            strips, beside, marks = self._tables(worth, left, [replace(room, across=across)])
            levels = beside[row][0].read(self._across.floor(across))
            if not levels:
                return Pattern(sheet, self.axis, tuple(made))
            level = max(level for level, _ in levels)
            taken = strips.read(self._ends[row], 0, marks[level])
            strip: list[Stack] = []
            for t, n in taken:
                n = min(n, int(left[t // 2]))
                left[t // 2] -= n
                strip += [((t // 2, bool(t % 2)),)] * n
            made.append(tuple(strip))
            across -= self._heights[level][0]

    def bounds(self, worth: Ints, need: Ints, sheet: int) -> Bounds | None:
        """What can still be gained while a pattern is built on the sheet; None: can't be told."""
        room = next(r for r in self._rooms if r.sheet == sheet)
        row = self._lengths.index(room.along)
        strips = Knapsack(self._along)
        piled = Knapsack(self._across, len(self._lengths))
        tables: list[list[int]] = []
        for level, (height, variants) in enumerate(self._heights):
            copies = 0
            for v in variants:
                if worth[v.kind] > 0 and need[v.kind] > 0:
                    copies += int(need[v.kind])
                    tag, value = v.kind * 2 + v.turned, worth[v.kind : v.kind + 1]
                    strips.add(tag, v.along, value, int(need[v.kind]))
            tables.append(strips.table[0].tolist())
            if copies:
                piled.add(level, height, strips.table[0, self._ends], copies)
        heights = [h for h, _ in self._heights]
        along, across = self._along.at.tolist(), self._across.at.tolist()
        beside = piled.table[row].tolist()

        def strip(left: int, height: int) -> int:
            level = bisect_right(heights, height) - 1
            return int(tables[level][bisect_right(along, left) - 1]) if level >= 0 else 0

        def rest(left: int) -> int:
            return int(beside[bisect_right(across, left) - 1]) if left >= 0 else 0

        return Bounds(sheet, room.along, room.across, False, rest, strip, lambda v, left: 0)


class StackPricer(Pricer):
    """Three stages: strips of stacks of parts."""

    def __init__(self, model: Model, bench: Bench, axis: Axis) -> None:
        self.bench, self.axis = bench, axis
        self._rooms = _rooms(model, bench, axis)
        lying = sorted(_lying(bench, axis), key=lambda v: (v.along, -v.across, v.kind))
        self.lying = tuple(lying)
        self._widths = [(w, list(vs)) for w, vs in groupby(lying, key=lambda v: v.along)]
        self._lengths = sorted({r.along for r in self._rooms})
        most = model.most
        longest = self._lengths[-1]
        # Stacks are not bounded in number: every multiple of a width may be a place.
        self._along = Points(
            [w for w, _ in self._widths], [longest // w for w, _ in self._widths], longest
        )
        self._across = Points(
            [v.across for v in lying],
            [most[v.kind] for v in lying],
            max(r.across for r in self._rooms),
        )
        # A strip may be as high as any sum; strips side by side end at sums of such sums.
        highest = max(r.across for r in self._rooms)
        sizes = sorted({v.across for v in lying})
        self._stops = Points(sizes, [highest // s for s in sizes], highest)
        self._ends = [self._along.floor(a) for a in self._lengths]
        width = np.array([w for w, _ in self._widths], dtype=np.int64)
        self._reach = np.searchsorted(width, self._along.at, side="right")
        self._back = (
            np.searchsorted(self._along.at, self._along.at[:, None] - width[None, :], side="right")
            - 1
        )
        self._piles = Piles(self._stops, self._across.at)
        cells = len(self._along) * len(self._widths) * len(self._across)
        piles = len(self._stops) * (5000 + len(self._across) * len(self._lengths))
        self.effort = 2 * cells + 2 * piles

    def unlimited(self, worth: Ints, most: Ints, open_sheets: Sequence[bool]) -> list[Priced]:
        """As `price`, with any number of parts."""
        filled = self._filled(worth, most)
        if filled is None:
            return []
        strips, rows, classes, stacks, marks = filled
        values = strips[self._ends]
        piled = self._pile(values)
        found: list[Priced] = []
        for r in self._rooms:
            if not open_sheets[r.sheet]:
                continue
            row = self._lengths.index(r.along)
            at = self._stops.floor(r.across)
            worthy = int(piled.best[row, at])
            if worthy <= 0:
                continue
            made = tuple(
                self._strip(strips, rows, classes, stacks, marks, row, h)
                for h in piled.read(row, at)
            )
            found.append(Priced(worthy, Pattern(r.sheet, self.axis, made)))
        return found

    def _filled(
        self, worth: Ints, most: Ints
    ) -> tuple[Ints, list[Ints], list[int], Knapsack, list[int]] | None:
        """Strips by length and height; their stacks' worths, widths, table and moments."""
        stacks = Knapsack(self._across)
        classes: list[int] = []
        marks: list[int] = []
        rows: list[Ints] = []
        for i, (_, variants) in enumerate(self._widths):
            used = False
            for v in variants:
                if worth[v.kind] > 0 and most[v.kind] > 0:
                    tag, value = v.kind * 2 + v.turned, worth[v.kind : v.kind + 1]
                    used |= stacks.add(tag, v.across, value, int(most[v.kind]))
            if used:
                classes.append(i)
                marks.append(stacks.mark)
                rows.append(stacks.table[0].copy())
        if not rows:
            return None
        strips = self._fill(np.array(classes, dtype=np.intp), np.array(rows))
        return strips, rows, classes, stacks, marks

    def _filled_up(self, worth: Ints, need: Ints, sheet: int) -> Pattern:
        room = next(r for r in self._rooms if r.sheet == sheet)
        row = self._lengths.index(room.along)
        left = need.copy()
        across = room.across
        made: list[Strip] = []
        while True:
            filled = self._filled(worth, left)
            if filled is None:
                return Pattern(sheet, self.axis, tuple(made))
            strips, rows, classes, stacks, marks = filled
            piled = self._pile(strips[self._ends[row : row + 1]])
            highest = max(piled.read(0, self._stops.floor(across)), default=-1)
            if highest < 0:
                return Pattern(sheet, self.axis, tuple(made))
            strip = self._strip(strips, rows, classes, stacks, marks, row, highest)
            kept = trimmed(Pattern(sheet, self.axis, (strip,)), left.tolist())
            left -= counts(kept, len(left))
            made += kept.strips
            across -= int(self._across.at[highest])

    def bounds(self, worth: Ints, need: Ints, sheet: int) -> Bounds | None:
        """As `StripPricer.bounds`."""
        room = next(r for r in self._rooms if r.sheet == sheet)
        filled = self._filled(worth, need)
        if filled is None:  # nothing is worth anything, and may yet be cut
            none = (lambda left: 0, lambda left, height: 0, lambda lead, left: 0)
            return Bounds(sheet, room.along, room.across, True, *none)
        strips, rows, classes, _, _ = filled
        row = self._lengths.index(room.along)
        best = self._pile(strips[self._ends[row : row + 1]]).best
        widths = [self._widths[i][0] for i in classes]
        along, across = self._along.at.tolist(), self._across.at.tolist()
        stops, beside = self._stops.at.tolist(), best[0].tolist()
        filled_by = strips.tolist()
        stacked = [r.tolist() for r in rows]

        def strip(left: int, height: int) -> int:
            a, h = bisect_right(along, left) - 1, bisect_right(across, height) - 1
            return int(filled_by[a][h]) if a >= 0 and h >= 0 else 0

        def rest(left: int) -> int:
            return int(beside[bisect_right(stops, left) - 1]) if left >= 0 else 0

        def stack(lead: Lying, left: int) -> int:
            j, h = bisect_right(widths, lead.along) - 1, bisect_right(across, left) - 1
            return int(stacked[j][h]) if j >= 0 and h >= 0 else 0

        return Bounds(sheet, room.along, room.across, True, rest, strip, stack)

    def _fill(self, classes: NDArray[np.intp], rows: Ints) -> Ints:
        """Best worth of a strip by its length and height; shape (places along, heights)."""
        best: Ints = np.zeros((len(self._along), rows.shape[1]), dtype=np.int64)
        back = self._back[:, classes]
        reach = np.searchsorted(classes, self._reach, side="left")
        offered = np.empty_like(rows)
        for c in range(1, len(self._along)):
            if c % LOOK == 0:
                self.look()
            k = int(reach[c])
            if not k:
                continue
            here = offered[:k]
            np.take(best, back[c, :k], axis=0, out=here, mode="clip")
            here += rows[:k]
            here.max(axis=0, out=best[c])
        return best

    def _pile(self, values: Ints) -> Filled:
        """Strips side by side; `values` has shape (lengths, heights)."""
        return self._piles.fill(values, self.look)

    def _strip(
        self,
        strips: Ints,
        rows: Sequence[Ints],
        classes: Sequence[int],
        stacks: Knapsack,
        marks: Sequence[int],
        row: int,
        height: int,
    ) -> Strip:
        made: list[Stack] = []
        at = self._ends[row]
        while strips[at, height] > 0:
            for j, i in enumerate(classes):
                if self._widths[i][0] > self._along.at[at]:
                    continue
                back = int(self._back[at, i])
                if strips[back, height] + rows[j][height] == strips[at, height]:
                    if rows[j][height] > 0:
                        taken = stacks.read(height, 0, marks[j])
                        made.append(
                            tuple((t // 2, bool(t % 2)) for t, n in taken for _ in range(n))
                        )
                    at = back
                    break
        return tuple(made)

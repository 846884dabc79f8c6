"""Two stages where a sheet gives few parts: the tables of `pricing` with the parts counted.

A strip's best worth is known for every number of parts up to M, and so is that of strips side by
side: the dearest pattern of at most M parts, exactly.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.sheets.limit import LOOK, Priced
from cutopt.solve.sheets.pattern import Pattern, Strip, counts
from cutopt.solve.sheets.points import Ints, Points, chunks
from cutopt.solve.sheets.pricing import Lying, StripPricer

__all__ = ["FewStripPricer"]


class _Counted:
    """Best values by number of parts and place; as `Knapsack`, with what was taken kept."""

    def __init__(self, points: Points, most: int) -> None:
        self.points, self.most = points, most
        self.table: Ints = np.zeros((most + 1, len(points)), dtype=np.int64)
        self._steps: list[tuple[int, int, int, NDArray[np.intp], NDArray[np.bool_]]] = []

    @property
    def mark(self) -> int:
        """The moment, to read back from later."""
        return len(self._steps)

    def add(self, tag: int, size: int, value: int, copies: int) -> None:
        """Offer up to `copies` of a part."""
        cap = int(self.points.at[-1])
        for m in chunks(min(copies, self.most, cap // size)):
            low, back = self.points.back(m * size)
            if not len(back):
                break
            offered = self.table[: self.most + 1 - m, back] + m * value
            here = self.table[m:, low:]
            took = offered > here
            if took.any():
                np.maximum(here, offered, out=here)
                self._steps.append((tag, m, low, back, took))

    def read(self, at: int, parts: int, mark: int) -> Iterator[tuple[int, int]]:
        """What makes up the best value of at most so many parts: (tag, copies)."""
        for tag, m, low, back, took in reversed(self._steps[:mark]):
            if at >= low and parts >= m and took[parts - m, at - low]:
                yield tag, m
                at, parts = int(back[at - low]), parts - m


class FewStripPricer(StripPricer):
    """Strips of parts, at most `max_parts` of them on a sheet; values are exact within that."""

    def price(self, worth: Ints, most: Ints, open_sheets: Sequence[bool]) -> list[Priced]:
        """The best pattern of few parts per open sheet that has one of some worth.

        Parts are counted only where the best pattern of any number has too many.
        """
        limit = self.bench.max_parts
        found = self.unlimited(worth, most, open_sheets)
        few = [p for p in found if counts(p.pattern, len(worth)).sum() <= limit]
        if len(few) == len(found):
            return found
        done = {p.pattern.sheet for p in few}
        open_sheets = [is_open and q not in done for q, is_open in enumerate(open_sheets)]
        strips = _Counted(self._along, limit)
        heights: list[int] = []
        marks: list[int] = []
        values: list[Ints] = []
        for height, variants in self._heights:
            for v in variants:
                self._offer(strips, v, worth, most)
            if strips.mark > (marks[-1] if marks else 0):
                heights.append(height)
                marks.append(strips.mark)
                values.append(strips.table[:, self._ends].copy())
        if not heights:
            return few
        # By sheet length, number of parts and level; no strip ends at a level that adds nothing.
        gains = np.array(values).transpose(2, 1, 0)
        useful = np.flatnonzero(np.diff(gains, axis=2, prepend=0).any(axis=(0, 1)))
        gains, sizes = gains[:, :, useful], np.array(heights, dtype=np.int64)[useful]
        marks = [marks[n] for n in useful.tolist()]
        rooms = [r for r in self._rooms if open_sheets[r.sheet]]
        tables = self._piled(sizes, gains, max(r.across for r in rooms))
        for r in rooms:
            row, at = self._lengths.index(r.along), self._across.floor(r.across)
            table = tables[row]
            if table[limit, at] > 0:
                made = tuple(self._read(table, gains[row], sizes, strips, marks, row, at))
                few.append(Priced(int(table[limit, at]), Pattern(r.sheet, self.axis, made)))
        return few

    def _offer(self, strips: _Counted, v: Lying, worth: Ints, most: Ints) -> None:
        if worth[v.kind] > 0 and most[v.kind] > 0:
            tag = v.kind * 2 + v.turned
            strips.add(tag, v.along, int(worth[v.kind]), int(most[v.kind]))

    def _piled(self, sizes: Ints, gains: Ints, across: int) -> Ints:
        """Strips side by side: best worth by sheet length, number of parts and place.

        `gains` has shape (lengths, parts, levels).
        """
        at = self._across.at
        rows, parts, _ = gains.shape
        table: Ints = np.zeros((rows, parts, len(at)), dtype=np.int64)
        reach = np.searchsorted(sizes, at, side="right").tolist()
        for c in range(1, self._across.floor(across) + 1):
            if c % LOOK == 0:
                self.look()
            best = table[:, :, c - 1].copy()
            if n := reach[c]:
                behind = table[:, :, self._across.floors(at[c] - sizes[:n])]
                for k in range(1, parts):
                    offered = behind[:, : parts - k] + gains[:, k, None, :n]
                    np.maximum(best[:, k:], offered.max(axis=2), out=best[:, k:])
            table[:, :, c] = best
        return table

    def _read(
        self,
        table: Ints,
        gains: Ints,
        sizes: Ints,
        strips: _Counted,
        marks: Sequence[int],
        row: int,
        at: int,
    ) -> Iterator[Strip]:
        parts = len(gains) - 1
        while table[parts, at] > 0:
            value = int(table[parts, at])
            if at and table[parts, at - 1] == value:
                at -= 1
                continue
            level, k, back = self._last(table, gains, sizes, parts, at)
            taken = strips.read(self._ends[row], k, marks[level])
            yield tuple(((t // 2, bool(t % 2)),) for t, n in taken for _ in range(n))
            parts, at = parts - k, back

    def _last(
        self, table: Ints, gains: Ints, sizes: Ints, parts: int, at: int
    ) -> tuple[int, int, int]:
        """The level of a strip that the value ends with, its parts, and the place before it."""
        value, place = int(table[parts, at]), int(self._across.at[at])
        for level, size in enumerate(sizes.tolist()):
            if size > place:
                break
            back = self._across.floor(place - size)
            for k in range(1, parts + 1):
                if int(table[parts - k, back]) + int(gains[k, level]) == value:
                    return level, k, back
        raise AssertionError("a value that no strip gives")

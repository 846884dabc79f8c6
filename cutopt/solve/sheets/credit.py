"""What a pattern and its kept drops can be worth together at most: the bound where drops earn.

A table over strips of stacks of parts, as for three stages, in which kept drops are counted where
they can come off: beside a part by the trimming cut, on top of a stack, behind the last stack of a
strip, above the last strip. Stacks may be wider and strips higher than their parts, so that a drop
in them grows. Every width and height falls between two of the table's: it is counted to take no
more room than the lower one and to earn as if it all but reached the upper one. So the table's
value bounds the worth of parts and drops of every pattern of the rule (and of fewer stages), from
above and in integers: credits are rounded up.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.limit import LOOK, Priced, go_on
from cutopt.solve.sheets.model import Bench, Model
from cutopt.solve.sheets.pattern import Pattern, Stack, Strip
from cutopt.solve.sheets.points import Ints, Knapsack, Points

__all__ = ["CreditPricer"]

#: Widths and heights that a drop may have lie no farther apart than this share of the sheet.
_FINE = 64
#: Most places along a measure that are told apart exactly, and about how many else.
_PLACES, _ROUGH = 2_500, 1_500
#: Below any worth.
_NEVER = -(1 << 62)


@dataclass(frozen=True, slots=True)
class _Lying:
    """A part as it lies in a strip, kerf added; `wide` is its finished measure across."""

    kind: int
    turned: bool
    along: int
    across: int
    wide: int


@dataclass(slots=True)
class _Class:
    """Stacks of one width: what they are worth by height, and how that came about."""

    width: int
    value: Ints
    filled: Knapsack
    mark: int
    #: Up to which point parts lie, by height, where a drop lies on top; −1 for none.
    under: NDArray[np.intp]


def _unit(
    sizes: Sequence[tuple[int, bool, int, int]], rooms: Sequence[tuple[int, int, int]]
) -> int:
    """What measures are rounded to: parts down and sheets up, which never lowers the bound.

    1 where sums of parts end at few enough places without it.
    """
    longest = max(max(a, b) for _, a, b in rooms)
    for measure in (2, 3):
        several = sorted({size[measure] for size in sizes})
        longest_here = max(room[measure - 1] for room in rooms)
        places = Points(several, [longest_here // n for n in several], longest_here)
        if len(places) > _PLACES:
            least = min(min(a, b) for _, _, a, b in sizes)
            return max(1, min(longest // _ROUGH, least))
    return 1


class CreditPricer:
    """Bounds parts and kept drops of a bench's sheets for one axis of the first cuts.

    Parameters
    ----------
    model, bench, axis
        What is cut, from what, and along which axis first.
    scale
        Worths are dollars / `scale`.
    keep
        The least (length, width) of a drop that is kept.
    """

    #: As of `Pricer`.
    look: Callable[[], None] = staticmethod(go_on)

    def __init__(
        self, model: Model, bench: Bench, axis: Axis, scale: int, keep: tuple[int, int]
    ) -> None:
        self.bench, self.axis, self.kerf = bench, axis, bench.kerf
        rip = axis is Axis.RIP
        self.least_along, self.least_across = keep if rip else (keep[1], keep[0])
        self.credit = bench.credit * scale
        sizes = [
            (v.kind, v.turned, *((v.length, v.width) if rip else (v.width, v.length)))
            for v in bench.variants
        ]
        rooms = [
            (q, s.length, s.width) if rip else (q, s.width, s.length)
            for q, s in ((q, model.sheets[q]) for q in bench.sheets)
        ]
        unit = _unit(sizes, rooms)
        self.lying = sorted(
            (
                _Lying(kind, turned, a // unit * unit, b // unit * unit, b - bench.kerf)
                for kind, turned, a, b in sizes
            ),
            key=lambda v: (v.along, -v.across, v.kind),
        )
        self.rooms = [(q, -(-a // unit) * unit, -(-b // unit) * unit) for q, a, b in rooms]
        self._set_out(model)

    def _set_out(self, model: Model) -> None:
        """The places of the table."""
        kerf, most = self.kerf, model.most
        long = max(a for _, a, _ in self.rooms)
        high = max(b for _, _, b in self.rooms)
        drop = self.least_along + kerf
        sizes = {drop} | {v.along for v in self.lying}
        sizes |= {v.along + drop for v in self.lying if v.wide >= self.least_across}
        sizes |= set(range(drop, long + 1, max(1, long // _FINE)))
        #: Widths of stacks, and the widest finished width that counts as each.
        self.widths = sorted(s for s in sizes if s <= long)
        self._upper = [w - 1 - kerf for w in self.widths[1:]] + [long - kerf]
        parts = {v.along for v in self.lying}
        self._is_part = [w in parts for w in self.widths]
        self._along = Points(sorted(parts), [long // w for w in sorted(parts)], long)
        self._across = Points(
            [v.across for v in self.lying], [most[v.kind] for v in self.lying], high
        )
        tall = self.least_across + kerf
        marks = [tall, *(v.across + tall for v in self.lying)]
        marks += range(tall, high + 1, max(1, high // _FINE))
        for _, _, b in self.rooms:
            marks += [b, b + 1]
        extra = np.array([m for m in marks if m <= high], dtype=np.int64)
        exact = set(self._across.at.tolist())
        self._across.at = np.union1d(self._across.at, extra)
        at = self._across.at.tolist()
        #: The highest finished height that counts as each point.
        self._high: Ints = np.array([h - 1 - kerf for h in at[1:]] + [high - kerf], dtype=np.int64)
        heights = sorted({v.across for v in self.lying})
        self._stops = Points(heights, [high // h for h in heights], high)
        # What ends between two points counts as ending at the lower, and on the sheet at all.
        ends = [a + 1 for _, a, _ in self.rooms], [b + 1 for _, _, b in self.rooms]
        for points, end, whole in ((self._along, ends[0], long), (self._stops, ends[1], high)):
            fine = range(0, whole, max(1, whole // _FINE))
            points.at = np.union1d(points.at, [*end, *fine])
        self._ends = [self._along.floor(a) for _, a, _ in self.rooms]
        self._back = self._behind(self._along, self.widths, self._is_part)
        self._pile_back = self._behind(self._stops, at, [h in exact for h in at])
        cells = len(self._along) * len(self.widths) * len(at)
        self.effort = 2 * cells + len(self._stops) * (5000 + len(at) * len(self.rooms))

    def _behind(
        self, points: Points, sizes: Sequence[int], exact: Sequence[bool]
    ) -> NDArray[np.intp]:
        """Index of the point behind a thing that ends at each point; −1 where it does not fit.

        A size that is no part's may end between two points: it then counts as ending at the lower.
        """
        at = points.at
        size = np.array(sizes, dtype=np.int64)
        found = np.searchsorted(at, at[:, None] - size[None, :], side="right") - 1
        after = np.append(at[1:], at[-1] + 1)
        loose = np.searchsorted(at, after[:, None] - size[None, :], side="left") - 1
        loose = np.minimum(loose, np.arange(len(at))[:, None] - 1)
        return np.where(np.array(exact)[None, :], found, np.maximum(found, loose)).astype(np.intp)

    def price(self, worth: Ints, most: Ints, open_sheets: Sequence[bool]) -> list[Priced]:
        """Per open sheet a bound, and the pattern whose parts and drops come to it in the table.

        Arguments as of `Pricer.price`; the pattern may hold more of a kind than are wanted,
        and no part at all where drops alone are worth most.
        """
        classes = self._classes(worth, most)
        if not classes:
            return []
        strips = self._strips(classes)
        found: list[Priced] = []
        for (q, along, across), end in zip(self.rooms, self._ends, strict=True):
            if not open_sheets[q]:
                continue
            self.look()
            values, ends = self._whole_strips(strips, along, end)
            best, choice = self._pile(values)
            last = self._stops.floor(across)
            left = across - self.kerf - self._stops.at[: last + 1]
            rate = ceil(self.credit * (along - self.kerf))
            drop = np.where(left >= self.least_across, left * rate, 0)
            if along - self.kerf < self.least_along:
                drop[:] = 0
            total = best[: last + 1] + drop
            at = int(total.argmax())
            made: list[Strip] = []
            while at > 0 and choice[at] >= -1:
                h = int(choice[at])
                if h < 0:
                    at -= 1
                    continue
                strip = self._strip(classes, strips, int(ends[h]), h)
                if strip:
                    made.append(strip)
                at = int(self._pile_back[at, h])
            found.append(Priced(int(total.max()), Pattern(q, self.axis, tuple(made))))
        return found

    def _classes(self, worth: Ints, most: Ints) -> list[_Class]:
        """What a stack of each width is worth by its height, drops on top and beside counted."""
        at = self._across.at
        useful = [v for v in self.lying if worth[v.kind] > 0 and most[v.kind] > 0]
        if not useful:
            return []
        plain = Knapsack(self._across)
        added = 0
        found: list[_Class] = []
        last: Ints | None = None
        for n, width in enumerate(self.widths):
            upper = self._upper[n]
            if n % LOOK == 0:
                self.look()
            while added < len(useful) and useful[added].along <= width:
                v = useful[added]
                plain.add(
                    2 * v.kind + v.turned, v.across, worth[v.kind : v.kind + 1], int(most[v.kind])
                )
                added += 1
            filled, mark = plain, plain.mark
            trims = {
                v: ceil(self.credit * (upper - v.along) * v.wide)
                for v in useful[:added]
                if upper - v.along >= self.least_along and v.wide >= self.least_across
            }
            if trims:
                filled = Knapsack(self._across)
                for v in useful[:added]:
                    value = np.array([int(worth[v.kind]) + trims.get(v, 0)], dtype=np.int64)
                    filled.add(2 * v.kind + v.turned, v.across, value, int(most[v.kind]))
                mark = filled.mark
            value = filled.table[0].copy()
            under: NDArray[np.intp] = np.full(len(at), -1, dtype=np.intp)
            if upper >= self.least_along:
                rate = ceil(self.credit * upper)
                # A stack of a drop alone is part of the drop at the strip's end.
                behind = np.where(filled.table[0] > 0, filled.table[0] - rate * at, _NEVER)
                top = np.maximum.accumulate(behind)
                where = np.searchsorted(at, self._high - self.least_across, side="right") - 1
                under_it = top[np.maximum(where, 0)]
                drop = np.where((where >= 0) & (under_it > _NEVER), under_it + rate * self._high, 0)
                better = drop > value
                first = np.searchsorted(top, under_it, side="left")
                under[better] = first[better]
                value = np.maximum(value, drop)
            if last is None or self._is_part[n] or (value > last).any():
                found.append(_Class(n, value, filled, mark, under))
                last = value if last is None else np.maximum(last, value)
        return found

    def _strips(self, classes: Sequence[_Class]) -> Ints:
        """Best worth of stacks side by side; shape (places along, heights)."""
        rows = np.array([c.value for c in classes])
        back = self._back[:, [c.width for c in classes]]
        best: Ints = np.zeros((len(self._along), rows.shape[1]), dtype=np.int64)
        for c in range(1, len(self._along)):
            if c % LOOK == 0:
                self.look()
            fits = np.flatnonzero(back[c] >= 0)
            if len(fits):
                best[c] = (best[back[c, fits]] + rows[fits]).max(axis=0)
            np.maximum(best[c], best[c - 1], out=best[c])
        return best

    def _whole_strips(self, strips: Ints, along: int, end: int) -> tuple[Ints, NDArray[np.intp]]:
        """By height: what a strip of the sheet's length is worth, and how far its stacks reach."""
        left = along - self.kerf - self._along.at[: end + 1]
        can = left >= self.least_along
        rate = np.array([ceil(self.credit * int(h)) for h in self._high], dtype=np.int64)
        rate[self._high < self.least_across] = 0
        # A strip of a drop alone is part of the drop above the last strip.
        drop = np.where(can, left, 0)[:, None] * rate[None, :]
        behind = strips[: end + 1] + np.where(strips[: end + 1] > 0, drop, 0)
        at = behind.argmax(axis=0)
        values = np.take_along_axis(behind, at[None, :], axis=0)[0]
        return values, at.astype(np.intp)

    def _pile(self, values: Ints) -> tuple[Ints, NDArray[np.intp]]:
        """Best worth of strips side by side by where they end, and the last one's height."""
        # Only where a strip becomes worth more with its height need it be so high.
        useful = np.flatnonzero(np.diff(np.maximum.accumulate(values), prepend=0) > 0)
        back = self._pile_back[:, useful]
        best: Ints = np.zeros(len(self._stops), dtype=np.int64)
        choice: NDArray[np.intp] = np.full(len(self._stops), -1, dtype=np.intp)
        gain = values[useful]
        for c in range(1, len(self._stops)):
            best[c] = best[c - 1]
            fits = back[c] >= 0
            if fits.any():
                offered = np.where(fits, best[back[c]] + gain, 0)
                top = int(offered.argmax())
                if offered[top] > best[c]:
                    best[c], choice[c] = offered[top], useful[top]
        return best, choice

    def _strip(self, classes: Sequence[_Class], strips: Ints, at: int, height: int) -> Strip:
        made: list[Stack] = []
        while at > 0 and strips[at, height] > 0:
            if strips[at, height] == strips[at - 1, height]:
                at -= 1
                continue
            for c in classes:
                back = int(self._back[at, c.width])
                if back >= 0 and strips[back, height] + c.value[height] == strips[at, height]:
                    until = int(c.under[height])
                    taken = c.filled.read(until if until >= 0 else height, 0, c.mark)
                    stack = tuple((t // 2, bool(t % 2)) for t, n in taken for _ in range(n))
                    if stack:
                        made.append(stack)
                    at = back
                    break
            else:
                return tuple(made)
        return tuple(made)

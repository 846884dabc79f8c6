"""A whole plan at once: strips filled by first fit, for what a search has no time left to plan.

Largest parts first. Each leads the first strip of a sheet; a strip takes what is at most as high,
the highest first, as much as fits, and the next strip is led by the highest part for which there is
room (first fit by falling height). A few sheets are tried for each lead, and the pattern that cuts
most area for its money is cut as often as it is wanted. No linear programme, no tables: hundredths
of a second for what a plant orders in a day.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction

from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.alone import alone
from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.dive import Chosen, take
from cutopt.solve.sheets.model import Bench, Variant
from cutopt.solve.sheets.pattern import Pattern, Stack, Strip, dearest

__all__ = ["shelved_rest"]

#: Sheets that are tried for each lead.
_SHEETS = 3


def shelved_rest(generator: Generator, room: Room) -> list[Chosen]:
    """Patterns for what `room` still needs, which is used up.

    Parts that stay needed fit no sheet that can still be had. Jointed runs are left as they are.
    """
    return _Shelves(generator, room).plan()


@dataclass(frozen=True, slots=True)
class _Lying:
    """A variant as it lies in a strip."""

    kind: int
    turned: bool
    along: int
    across: int


#: What is needed as it lies, the highest first; less its heights; the least length.
_List = tuple[list[_Lying], list[int], int]


def _listed(lying: list[_Lying]) -> _List:
    return lying, [-v.across for v in lying], min((v.along for v in lying), default=0)


class _Shelves:
    def __init__(self, generator: Generator, room: Room) -> None:
        self.generator, self.model, self.room = generator, generator.model, room
        self.need: list[int] = room.need.tolist()
        self._lists: dict[tuple[int, Axis], _List] = {}
        self._ways: list[list[tuple[int, Bench, Variant]]] = [[] for _ in self.need]
        for n, bench in enumerate(self.model.benches):
            for v in bench.variants:
                self._ways[v.kind].append((n, bench, v))

    def plan(self) -> list[Chosen]:
        """The patterns, most area first."""
        areas = self.model.areas
        made: list[Chosen] = []
        for kind in sorted(range(len(self.need)), key=lambda k: (-areas[k], k)):
            if not self.need[kind]:
                continue
            sheets = self._sheets(kind)
            while self.need[kind]:
                pattern = self._best(kind, sheets)
                if pattern is None:
                    break
                made.append(self._cut(pattern))
        return made

    def _cut(self, pattern: Pattern) -> Chosen:
        cut: dict[int, int] = {}
        for strip in pattern.strips:
            for stack in strip:
                for kind, _ in stack:
                    cut[kind] = cut.get(kind, 0) + 1
        times = max(1, min(self.need[k] // n for k, n in cut.items()))
        limit = self.room.available[pattern.sheet]
        if limit is not None:
            times = min(times, limit)
        chosen = take(self.generator, self.room, pattern, times)
        self.need = self.room.need.tolist()
        if any(not self.need[k] for k in cut):
            for key, (lying, _, _) in self._lists.items():
                self._lists[key] = _listed([v for v in lying if self.need[v.kind]])
        return chosen

    def _sheets(self, kind: int) -> list[tuple[int, int, Variant]]:
        """(sheet, bench, variant) by what one part alone costs there."""
        found: list[tuple[Fraction, int, int, Variant]] = []
        most = self.model.most[kind]
        for n, bench, v in self._ways[kind]:
            for q in bench.sheets:
                sheet = self.model.sheets[q]
                parts = (sheet.length // v.length) * (sheet.width // v.width)
                if bench.max_parts:
                    parts = min(parts, bench.max_parts)
                if parts:
                    found.append((sheet.cost / min(parts, max(1, most)), q, n, v))
        found.sort(key=lambda f: f[:3])
        return [f[1:] for f in found]

    def _best(self, kind: int, sheets: list[tuple[int, int, Variant]]) -> Pattern | None:
        """The pattern led by a part that cuts most area for its money."""
        best: tuple[float, Pattern] | None = None
        tried = 0
        for q, n, v in sheets:
            limit = self.room.available[q]
            if limit is not None and limit <= 0:
                continue
            cost = max(float(self.model.sheets[q].cost), 1e-9)
            for pattern in self._led(q, n, v):
                area = sum(
                    self.model.areas[k] for strip in pattern.strips for s in strip for k, _ in s
                )
                if best is None or area / cost > best[0]:
                    best = (area / cost, pattern)
            tried += 1
            if tried >= _SHEETS and best is not None:
                break
        return None if best is None else best[1]

    def _led(self, sheet: int, number: int, v: Variant) -> list[Pattern]:
        """The sheet's patterns whose first strip a variant leads, one for each first cut."""
        bench = self.model.benches[number]
        if self.model.kinds[v.kind].edge:
            found = alone(self.model, sheet, v)
            return [] if found is None else [found[0]]
        made: list[Pattern] = []
        for axis in bench.axes:
            pattern = Pattern(sheet, axis, self._strips(sheet, number, axis, v))
            if bench.max_parts:
                pattern = dearest(pattern, self.model.areas, bench.max_parts)
            if pattern.strips:
                made.append(pattern)
        return made

    def _list(self, number: int, axis: Axis) -> _List:
        known = self._lists.get((number, axis))
        if known is None:
            lying = [
                _Lying(v.kind, v.turned, v.length, v.width)
                if axis is Axis.RIP
                else _Lying(v.kind, v.turned, v.width, v.length)
                for v in self.model.benches[number].variants
                if self.need[v.kind] and not self.model.kinds[v.kind].edge
            ]
            lying.sort(key=lambda v: (-v.across, -v.along, v.kind))
            known = self._lists[number, axis] = _listed(lying)
        return known

    def _strips(self, sheet: int, number: int, axis: Axis, lead: Variant) -> tuple[Strip, ...]:
        stock = self.model.sheets[sheet]
        rip = axis is Axis.RIP
        along, across = (stock.length, stock.width) if rip else (stock.width, stock.length)
        a, b = (lead.length, lead.width) if rip else (lead.width, lead.length)
        if a > along or b > across:
            return ()
        lying, heights, least = self._list(number, axis)
        taken: dict[int, int] = {}
        made: list[Strip] = []
        first: _Lying | None = _Lying(lead.kind, lead.turned, a, b)
        while first is not None:
            strip: list[Stack] = []
            rest = along
            for v in (first, *lying[bisect_left(heights, -first.across) :]):
                if v.along > rest:
                    continue
                left = self.need[v.kind] - taken.get(v.kind, 0)
                if left > 0:
                    n = min(left, rest // v.along)
                    taken[v.kind] = taken.get(v.kind, 0) + n
                    strip += [((v.kind, v.turned),)] * n
                    rest -= n * v.along
                    if rest < least:
                        break
            made.append(tuple(strip))
            across -= first.across
            first = next(
                (
                    v
                    for v in lying[bisect_left(heights, -across) :]
                    if v.along <= along and self.need[v.kind] > taken.get(v.kind, 0)
                ),
                None,
            )
        return tuple(made)

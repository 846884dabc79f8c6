"""What a shop does without a planner: shelves filled next-fit or first-fit, as listed or sorted.

The next piece lies beside the last on its shelf where there is room (next fit), or on the first of
all shelves that holds it (first fit); else a shelf is opened, else a sheet. Pieces come in the
order of the cut list, or the widest across the shelf first, then the longest. Kept generous: of
both first cuts, and of the sheet that costs least by the area and every single size, the cheapest
plan counts. Equal pieces follow each other, so that ten thousand take no longer than their types.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from tests.bench.sheets.task import Filled, Task

__all__ = ["shelves"]


@dataclass
class _Shelf:
    """`left` is what is free along it, the kerf of the last cut taken off."""

    sheet: int
    high: int
    left: int
    members: list[tuple[int, bool]] = field(default_factory=list)


@dataclass
class _Sheet:
    size: int
    left: int
    shelves: list[_Shelf] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Way:
    """A part as it lies: extent along its shelf and across it."""

    part: int
    turned: bool
    along: int
    across: int


def shelves(task: Task, first: bool, ordered: bool) -> list[Filled] | None:
    """The cheapest of the plans that the rule makes; None where it makes none.

    Parameters
    ----------
    task
        Parts alone; fields are not laid.
    first
        First fit; else next fit.
    ordered
        Widest first; else as listed.
    """
    best: tuple[Fraction, list[Filled]] | None = None
    everything = tuple(range(len(task.sheets)))
    singles = [(k,) for k, s in enumerate(task.sheets) if s.available is None]
    for rip in task.rips:
        for sizes in [everything, *singles] if len(everything) > 1 else [everything]:
            plan = _Packing(task, rip, sizes, first).plan(ordered)
            if plan is None:
                continue
            cost = sum((task.sheets[f.sheet].cost for f in plan), Fraction(0))
            if best is None or cost < best[0]:
                best = cost, plan
    return None if best is None else best[1]


class _Packing:
    def __init__(self, task: Task, rip: bool, sizes: Sequence[int], first: bool) -> None:
        self.task, self.rip, self.first = task, rip, first
        self.room = {
            k: (s.length, s.width) if rip else (s.width, s.length)
            for k in sizes
            for s in (task.sheets[k],)
        }
        self.had = {k: task.sheets[k].available for k in sizes}
        rates = {k: task.sheets[k].cost / (a * b) for k, (a, b) in self.room.items() if a > 0 < b}
        self.cheapest = sorted(rates, key=lambda k: (rates[k], -self.room[k][0], k))
        self.sheets: list[_Sheet] = []
        self.shelves: list[_Shelf] = []

    def plan(self, ordered: bool) -> list[Filled] | None:
        ways = []
        for i in range(len(self.task.parts)):
            way = self._way(i)
            if way is None:
                return None
            ways.append(way)
        if ordered:
            ways.sort(key=lambda w: (-w.across, -w.along, w.part))
        for way in ways:
            if not self._put(way, self.task.parts[way.part].qty):
                return None
        return [
            Filled(s.size, self.rip, tuple((f.high, tuple(f.members)) for f in s.shelves))
            for s in self.sheets
        ]

    def _way(self, i: int) -> _Way | None:
        """The part lying, where it may and fits so; else as it fits at all."""
        part = self.task.parts[i]
        a, b = (part.length, part.width) if self.rip else (part.width, part.length)
        ways = [_Way(i, False, a, b)]
        if part.turn:
            ways.append(_Way(i, True, b, a))
            ways.sort(key=lambda w: (-w.along, w.turned))
        fitting = [
            w
            for w in ways
            if any(
                w.along <= room[0] and w.across <= room[1] and self.had[k] != 0
                for k, room in self.room.items()
            )
        ]
        return fitting[0] if fitting else None

    def _put(self, way: _Way, qty: int) -> bool:
        """Lay `qty` equal pieces; a shelf or sheet without room for one has none for the next."""
        shelf = 0 if self.first else max(0, len(self.shelves) - 1)
        sheet = 0 if self.first else max(0, len(self.sheets) - 1)
        while qty:
            while shelf < len(self.shelves):
                own = self.shelves[shelf]
                if way.across <= own.high:
                    while qty and way.along <= own.left:
                        own.members.append((way.part, way.turned))
                        own.left = max(0, own.left - way.along - self.task.kerf)
                        qty -= 1
                if not qty:
                    return True
                shelf += 1
            while sheet < len(self.sheets):
                on = self.sheets[sheet]
                if way.across <= on.left and way.along <= self.room[on.size][0]:
                    break
                sheet += 1
            else:
                if not self._open(way):
                    return False
            self._shelf(sheet, way.across)
        return True

    def _open(self, way: _Way) -> bool:
        for k in self.cheapest:
            along, across = self.room[k]
            had = self.had[k]
            if had != 0 and way.along <= along and way.across <= across:
                self.had[k] = None if had is None else had - 1
                self.sheets.append(_Sheet(k, across))
                return True
        return False

    def _shelf(self, sheet: int, high: int) -> None:
        on = self.sheets[sheet]
        on.left = max(0, on.left - high - self.task.kerf)
        shelf = _Shelf(sheet, high, self.room[on.size][0])
        on.shelves.append(shelf)
        self.shelves.append(shelf)

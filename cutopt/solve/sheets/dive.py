"""From fractions to whole sheets: fix, price again for what is left, go on."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.jointed import Way
from cutopt.solve.sheets.master import Column
from cutopt.solve.sheets.pattern import Pattern, trimmed
from cutopt.solve.sheets.points import Ints

__all__ = ["Chosen", "Draft", "dive", "take"]


@dataclass(frozen=True, slots=True)
class Chosen:
    """A pattern that a plan cuts from `count` sheets, nothing in it that is not wanted."""

    pattern: Pattern
    cuts: Ints
    cost: Fraction
    count: int


@dataclass(slots=True)
class Draft:
    """A plan under way: patterns, and ways to joint the runs with how often each."""

    chosen: list[Chosen] = field(default_factory=list)
    ways: list[tuple[Way, int]] = field(default_factory=list)

    @property
    def cost(self) -> Fraction:
        """Dollars, joints among them."""
        stock = sum((c.cost * c.count for c in self.chosen), Fraction(0))
        return stock + sum((way.cost * n for way, n in self.ways), Fraction(0))


def _times(column: Column, room: Room) -> int:
    """How often the column can be cut before it cuts what is not wanted."""
    used = np.flatnonzero(column.cuts)
    times = int((room.need[used] // column.cuts[used]).min())
    limit = room.available[column.pattern.sheet]
    return times if limit is None else min(times, limit)


def take(generator: Generator, room: Room, pattern: Pattern, count: int) -> Chosen:
    """Cut a pattern from `count` sheets and note what is left; parts not wanted are left out."""
    column = generator.column(trimmed(pattern, room.need.tolist()))
    room.need -= column.cuts * count
    limit = room.available[pattern.sheet]
    if limit is not None:
        room.available[pattern.sheet] = limit - count
    return Chosen(column.pattern, column.cuts, column.cost, count)


def dive(
    generator: Generator, room: Room, rng: random.Random | None, rounds: int, deep: bool
) -> Draft:
    """A plan for what `room` still needs, which is used up.

    Kinds that stay needed found no sheet, or no time was left for them; units whose copies stay
    wanted no way. Runs are fixed first: what they are made of is then cut like all other parts.

    Parameters
    ----------
    rng
        Breaks ties and shakes scores; None for the plain dive.
    rounds
        Rounds of pricing after each fixing.
    deep
        Whether three-stage patterns are priced as well.
    """
    master = generator.master
    draft = Draft()
    first = True
    while room.copies.any() or room.need.any():
        late = generator.late()
        master.set_need(room.need, room.available, room.copies)
        if first or late:
            master.solve()
        else:
            generator.refine(room, rounds, deep)
        first = False
        if room.copies.any():
            ways = _pick_ways(generator, room, rng)
            if not ways:
                break
            for way, count in ways:
                room.copies[way.unit] -= count
                room.need += way.cuts * count
            draft.ways += ways
            continue
        picked = _whole(generator, room) if late else _pick(generator, room, rng)
        for pattern, count in picked:
            draft.chosen.append(take(generator, room, pattern, count))
        if late or not picked:
            break
    return draft


def _pick_ways(
    generator: Generator, room: Room, rng: random.Random | None
) -> list[tuple[Way, int]]:
    """Whole parts of the ways' values, else those that are nearly whole, else the likeliest."""
    master = generator.master
    values = master.way_value.copy()
    if rng is not None:
        values *= np.array([1 + 0.1 * rng.random() for _ in values])
    left = room.copies.copy()
    picked: list[tuple[Way, int]] = []
    order = np.argsort(-values, kind="stable").tolist()
    for least in (1 - 1e-6, 0.75):
        for j in order:
            way = master.ways[j]
            count = min(int(left[way.unit]), max(1, int(values[j] + 1e-6)))
            if values[j] >= least and count:
                left[way.unit] -= count
                picked.append((way, count))
        if picked:
            return picked
    for j in order:
        if left[master.ways[j].unit]:
            return [(master.ways[j], 1)]
    return []


def _pick(generator: Generator, room: Room, rng: random.Random | None) -> list[tuple[Pattern, int]]:
    """Whole parts of the columns' values if there are any, else the most promising column."""
    return _whole(generator, room) or _promising(generator, room, rng)


def _whole(generator: Generator, room: Room) -> list[tuple[Pattern, int]]:
    """Whole parts of the columns' values."""
    master = generator.master
    values = master.value
    picked: list[tuple[Pattern, int]] = []
    trial = room.copy()
    order = np.argsort(-values, kind="stable")
    for j in order:
        if values[j] < 1 - 1e-6:
            break
        column = master.columns[j]
        count = min(int(values[j] + 1e-6), _times(column, trial))
        if count > 0:
            trial.need -= column.cuts * count
            q = column.pattern.sheet
            limit = trial.available[q]
            if limit is not None:
                trial.available[q] = limit - count
            picked.append((column.pattern, count))
    return picked


def _promising(
    generator: Generator, room: Room, rng: random.Random | None
) -> list[tuple[Pattern, int]]:
    """The most promising column, once; nothing where none is of use."""
    master = generator.master
    cuts, costs, of = master.arrays()
    useful = np.minimum(cuts, room.need)
    some = useful.any(axis=1) & np.array(room.open_sheets())[of]
    if not some.any():
        return []
    part = np.maximum(master.duals.part, 1e-9)
    areas = np.array(generator.model.areas, dtype=np.float64)
    per_cost = 1 / np.maximum(costs, 1e-9)
    score = np.minimum(1.2, (useful @ part) * per_cost) + 0.3 * np.minimum(1.0, master.value)
    filled = (useful @ areas) * per_cost
    score += 1e-6 * filled / filled.max()
    if rng is not None:
        score *= 1 + 0.1 * np.array([rng.random() for _ in range(len(score))])
    best = int(np.where(some, score, -1.0).argmax())
    return [(master.columns[best].pattern, 1)]

"""From fractions to whole sheets: fix, price again for what is left, go on."""

from __future__ import annotations

import random
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.master import Column
from cutopt.solve.sheets.pattern import Pattern, trimmed
from cutopt.solve.sheets.points import Ints

__all__ = ["Chosen", "cost_of", "dive", "take"]


@dataclass(frozen=True, slots=True)
class Chosen:
    """A pattern that a plan cuts from `count` sheets, nothing in it that is not wanted."""

    pattern: Pattern
    cuts: Ints
    cost: Fraction
    count: int


def cost_of(chosen: list[Chosen]) -> Fraction:
    """Dollars of all of them."""
    return sum((c.cost * c.count for c in chosen), Fraction(0))


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
    generator: Generator,
    room: Room,
    rng: random.Random | None,
    rounds: int,
    deep: bool,
    stop_above: Fraction | None = None,
) -> list[Chosen]:
    """A plan for what `room` still needs, which is used up; kinds that stay needed found no sheet.

    Parameters
    ----------
    rng
        Breaks ties and shakes scores; None for the plain dive.
    rounds
        Rounds of pricing after each fixing.
    deep
        Whether three-stage patterns are priced as well.
    stop_above
        Give up (with what there is) once so much is spent.
    """
    master = generator.master
    chosen: list[Chosen] = []
    spent = Fraction(0)
    first = True
    while room.need.any():
        if stop_above is not None and spent >= stop_above:
            break
        master.set_need(room.need, room.available)
        if first or generator.watch.stop():
            master.solve()
        else:
            generator.refine(room, rounds, deep)
        first = False
        picked = _pick(generator, room, rng)
        if not picked:
            break
        for pattern, count in picked:
            taken = take(generator, room, pattern, count)
            chosen.append(taken)
            spent += taken.cost * count
    return chosen


def _pick(generator: Generator, room: Room, rng: random.Random | None) -> list[tuple[Pattern, int]]:
    """Whole parts of the columns' values if there are any, else the most promising column."""
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
    if picked:
        return picked
    cuts, costs, of = master.arrays()
    useful = np.minimum(cuts, room.need)
    some = useful.any(axis=1) & np.array(room.open_sheets())[of]
    if not some.any():
        return []
    part = np.maximum(master.duals.part, 1e-9)
    areas = np.array(generator.model.areas, dtype=np.float64)
    per_cost = 1 / np.maximum(costs, 1e-9)
    score = np.minimum(1.2, (useful @ part) * per_cost) + 0.3 * np.minimum(1.0, values)
    filled = (useful @ areas) * per_cost
    score += 1e-6 * filled / filled.max()
    if rng is not None:
        score *= 1 + 0.1 * np.array([rng.random() for _ in range(len(score))])
    best = int(np.where(some, score, -1.0).argmax())
    return [(master.columns[best].pattern, 1)]

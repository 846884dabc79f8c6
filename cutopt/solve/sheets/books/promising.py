"""Layouts whose parts may go into fewer, told by area alone.

A layout cut M times holds at most ⌊r / M⌋ of a part that is wanted r times. So where the layouts
taken out fill N sheets, the parts that go into one layout of N − 1 sheets and another of a single
one leave r mod M of each part at least for the latter: its area must be enough for them, and the
layout's sheets for the rest.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

import numpy as np

from cutopt.solve.sheets.books.key import Keys, Plan
from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints

__all__ = ["promising"]

#: Layouts of few sheets among which triples are looked for.
_MOST_TRIPLES = 36
#: Sheets of a layout that is still one of few.
_FEW = 4


def promising(
    keys: Keys, plan: Plan, areas: Ints
) -> Iterator[tuple[tuple[Pattern, ...], int, int]]:
    """Layouts to be taken out, how often the one is cut that takes most of them, and its sheet.

    Pairs come first: all their parts go into one layout. Then triples, those first that leave most
    room for what can't be in the layout that is cut most often.
    """
    by_sheet: dict[int, list[Pattern]] = {}
    for pattern in plan:
        by_sheet.setdefault(pattern.sheet, []).append(pattern)
    for sheet, patterns in by_sheet.items():
        if len(patterns) < 2:
            continue
        stock = keys.model.sheets[sheet]
        room = stock.length * stock.width
        n: Ints = np.array([plan[p] for p in patterns], dtype=np.int64)
        cuts = np.array([keys.column(p).cuts for p in patterns]) * n[:, None]
        yield from _pairs(patterns, n, cuts, areas, room, sheet)
        few = [i for i in np.argsort(n, kind="stable")[:_MOST_TRIPLES].tolist() if n[i] <= _FEW]
        if len(few) >= 3:
            yield from _triples(patterns, few, n, cuts, areas, room, sheet)


def _pairs(
    patterns: list[Pattern], n: Ints, cuts: Ints, areas: Ints, room: int, sheet: int
) -> Iterator[tuple[tuple[Pattern, ...], int, int]]:
    pairs = np.array(list(combinations(range(len(patterns)), 2)))
    number = n[pairs].sum(axis=1)
    wanted = cuts[pairs].sum(axis=1)
    whole = (wanted % number[:, None] == 0).all(axis=1) & (wanted @ areas <= room * number)
    for i in np.flatnonzero(whole).tolist():
        yield tuple(patterns[j] for j in pairs[i]), int(number[i]), sheet


def _triples(
    patterns: list[Pattern],
    few: list[int],
    n: Ints,
    cuts: Ints,
    areas: Ints,
    room: int,
    sheet: int,
) -> Iterator[tuple[tuple[Pattern, ...], int, int]]:
    triples = np.array(list(combinations(few, 3)))
    times = n[triples].sum(axis=1) - 1
    wanted = cuts[triples].sum(axis=1)
    left = room - (wanted % times[:, None]) @ areas
    together = (wanted // times[:, None]) @ areas * times
    able = np.flatnonzero((left >= 0) & (together >= wanted @ areas - room))
    for i in able[np.argsort(-left[able], kind="stable")].tolist():
        yield tuple(patterns[j] for j in triples[i]), int(times[i]), sheet

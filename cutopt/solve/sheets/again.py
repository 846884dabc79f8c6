"""A plan bettered a few sheets at a time: their parts are planned again, to the end.

Small orders are settled exactly in little time, and so are the parts of a few sheets of a large
one. Sheets with much waste are taken first, with some by chance (large neighbourhoods, Shaw 1998).
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import numpy as np

from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.cover import together
from cutopt.solve.sheets.dive import Chosen, Draft
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints

__all__ = ["Again"]

#: Parts that are planned again at a time, about.
_PARTS = 20
#: Single sheets not in the plan that are offered each time.
_OTHERS = 8
#: Tries in a row without gain that end it.
_IDLE = 30
_ROUNDS = 200
#: Seconds of a usual machine for a try, and for an entry of its tables.
_TRY, _ENTRY = 0.03, 1e-8

Settle = Callable[[Generator, Fraction], Draft | None]


class Again:
    """The search; what was tried is not tried again.

    Parameters
    ----------
    generator
        Of the whole order; no jointed runs, no credit for drops.
    settle
        A cheaper plan than a cost for a small order, or None.
    """

    def __init__(self, generator: Generator, rng: random.Random, settle: Settle) -> None:
        self.generator, self.rng, self.settle = generator, rng, settle
        self.tried: set[tuple[tuple[int, bytes], ...]] = set()
        #: Seconds of a usual machine for a try, about.
        tables = sum(p.effort for p in generator.proving())
        self.effort = _TRY + _ENTRY * tables

    def better(self, draft: Draft, least: Fraction, work: float) -> Draft:
        """The plan, or a cheaper one; ends at the least cost that a plan can have.

        `work` is the most that it may take, in seconds of a usual machine: counted, not timed.
        """
        sheets = [(c.pattern, c.cuts) for c in draft.chosen for _ in range(c.count)]
        cost, idle = draft.cost, 0
        while work > 0 and idle < _IDLE and cost > least and not self.generator.watch.stop():
            some = self._some(sheets)
            key = tuple(sorted((sheets[n][0].sheet, sheets[n][1].tobytes()) for n in some))
            if key in self.tried:
                idle += 1
                continue
            self.tried.add(key)
            work -= self.effort
            found = self._again(sheets, some)
            if found is None:
                idle += 1
                continue
            idle = 0
            kept = [s for n, s in enumerate(sheets) if n not in some]
            sheets = [*kept, *found]
            cost = sum((self.generator.model.sheets[p.sheet].cost for p, _ in sheets), Fraction(0))
        column = self.generator.column
        chosen = [column(p) for p, _ in sheets]
        return Draft(together([Chosen(c.pattern, c.cuts, c.cost, 1) for c in chosen]))

    def _some(self, sheets: list[tuple[Pattern, Ints]]) -> set[int]:
        """Sheets with few parts together: the more waste in dollars, the likelier."""
        model = self.generator.model
        areas = np.array(model.areas, dtype=np.float64)
        waste = []
        for pattern, cuts in sheets:
            sheet = model.sheets[pattern.sheet]
            filled = float(cuts @ areas) / (sheet.length * sheet.width)
            waste.append(float(sheet.cost) * max(0.0, 1 - filled))
        mean = sum(waste) / len(waste)
        order = sorted(
            range(len(sheets)),
            key=lambda n: -(self.rng.random() ** (1 / (waste[n] + 0.2 * mean + 1e-9))),
        )
        some: set[int] = set()
        parts = 0
        for n in order:
            here = int(sheets[n][1].sum())
            if len(some) < 2 or parts + here <= _PARTS:
                some.add(n)
                parts += here
        return some

    def _again(
        self, sheets: list[tuple[Pattern, Ints]], some: set[int]
    ) -> list[tuple[Pattern, Ints]] | None:
        """The parts of these sheets on cheaper ones, if there are any."""
        model = self.generator.model
        need = np.sum([sheets[n][1] for n in sorted(some)], axis=0)
        used = [0] * len(model.sheets)
        mine: set[int] = set()
        cost = Fraction(0)
        for n, (pattern, _) in enumerate(sheets):
            if n in some:
                mine.add(pattern.sheet)
                cost += model.sheets[pattern.sheet].cost
            else:
                used[pattern.sheet] += 1
        left = [
            None if s.available is None else s.available - used[q]
            for q, s in enumerate(model.sheets)
        ]
        spare = [q for q, n in enumerate(left) if n is not None and n > 0 and q not in mine]
        if len(spare) > _OTHERS:
            spare = self.rng.sample(spare, _OTHERS)
        offered = sorted({*mine, *spare, *(q for q, n in enumerate(left) if n is None)})
        part, kinds = _part_of(model, need, offered, left)
        made = Generator(part, self.generator.jointed, self.generator.rules, self.generator.watch)
        made.start()
        made.root(_ROUNDS, closing=False)
        if made.rounded_bound() >= cost:
            return None
        draft = self.settle(made, cost)
        if draft is None or draft.cost >= cost:
            return None
        found = []
        for c in draft.chosen:
            strips = tuple(
                tuple(tuple((kinds[k], turned) for k, turned in stack) for stack in strip)
                for strip in c.pattern.strips
            )
            pattern = Pattern(offered[c.pattern.sheet], c.pattern.axis, strips)
            column = self.generator.column(pattern)
            found += [(pattern, column.cuts)] * c.count
        return found


def _part_of(
    model: Model, need: Ints, offered: list[int], left: list[int | None]
) -> tuple[Model, list[int]]:
    """The model of some parts and some sheets, and the numbers that its kinds have in the whole."""
    kinds = np.flatnonzero(need).tolist()
    kind_of = {k: i for i, k in enumerate(kinds)}
    sheet_of = {q: i for i, q in enumerate(offered)}
    total = int(need.sum())
    benches = []
    for b in model.benches:
        sheets = tuple(sheet_of[q] for q in b.sheets if q in sheet_of)
        variants = tuple(replace(v, kind=kind_of[v.kind]) for v in b.variants if v.kind in kind_of)
        if sheets and variants:
            benches.append(replace(b, sheets=sheets, variants=variants))
    limits = [left[q] for q in offered]
    part = Model(
        tuple(replace(model.kinds[k], need=int(need[k])) for k in kinds),
        tuple(
            replace(model.sheets[q], available=None if n is None or n >= total else n)
            for q, n in zip(offered, limits, strict=True)
        ),
        tuple(benches),
        tuple(int(need[k]) for k in kinds),
    )
    return part, kinds

"""Jointed runs among the sticks: their kinds of pieces, their columns, their share of the bound."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np

from cutopt.plan import Group
from cutopt.solve.lumber.knapsack import Filled, Values
from cutopt.solve.lumber.master import Master, RunColumn
from cutopt.solve.lumber.model import Ints, Kind, Model
from cutopt.solve.lumber.pricing import Floats
from cutopt.solve.lumber.refuse import longest_piece
from cutopt.solve.runs import (
    Column,
    Cut,
    Joints,
    Priced,
    Pricer,
    Unit,
    equal_pieces,
    fewest_joints,
)

__all__ = ["RunPricer", "Ways", "run_kinds"]

_EPS = 1e-9


def run_kinds(group: Group, pricer: Pricer) -> list[Kind]:
    """Every kind of piece that can occur in any run, a kind once or more."""
    return [kind for cut in pricer.cuts for kind in _kinds(group, cut)]


def _kinds(group: Group, cut: Cut) -> list[Kind]:
    """At a run's start, where no joint is charged, a piece of any of its materials; then, behind
    a joint, one kind for each price of a joint, the cheapest first."""
    return [Kind(cut.length, cut.materials), *(kind for kind, _ in _options(group, cut))]


def _options(group: Group, cut: Cut) -> list[tuple[Kind, Fraction]]:
    """What a piece behind a joint may be, with what the joint costs then.

    A joint costs what the material of the piece that begins at it says. So materials of one price
    are one kind; those whose sticks are all too short for the piece are no choice.
    """
    names = [m for m in cut.materials if longest_piece(group, (m,)) >= cut.length]
    at: dict[Fraction, list[str]] = {}
    for m in names or cut.materials:
        at.setdefault(Fraction(group.rules.for_lumber(m).joint_price), []).append(m)
    if len(at) == 1:
        return [(Kind(cut.length, cut.materials), price) for price in at]
    return [(Kind(cut.length, tuple(at[price])), price) for price in sorted(at)]


@dataclass(frozen=True, slots=True)
class Ways:
    """Priced units: at most the value of each one's best way, and what lies behind it.

    `choice` is by cut which of its kinds behind a joint is worth least.
    """

    value: Floats
    priced: Priced | None
    choice: Ints


class RunPricer:
    """Columns of units at given worths of kinds.

    Attributes
    ----------
    units : tuple of Unit
    copies : array, shape (units,)
    lengths : list of int
        Of each unit's runs together.
    joint_prices : list of Fraction
        Everything that a joint may cost.
    """

    def __init__(
        self, group: Group, pricer: Pricer, model: Model, copies: Ints | None = None
    ) -> None:
        self._group, self._model = group, model
        self.pricer = pricer
        self.units: Sequence[Unit] = pricer.units
        self._known: dict[tuple[int, int, int], int] = {}
        if copies is None:
            copies = np.array([u.copies for u in self.units], np.int64)
        self.copies = copies
        self.lengths = [sum(r.length for r in u.runs) for u in self.units]
        index = {kind: i for i, kind in enumerate(model.kinds)}
        #: By cut: its kind at a run's start.
        self.kind = np.array([index[Kind(c.length, c.materials)] for c in pricer.cuts], np.int64)
        #: By cut: (kind, price of the joint that it begins at) for each price.
        self.options = [
            [(index[kind], price) for kind, price in _options(group, cut)] for cut in pricer.cuts
        ]
        self.joint_prices = sorted({price for some in self.options for _, price in some})
        most = max((len(some) for some in self.options), default=0)
        # Filled up with the first, so that the arrays are full.
        filled = [[*some, *[some[0]] * (most - len(some))] for some in self.options]
        shape = (len(filled), most)
        self._behind = np.array([[k for k, _ in some] for some in filled], np.int64).reshape(shape)
        self._prices = [[price for _, price in some] for some in filled]
        self._extra = np.array(self._prices, float).reshape(shape)
        self._every = np.unique(np.concatenate([self.kind, self._behind.ravel()]))
        inside = [model.joined[g.kinds] for g in model.grids]
        self._joined = [
            (g.kinds[at], g.weight[at]) for g, at in zip(model.grids, inside, strict=True)
        ]

    def wanting(self, copies: Ints) -> RunPricer:
        """The same units with other numbers of copies."""
        return RunPricer(self._group, self.pricer, self._model, copies)

    def __len__(self) -> int:
        return len(self.units)

    def lifted(self, worth: Values, filled: Sequence[Filled]) -> Values:
        """Worths of run pieces raised to what other run pieces are worth in their place.

        No pattern gains by it: what is raised could be replaced by those.
        """
        if not len(self) or any(table.joined_value is None for table in filled):
            return worth
        # A kind that several materials allow must be replaced in each of them.
        far = np.inf if worth.dtype.kind == "f" else np.iinfo(np.int64).max
        least = np.full(len(worth), far).astype(worth.dtype)
        for table, (kinds, weights) in zip(filled, self._joined, strict=True):
            if table.joined_value is not None:
                least[kinds] = np.minimum(least[kinds], table.joined_value[weights])
        raised: Values = worth.copy()
        run = self._every[least[self._every] < far]
        raised[run] = np.maximum(worth[run], least[run])
        return raised

    def price(self, worth: Floats) -> Ways:
        """Price every unit."""
        if not len(self):
            return Ways(np.zeros(0), None, np.zeros(0, np.int64))
        behind = worth[self._behind] + self._extra
        priced = self.pricer.price(behind.min(axis=1), 0, worth[self.kind])
        return Ways(priced.bound, priced, behind.argmin(axis=1))

    def whole_values(self, worth: Values, scale: Fraction) -> list[int]:
        """At most the value of each unit's best way, all in whole `scale`ths of a dollar."""
        if not len(self):
            return []
        behind = worth[self._behind] + self._whole_prices(scale)
        priced = self.pricer.price(behind.min(axis=1), 0, worth[self.kind])
        return [int(value) for value in priced.bound.tolist()]

    def _whole_prices(self, scale: Fraction) -> Ints:
        """What a joint costs by cut and option, in `scale`ths of a dollar, rounded down."""
        whole = [[int(p * scale // 1) for p in some] for some in self._prices]
        return np.array(whole, np.int64).reshape(self._behind.shape)

    def pieces(self, worth: Ints, scale: Fraction) -> list[tuple[int, list[tuple[int, int]]]]:
        """By cut: its whole worth at a run's start; (worth with its joint, option) behind one."""
        first = worth[self.kind].tolist()
        behind = (worth[self._behind] + self._whole_prices(scale)).tolist()
        return [
            (first[c], [(behind[c][o], o) for o in range(len(self.options[c]))])
            for c in range(len(first))
        ]

    def column(self, unit: int, joints: Joints, choice: Sequence[Sequence[int]]) -> RunColumn:
        """A way to joint a unit as a column of the master; `choice`: by run the option of each
        piece behind a joint."""
        made: list[tuple[int, ...]] = []
        count: Counter[int] = Counter()
        cost = Fraction(0)
        runs = self.units[unit].runs
        for r, (run, at, chosen) in enumerate(zip(runs, joints, choice, strict=True)):
            cuts = [self._cut(unit, r, b - a) for a, b in pairwise((0, *at, run.length))]
            behind = [self.options[c][o] for c, o in zip(cuts[1:], chosen, strict=True)]
            made.append((int(self.kind[cuts[0]]), *(kind for kind, _ in behind)))
            count.update(made[-1])
            cost += sum((price for _, price in behind), Fraction(0))
        return RunColumn(unit, joints, tuple(sorted(count.items())), cost, tuple(made))

    def _chosen(self, column: Column, choice: Ints) -> RunColumn:
        """A pricer's column with the same option for all equal cuts."""
        u = column.unit
        options = [
            [int(choice[self._cut(u, r, b - a)]) for a, b in pairwise((*at, run.length))]
            for r, (run, at) in enumerate(zip(self.units[u].runs, column.joints, strict=True))
        ]
        return self.column(u, column.joints, options)

    def _cut(self, unit: int, run: int, length: int) -> int:
        """Which cut a piece of a run is; asked for so often that it is kept."""
        key = (unit, run, length)
        known = self._known.get(key)
        if known is None:
            known = self._known[key] = self.pricer.index[self.units[unit].runs[run].cut(length)]
        return known

    def starts(self) -> list[RunColumn]:
        """Plain ways, for a first master."""
        if not len(self):
            return []
        found = [*fewest_joints(self.pricer), *equal_pieces(self.pricer)]
        last = np.array([len(some) - 1 for some in self.options], np.int64)
        return [
            self._chosen(c, np.minimum(o, last))
            for o in range(self._behind.shape[1])
            for c in found
            if c is not None
        ]

    def add(self, master: Master, ways: Ways, near: int = 1) -> int:
        """Add each unit's best ways to the master where they promise a gain."""
        if ways.priced is None:
            return 0
        added = 0
        for u in np.flatnonzero(ways.value < master.duals.unit - _EPS).tolist():
            found: list[Column | None]
            found = [ways.priced.column(u)] if near == 1 else [*ways.priced.near(u, near)]
            for way in found:
                if way is not None:
                    column = self._chosen(way, ways.choice)
                    if master.reduced(column) < -_EPS:
                        added += master.add(column)
        return added

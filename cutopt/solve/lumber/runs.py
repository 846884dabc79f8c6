"""Jointed runs among the sticks: their kinds of pieces, their columns, their share of the bound."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cutopt.plan import Group
from cutopt.solve.lumber.knapsack import Filled, Values
from cutopt.solve.lumber.master import Master, RunColumn
from cutopt.solve.lumber.model import Ints, Kind, Model
from cutopt.solve.lumber.pricing import Floats
from cutopt.solve.runs import Column, Priced, Pricer, Unit, equal_pieces, fewest_joints

__all__ = ["RunPricer", "Ways", "run_kinds"]

_EPS = 1e-9


def run_kinds(pricer: Pricer) -> list[Kind]:
    """Every kind of piece that can occur in any run."""
    return [Kind(cut.length, cut.materials) for cut in pricer.cuts]


@dataclass(frozen=True, slots=True)
class Ways:
    """Priced units: at most the value of each one's best way, and what lies behind it."""

    value: Floats
    priced: Priced | None


class RunPricer:
    """Columns of units at given worths of kinds.

    Where a run's materials have different joint prices its joints count at the least of them.

    Attributes
    ----------
    units : tuple of Unit
    copies : array, shape (units,)
    lengths : list of int
        Of each unit's runs together.
    """

    def __init__(self, group: Group, pricer: Pricer, model: Model) -> None:
        self.pricer = pricer
        self.units: Sequence[Unit] = pricer.units
        self.copies = np.array([u.copies for u in self.units], np.int64)
        self.lengths = [sum(r.length for r in u.runs) for u in self.units]
        index = {kind: i for i, kind in enumerate(model.kinds)}
        self.kind = np.array([index[k] for k in run_kinds(pricer)], np.int64)
        price = {m: Fraction(group.rules.for_lumber(m).joint_price) for m in group.materials}

        def least(materials: Sequence[str]) -> Fraction:
            return min(price[m] for m in materials)

        #: As if every piece began with a joint; each run's first does not.
        self.price_of_cut = [least(cut.materials) for cut in pricer.cuts]
        self._prices = [[least(r.materials) for r in u.runs] for u in self.units]
        self._extra = np.array([float(p) for p in self.price_of_cut])
        self._first = np.array([float(sum(p, Fraction(0))) for p in self._prices])
        inside = [model.joined[g.kinds] for g in model.grids]
        self._joined = [
            (g.kinds[at], g.weight[at]) for g, at in zip(model.grids, inside, strict=True)
        ]

    def __len__(self) -> int:
        return len(self.units)

    def lifted(self, worth: Values, filled: Sequence[Filled]) -> Values:
        """Worths of run pieces raised to what other run pieces are worth in their place.

        No pattern gains by it: what is raised could be replaced by those.
        """
        if not len(self) or any(table.joined_value is None for table in filled):
            return worth
        # A kind that several materials allow must be replaced in each of them.
        least = np.full(len(worth), np.inf if worth.dtype.kind == "f" else np.iinfo(np.int64).max)
        least = least.astype(worth.dtype)
        for table, (kinds, weights) in zip(filled, self._joined, strict=True):
            if table.joined_value is not None:
                least[kinds] = np.minimum(least[kinds], table.joined_value[weights])
        raised: Values = worth.copy()
        raised[self.kind] = np.maximum(worth[self.kind], least[self.kind])
        return raised

    def price(self, worth: Floats) -> Ways:
        """Price every unit."""
        if not len(self):
            return Ways(np.zeros(0), None)
        priced = self.pricer.price(worth[self.kind] + self._extra)
        return Ways(priced.bound - self._first, priced)

    def whole_values(self, worth: Values, scale: Fraction) -> list[int]:
        """At most the value of each unit's best way, all in whole `scale`ths of a dollar."""
        if not len(self):
            return []
        priced = self.pricer.price(worth[self.kind] + self.whole_prices(scale))
        return [
            int(value) - sum(self.first_price(u, r, scale) for r in range(len(unit.runs)))
            for u, (value, unit) in enumerate(zip(priced.bound.tolist(), self.units, strict=True))
        ]

    def whole_prices(self, scale: Fraction) -> Ints:
        """The joint before each cut, rounded down to whole `scale`ths of a dollar."""
        return np.array([int(p * scale // 1) for p in self.price_of_cut], np.int64)

    def first_price(self, unit: int, run: int, scale: Fraction) -> int:
        """The joint that a run's first piece does not begin with, rounded as for the others."""
        return int(self._prices[unit][run] * scale // 1)

    def column(self, column: Column) -> RunColumn:
        """A pricer's column as the master's."""
        prices = self._prices[column.unit]
        cost = sum((p * len(at) for p, at in zip(prices, column.joints, strict=True)), Fraction(0))
        cuts = tuple(sorted((int(self.kind[c]), q) for c, q in column.cuts))
        return RunColumn(column.unit, column.joints, cuts, cost)

    def starts(self) -> list[RunColumn]:
        """Plain ways, for a first master."""
        if not len(self):
            return []
        found = [*fewest_joints(self.pricer), *equal_pieces(self.pricer)]
        return [self.column(c) for c in found if c is not None]

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
                    column = self.column(way)
                    if master.reduced(column) < -_EPS:
                        added += master.add(column)
        return added

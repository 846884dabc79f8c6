"""Jointed runs among the sticks: their kinds of pieces, their columns, their share of the bound."""

from __future__ import annotations

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
from cutopt.solve.runs import Column, Priced, Pricer, Run, Unit, equal_pieces, fewest_joints

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

    Where a piece may come from materials with different joint prices, the joint that it begins
    with counts at the least of them: what is a lower bound so is one of the real cost.

    Attributes
    ----------
    units : tuple of Unit
    copies : array, shape (units,)
    lengths : list of int
        Of each unit's runs together.
    """

    def __init__(
        self, group: Group, pricer: Pricer, model: Model, copies: Ints | None = None
    ) -> None:
        self._group, self._model = group, model
        self.pricer = pricer
        self.units: Sequence[Unit] = pricer.units
        if copies is None:
            copies = np.array([u.copies for u in self.units], np.int64)
        self.copies = copies
        self.lengths = [sum(r.length for r in u.runs) for u in self.units]
        index = {kind: i for i, kind in enumerate(model.kinds)}
        self.kind = np.array([index[k] for k in run_kinds(pricer)], np.int64)
        price = {m: Fraction(group.rules.for_lumber(m).joint_price) for m in group.materials}
        #: What a joint costs at least where each cut begins.
        self.joint_prices = [min(price[m] for m in cut.materials) for cut in pricer.cuts]
        #: Whether it costs that whichever of its materials a cut comes from.
        self.exact = all(len({price[m] for m in cut.materials}) == 1 for cut in pricer.cuts)
        self._extra = np.array([float(p) for p in self.joint_prices])
        #: No run's first piece begins with a joint: the most that one could have been charged.
        self._first = [
            sum((self._most(run) for run in unit.runs), Fraction(0)) for unit in self.units
        ]
        self._first_float = np.array([float(p) for p in self._first])
        inside = [model.joined[g.kinds] for g in model.grids]
        self._joined = [
            (g.kinds[at], g.weight[at]) for g, at in zip(model.grids, inside, strict=True)
        ]

    def wanting(self, copies: Ints) -> RunPricer:
        """The same units with other numbers of copies."""
        return RunPricer(self._group, self.pricer, self._model, copies)

    def _most(self, run: Run) -> Fraction:
        index = self.pricer.index
        prices = [self.joint_prices[index[run.cut(n)]] for n in run.piece_lengths]
        return max(prices, default=Fraction(0))

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
        return Ways(priced.bound - self._first_float, priced)

    def whole_values(self, worth: Values, scale: Fraction) -> list[int]:
        """At most the value of each unit's best way, all in whole `scale`ths of a dollar."""
        if not len(self):
            return []
        priced = self.pricer.price(worth[self.kind] + self.whole_prices(scale))
        # The first pieces were charged whole numbers rounded down: no more than this.
        return [
            value - int(p * scale // 1)
            for value, p in zip(priced.bound.tolist(), self._first, strict=True)
        ]

    def whole_prices(self, scale: Fraction) -> Ints:
        """What a joint costs where each cut begins, in `scale`ths of a dollar, rounded down."""
        return np.array([int(p * scale // 1) for p in self.joint_prices], np.int64)

    def column(self, column: Column) -> RunColumn:
        """A pricer's column as the master's."""
        cuts = tuple(sorted((int(self.kind[c]), q) for c, q in column.cuts))
        runs = self.units[column.unit].runs
        cost = sum(
            (
                self.joint_prices[self.pricer.index[run.cut(b - a)]]
                for run, at in zip(runs, column.joints, strict=True)
                for a, b in pairwise((*at, run.length))
            ),
            Fraction(0),
        )
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

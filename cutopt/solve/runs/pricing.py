"""Columns of jointed runs for given values of their pieces: the least, exactly, or near it.

The same code works in floats, to search by, and in int64, to prove by.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from cutopt.solve.runs.component import best_together
from cutopt.solve.runs.pair import Pair, PairTable, pair_key
from cutopt.solve.runs.single import FAR, Single, SingleTable, Values, far_of
from cutopt.solve.runs.unit import Cut, Joints, Run, Unit, lengths

__all__ = ["Column", "Priced", "Pricer"]

#: States of a pair that are still put in one table.
_MOST_STATES = 4_000_000


@dataclass(frozen=True)
class Column:
    """One way to make a unit, by every rule.

    Parameters
    ----------
    unit
        The unit's index.
    joints
        The joints of each of its runs.
    cuts
        (index into `Pricer.cuts`, how many) in order of the index.
    """

    unit: int
    joints: Joints
    cuts: tuple[tuple[int, int], ...]

    @cached_property
    def joint_count(self) -> int:
        """How many joints it has."""
        return sum(len(j) for j in self.joints)

    def value(self, values: Values, joint_price: Any = 0) -> Any:
        """What it is worth at these values: pieces plus joints."""
        pieces = sum(values[i].item() * q for i, q in self.cuts)
        return pieces + joint_price * self.joint_count


def _class(run: Run) -> tuple[Any, ...]:
    return (run.step, run.least, run.longest, run.width, run.turn, run.materials, run.stricter)


class Pricer:
    """Everything about the units that does not change with the values.

    Parameters
    ----------
    units
        From `units_of`, or made by hand on any grid.
    work
        States that the search for the columns of three or more mated runs may look at.

    Attributes
    ----------
    cuts : tuple of Cut
        Every piece that can occur in any unit. Values are given in this order.
    """

    def __init__(self, units: Sequence[Unit], work: int = 20_000) -> None:
        self.units = tuple(units)
        self.work = work
        found = {cut for unit in self.units for cut in lengths(unit)}
        self.cuts: tuple[Cut, ...] = tuple(
            sorted(found, key=lambda c: (c.length, c.width or 0, c.turn, c.materials))
        )
        self.index = {cut: i for i, cut in enumerate(self.cuts)}
        classes: dict[tuple[Any, ...], dict[Run, int]] = defaultdict(dict)
        for unit in self.units:
            for run in unit.runs:
                rows = classes[_class(run)]
                rows.setdefault(run, len(rows))
        self.tables: list[SingleTable] = []
        self.where: dict[Run, tuple[int, int]] = {}
        for runs in classes.values():
            for run, column in runs.items():
                self.where[run] = (len(self.tables), column)
            self.tables.append(SingleTable(list(runs), self.index))
        self.spots = [[self.where[run] for run in unit.runs] for unit in self.units]
        offset = np.cumsum([0, *(len(t.runs) for t in self.tables)])
        self.flat = np.array([offset[t] + c for spots in self.spots for t, c in spots], np.int64)
        sizes = np.array([len(spots) for spots in self.spots], np.int64)
        self.begin = np.cumsum(sizes) - sizes
        self._pairs()

    def _pairs(self) -> None:
        """Pairs that share a table; what is neither a pair nor a run alone, or too big for one."""
        groups: dict[tuple[int, int, int, int], list[int]] = defaultdict(list)
        self.others: list[int] = []
        for u, unit in enumerate(self.units):
            if len(unit.runs) == 1:
                continue
            places = (unit.runs[0].count + 1) * (unit.runs[1].count + 1)
            if len(unit.runs) == 2 and len(unit.clear) == 1 and places <= _MOST_STATES:
                groups[pair_key(unit, self.spots[u])].append(u)
            else:
                self.others.append(u)
        self.pair_units = list(groups.values())
        self.pair_of = [(first, second) for first, second, _, _ in groups]
        self.pair_tables: list[PairTable] = []
        self.pair_at: dict[int, tuple[int, int]] = {}
        for (first, second, _, clear), members in groups.items():
            for row, u in enumerate(members):
                self.pair_at[u] = (len(self.pair_tables), row)
            columns = [(self.spots[u][0][1], self.spots[u][1][1]) for u in members]
            self.pair_tables.append(
                PairTable(self.tables[first], self.tables[second], columns, clear)
            )

    def price(self, values: Values, joint_price: Any = 0, firsts: Values | None = None) -> Priced:
        """Price every unit.

        Parameters
        ----------
        values : array, shape (len(cuts),)
            What each piece costs: float64, or int64 for proofs.
        joint_price
            What each joint costs beside, in the same money.
        firsts : array, shape (len(cuts),)
            What each piece costs at the start of a run, where no joint is; `values` unless given.

        Raises
        ------
        ValueError
            Values of the wrong shape or kind, or integers too big to add up safely.
        """
        behind = self._ready(values, joint_price)
        return Priced(self, behind, self._ready(values if firsts is None else firsts, 0))

    def best_integer(self, values: Values, joint_price: int = 0) -> list[Column | None]:
        """For each unit a column of least value that keeps every clearance, priced in integers.

        Parameters
        ----------
        values : int64 array, shape (len(cuts),)
        joint_price
            What each joint costs beside.
        """
        if values.dtype != np.int64:
            raise ValueError(f"values are {values.dtype}; int64 would be right")
        priced = self.price(values, joint_price)
        return [priced.column(u) for u in range(len(self.units))]

    def _ready(self, values: Values, joint_price: Any) -> Values:
        if values.shape != (len(self.cuts),) or values.dtype not in (np.float64, np.int64):
            raise ValueError(
                f"values are {values.dtype} of shape {values.shape};"
                f" float64 or int64 of shape ({len(self.cuts)},) would be right"
            )
        if values.dtype == np.int64:
            most = max(abs(int(values.max(initial=0))), abs(int(values.min(initial=0))))
            pieces = max((sum(r.count + 1 for r in u.runs) for u in self.units), default=0)
            if (most + abs(int(joint_price))) * pieces >= FAR >> 2:
                raise ValueError(
                    f"values up to {most} in runs of up to {pieces} pieces pass the"
                    f" {FAR >> 2} that can be added up safely; scale them down"
                )
        padded = np.empty(len(values) + 1, values.dtype)
        padded[:-1] = values + values.dtype.type(joint_price)
        padded[-1] = far_of(values)
        return padded

    def column(self, unit: int, joints: Joints) -> Column:
        """A column from joints, which are taken as they are."""
        cuts = {self.index[cut]: q for cut, q in self.units[unit].cuts(joints).items()}
        return Column(unit, joints, tuple(sorted(cuts.items())))


class Priced:
    """The units at one set of values.

    Attributes
    ----------
    bound : array, shape (units,)
        At most the value of every column of the unit, and that of the best for single runs and
        for pairs; "no way" (see `possible`) where it has none.
    """

    def __init__(self, pricer: Pricer, behind: Values, firsts: Values) -> None:
        self.pricer = pricer
        self._far = far_of(behind)
        self._reach = self._far if self._far == np.inf else self._far >> 1
        self._singles: list[Single] = [t.price(behind, firsts) for t in pricer.tables]
        self._pairs: dict[int, Pair] = {}
        self._joints: dict[int, Joints | None] = {}
        self.bound: Values = self._alone(behind.dtype)
        for t in range(len(pricer.pair_tables)):
            self._price_pairs(t)
        for u in pricer.others:
            self._price_together(u)

    def _alone(self, dtype: Any) -> Values:
        """Each unit's runs at their best, clearances left out."""
        pricer = self.pricer
        if not pricer.units:
            return np.zeros(0, dtype)
        best = np.concatenate([s.best for s in self._singles])[pricer.flat]
        none = np.logical_or.reduceat(best >= self._reach, pricer.begin)
        best[best >= self._reach] = 0
        bound = np.add.reduceat(best, pricer.begin)
        bound[none] = self._far
        summed: Values = bound.astype(dtype)
        return summed

    def _price_pairs(self, t: int) -> None:
        """Where the best of each run alone keeps clear it is the best of the pair."""
        for u in self.pricer.pair_units[t]:
            if self.possible(u):
                joints = self._best_alone(u)
                if not self.pricer.units[u].keeps(joints):
                    break
                self._joints[u] = joints
        else:
            return
        for u in self.pricer.pair_units[t]:
            self._joints.pop(u, None)
        best = self._pair(t).best.copy()
        best[best >= self._reach] = self._far
        self.bound[self.pricer.pair_units[t]] = best

    def _pair(self, t: int) -> Pair:
        if t not in self._pairs:
            first, second = self.pricer.pair_of[t]
            table = self.pricer.pair_tables[t]
            self._pairs[t] = table.price(self._singles[first], self._singles[second])
        return self._pairs[t]

    def _price_together(self, u: int) -> None:
        pricer = self.pricer
        if not self.possible(u):
            return
        singles = [(self._singles[t], c) for t, c in pricer.spots[u]]
        unit = pricer.units[u]
        bound, joints, complete = best_together(unit, singles, self._reach, pricer.work)
        self.bound[u] = self._far if complete and joints is None else bound
        self._joints[u] = joints

    def _best_alone(self, u: int) -> Joints:
        return tuple(self._singles[t].joints(c) for t, c in self.pricer.spots[u])

    def possible(self, unit: int) -> bool:
        """Whether the unit may have a column at all."""
        return bool(self.bound[unit] < self._reach)

    def column(self, unit: int) -> Column | None:
        """A column of least value; None where the unit has none.

        For three or more runs whose search ended early, a column that keeps every rule, or None
        where none was found.
        """
        if not self.possible(unit):
            return None
        if unit not in self._joints:
            if unit in self.pricer.pair_at:
                t, row = self.pricer.pair_at[unit]
                self._joints[unit] = self._pair(t).joints(row)
            else:
                self._joints[unit] = self._best_alone(unit)
        joints = self._joints[unit]
        return None if joints is None else self.pricer.column(unit, joints)

    def near(self, unit: int, most: int) -> list[Column]:
        """At most so many different columns, least first: the best of as many kinds.

        A kind is, for a single run, the place of its first joint; for a pair, the joints behind
        which the first of the two ends. More runs give their one column.
        """
        if not self.possible(unit):
            return []
        pricer = self.pricer
        if unit in pricer.pair_at:
            t, row = pricer.pair_at[unit]
            return [pricer.column(unit, j) for j in self._pair(t).near(row, most)]
        if len(pricer.units[unit].runs) > 1:
            column = self.column(unit)
            return [] if column is None else [column]
        table, c = pricer.spots[unit][0]
        single = self._singles[table]
        ways = [k for v, k in single.firsts(c) if v < self._reach][:most]
        return [pricer.column(unit, (single.follow(c, k) if k >= 0 else (),)) for k in ways]

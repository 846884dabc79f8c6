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

from cutopt.solve.runs.single import FAR, Single, SingleTable, Values, far_of
from cutopt.solve.runs.unit import Cut, Joints, Run, Unit, lengths

__all__ = ["Column", "Priced", "Pricer"]


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
    return (run.step, run.least, run.longest, run.width, run.turn, run.materials)


class Pricer:
    """Everything about the units that does not change with the values.

    Parameters
    ----------
    units
        From `units_of`, or made by hand on any grid.

    Attributes
    ----------
    cuts : tuple of Cut
        Every piece that can occur in any unit. Values are given in this order.
    """

    def __init__(self, units: Sequence[Unit]) -> None:
        self.units = tuple(units)
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

    def price(self, values: Values, joint_price: Any = 0) -> Priced:
        """Price every unit.

        Parameters
        ----------
        values : array, shape (len(cuts),)
            What each piece costs: float64, or int64 for proofs.
        joint_price
            What each joint costs beside, in the same money.

        Raises
        ------
        ValueError
            Values of the wrong shape or kind, or integers too big to add up safely.
        """
        return Priced(self, *self._ready(values, joint_price))

    def _ready(self, values: Values, joint_price: Any) -> tuple[Values, Any]:
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
        return padded, values.dtype.type(joint_price)

    def column(self, unit: int, joints: Joints) -> Column:
        """A column from joints, which are taken as they are."""
        cuts = {self.index[cut]: q for cut, q in self.units[unit].cuts(joints).items()}
        return Column(unit, joints, tuple(sorted(cuts.items())))


class Priced:
    """The units at one set of values.

    Attributes
    ----------
    bound : array, shape (units,)
        At most the value of every column of the unit; "no way" (see `possible`) where it has none.
    """

    def __init__(self, pricer: Pricer, padded: Values, joint_price: Any) -> None:
        self.pricer = pricer
        self._joint_price = joint_price
        self._far = far_of(padded)
        self._singles: list[Single] = [t.price(padded) for t in pricer.tables]
        best = [0 * padded[:1].sum()] * len(pricer.units)
        for u, spots in enumerate(pricer.spots):
            for table, column in spots:
                best[u] = best[u] + self._singles[table].best[column] - joint_price
        self.bound: Values = np.array(best, padded.dtype)

    def possible(self, unit: int) -> bool:
        """Whether the unit may have a column at all."""
        return bool(self.bound[unit] < (self._far if self._far == np.inf else self._far >> 1))

    def column(self, unit: int) -> Column | None:
        """A column of least value; None where the unit has none."""
        if not self.possible(unit):
            return None
        joints = tuple(self._singles[t].joints(c) for t, c in self.pricer.spots[unit])
        return self.pricer.column(unit, joints)

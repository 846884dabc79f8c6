"""What a covering model is about, sticks or sheets: columns, what is wanted, what there is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm

import numpy as np
from numpy.typing import NDArray

__all__ = ["Bools", "Column", "Covering", "Floats", "Ints", "step_of"]

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Column:
    """A pattern of a stock, or a way to make one of a unit of jointed runs.

    Parameters
    ----------
    cuts
        (kind, how many); below 0 where a way asks for pieces.
    cost
        Dollars.
    stock, unit
        Which stock it is cut from, or which unit it makes: one of them is None.
    """

    cuts: tuple[tuple[int, int], ...]
    cost: Fraction
    stock: int | None = None
    unit: int | None = None


@dataclass(frozen=True)
class Covering:
    """Cut what is wanted from what can be had, at the least cost.

    Parameters
    ----------
    need : array, shape (kinds,)
    available
        By stock, None for no limit.
    columns
        Patterns and ways.
    copies : array, shape (units,)
        How many of each unit of runs are to be made.
    exactly
        Kinds that no plan in question cuts more often than wanted.
    worth : array, shape (kinds,), or None
        What a piece of each kind is about worth in dollars: a hint.
    """

    need: Ints
    available: Sequence[int | None]
    columns: Sequence[Column]
    copies: Ints
    exactly: frozenset[int] = frozenset()
    worth: Floats | None = None


def step_of(columns: Sequence[Column]) -> Fraction:
    """All costs are multiples of this."""
    costs = [c.cost for c in columns if c.cost]
    if not costs:
        return Fraction(1)
    scale = lcm(*(c.denominator for c in costs))
    return Fraction(gcd(*(int(c * scale) for c in costs)), scale)

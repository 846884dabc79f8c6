"""Proved lower bounds, in integers and fractions alone."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm

import numpy as np

from cutopt.solve.lumber.model import Ints, Model
from cutopt.solve.lumber.pricing import Floats, PatternPricer
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.sums import next_sum

__all__ = ["Worths", "proved", "rounded_up", "step_of_costs"]

#: What the dearest stick's cost becomes, about, in whole numbers.
_SCALE = 1 << 42
#: The most that whole worths of a stick may add up to.
_SAFE = 1 << 61


@dataclass(frozen=True)
class Worths:
    """Whole worths that no stick passes, with the bound that they prove.

    Parameters
    ----------
    scale
        Whole numbers in a dollar.
    piece : int64 array, shape (kinds,)
    costs : list of int64 arrays
        Per stock at most its cost by used units.
    gain : list of int
        What having one more of a limited stock is worth at most; 0 for others.
    unit : list of int
        At most the value of each unit's best way.
    total
        Their bound.
    """

    scale: Fraction
    piece: Ints
    costs: list[Ints]
    gain: list[int]
    unit: list[int]
    total: int

    @property
    def bound(self) -> Fraction:
        """In dollars."""
        return max(Fraction(0), Fraction(self.total) / self.scale)


def proved(pricer: PatternPricer, runs: RunPricer, worth: Floats) -> Worths:
    """What any plan costs at least, from worths in dollars that may be inexact.

    Worths are rounded down to whole numbers and priced again exactly. Where a stick without a
    limit could still hold more than it costs, they are lowered by that share and priced once more;
    a limited one takes its greatest gain off as often as it can be had.
    """
    model = pricer.model
    dearest = max((s.cost for s in model.stocks), default=Fraction(1)) or Fraction(1)
    scale = Fraction(_SCALE) / dearest
    most = float(np.max(np.abs(worth), initial=0.0)) * float(scale)
    pieces = max((k.room // int(min(model.grids[k.grid].weight)) for k in model.stocks), default=1)
    while most * max(1, pieces) > _SAFE:
        scale /= 2
        most /= 2
    whole = np.floor(worth * float(scale))
    # A piece that may not be cut once too often can be worth less than nothing.
    whole = np.where(model.tight, whole, np.maximum(whole, 0)).astype(np.int64)
    costs = [pricer.whole_costs(k, scale) for k in range(len(model.stocks))]
    free = _free(model, scale)
    whole[free] = np.minimum(whole[free], 0)
    copies = pricer.most_copies
    filled = pricer.fill(whole, copies)
    over = Fraction(1)
    for k, stock in enumerate(model.stocks):
        if stock.available is None:
            over = max(over, _over(pricer.values(filled, k), costs[k]))
    if over > 1:
        n, d = over.numerator, over.denominator
        whole = np.array([int(w) * d // n for w in whole.tolist()], np.int64)
        filled = pricer.fill(whole, copies)
    lifted = runs.lifted(whole, filled)
    unit = runs.whole_values(lifted, scale)
    total = sum(int(n) * int(w) for n, w in zip(model.need, lifted, strict=True))
    total += sum(int(n) * v for n, v in zip(runs.copies, unit, strict=True))
    gains = []
    for k, stock in enumerate(model.stocks):
        gain = max(0, int((pricer.values(filled, k) - costs[k]).max()))
        gains.append(gain)
        if gain and stock.available is None:
            raise RuntimeError(f"worths passed the cost of stock {k} after they were lowered")
        total -= (stock.available or 0) * gain
    return Worths(scale, lifted, costs, gains, unit, total)


def _free(model: Model, scale: Fraction) -> list[int]:
    """Kinds that an unlimited stick gives for nothing."""
    free: set[int] = set()
    for stock in model.stocks:
        if stock.available is None and stock.cost * scale < 1:
            grid = model.grids[stock.grid]
            free.update(grid.kinds[grid.weight <= stock.room].tolist())
    return sorted(free)


def _over(value: Ints, cost: Ints) -> Fraction:
    """The most that a value is a multiple of its cost, from 1."""
    at = np.flatnonzero(value > cost)
    return max(
        (Fraction(int(v), max(1, int(c))) for v, c in zip(value[at], cost[at], strict=True)),
        default=Fraction(1),
    )


def step_of_costs(model: Model, runs: RunPricer) -> Fraction:
    """What every cost of a plan is a multiple of; 0 where drops earn credit."""
    if any(model.slope(k) for k in range(len(model.stocks))):
        return Fraction(0)
    costs = [*(s.cost for s in model.stocks), *runs.joint_prices]
    scale = lcm(*(c.denominator for c in costs))
    return Fraction(gcd(*(int(c * scale) for c in costs)), scale)


def rounded_up(model: Model, runs: RunPricer, bound: Fraction, below: Fraction | None) -> Fraction:
    """The next cost that whole sticks and joints can add up to, where drops earn nothing."""
    if any(model.slope(k) for k in range(len(model.stocks))):
        return bound
    costs = {s.cost for s in model.stocks}
    costs.update(p for p in runs.joint_prices if p)
    if not costs or (0 in {s.cost for s in model.stocks} and len(costs) == 1):
        return bound
    return next_sum(bound, costs, below)

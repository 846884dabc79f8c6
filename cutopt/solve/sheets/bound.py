"""Proved lower bounds, in integers and fractions alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import ceil, gcd, lcm

from cutopt.solve.sheets.model import Model

__all__ = ["dual_bound", "next_sum"]

#: Most different sums that are listed before only their common divisor is used.
_MOST_SUMS = 100_000


def dual_bound(
    model: Model, need: Iterable[int], worth: Sequence[int], scale: int, values: dict[int, int]
) -> Fraction:
    """What any plan costs at least, from integer worths.

    Parameters
    ----------
    need
        Demand per kind.
    worth
        Per kind, at least 0, in dollars / `scale`.
    values
        Per sheet the worth of its dearest pattern, or more; a sheet that is missing has none.

    Returns
    -------
    Fraction
        Dollars. Worths are divided by the most that any pattern on an unlimited sheet exceeds its
        cost (Farley's bound); a limited sheet takes its greatest gain off as often as it can be
        had.
    """
    total = sum(n * w for n, w in zip(need, worth, strict=True))
    over = Fraction(1)
    for q, value in values.items():
        sheet = model.sheets[q]
        if sheet.available is None and value > 0:
            if sheet.base <= 0:
                return Fraction(0)
            over = max(over, Fraction(value) / (sheet.base * scale))
    bound = Fraction(total) / (over * scale)
    for q, value in values.items():
        sheet = model.sheets[q]
        if sheet.available is not None:
            gain = Fraction(value) / (over * scale) - sheet.base
            bound -= sheet.available * max(Fraction(0), gain)
    return max(bound, Fraction(0))


def next_sum(bound: Fraction, costs: Iterable[Fraction], below: Fraction | None = None) -> Fraction:
    """The least sum of whole numbers of `costs` that is not below `bound`.

    Where sums are too many to list, the next multiple of the costs' greatest common divisor.
    `below` may name a cost that is known to be reached: sums from there on do not matter.
    """
    distinct = sorted({c for c in costs if c > 0})
    if not distinct or bound <= 0:
        return max(bound, Fraction(0))
    scale = lcm(*(c.denominator for c in distinct))
    whole = [int(c * scale) for c in distinct]
    unit = gcd(*whole)
    whole = [w // unit for w in whole]
    target = ceil(bound * scale / unit)
    if 1 not in whole and len(whole) > 1:
        top = target + whole[0] if below is None else ceil(below * scale / unit)
        target = _next_reached(whole, target, max(top, target))
    elif len(whole) == 1:
        target = -(-target // whole[0]) * whole[0]
    return Fraction(target * unit, scale)


def _next_reached(whole: Sequence[int], target: int, top: int) -> int:
    """The least sum from `target` on, at most `top`; `target` itself where they are too many."""
    # Sums of the dearer costs, each filled up with as many of the cheapest as it takes.
    step = whole[0]
    sums = {0}
    for cost in whole[1:]:
        fresh = sums
        while fresh:
            fresh = {s + cost for s in fresh if s + cost <= top} - sums
            sums = sums | fresh
            if len(sums) > _MOST_SUMS:
                return target
    best = top
    for s in sums:
        reached = s if s >= target else s + -(-(target - s) // step) * step
        best = min(best, reached)
    return max(best, target)

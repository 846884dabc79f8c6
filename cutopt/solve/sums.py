"""The least cost that whole pieces of stock can add up to, from a proved bound on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import ceil, gcd, lcm, prod

__all__ = ["next_sum"]

#: Most different sums that are listed before only their common divisor is used.
_MOST_SUMS = 50_000


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
    if prod(top // cost + 1 for cost in whole[1:]) > _MOST_SUMS:
        return target
    sums = {0}
    for cost in whole[1:]:
        fresh = sums
        while fresh:
            fresh = {s + cost for s in fresh if s + cost <= top} - sums
            sums = sums | fresh
    best = top
    for s in sums:
        reached = s if s >= target else s + -(-(target - s) // step) * step
        best = min(best, reached)
    return max(best, target)

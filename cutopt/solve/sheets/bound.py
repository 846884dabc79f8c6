"""Proved lower bounds, in integers and fractions alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from cutopt.solve.sheets.model import Model

__all__ = ["dual_bound"]


def dual_bound(
    model: Model,
    need: Iterable[int],
    worth: Sequence[int],
    scale: int,
    values: dict[int, int],
    runs: int = 0,
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
    runs
        What all jointed runs are worth at least, their joints with them: that only grows where
        worths are divided and joints are not.

    Returns
    -------
    Fraction
        Dollars. Worths are divided by the most that any pattern on an unlimited sheet exceeds its
        cost (Farley's bound); a limited sheet takes its greatest gain off as often as it can be
        had.
    """
    total = runs + sum(n * w for n, w in zip(need, worth, strict=True))
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

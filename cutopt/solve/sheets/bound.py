"""Proved lower bounds, in integers and fractions alone."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutopt.solve.sheets.model import Model

__all__ = ["Certificate", "dual_bound"]


@dataclass(frozen=True, slots=True)
class Certificate:
    """A proof: a kind is worth `worth` / `unit` dollars, and no pattern is worth more than its
    sheet's cost and `gains` of it.

    `bound` is what any plan costs at least. Whatever a pattern costs more than it is worth, a
    plan that uses it costs more than the bound.
    """

    bound: Fraction
    worth: tuple[int, ...]
    unit: Fraction
    gains: tuple[Fraction, ...]


def dual_bound(
    model: Model,
    need: Iterable[int],
    worth: Sequence[int],
    scale: int,
    values: dict[int, int],
    runs: int = 0,
) -> Certificate:
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
    Certificate
        Worths are divided by the most that any pattern on an unlimited sheet exceeds its cost
        (Farley's bound); a limited sheet takes its greatest gain off as often as it can be had.
    """
    total = runs + sum(n * w for n, w in zip(need, worth, strict=True))
    over = Fraction(1)
    gains = [Fraction(0)] * len(model.sheets)
    for q, value in values.items():
        sheet = model.sheets[q]
        if sheet.available is None and value > 0:
            if sheet.base <= 0:
                return Certificate(Fraction(0), tuple(worth), Fraction(0), tuple(gains))
            over = max(over, Fraction(value) / (sheet.base * scale))
    bound = Fraction(total) / (over * scale)
    for q, value in values.items():
        sheet = model.sheets[q]
        if sheet.available is not None:
            gains[q] = max(Fraction(0), Fraction(value) / (over * scale) - sheet.base)
            bound -= sheet.available * gains[q]
    return Certificate(max(bound, Fraction(0)), tuple(worth), over * scale, tuple(gains))

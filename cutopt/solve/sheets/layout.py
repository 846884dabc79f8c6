"""A pattern as it is cut: places, the order of the cuts, and the drops that go to the rack."""

from __future__ import annotations

from fractions import Fraction

from cutopt.materials import Rules
from cutopt.plan import Drop
from cutopt.plan.guillotine import Cutting, Rect, guillotine
from cutopt.plan.value import drop_credit, keeps
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern, place

__all__ = ["Laid", "credit_of", "lay"]

#: (kind, turned, where) of each part, and the drops.
Laid = tuple[tuple[tuple[int, bool, Rect], ...], tuple[Drop, ...]]


def lay(pattern: Pattern, model: Model, rules: Rules) -> Laid:
    """Where the parts lie and what is left over.

    Of the ways to cut the same places (along or across first) the one is taken that keeps most
    area, then the one with the fewest cuts.

    Raises
    ------
    ValueError
        Where the pattern breaks its cutting rule, which no pattern of this room does.
    """
    sheet, bench = model.sheets[pattern.sheet], model.bench_of[pattern.sheet]
    sizes = [(k.length, k.width) for k in model.kinds]
    placed = place(pattern, sizes, bench.kerf)
    length, width = sheet.length - bench.kerf, sheet.width - bench.kerf
    offer = sheet.offers[0]
    best: tuple[int, int, int, Cutting] | None = None
    for number, axis in enumerate(bench.axes):
        cutting = guillotine(
            [rect for _, _, rect in placed], length, width, bench.kerf, axis, bench.stages
        )
        if cutting is None:
            continue
        kept = sum(
            d.length * d.width for d in cutting.drops if keeps(offer, d.length, d.width, rules)
        )
        key = (-kept, len(cutting.cuts), number, cutting)
        if best is None or key[:3] < best[:3]:
            best = key
    if best is None:
        raise ValueError(f"a pattern that cannot be cut: {pattern}")
    drops = tuple(
        Drop(d.x, d.y, d.length, d.width, keeps(offer, d.length, d.width, rules))
        for d in best[3].drops
    )
    return placed, drops


def credit_of(pattern: Pattern, model: Model, rules: Rules) -> Fraction:
    """Dollars that the pattern's kept drops take off its cost."""
    sheet = model.sheets[pattern.sheet]
    if not sheet.credit:
        return Fraction(0)
    _, drops = lay(pattern, model, rules)
    return sum((drop_credit(sheet.offers[0], d, rules) for d in drops), Fraction(0))

"""A pattern as it is cut: places, the order of the cuts, and the drops that go to the rack."""

from __future__ import annotations

from fractions import Fraction

from cutopt.materials import Rules
from cutopt.plan import Drop
from cutopt.plan.guillotine import Cutting, Rect, guillotine
from cutopt.plan.value import drop_credit, keeps
from cutopt.solve.sheets.arrange import Arranged, Table, arranged
from cutopt.solve.sheets.edges import on_edges
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern

__all__ = ["Laid", "credit_of", "lay", "table_of"]

#: (kind, turned, where) of each part, and the drops.
Laid = tuple[tuple[tuple[int, bool, Rect], ...], tuple[Drop, ...]]


def lay(pattern: Pattern, model: Model, rules: Rules, thorough: bool = True) -> Laid:
    """Where the parts lie and what is left over.

    Of the trees by which the same parts are cut from the sheet (`arrange`) and the first cuts that
    its rule allows the one is taken that keeps most area, then the one with the fewest kept drops,
    then the one with the largest, then the one with the fewest cuts.

    Parameters
    ----------
    thorough
        Whether parts may leave their strips and stacks for it.

    Raises
    ------
    ValueError
        Where the pattern breaks its cutting rule, which no pattern of this room does.
    """
    sheet, bench = model.sheets[pattern.sheet], model.bench_of[pattern.sheet]
    table = table_of(model, pattern.sheet, rules)
    offer = sheet.offers[0]
    if any(model.kinds[k].edge for strip in pattern.strips for stack in strip for k, _ in stack):
        # Parts that keep factory edges stay where they are.
        found = Arranged(pattern.axis, on_edges(pattern, model), ())
    else:
        found = arranged(pattern.axis, pattern.strips, table, thorough)
    best: tuple[tuple[int, ...], Cutting] | None = None
    for number, axis in enumerate(bench.axes):
        cutting = guillotine(
            [rect for _, _, rect in found.placed],
            table.length,
            table.width,
            bench.kerf,
            axis,
            bench.stages,
            found.kept,
        )
        if cutting is None:
            continue
        kept = [d.length * d.width for d in cutting.drops if keeps(offer, d.length, d.width, rules)]
        key = (-sum(kept), len(kept), -max(kept, default=0), len(cutting.cuts), number)
        if best is None or key < best[0]:
            best = (key, cutting)
    if best is None:
        raise ValueError(f"a pattern that cannot be cut: {pattern}")
    drops = tuple(
        Drop(d.x, d.y, d.length, d.width, keeps(offer, d.length, d.width, rules))
        for d in best[1].drops
    )
    return found.placed, drops


def table_of(model: Model, sheet: int, rules: Rules) -> Table:
    """A sheet and the rule by which it is cut."""
    stock, bench = model.sheets[sheet], model.bench_of[sheet]
    rule = rules.for_sheets(stock.material)
    return Table(
        sizes=tuple((k.length, k.width) for k in model.kinds),
        turn=tuple(k.turn and min(k.length, k.width) >= rule.least_rip for k in model.kinds),
        length=stock.length - bench.kerf,
        width=stock.width - bench.kerf,
        kerf=bench.kerf,
        stages=bench.stages,
        axes=bench.axes,
        keep=rule.keep_drop,
    )


def credit_of(pattern: Pattern, model: Model, rules: Rules) -> Fraction:
    """Dollars that the pattern's kept drops take off its cost."""
    if not pattern.strips:
        # Nothing is cut from it, so nothing is left over either.
        return Fraction(0)
    sheet = model.sheets[pattern.sheet]
    if not sheet.credit:
        return Fraction(0)
    _, drops = lay(pattern, model, rules, thorough=False)
    return sum((drop_credit(sheet.offers[0], d, rules) for d in drops), Fraction(0))

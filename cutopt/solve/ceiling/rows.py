"""One row from one board: what is left over, and what the board then costs."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from cutopt.materials import Offer, Rules, SheetRules
from cutopt.plan import Drop, Group
from cutopt.plan.guillotine import Cutting, Rect, first_axes, guillotine
from cutopt.plan.value import drop_credit, keeps
from cutopt.solve.ceiling.model import Price

__all__ = ["row_drops", "row_price"]


def row_drops(group: Group, offer: Offer, span: int, finished: int) -> tuple[Drop, ...]:
    """What a board leaves beside a row at its squared head and a factory edge.

    No edge is trimmed. Of the ways to cut it the one that keeps most for the rack is taken.
    """
    rule = group.rules.for_sheets(offer.material)
    cuttings = _cuttings(rule, offer.length, offer.width or 0, span, finished)
    found = [tuple(_drop(d, offer, group.rules) for d in c.drops) for c in cuttings]
    return max(found, key=lambda drops: sum(d.length * (d.width or 0) for d in drops if d.kept))


def _drop(rect: Rect, offer: Offer, rules: Rules) -> Drop:
    kept = keeps(offer, rect.length, rect.width, rules)
    return Drop(rect.x, rect.y, rect.length, rect.width, kept)


@lru_cache(maxsize=4096)
def _cuttings(
    rule: SheetRules, length: int, width: int, span: int, finished: int
) -> tuple[Cutting, ...]:
    row = [Rect(0, 0, span, finished)]
    found = (
        guillotine(row, length, width, rule.kerf, axis, rule.stages)
        for axis in first_axes(rule.first_cut)
    )
    return tuple(c for c in found if c is not None)


def row_price(group: Group) -> Price | None:
    """What a board costs less its kept drops; None where no drop is worth anything."""
    if not any(group.rules.for_sheets(m).drop_value for m in group.materials):
        return None

    @lru_cache(maxsize=100_000)
    def price(offer: Offer, span: int, finished: int) -> Fraction:
        drops = row_drops(group, offer, span, finished)
        return offer.cost - sum((drop_credit(offer, d, group.rules) for d in drops), Fraction(0))

    return price

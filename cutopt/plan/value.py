"""What a drop is worth: a share of what its stock cost, where it is large enough to keep."""

from __future__ import annotations

from fractions import Fraction

from cutopt.materials import Offer, Rules
from cutopt.plan.layout import Drop

__all__ = ["drop_credit", "keeps"]


def keeps(offer: Offer, length: int, width: int | None, rules: Rules) -> bool:
    """Whether a drop of this size goes to the rack: the plant's keep_drop decides."""
    if width is None:
        return length > 0 and length >= rules.for_lumber(offer.material).keep_drop
    least = rules.for_sheets(offer.material).keep_drop
    return length > 0 and width > 0 and length >= least[0] and width >= least[1]


def drop_credit(offer: Offer, drop: Drop, rules: Rules) -> Fraction:
    """Exact dollars that a kept drop takes off the objective; 0 for a drop that is not kept."""
    if not drop.kept:
        return Fraction(0)
    if drop.width is None or offer.width is None:
        share = Fraction(rules.for_lumber(offer.material).drop_value)
        return share * offer.cost * drop.length / offer.length
    share = Fraction(rules.for_sheets(offer.material).drop_value)
    return share * offer.cost * drop.length * drop.width / (offer.length * offer.width)

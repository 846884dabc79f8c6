"""Least orders of the mill where no room plans with them.

A plan is bought up; or what is bought beyond is cut instead of other stock; or it does without.

A bound without least orders holds with them: whatever must be bought beyond only adds to the cost.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from cutopt.materials import Offer
from cutopt.plan import Group, MaterialPlan, Stop
from cutopt.solve.outcome import Outcome, material_plans

__all__ = ["with_least_orders"]

#: Rows that are tried to do without.
_TRIED = 4


def with_least_orders(group: Group, solve: Callable[[Group], Outcome]) -> tuple[MaterialPlan, ...]:
    """The group's plans; where more is bought than cut, also tried with it, and without that row.

    With it: the least order of the row lies there and costs nothing more, the rest of the stock is
    as it was. Every trial is costed at the prices of the stock as it is.
    Fewest left out first, then the cheapest. The bound is that of the group as it is.
    """
    outcome = solve(group)
    best = bare = material_plans(group, outcome)
    closed = group
    for _ in range(_TRIED):
        rows = {o.row for plan in bare for o, _ in plan.surplus}
        if not rows or _proved(best) or outcome.stop in (Stop.TIME, Stop.INTERRUPTED):
            break
        # The row whose surplus costs most.
        dearest = max(
            ((o, n) for plan in bare for o, n in plan.surplus),
            key=lambda s: (s[0].cost * s[1], -s[0].row),
        )[0]
        # What sizes are worth beside stock that costs nothing says nothing of what they cost.
        other = replace(solve(_paid(closed, dearest)), shortages=outcome.shortages)
        paid = _at_own_prices(group, outcome, other)
        closed = replace(
            closed,
            offers=tuple(replace(o, limit=0) if o.row == dearest.row else o for o in closed.offers),
        )
        without = _at_own_prices(group, outcome, solve(closed))
        best = min(best, paid, without, key=_rank)
        if _rank(without) >= _rank(bare):
            break
        bare = without
    return best


def _paid(group: Group, offer: Offer) -> Group:
    """The group with the offer's least order lying there, paid for; more of it at its price.

    The second row has the number of the first with a minus, so that both stay apart.
    """
    here = replace(offer, price=Decimal(0), on_hand=offer.min_order, limit=0, min_order=0)
    more = replace(
        offer,
        row=-offer.row,
        limit=None if offer.limit is None else offer.limit - offer.min_order,
        min_order=0,
    )
    offers = ((here, more) if o.row == offer.row else (o,) for o in group.offers)
    return replace(group, offers=tuple(o for pair in offers for o in pair))


def _at_own_prices(group: Group, first: Outcome, other: Outcome) -> tuple[MaterialPlan, ...]:
    """What another outcome comes to in the group as it is, under the bound of its first outcome."""
    own = {o.row: o for o in group.offers}
    uses = tuple(replace(u, offer=own[abs(u.offer.row)]) for u in other.uses)
    bound = first.bound if _same_parts(first, other) else Fraction(0)
    return material_plans(group, replace(other, uses=uses, bound=bound))


def _proved(plans: tuple[MaterialPlan, ...]) -> bool:
    return all(p.bound >= p.objective for p in plans)


def _same_parts(one: Outcome, other: Outcome) -> bool:
    return sorted(map(str, one.unplanned)) == sorted(map(str, other.unplanned))


def _rank(plans: tuple[MaterialPlan, ...]) -> tuple[int, Fraction]:
    left_out = sum(u.qty for p in plans for u in p.unplanned)
    return left_out, sum((p.objective for p in plans), Fraction(0))

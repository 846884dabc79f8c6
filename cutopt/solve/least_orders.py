"""Least orders of the mill where no room plans with them: a plan is bought up, or does without.

A bound without least orders holds with them: whatever must be bought beyond only adds to the cost.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

from cutopt.plan import Group, MaterialPlan, Stop
from cutopt.solve.outcome import Outcome, material_plans

__all__ = ["with_least_orders"]

#: Rows that are tried to do without.
_TRIED = 4


def with_least_orders(group: Group, solve: Callable[[Group], Outcome]) -> tuple[MaterialPlan, ...]:
    """The group's plans; where more is bought than cut, also tried without buying that row.

    Fewest left out first, then the cheapest. The bound is that of the group as it is.
    """
    outcome = solve(group)
    best = material_plans(group, outcome)
    closed = group
    for _ in range(_TRIED):
        rows = {o.row for plan in best for o, _ in plan.surplus}
        if not rows or _proved(best) or outcome.stop in (Stop.TIME, Stop.INTERRUPTED):
            break
        # The row whose surplus costs most.
        dearest = max(
            ((o, n) for plan in best for o, n in plan.surplus),
            key=lambda s: (s[0].cost * s[1], -s[0].row),
        )[0]
        closed = replace(
            closed,
            offers=tuple(replace(o, limit=0) if o.row == dearest.row else o for o in closed.offers),
        )
        other = solve(closed)
        own = {o.row: o for o in group.offers}
        uses = tuple(replace(u, offer=own[u.offer.row]) for u in other.uses)
        bound = outcome.bound if _same_parts(outcome, other) else Fraction(0)
        trial = material_plans(group, replace(other, uses=uses, bound=bound))
        if _rank(trial) >= _rank(best):
            break
        best = trial
    return best


def _proved(plans: tuple[MaterialPlan, ...]) -> bool:
    return all(p.bound >= p.objective for p in plans)


def _same_parts(one: Outcome, other: Outcome) -> bool:
    return sorted(map(str, one.unplanned)) == sorted(map(str, other.unplanned))


def _rank(plans: tuple[MaterialPlan, ...]) -> tuple[int, Fraction]:
    left_out = sum(u.qty for p in plans for u in p.unplanned)
    return left_out, sum((p.objective for p in plans), Fraction(0))

"""Cost against board lengths: what ceilings cost where so many different lengths may be bought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from cutopt.cutlist import Part, Rule
from cutopt.plan import Group, Source, Stop
from cutopt.solve.ceiling.solver import Ceilings, plan_fields
from cutopt.solve.curve import CurvePoint
from cutopt.solve.outcome import Outcome, material_plans
from cutopt.solve.search import Watch

__all__ = ["lengths_points"]

#: Most lengths that are tried one by one, before no limit at all.
_MOST = 16


def lengths_points(group: Group, watch: Watch, seed: int) -> tuple[CurvePoint, ...]:
    """What the boards of a group's ceiling fields cost at 1, 2, 3 ... lengths to buy.

    Each number of lengths is allowed to every material of the group. A number at which more has to
    be left out than without a limit is passed over; the last point has no limit.

    Parameters
    ----------
    group
        One material, or several whose fields may change places; other parts are left aside.
    watch
        Each point has its share of what is left of it; where it ends, there are fewer points.
    seed
        Not needed: nothing here is left to chance.
    """
    fields = tuple(p for p in group.parts if p.rule is Rule.FULL_SPAN)
    offered = {o.length for o in group.offers if o.limit != 0 and o.width is not None}
    most = min(len(offered), _MOST)
    free = _Tried(group, fields, 0, watch, most + 1)
    if not free.planned.items:
        return ()
    points: list[CurvePoint] = []
    for n in range(1, most + 1):
        if watch.stop() is not None or n > free.point.lengths:
            break
        tried = _Tried(group, fields, n, watch, most - n + 1)
        if tried.left_out <= free.left_out:
            points.append(tried.point)
            if tried.point.objective <= free.point.objective:
                break
    return _bounded([*points, free.point])


def _bounded(points: Sequence[CurvePoint]) -> tuple[CurvePoint, ...]:
    """With fewer lengths nothing costs less than what more of them cost at least."""
    bound = Fraction(0)
    found: list[CurvePoint] = []
    for point in reversed(points):
        bound = max(bound, point.bound or bound)
        found.append(replace(point, bound=bound))
    return tuple(reversed(found))


class _Tried:
    """One number of lengths, 0 for no limit: its point, and how many fields it leaves out."""

    def __init__(
        self, group: Group, fields: Sequence[Part], lengths: int, watch: Watch, share: int
    ) -> None:
        ceiling = {
            m: replace(group.rules.for_ceiling(m), order_lengths=lengths) for m in group.materials
        }
        rules = replace(group.rules, ceiling_of={**group.rules.ceiling_of, **ceiling})
        now = replace(group, parts=tuple(fields), rules=rules)
        part = Watch(watch.left() / share, lambda: watch.stop() is not None)
        self.planned: Ceilings = plan_fields(now, fields, frozenset(), part)
        outcome = Outcome(self.planned.items, self.planned.uses, self.planned.bound, Stop.WORK, 0.0)
        plans = material_plans(now, outcome)
        bought = {
            (p.material, lay.offer.length)
            for p in plans
            for lay in p.layouts
            if lay.source is Source.BUY
        }
        self.bound = self.planned.bound
        self.left_out = sum(u.qty for _, u in self.planned.unplanned)
        self.point = CurvePoint(
            setting="any number of lengths" if not lengths else _words(lengths),
            objective=sum((p.objective for p in plans), Fraction(0)),
            cost=sum((p.cost for p in plans), Fraction(0)),
            setups=sum(len({lay.pattern for lay in p.layouts}) for p in plans),
            joints=0,
            sticks=sum(lay.count for p in plans for lay in p.layouts),
            bound=self.bound,
            lengths=len(bought),
        )


def _words(lengths: int) -> str:
    return "1 length" if lengths == 1 else f"at most {lengths} lengths"

"""What a mill does that joints each run before it looks at the sticks.

The joints are chosen run by run (mates together, their clearance kept), then all pieces are cut at
least cost by the same solver: the difference to a plan made together is that of the joints alone.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np

from cutopt.cutlist import Rule
from cutopt.plan import Group
from cutopt.solve.lumber import solve_sticks
from cutopt.solve.lumber.refuse import longest_piece
from cutopt.solve.outcome import material_plans
from cutopt.solve.runs import Joints, Pricer, Unit, equal_pieces, units_of
from cutopt.solve.search import Watch

__all__ = ["WAYS", "jointed_first"]

#: Ways to joint a run first.
WAYS = ("longest first", "equal pieces", "each alone")
#: Whole numbers in a dollar, for prices of single pieces.
_SCALE = 100_000


def jointed_first(group: Group, way: str, seconds: float) -> Fraction | None:
    """The objective; None where that way makes some run impossible, or limits leave too little."""
    units = units_of(group.parts, group.rules, lambda p: longest_piece(group, p.materials))
    pricer = Pricer(units)
    found = {
        "longest first": _longest_first,
        "equal pieces": lambda _, p: [None if c is None else c.joints for c in equal_pieces(p)],
        "each alone": _alone,
    }[way](group, pricer)
    parts = [p for p in group.parts if p.rule is not Rule.JOINTED]
    joint_cost = Fraction(0)
    for unit, joints in zip(units, found, strict=True):
        if joints is None:
            return None
        for copy in unit.members:
            for run, at, member in zip(unit.runs, joints, copy, strict=True):
                ends = (0, *at, run.length)
                price = min(Fraction(group.rules.for_lumber(m).joint_price) for m in run.materials)
                joint_cost += len(at) * price
                for k in range(len(ends) - 1):
                    piece = replace(
                        member.part,
                        mark=f"{member.name} {k + 1}",
                        length=ends[k + 1] - ends[k],
                        qty=1,
                        rule=Rule.PART,
                        joints=None,
                    )
                    parts.append(piece)
    outcome = solve_sticks(replace(group, parts=tuple(parts)), Watch(seconds), 1)
    plans = material_plans(group, outcome)
    if any(p.unplanned for p in plans):
        return None
    return sum((p.objective for p in plans), joint_cost)


def _longest_first(group: Group, pricer: Pricer) -> list[Joints | None]:
    """Each run from its start, every piece as long as the stick and the places allow.

    Of mates the first goes so; the other as long as it can beside it. Where that leads nowhere,
    the fewest joints that keep clear.
    """
    fewest = pricer.best_integer(np.zeros(len(pricer.cuts), np.int64), 1)
    found: list[Joints | None] = []
    for unit, least in zip(pricer.units, fewest, strict=True):
        if least is None:
            found.append(None)
            continue
        made: list[tuple[int, ...]] | None = []
        for r in range(len(unit.runs)):
            near = _walk(unit, r, made or [])
            if near is None:
                made = None
                break
            made = [*(made or []), near]
        found.append(least.joints if made is None else tuple(made))
    return found


def _walk(unit: Unit, r: int, before: list[tuple[int, ...]]) -> tuple[int, ...] | None:
    """Joints of a run, each as far on as it can be, clear of those of the runs before it."""
    run = unit.runs[r]
    taken = [(x, gap) for i, j, gap in unit.clear if j == r and i < len(before) for x in before[i]]
    places = [x for x in run.places if all(abs(x - y) >= gap for y, gap in taken)]
    dead: set[int] = set()

    def on(at: int) -> tuple[int, ...] | None:
        if run.length - at <= run.longest and (at == 0 or run.fits(run.length - at)):
            return ()
        for x in reversed(places):
            if x > at and x not in dead and run.fits(x - at):
                rest = on(x)
                if rest is not None:
                    return (x, *rest)
                dead.add(x)
        return None

    return on(0)


def _alone(group: Group, pricer: Pricer) -> list[Joints | None]:
    """Each run at its least cost alone: a piece costs its share of the stick that it fills best.

    A stick may give the same piece several times; what is left of it earns its credit.
    """
    values = []
    for cut in pricer.cuts:
        best: Fraction | None = None
        for offer in group.offers:
            if offer.material not in cut.materials or offer.available is not None:
                continue
            shop = group.rules.for_lumber(offer.material)
            usable = offer.counts_as - shop.head_trim
            for n in range(1, (usable + shop.kerf) // (cut.length + shop.kerf) + 1):
                drop = usable - n * (cut.length + shop.kerf)
                cost = Fraction(offer.cost)
                if drop > 0 and drop >= shop.keep_drop:
                    cost -= Fraction(shop.drop_value) * offer.cost * drop / offer.length
                best = cost / n if best is None else min(best, cost / n)
        values.append(0 if best is None else int(best * _SCALE))
    joint = min(Fraction(group.rules.for_lumber(m).joint_price) for m in group.materials)
    found = pricer.best_integer(np.array(values, np.int64), int(joint * _SCALE))
    return [None if c is None else c.joints for c in found]

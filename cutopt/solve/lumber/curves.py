"""Cost against joints: what a day's sticks cost at other joint prices and other shortest pieces."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import TypeVar

import numpy as np

from cutopt.cutlist import Part, Rule
from cutopt.materials import LumberRules
from cutopt.measure import INCH, MM, fits_inches
from cutopt.plan import Group
from cutopt.solve.curve import CurvePoint
from cutopt.solve.lumber.refuse import longest_piece
from cutopt.solve.lumber.solver import solve_sticks
from cutopt.solve.outcome import material_plans
from cutopt.solve.runs import Pricer, units_of
from cutopt.solve.search import Watch
from cutopt.solve.words import shown

__all__ = ["joints_points"]

_T = TypeVar("_T")

#: Dollars a joint; from the last on doubled until no plan could have fewer joints.
_PRICES = tuple(Decimal(p) for p in ("0.01", "0.25", "0.50", "1", "2", "4"))
_DEAREST = Decimal(64)
#: Shortest pieces of a run: two, three and four stud spaces of 16 in, and what metric plants use.
_INCHES = tuple(n * INCH for n in (0, 32, 48, 64))
_METRIC = tuple(n * MM for n in (0, 800, 1200, 1600))


def joints_points(group: Group, watch: Watch, seed: int) -> tuple[CurvePoint, ...]:
    """What the sticks of a group cost, and how many joints they have, at a ladder of settings.

    First joint prices, at the day's shortest pieces, up to where no plan has fewer joints; then
    shortest pieces, at the day's price. A setting under which more is left out than the day's own
    rules leave out is passed over.

    Parameters
    ----------
    group
        One material, or several whose parts may change places. A price or a shortest piece of the
        ladder is set for all of them.
    watch
        Each setting has its share of what is left of it; where it ends, there are fewer points.

    Returns
    -------
    tuple
        No points where the group has no jointed run that can be made.
    """
    if not any(p.rule is Rule.JOINTED and p.qty for p in group.parts):
        return ()
    own = {m: group.rules.for_lumber(m) for m in group.materials}
    day = _Tried(group, own, _words(own), watch, 10, seed)
    left_out = day.left_out
    points: list[CurvePoint] = []
    ladder = _price_ladder(own)
    leasts = _leasts(group, own)
    fewest = _fewest(group)
    price = ladder[0]
    while watch.stop() is None:
        rules = {m: replace(r, joint_price=price) for m, r in own.items()}
        after = len(leasts) + sum(p > price for p in ladder) + 1
        made = day if rules == own else _Tried(group, rules, _words(rules), watch, after, seed)
        if made.left_out <= left_out:
            points.append(made.point)
        if made.point.joints <= fewest or price >= _DEAREST:
            break
        price = next((p for p in ladder if p > price), 2 * price)
    for n, least in enumerate(leasts):
        if watch.stop() is not None:
            break
        rules = {m: replace(r, joint_min_piece=least) for m, r in own.items()}
        made = _Tried(group, rules, _words(rules), watch, len(leasts) - n, seed)
        if made.left_out <= left_out:
            points.append(made.point)
    return tuple(points)


class _Tried:
    """One setting: its point, and how many pieces it leaves out."""

    def __init__(
        self,
        group: Group,
        rules: dict[str, LumberRules],
        setting: str,
        watch: Watch,
        share: int,
        seed: int,
    ) -> None:
        every = replace(group.rules, lumber_of={**group.rules.lumber_of, **rules})
        now = replace(group, rules=every)
        part = Watch(watch.left() / share, lambda: watch.stop() is not None)
        outcome = solve_sticks(now, part, seed)
        plans = material_plans(now, outcome)
        self.left_out = sum(u.qty for p in plans for u in p.unplanned)
        self.point = CurvePoint(
            setting=setting,
            objective=sum((p.objective for p in plans), Fraction(0)),
            cost=sum((p.cost for p in plans), Fraction(0)),
            setups=sum(len({lay.pattern for lay in p.layouts}) for p in plans),
            joints=sum(p.joints for p in plans),
            sticks=sum(lay.count for p in plans for lay in p.layouts),
            bound=outcome.bound,
        )


def _price_ladder(own: dict[str, LumberRules]) -> list[Decimal]:
    """The prices tried, the day's own among them where its materials share one."""
    return sorted({*_PRICES, *_same(r.joint_price for r in own.values())})


def _leasts(group: Group, own: dict[str, LumberRules]) -> list[int]:
    """The shortest pieces tried, without the day's own, at which the prices were tried already."""
    inches = all(fits_inches(n) for p in group.parts for n in _lengths(p))
    day = set(_same(r.joint_min_piece for r in own.values()))
    return [n for n in (_INCHES if inches else _METRIC) if n not in day]


def _lengths(part: Part) -> tuple[int, ...]:
    return () if part.joints is None else (part.length, part.joints.first, part.joints.step)


def _same(values: Iterable[_T]) -> list[_T]:
    """The one value that all have, if they do."""
    found = list(dict.fromkeys(values))
    return found if len(found) == 1 else []


def _fewest(group: Group) -> int:
    """The fewest joints that the runs which can be made have together; limits are left out."""
    units = units_of(group.parts, group.rules, lambda p: longest_piece(group, p.materials))
    pricer = Pricer(units)
    found = pricer.best_integer(np.zeros(len(pricer.cuts), np.int64), 1)
    return sum(c.joint_count * u.copies for c, u in zip(found, units, strict=True) if c is not None)


def _words(rules: dict[str, LumberRules]) -> str:
    """The setting for a person."""
    prices = list(dict.fromkeys(r.joint_price for r in rules.values()))
    leasts = list(dict.fromkeys(r.joint_min_piece for r in rules.values()))
    price = " or ".join(f"${p:.2f}" for p in prices)
    least = " or ".join(shown(n) for n in leasts)
    pieces = f"no piece under {least}" if any(leasts) else "pieces of any length"
    return f"joint price {price}, {pieces}"

"""Small stick days, planned through the solver alone and checked by the checker alone.

Lengths are counted in `CELL`, an eighth of an inch, unless said. Money is recomputed here from the
document with the formulas of the format, not with the planner's own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

from cutopt.cutlist import Day, Joints, Part, Rule
from cutopt.materials import Kind, LumberRules, Offer, Per, Rules
from cutopt.measure import INCH
from cutopt.plan import Group, MaterialPlan, Plan, Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.records import Place
from cutopt.solve.lumber import solve_sticks
from cutopt.solve.outcome import Outcome, material_plans
from cutopt.solve.search import Watch, no_report

CELL = INCH // 8


def rules(
    kerf: int = 0,
    trim: int = 0,
    keep: int = 0,
    value: str = "0",
    joint_price: str = "0.5",
    least: int = 0,
    most: int = 0,
    cell: int = CELL,
    left: int = 0,
) -> LumberRules:
    """Stick rules with lengths in cells."""
    return LumberRules(
        kerf=kerf * cell,
        head_trim=trim * cell,
        keep_drop=keep * cell,
        drop_value=Decimal(value),
        joint_price=Decimal(joint_price),
        joint_min_piece=least * cell,
        max_parts=most,
        least_left=left * cell,
    )


def offer(
    row: int,
    length: int,
    price: str,
    on_hand: int = 0,
    limit: int | None = None,
    material: str = "2x4",
    cell: int = CELL,
    lot: str | None = None,
    over: int = 0,
) -> Offer:
    """A stick, its price per piece."""
    return Offer(
        row,
        material,
        Kind.LUMBER,
        (2, 4),
        length * cell,
        None,
        Decimal(price),
        Per.EACH,
        on_hand,
        limit,
        None,
        lot,
        over * cell,
    )


def part(
    mark: str,
    length: int,
    qty: int,
    material: str = "2x4",
    alt: tuple[str, ...] = (),
    section: str = "A",
    cell: int = CELL,
    joints: tuple[int, ...] | None = None,
    mate: str | None = None,
    need: int | None = None,
) -> Part:
    """A row of a cut list; `joints` (first, step, clearance) makes it a jointed run."""
    made = None
    if joints is not None:
        first, step, *clear = (n * cell for n in joints)
        made = Joints(first, step, clear[0] if clear else 0, mate)
    return Part(
        Place("cuts/a.csv", 2),
        section,
        "wall",
        mark,
        material,
        length * cell,
        None,
        qty,
        rule=Rule.PART if made is None else Rule.JOINTED,
        alt=alt,
        need=need,
        joints=made,
    )


def day(
    offers: Sequence[Offer],
    parts: Sequence[Part],
    lumber: LumberRules,
    of: dict[str, LumberRules] | None = None,
    unit: Any = "in",
) -> Day:
    """A day as if read from its folder."""
    return Day(
        "small",
        "a plant",
        date(2026, 3, 2),
        unit,
        Rules(lumber=lumber, lumber_of=of or {}),
        tuple(offers),
        tuple(parts),
    )


@dataclass(frozen=True)
class Planned:
    """What came of a day."""

    day: Day
    groups: tuple[Group, ...]
    outcomes: tuple[Outcome, ...]
    plans: tuple[MaterialPlan, ...]

    @property
    def objective(self) -> Fraction:
        return sum((p.objective for p in self.plans), Fraction(0))

    @property
    def bound(self) -> Fraction:
        return sum((o.bound for o in self.outcomes), Fraction(0))

    @property
    def optimal(self) -> bool:
        return all(p.status.value == "optimal" for p in self.plans)

    @property
    def left_out(self) -> Counter[tuple[str, str]]:
        """Parts left out by (section, mark)."""
        found: Counter[tuple[str, str]] = Counter()
        for plan in self.plans:
            for u in plan.unplanned:
                found[u.section, u.mark] += u.qty
        return found

    @property
    def reasons(self) -> list[str]:
        return [u.reason for plan in self.plans for u in plan.unplanned]


def solved(
    made: Day,
    seed: int = 1,
    seconds: float = 30.0,
    cancelled: Callable[[], bool] | None = None,
) -> Planned:
    """Plan a day's groups one by one, and check everything that can be checked."""
    groups = Problem((made,)).groups
    outcomes = []
    for group in groups:
        watch = Watch(seconds) if cancelled is None else Watch(seconds, cancelled)
        outcomes.append(solve_sticks(group, watch, seed, no_report))
    plans = tuple(p for g, o in zip(groups, outcomes, strict=True) for p in material_plans(g, o))
    planned = Planned(made, groups, tuple(outcomes), plans)
    sound(planned)
    return planned


def sound(planned: Planned) -> None:
    """Whatever a plan must keep, whoever made it."""
    first = {o.material: o.row for o in reversed(planned.day.offers)}
    order = sorted(planned.plans, key=lambda p: first[p.material])
    document = plan_document(Plan(planned.day.unit, tuple(order)))
    faults = check_plan([planned.day], document)
    assert not faults, faults
    cut, asked = pieces_cut(planned), pieces_asked(planned)
    assert cut == asked, (cut, asked)
    for outcome in planned.outcomes:
        assert isinstance(outcome.bound, Fraction)
    assert planned.bound <= planned.objective, (planned.bound, planned.objective)
    for plan in planned.plans:
        assert (plan.cost, plan.drop_credit) == money_of(plan, planned.day)
        assert (plan.status.value == "optimal") == (
            plan.bound == plan.objective and bool(plan.layouts)
        ) or plan.status.value == "infeasible"
    used: Counter[int] = Counter()
    for plan in planned.plans:
        for lay in plan.layouts:
            used[lay.offer.row] += lay.count
    for o in planned.day.offers:
        assert o.limit is None or used[o.row] <= o.on_hand + o.limit


def pieces_asked(planned: Planned) -> Counter[tuple[str, str]]:
    """Pieces by (section, mark), a run counting as one."""
    asked: Counter[tuple[str, str]] = Counter()
    for p in planned.day.parts:
        asked[p.section, p.mark] += p.qty
    return +asked


def pieces_cut(planned: Planned) -> Counter[tuple[str, str]]:
    """Pieces cut and left out together; of a run the piece at its start counts."""
    cut = planned.left_out
    for plan in planned.plans:
        for lay in plan.layouts:
            for p in lay.parts:
                if p.run is None or p.run_at == 0:
                    cut[p.section, p.mark] += lay.count
    return +cut


def money_of(plan: MaterialPlan, made: Day) -> tuple[Fraction, Fraction]:
    """Cost and drop credit again: from where the parts lie, not from the drops that are told."""
    shop = made.rules.for_lumber(plan.material)
    cost = credit = Fraction(0)
    for lay in plan.layouts:
        price = Fraction(lay.offer.price)
        cost += price * lay.count
        end = max(p.x + p.length for p in lay.parts)
        drop = lay.offer.length - shop.head_trim - end - shop.kerf
        if drop > 0 and drop >= shop.keep_drop:
            share = Fraction(shop.drop_value)
            credit += share * price * Fraction(drop, lay.offer.length) * lay.count
    return cost, credit

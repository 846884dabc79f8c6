"""Small groups for the stick solver's tests, and the checker over what it makes of them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from cutopt.cutlist import Day, Joints, Part, Rule
from cutopt.materials import Kind, LumberRules, Offer, Per, Rules
from cutopt.measure import INCH
from cutopt.plan import Group, Plan, Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.records import Place
from cutopt.solve.lumber import solve_sticks
from cutopt.solve.outcome import Outcome, material_plans
from cutopt.solve.search import Watch

__all__ = ["day_of", "faults", "group_of", "offer", "part", "run", "solved"]


def part(
    length: int,
    qty: int,
    material: str = "2x4",
    alt: tuple[str, ...] = (),
    mark: str = "",
    section: str = "S1",
) -> Part:
    """A row of a cut list, `length` in counts."""
    mark = mark or f"P{length}{''.join(alt)}{material}"
    return Part(Place("cuts/a.csv"), section, "J1", mark, material, length, None, qty, alt=alt)


def run(
    length: int,
    first: int,
    step: int,
    *,
    qty: int = 1,
    mark: str = "R",
    mate: str | None = None,
    clear: int = 0,
    material: str = "2x4",
    alt: tuple[str, ...] = (),
) -> Part:
    """A jointed run."""
    joints = Joints(first, step, clear, mate)
    place = Place("cuts/a.csv")
    return Part(
        place, "S1", "J1", mark, material, length, None, qty, False, Rule.JOINTED, alt, None, joints
    )


def offer(
    length: int,
    price: str,
    on_hand: int = 0,
    limit: int | None = None,
    material: str = "2x4",
    row: int = 0,
    lot: str | None = None,
) -> Offer:
    """A row of stock.csv, a price each; `row` 0 lets `day_of` number it."""
    return Offer(
        row,
        material,
        Kind.LUMBER,
        None,
        length,
        None,
        Decimal(price),
        Per.EACH,
        on_hand,
        limit,
        lot=lot,
    )


def day_of(
    parts: Sequence[Part],
    offers: Sequence[Offer],
    rules: LumberRules,
    rules_of: dict[str, LumberRules] | None = None,
) -> Day:
    """A day of these rows."""
    rows = tuple(
        Offer(
            i + 2,
            o.material,
            o.kind,
            None,
            o.length,
            None,
            o.price,
            o.per,
            o.on_hand,
            o.limit,
            lot=o.lot,
        )
        for i, o in enumerate(offers)
    )
    placed = tuple(
        Part(
            Place("cuts/a.csv", i + 2),
            p.section,
            p.jig,
            p.mark,
            p.material,
            p.length,
            None,
            p.qty,
            False,
            p.rule,
            p.alt,
            p.need,
            p.joints,
        )
        for i, p in enumerate(parts)
    )
    return Day(
        "test",
        "A plant",
        date(2026, 3, 2),
        "in",
        Rules(lumber=rules, lumber_of=rules_of or {}),
        rows,
        placed,
    )


def group_of(day: Day) -> Group:
    """The day's one group."""
    (group,) = Problem((day,)).groups
    return group


def solved(day: Day, seconds: float = 60.0, seed: int = 1) -> Outcome:
    """The solver's outcome."""
    return solve_sticks(group_of(day), Watch(seconds), seed)


def faults(day: Day, outcome: Outcome) -> list[str]:
    """What the checker, which shares nothing with the solver, finds in the plan."""
    plans = material_plans(group_of(day), outcome)
    document = plan_document(Plan("in", plans))
    return check_plan([day], document)


def rules(
    kerf: int = 0,
    head_trim: int = 0,
    keep_drop: int = 24 * INCH,
    drop_value: str = "0",
    max_parts: int = 0,
    joint_price: str = "0.50",
    joint_min_piece: int = 0,
) -> LumberRules:
    """Shop rules, without kerf or credit unless given."""
    return LumberRules(
        kerf,
        head_trim,
        keep_drop,
        Decimal(drop_value),
        Decimal(joint_price),
        joint_min_piece,
        max_parts,
    )

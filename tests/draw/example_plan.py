"""A plan made by hand, with all that a report must show; and a large one."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date
from fractions import Fraction

from cutopt.cutlist import Day
from cutopt.materials import Kind, Rules, SheetRules
from cutopt.measure import INCH, Unit
from cutopt.plan import (
    Cause,
    Layout,
    MaterialPlan,
    Plan,
    Problem,
    Shortage,
    Source,
    Unplanned,
)
from tests.draw.examples import (
    plan_of,
    sheets,
    stick_layout,
    stick_offer,
    sticks,
)

__all__ = ["AWKWARD", "example_plan", "large_plan"]

AWKWARD = '<i>North & "West"</i>'


def _problem(rules: Rules, unit: Unit, plant: str = f"Hask Lake {AWKWARD}") -> Problem:
    day = Day("2026-03-02", plant, date(2026, 3, 2), unit, rules, (), ())
    return Problem((day, replace(day, name="2026-03-03", date=date(2026, 3, 3))))


def example_plan(unit: Unit = "in") -> tuple[Problem, Plan]:
    """Sticks and sheets of every named case, parts that can't be cut, alternates, a rack drop."""
    trim = INCH // 4
    lumber = [layouts for _, layouts in sticks().values()]
    flat = [
        replace(layout, id=f"2x6-SPF-2-{i}", pattern=f"{k}" if len(group) > 1 else layout.pattern)
        for k, group in enumerate(lumber)
        for i, layout in enumerate(group, start=10 * k)
    ]
    yard = stick_offer(30, 12, on_hand=2, limit=0, lot="R-7 <b>", material="2x8-DF-2")
    other = stick_layout(
        "2x8-DF-2-1",
        yard,
        [("92-5/8", ("Alder Cabin", "Wall table 1", "POST"))],
        2,
        source=Source.ON_HAND,
    )
    asked = replace(other.parts[0], asked="2x8-SPF-2")
    other = replace(other, parts=(asked,))
    span = Unplanned(
        "Alder Cabin",
        "CEILING",
        200 * INCH,
        565 * INCH,
        1,
        "span 200 in is longer than the longest board, 192 in; a board of 16 ft 8 in would do",
    )
    stud = Shortage(
        Cause.PART,
        Kind.LUMBER,
        104 * INCH + 5 * INCH // 8,
        None,
        88,
        Fraction(492, 100),
        Fraction(411, 100),
        (AWKWARD, "W1-HEADER-N5"),
        2,
    )
    plate = replace(stud, cause=Cause.RUN, length=1440 * INCH, worth=Fraction(6114, 100))
    short = Shortage(
        Cause.LIMIT, Kind.LUMBER, 192 * INCH, None, 40, Fraction(83, 100), rows=(12, 14)
    )
    materials: list[MaterialPlan] = [
        replace(
            plan_of(flat, bound=Fraction(50), material="2x6-SPF-2"),
            shortages=(plate, stud, short),
        ),
        replace(
            plan_of([other], head_trim=trim),
            joint_with=("2x8-SPF-2",),
            drop_credit=Fraction(3, 2),
            joints=4,
            joint_cost=Fraction(2),
        ),
    ]
    boards: dict[str, list[Layout]] = {}
    rules_of: dict[str, SheetRules] = {}
    for _, rules, layouts in sheets().values():
        name = f"{layouts[0].offer.material}{'-T' if rules.edge_trim else ''}"
        boards.setdefault(name, []).extend(
            replace(layout, offer=replace(layout.offer, material=name)) for layout in layouts
        )
        rules_of[name] = rules
    materials += [
        plan_of(layouts, kerf=rules_of[name].kerf, cutting_rule="" if "T" in name else "rips first")
        for name, layouts in boards.items()
    ]
    materials.append(
        plan_of(
            [],
            material="GYP-CLG-5/8",
            kind=Kind.SHEET,
            unplanned=[span, replace(span, mark=AWKWARD, qty=3)],
        )
    )
    return _problem(Rules(sheets_of=rules_of), unit), Plan(unit, tuple(materials))


def large_plan(pieces: int) -> tuple[Problem, Plan]:
    """A day of so many pieces where every stick is a layout of its own: the worst for size."""
    rng = random.Random(7)
    layouts = []
    left = pieces
    while left > 0:
        cuts = []
        for _ in range(min(left, rng.randint(3, 9))):
            sixteenths = rng.randint(14 * 16, 20 * 16)
            section = f"Section {rng.randint(1, 12)}"
            cuts.append((f"{sixteenths}/16", (section, "Wall table 1", f"W{left:04d}-CRIPPLE")))
            left -= 1
        ident = f"2x6-SPF-2-{len(layouts) + 1}"
        layouts.append(stick_layout(ident, stick_offer(2, 20), cuts))
    return _problem(Rules(), "in", "Large"), Plan("in", (plan_of(layouts),))

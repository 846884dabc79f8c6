"""Small days for the saw floor: sticks with alternates and runs, sheets, ceilings; made up."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache

from cutopt.cutlist import Day, Joints, Part, Rule
from cutopt.materials import CeilingRules, LumberRules, Rules, SheetRules
from cutopt.plan import Plan, Problem
from cutopt.saw.floor import By, State, digest, release
from cutopt.solve import Settings, solve
from tests.plan.hand_made import n, offer, part

BY = By(datetime(2026, 3, 2, 6, 30, tzinfo=UTC), "Saw 1", "A. Sawyer", "T-1")


def day() -> Day:
    """Two sections of sticks, a jointed run and its mate, sheets to be turned, a ceiling."""
    joints = Joints(n("16"), n("16"), n("16"), "R2")
    return Day(
        name="small",
        plant="Small",
        date=date(2026, 3, 2),
        unit="in",
        rules=Rules(
            lumber=LumberRules(head_trim=n("1/4")),
            sheets=SheetRules(keep_drop=(n("20"), n("20"))),
            ceiling=CeilingRules(order_lengths=1),
            sheets_of={"CLG": SheetRules(kerf=0)},
        ),
        offers=(
            offer(2, "2x4-A", "192", None, "8", on_hand=2, lot="L1"),
            offer(3, "2x4-A", "144", None, "6", limit=9),
            offer(4, "2x4-A", "100", None, "4", on_hand=1, limit=0, lot="L2"),
            offer(5, "2x4-B", "192", None, "10", lot="L3"),
            offer(6, "OSB", "96", "48", "20", on_hand=3, lot="L4"),
            offer(7, "OSB", "108", "48", "24"),
            offer(8, "CLG", "144", "48", "12"),
            offer(9, "CLG", "168", "54", "16"),
        ),
        parts=(
            part("S1", "A", "2x4-A", "90", None, 5, need=1),
            part("S1", "B", "2x4-A", "46", None, 4, need=1),
            part("S2", "A", "2x4-A", "90", None, 3, need=2, jig="Bench"),
            part("S2", "C", "2x4-A", "31-1/2", None, 6, alt=("2x4-B",), need=2),
            part("S2", "C2", "2x4-B", "60", None, 3, need=2),
            part("S1", "R1", "2x4-B", "240", None, 1, rule=Rule.JOINTED, joints=joints),
            part(
                *("S1", "R2", "2x4-B", "240", None, 1),
                rule=Rule.JOINTED,
                joints=replace(joints, mate="R1"),
            ),
            part("S1", "D", "OSB", "40", "30", 3, need=1, jig="Deck"),
            part("S2", "E", "OSB", "20", "15", 5, turn=True, need=2, jig="Deck"),
            part("S2", "CEIL", "CLG", "140", "126", 1, rule=Rule.FULL_SPAN, jig="Ceiling"),
        ),
    )


@cache
def planned(strict: bool = False) -> tuple[Problem, Plan]:
    """The small day and its plan; `strict` with edge trim on the ceiling's boards, a least last
    cut and few parts to a stick.
    """
    one = day()
    if strict:
        rules = replace(
            one.rules,
            lumber=replace(one.rules.lumber, least_left=n("1"), max_parts=4),
            sheets_of={"CLG": SheetRules(kerf=0, edge_trim=n("1/4"), drop_value=Decimal("0.25"))},
        )
        one = replace(one, rules=rules)
    problem = Problem((one,))
    return problem, solve(problem, Settings(workers=1))


def released(strict: bool = False) -> State:
    """The state of the small day's plan, released."""
    problem, plan = planned(strict)
    return release(problem, plan, digest(problem.parts))


def rows() -> tuple[Part, ...]:
    return planned()[0].parts

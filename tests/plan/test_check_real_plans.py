"""Plans that the solver makes of two sections of a demo day: right as made, found when damaged.

The damages change what a plan says wherever the chance takes them, so that they meet layouts of
every make: full sticks, strips, rips, runs.
"""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from cutopt.cutlist import Day
from cutopt.files import read_days
from cutopt.files.results import document_text, parse_document
from cutopt.materials import Kind
from cutopt.plan import Plan, Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.solve import no_report
from cutopt.solve.pool import solve_group
from tests.plan.damages import DAMAGES, Damage

DEMO = Path(__file__).parents[2] / "demo_orders" / "2026-03-02"
WORK = 3.0


@cache
def planned(kind: Kind) -> tuple[Day, str]:
    """The day's first two sections in materials of one kind, and their plan as text."""
    was = read_days([DEMO]).days[0]
    sections = list(dict.fromkeys(p.section for p in was.parts))[:2]
    of_kind = {o.material for o in was.offers if o.kind is kind}
    # Runs in sheets and sidings of many sizes take longer than a test should.
    slow = {"SDG-PLY-19/32", "FC-5/16"}
    wanted = [p for p in was.parts if p.section in sections and p.material in of_kind - slow]
    day = replace(was, parts=tuple(wanted))
    problem = Problem((day,))
    plans = [solve_group(g, WORK, 1, lambda: False, no_report) for g in problem.groups]
    plan = Plan("in", tuple(material for group in plans for material in group))
    return day, document_text(plan_document(plan))


KINDS = [Kind.LUMBER, Kind.SHEET]


@pytest.mark.parametrize("kind", KINDS)
def test_a_plan_as_made_checks(kind: Kind) -> None:
    day, text = planned(kind)
    assert check_plan([day], parse_document(text)) == []


@pytest.mark.parametrize("damage", DAMAGES, ids=lambda d: d.__name__)
@pytest.mark.parametrize("kind", KINDS)
def test_damage_to_a_plan_as_made_is_found(kind: Kind, damage: Damage) -> None:
    day, text = planned(kind)
    chance = random.Random(damage.__name__)
    for turn in range(12):
        plan = parse_document(text)
        if damage(plan, chance):
            assert check_plan([day], plan), f"turn {turn} is not found"

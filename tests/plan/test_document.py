"""plan.json's contents: keys in the order of the format, exact lengths, money to six places."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
import simplejson

from cutopt.materials import Kind, Offer, Per
from cutopt.measure import FOOT, INCH, MM
from cutopt.plan import (
    Drop,
    Layout,
    MaterialPlan,
    Placed,
    Plan,
    Source,
    Status,
    Stop,
    Unplanned,
)
from cutopt.plan.document import plan_document

STICK = Offer(17, "2x4-SPF-2", Kind.LUMBER, (2, 4), 16 * FOOT, None, Decimal("6.7"), Per.EACH)
STUD = Placed("S1", "Wall table", "W3", "2x4-SPF-2", 92 * INCH + 5 * INCH // 8, None, 0)


def plan(**changes: Any) -> Plan:
    layout = Layout(
        id="2x4-SPF-2-1",
        pattern="2x4-SPF-2-P1",
        count=12,
        offer=STICK,
        source=Source.BUY,
        parts=(STUD,),
        drops=(Drop(92 * INCH + 3 * INCH // 4, 0, 99 * INCH + INCH // 4, None, True),),
    )
    facts: dict[str, Any] = {
        "material": "2x4-SPF-2",
        "kind": Kind.LUMBER,
        "kerf": INCH // 8,
        "head_trim": 0,
        "layouts": (layout,),
        "cost": Fraction(804, 10),
        "drop_credit": Fraction(1, 3),
        "joints": 0,
        "joint_cost": Fraction(0),
        "bound": Fraction(200, 3),
        "status": Status.BEST_FOUND,
        "stop": Stop.GAP,
        "seconds": 0.8,
        "unplanned": (Unplanned("S2", "B1", 241 * INCH, None, 2, "longer than any stick"),),
    }
    return Plan("in", (MaterialPlan(**(facts | changes)),))


def test_the_document_word_for_word() -> None:
    # The keys and their order are those of the format that README.md gives.
    text = simplejson.dumps(plan_document(plan()), use_decimal=True)
    assert text == (
        '{"format": "cutopt-plan-1", "unit": "in", "materials": [{"material": "2x4-SPF-2", '
        '"kind": "lumber", "kerf": 0.125, "head_trim": 0, "cost": 80.4, "drop_credit": 0.333333, '
        '"joints": 0, "joint_cost": 0, "objective": 80.066667, "bound": 66.666666, '
        '"gap": 0.167361, "status": "best-found", "stop": "gap", "seconds": 0.8, "layouts": '
        '[{"id": "2x4-SPF-2-1", "pattern": "2x4-SPF-2-P1", "count": 12, "stock": {"row": 17, '
        '"length": 192, "width": null, "source": "buy", "lot": null}, "parts": [{"section": "S1", '
        '"mark": "W3", "length": 92.625, "width": null, "x": 0, "y": 0, "turned": false, '
        '"run": null, "run_at": null}], "drops": [{"x": 92.75, "y": 0, "length": 99.25, '
        '"width": null, "kept": true}]}], "unplanned": [{"section": "S2", "mark": "B1", '
        '"length": 241, "width": null, "qty": 2, "reason": "longer than any stick"}]}]}'
    )


def values(document: Any) -> list[Any]:
    if isinstance(document, dict):
        return [v for inner in document.values() for v in values(inner)]
    if isinstance(document, list):
        return [v for inner in document for v in values(inner)]
    return [document]


def test_no_float_and_no_exponent_anywhere() -> None:
    tiny = plan_document(plan(seconds=0.0000001, bound=Fraction(80066666, 1000000)))
    assert {type(v) for v in values(tiny)} <= {str, int, bool, type(None), Decimal}
    assert not any("E" in str(v) for v in values(tiny) if isinstance(v, Decimal))


def test_extra_keys_stand_only_where_they_say_something() -> None:
    asked = replace(STUD, asked="2x4-SPF-STUD")
    first = plan().materials[0]
    other = replace(
        first,
        joint_with=("2x4-SPF-STUD",),
        cutting_rule="two stages",
        layouts=(replace(first.layouts[0], parts=(asked, STUD)),),
    )
    document = plan_document(Plan("in", (other,)))["materials"][0]
    assert document["joint_with"] == ["2x4-SPF-STUD"]
    assert document["cutting_rule"] == "two stages"
    parts = document["layouts"][0]["parts"]
    assert [p.get("asked") for p in parts] == ["2x4-SPF-STUD", None]
    assert "asked" not in parts[1]


@pytest.mark.parametrize("where", ["kerf", "part", "unplanned"])
def test_one_length_that_no_inch_decimal_holds_turns_the_file_to_mm(where: str) -> None:
    # 1 mm = 1600 counts, no multiple of 127: 1/25.4 in never ends.
    first = plan().materials[0]
    changed = {
        "kerf": replace(first, kerf=3 * MM),
        "part": replace(first, layouts=(replace(first.layouts[0], parts=(replace(STUD, x=MM),)),)),
        "unplanned": replace(first, unplanned=(replace(first.unplanned[0], length=MM),)),
    }[where]
    document = plan_document(Plan("in", (changed,)))
    assert document["unit"] == "mm"
    assert document["materials"][0]["layouts"][0]["stock"]["length"] == Decimal("4876.8")
    assert document["materials"][0]["layouts"][0]["parts"][0]["length"] == Decimal("2352.675")


def test_a_bound_is_never_written_above_its_objective() -> None:
    # A third of a cent rounds down in the objective, and so must the bound.
    for third in (Fraction(1, 3), Fraction(2, 3)):
        exact = plan(cost=third, drop_credit=Fraction(0), bound=third, status=Status.OPTIMAL)
        material = plan_document(exact)["materials"][0]
        assert material["bound"] <= material["objective"]
        assert material["gap"] == 0

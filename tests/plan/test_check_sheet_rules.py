"""Factory edges, narrow rips and most parts of a sheet, held against plans made by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

import pytest

from cutopt.cutlist import Day
from cutopt.materials import Edge, Edges, Rules, SheetRules
from cutopt.plan.check import check_plan
from tests.plan.hand_made import Document, drop, find, layout, material, n, offer, part, piece


def a_day(edges: Edges = Edges.BOTH, **rules: Any) -> Day:
    """A deck of 96 x 48 without kerf: two strips on its edges, one between them."""
    return Day(
        name="edges",
        plant="Hand-made",
        date=date(2026, 3, 2),
        unit="in",
        rules=Rules(sheets=SheetRules(kerf=0, **rules)),
        offers=(offer(2, "DECK", "96", "48", "20", edges=edges),),
        parts=(
            part("S1", "G", "DECK", "96", "12", 1, edge=Edge.GROOVE),
            part("S1", "M", "DECK", "96", "20", 1),
            part("S1", "T", "DECK", "96", "10", 1, edge=Edge.TONGUE),
        ),
    )


def a_plan() -> Document:
    parts = [
        piece("S1", "G", 96, width=12, edge="groove"),
        piece("S1", "M", 96, width=20, y=12),
        piece("S1", "T", 96, width=10, y=38, edge="tongue"),
    ]
    money = {"cost": "20", "objective": "20", "bound": "20"}
    one = layout("D1", "PD1", (2, 96, 48), parts, [drop(0, 96, y=32, width=6)])
    return {
        "format": "cutopt-plan-1",
        "unit": "in",
        "materials": [material("DECK", "sheet", money, [one], kerf=0)],
    }


def told(day: Day, plan: Document) -> str:
    return "\n".join(check_plan([day], plan)).replace('"', "")


def test_the_right_plan_checks() -> None:
    assert told(a_day(), a_plan()) == ""
    assert told(a_day(least_rip=n("10"), max_parts=3), a_plan()) == ""


def test_a_part_off_its_edge_is_found() -> None:
    plan = a_plan()
    parts = find(plan, "D1")["parts"]
    parts[2]["y"], find(plan, "D1")["drops"][0]["y"] = 32, 42
    assert "asks for edge 'tongue', lies from y 32 to 42 of 48" in told(a_day(), plan)
    plan = a_plan()
    parts = find(plan, "D1")["parts"]
    parts[0]["y"], parts[1]["y"] = 20, 0
    assert "asks for edge 'groove', lies from y 20 to 32 of 48" in told(a_day(), plan)


@pytest.mark.parametrize(
    ("edges", "marks"),
    [
        (Edges.ONE, ("G", "T")),
        (Edges.NONE, ("G", "T")),
        (Edges.TONGUE, ("G",)),
        (Edges.GROOVE, ("T",)),
    ],
)
def test_a_sheet_without_that_edge_is_found(edges: Edges, marks: tuple[str, ...]) -> None:
    plan = a_plan()
    find(plan, "D1")["stock"]["edges"] = edges.value
    lines = check_plan([a_day(edges)], plan)
    assert [line.split("part ")[1][0] for line in lines] == list(marks)


def test_either_edge_does_where_one_is_asked_and_only_both_where_both_are() -> None:
    day, plan = a_day(), a_plan()
    parts = (
        replace(day.parts[0], edge=Edge.ONE),
        day.parts[1],
        replace(day.parts[2], edge=Edge.ONE),
    )
    for at in (0, 2):
        find(plan, "D1")["parts"][at]["edge"] = "one"
    assert told(replace(day, parts=parts), plan) == ""
    find(plan, "D1")["parts"][0]["edge"] = "both"
    both = (replace(day.parts[0], edge=Edge.BOTH), *parts[1:])
    assert "asks for edge 'both'" in told(replace(day, parts=both), plan)


def test_edges_that_the_papers_do_not_name() -> None:
    plan = a_plan()
    del find(plan, "D1")["parts"][0]["edge"]
    assert "says edge '', the cut list says 'groove'" in told(a_day(), plan)
    plan = a_plan()
    find(plan, "D1")["parts"][1]["edge"] = "one"
    assert "says edge 'one', the cut list says ''" in told(a_day(), plan)
    plan = a_plan()
    find(plan, "D1")["stock"]["edges"] = "one"
    assert "edges is 'one', row 2 of stock.csv says 'both'" in told(a_day(), plan)
    find(plan, "D1")["stock"]["edges"] = 1
    assert "edges is 1, promised text or null" in told(a_day(), plan)


def test_trimmed_edges_are_no_factory_edges() -> None:
    day = a_day(edge_trim=n("1/4"))
    assert "asks for edge 'groove', and the edges are trimmed off by 1/4" in told(day, a_plan())


def test_a_narrow_rip_is_found_and_a_full_width_is_none() -> None:
    lines = told(a_day(least_rip=n("11")), a_plan())
    assert lines == "DECK, layout D1: part T for S1 is ripped to 10, least_rip is 11"
    day = a_day(least_rip=n("60"))
    day = replace(day, parts=(part("S1", "W", "DECK", "90", "48", 1),))
    plan = a_plan()
    find(plan, "D1")["parts"] = [piece("S1", "W", 90, width=48)]
    find(plan, "D1")["drops"] = [drop(90, 6, width=48)]
    assert told(day, plan) == ""


def test_a_turned_part_is_ripped_to_its_length() -> None:
    row = part("S1", "B", "DECK", "10", "30", 1, turn=True)
    day = replace(a_day(least_rip=n("11")), parts=(row,))
    plan = a_plan()
    find(plan, "D1")["parts"] = [piece("S1", "B", 10, width=30)]
    find(plan, "D1")["drops"] = [drop(0, 96, y=30, width=18), drop(10, 86, width=30, kept=True)]
    assert told(day, plan) == ""
    find(plan, "D1")["parts"][0]["turned"] = True
    find(plan, "D1")["drops"] = [
        drop(0, 96, y=10, width=38, kept=True),
        drop(30, 66, width=10),
    ]
    assert "part B for S1 is ripped to 10, least_rip is 11" in told(day, plan)


def test_too_many_parts_from_a_sheet_are_found() -> None:
    assert told(a_day(max_parts=2), a_plan()) == (
        "DECK, layout D1: 3 parts, at most 2 from a sheet"
    )


def test_what_is_left_out_for_a_rule_is_no_fault() -> None:
    plan = a_plan()
    entry = plan["materials"][0]
    entry["layouts"][0]["parts"].pop()
    entry["layouts"][0]["drops"] = [drop(0, 96, y=32, width=16)]
    entry["unplanned"] = [
        {"section": "S1", "mark": "T", "length": 96, "width": 10, "qty": 1, "reason": "no edge"}
    ]
    assert "is left out, but row 2 of stock.csv" in told(a_day(), plan)
    assert told(a_day(least_rip=n("11")), plan) == ""
    find(plan, "D1")["stock"]["edges"] = "groove"
    assert told(a_day(Edges.GROOVE), plan) == ""

"""Every kind of damage to a right plan is found, and told with material, layout and part.

The damages are changes to the hand-made plan, or to the day it was made for. One that the checker
misses fails its test.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from cutopt.cutlist import Day, Rule
from cutopt.materials import CeilingRules, FirstCut, LumberRules, Offer, SheetRules
from cutopt.plan.check import MOST_FAULTS, check_plan
from tests.plan.hand_made import Document, d, day, document, drop, find, layout, n, part, piece

Damage = Callable[[Document], object]


def test_the_right_plan_checks() -> None:
    assert check_plan([day()], document()) == []


def parts_of(plan: Document, name: str) -> list[Document]:
    return find(plan, name)["parts"]


def put(name: str, **values: Any) -> Damage:
    """Set fields of a material or layout."""

    def damage(plan: Document) -> None:
        find(plan, name).update(
            {k: d(v) if isinstance(v, str | int) else v for k, v in values.items()}
        )

    return damage


def word(name: str, **values: Any) -> Damage:
    return lambda plan: find(plan, name).update(values)


def in_part(name: str, i: int, **values: Any) -> Damage:
    return lambda plan: parts_of(plan, name)[i].update(values)


def in_drop(name: str, i: int, **values: Any) -> Damage:
    return lambda plan: find(plan, name)["drops"][i].update(values)


def in_stock(name: str, **values: Any) -> Damage:
    return lambda plan: find(plan, name)["stock"].update(values)


def both(*damages: Damage) -> Damage:
    def damage(plan: Document) -> None:
        for one in damages:
            one(plan)

    return damage


def swap_sections(plan: Document) -> None:
    """A part of S1 goes to S2 and one of S2 to S1."""
    parts_of(plan, "A2")[1]["section"] = "S2"
    parts_of(plan, "O1")[0]["section"] = "S1"


def add_layout(name: str, like: str, **stock: Any) -> Damage:
    def damage(plan: Document) -> None:
        for entry in plan["materials"]:
            for one in list(entry["layouts"]):
                if one["id"] == like:
                    new = copy.deepcopy(one)
                    new["id"] = name
                    new["stock"].update(stock)
                    entry["layouts"].append(new)

    return damage


def third_joint(plan: Document) -> None:
    """P1 of three pieces, one of them 16 in."""
    parts_of(plan, "J1")[0].update(length=128)
    parts_of(plan, "J5").append(piece("S1", "P1", 16, "176.25", run="P1", at=128))
    find(plan, "J5")["drops"] = []
    find(plan, "J1")["drops"] = [drop("128.125", "63.625", kept=True)]


def joints_moved(p1: Decimal | int, p2: int) -> Damage:
    """P1 joined at `p1`, P2 at `p2`, their pieces on the same sticks."""

    def damage(plan: Document) -> None:
        parts_of(plan, "J1")[0].update(length=p1)
        parts_of(plan, "J5")[0].update(length=240 - p1, run_at=p1)
        parts_of(plan, "J3")[0].update(length=240 - p2, run_at=p2)
        parts_of(plan, "J5")[1].update(length=p2, x=240 - p1 + Decimal("0.125"))

    return damage


def two_rips(plan: Document) -> None:
    """48 + 40 + 38 for one of the fields: two ripped rows, the run still covered."""
    find(plan, "C1")["count"] = 2
    parts_of(plan, "C2")[0]["width"] = 40
    add_layout("C9", "C2")(plan)
    parts_of(plan, "C9")[0]["width"] = 38


def two_rows_one_board(plan: Document) -> None:
    """The board of the row of 24 is cut into two rows of 12."""
    find(plan, "C3")["parts"] = [
        piece("S3", "CEIL", 140, width=12),
        piece("S3", "CEIL", 140, width=12, y=12),
    ]


STICKS: dict[str, tuple[Damage, str]] = {
    "a part shifted off its kerf": (in_part("A1", 1, x=d("90.0625")), "A1: part A for S1 and"),
    "parts overlapping": (in_part("A1", 1, x=60), "overlapping by 30"),
    "a part off the stick's end": (in_part("A1", 1, x=110), 'ends at 200", the squared stick'),
    "head trim ignored": (in_part("A1", 1, x=d("101.875")), 'the squared stick at 191-3/4"'),
    "a part left out of its layout": (lambda p: parts_of(p, "A1").pop(), "asked for 3, 2 cut"),
    "a part twice": (
        lambda p: parts_of(p, "A3").append(piece("S1", "B", 5, "50.125")),
        "part B for S1",
    ),
    "a part one too often": (
        lambda p: find(p, "B1").update(
            parts=[piece("S1", "C", 40), piece("S1", "C", 40, "40.125")],
            drops=[drop("80.25", "111.5", kept=True)],
        ),
        "asked for 2, 3 cut",
    ),
    "a part never asked": (
        lambda p: parts_of(p, "A3").append(piece("S9", "Z", 5, "50.125")),
        "never asked",
    ),
    "a part shorter than asked": (in_part("A3", 0, length=d("49.9375")), "never asked"),
    "a mark misspelt": (in_part("A3", 0, mark="BB"), "was never asked"),
    "parts of two sections exchanged": (swap_sections, "never asked"),
    "a count raised": (word("A2", count=2), "asked for 3, 4 cut"),
    "a count of zero": (word("A2", count=0), "a whole number, 1 or more"),
    "a count of a half": (word("A2", count=d("1.5")), "a whole number, 1 or more"),
    "a row that is not there": (in_stock("A2", row=99), "no row of stock.csv"),
    "a row of another material": (in_stock("A2", row=5), "stock.row 5 is 2x4-B"),
    "a row of another length": (in_stock("A2", row=2), "144"),
    "a stock length not its row's": (in_stock("A2", length=168), "row 3 of stock.csv"),
    "a width for a stick": (in_stock("A2", width=4), "width is"),
    "a wrong source": (in_stock("A3", source="buy"), "1 piece bought, limit 0"),
    "a source of no kind": (in_stock("A3", source="rack"), "source is 'rack'"),
    "a wrong lot": (in_stock("A3", lot="R8"), "lot is 'R8'"),
    "a lot left out": (in_stock("A3", lot=None), "lot is None"),
    "more bought than the limit": (word("A2", count=3), "3 pieces bought, limit 2"),
    "more taken than on hand": (word("A1", count=2), "2 pieces taken from the yard, on hand 1"),
    "a stick that cuts nothing": (
        lambda p: find(p, "2x4-B")["layouts"].append(layout("B2", "PB2", (5, 192, None), [], [])),
        "cuts no part",
    ),
    "a drop too long": (in_drop("A1", 0, length=12), "a drop of 12"),
    "a drop shifted": (in_drop("A1", 0, x=d("180.125")), "not told"),
    "a drop left out": (lambda p: find(p, "A1").update(drops=[]), "not told"),
    "a drop too many": (
        lambda p: find(p, "A1")["drops"].append(drop(0, 3)),
        "none is left there",
    ),
    "a short drop said to be kept": (in_drop("A1", 0, kept=True), "keep_drop is 24"),
    "a long drop said to be waste": (in_drop("B1", 0, kept=False), "is not kept"),
    "a part of a stick turned": (in_part("A1", 0, turned=True), "turned"),
    "a part of a stick with y": (in_part("A1", 0, y=1), "y or turn"),
    "a part of a stick with a width": (in_part("A1", 0, width=3), "width"),
    "an alternate that is not allowed": (
        lambda p: find(p, "B1")["parts"].append(piece("S1", "A", 90, "40.125")),
        "is cut from 2x4-B, allowed: 2x4-A",
    ),
    "the wrong material asked for": (in_part("B1", 0, asked="2x4-B"), "says asked '2x4-B'"),
    "a run named on an ordinary part": (in_part("A3", 0, run="B", run_at=0), "no jointed run"),
}

RUNS: dict[str, tuple[Damage, str]] = {
    "a hole in a run": (in_part("J3", 0, run_at=81), "a hole before"),
    "an overlap in a run": (in_part("J3", 0, run_at=72), "an overlap with"),
    "a run's start missing": (in_part("J1", 0, run_at=16), "a hole before"),
    "a piece without run_at": (in_part("J1", 0, run_at=None), "without run_at"),
    "a piece without run": (in_part("J1", 0, run=None), "pieces name their run"),
    "a run too short": (in_part("J3", 0, length=144), "long, asked for"),
    "a run's name of no copy": (in_part("J1", 0, run="P1#3"), "is the name of no copy"),
    "a copy's number with a nought": (in_part("J2", 0, run="P1#02"), "is the name of no copy"),
    "the first copy numbered": (in_part("J1", 0, run="P1#1"), "is the name of no copy"),
    "a copy missing": (
        lambda p: find(p, "2x6").update(
            layouts=[x for x in find(p, "2x6")["layouts"] if x["id"] not in ("J2", "J6")]
        ),
        "asked for 2, 1 cut",
    ),
    "a piece cut twice": (word("J1", count=2), "an overlap with"),
    "a joint off the grid": (joints_moved(d("144.5"), 80), "is joined at 144-1/2"),
    "a joint too near the mate's": (joints_moved(112, 96), "promised 32"),
    "copies exchanged between mates": (
        both(in_part("J3", 0, run="P2#2"), in_part("J4", 0, run="P2")),
        "run P2 for S1",
    ),
    "a piece too short": (third_joint, "joint_min_piece is 32"),
    "a run in two materials": (
        lambda p: find(p, "2x4-B")["layouts"].append(
            {**find(p, "J1"), "id": "J7", "stock": {**find(p, "J1")["stock"], "row": 5}}
        ),
        "allowed: 2x6",
    ),
    "joints miscounted": (word("2x6", joints=3), "joints is 3, its layouts have 4"),
    "a joint cost misstated": (put("2x6", joint_cost="1.5"), "joint_cost is 1.50"),
}

SHEETS: dict[str, tuple[Damage, str]] = {
    "a part off the sheet": (in_part("O1", 1, x=60), "reaches 100"),
    "a part on the edge trim": (in_part("O1", 0, y=d("17.75")), "the squared sheet"),
    "parts without a kerf": (in_part("O1", 1, x=40), "promised the kerf"),
    "parts on each other": (in_part("O1", 2, x=50), "overlap"),
    "a part turned that may not": (
        lambda p: find(p, "O2").update(
            parts=[piece("S2", "D", 40, width=30, turned=True)],
            drops=[
                drop("30.125", "65.375", width="47.5", kept=True),
                drop(0, 30, y="40.125", width="7.375"),
            ],
        ),
        "is turned, the cut list says turn no",
    ),
    "a turn untold": (in_part("O1", 2, turned=False), "O1"),
    "a sheet part without width": (in_part("O1", 0, width=None), "no width"),
    "a drop on a part": (in_drop("O1", 0, y=20, width=d("27.5")), "overlap"),
    "a drop without its kerf": (in_drop("O1", 0, y=30, width=d("17.5")), "promised the kerf"),
    "a drop left out of a sheet": (
        lambda p: find(p, "O1")["drops"].pop(0),
        "no part, kerf or drop",
    ),
    "a drop smaller than what is left": (in_drop("O2", 0, length=50), "no part, kerf or drop"),
    "a drop off the sheet": (in_drop("O2", 0, length=70), "the squared sheet"),
    "a narrow drop said to be kept": (in_drop("O1", 0, kept=True), "keep_drop is"),
    "a large drop said to be waste": (in_drop("O2", 0, kept=False), "is not kept"),
    "a drop without width": (in_drop("O2", 0, width=None), "has no width"),
}

CEILINGS: dict[str, tuple[Damage, str]] = {
    "a row split in its length": (
        lambda p: find(p, "C4").update(
            parts=[piece("S3", "CEIL", 70, width=54), piece("S3", "CEIL", 70, 70, width=54)]
        ),
        "never asked",
    ),
    "two ripped rows in a field": (two_rips, "at most one ripped row each"),
    "a row too narrow": (in_part("C1", 0, width=47), "rows cover"),
    "a row missing": (word("C1", count=2), "rows cover"),
    "two rows from one board": (two_rows_one_board, "2 ceiling rows are cut from one board"),
    "a row turned": (in_part("C3", 0, turned=True), "C3"),
    "a row without a factory edge": (
        lambda p: find(p, "C3").update(
            parts=[piece("S3", "CEIL", 140, width=24, y=12)],
            drops=[
                drop(0, 144, width=12),
                drop(0, 144, y=36, width=12),
                drop(140, 4, y=12, width=24),
            ],
        ),
        "without a factory edge",
    ),
    "more board lengths than allowed": (
        lambda p: find(p, "C4").update(
            stock={"row": 10, "length": 168, "width": 48, "source": "buy", "lot": None}
        ),
        "order_lengths is 1",
    ),
}

FIGURES: dict[str, tuple[Damage, str]] = {
    "a wrong cost": (put("2x4-A", cost="16.4"), "cost is 16.40"),
    "a cost a hundred-thousandth off": (put("2x4-A", cost="16.50001"), "cost is 16.50001"),
    "a wrong drop credit": (put("2x4-B", drop_credit="4"), "drop_credit is 4.00"),
    "an objective that does not add up": (put("2x6", objective="69"), "objective is 69.00"),
    "a bound above the objective": (put("2x6", bound="70"), "above the objective"),
    "a wrong gap": (put("2x6", gap="0.0001"), "gap is 0.0001"),
    "a lower bound with the old gap": (put("2x6", bound="60"), "gap is"),
    "optimal with a gap": (word("2x6", status="optimal"), "status is optimal"),
    "proved with a gap": (word("2x6", stop="proved"), "stop is proved"),
    "a status of no kind": (word("2x6", status="good"), "status is 'good'"),
    "a stop of no kind": (word("2x6", stop="bored"), "stop is 'bored'"),
    "infeasible though planned": (word("2x6", status="infeasible"), "something is planned"),
    "nothing to cut though cut": (word("CLG", stop="nothing-to-cut"), "it has layouts"),
    "a wrong kerf": (word("2x6", kerf=0), "the rules say"),
    "a wrong head trim": (word("2x6", head_trim=0), "head_trim is"),
    "a wrong kind": (word("2x6", kind="sheet"), "kind is 'sheet'"),
    "an unknown material": (word("2x6", material="2x7"), "is no material of stock.csv"),
    "a material twice": (
        lambda p: p["materials"].append({**find(p, "CLG"), "layouts": []}),
        "stands twice",
    ),
    "a material left out": (lambda p: p["materials"].pop(), "rows cover"),
    "joint with a stranger": (word("2x4-A", joint_with=["2x9"]), "joint_with names 2x9"),
}

PATTERNS: dict[str, tuple[Damage, str]] = {
    "a pattern not shared": (word("J2", pattern="PX"), "the same places as layout J1"),
    "a pattern shared wrongly": (word("J3", pattern="PJ1"), "cuts other places"),
    "a pattern shared by sizes": (word("C1", pattern="PC4"), "cuts other places"),
    "an id twice": (word("A2", id="A1"), "another layout's too"),
}


def no_reason(plan: Document) -> None:
    find(plan, "2x4-A")["unplanned"][0]["reason"] = " "


def left_out_though_cuttable(plan: Document) -> None:
    """The B is left out and the rack drop with it, though sticks are left."""
    entry = find(plan, "2x4-A")
    entry["layouts"] = entry["layouts"][:2]
    entry["unplanned"].append({**entry["unplanned"][0], "mark": "B", "length": 50})


def fewer_left_out(plan: Document) -> None:
    find(plan, "2x4-A")["unplanned"] = []


UNPLANNED: dict[str, tuple[Damage, str]] = {
    "no reason": (no_reason, "no reason is given"),
    "left out though it could be cut": (left_out_though_cuttable, "would do and has no limit"),
    "missing and not told": (fewer_left_out, "asked for 1, 0 cut"),
    "left out too often": (
        lambda p: find(p, "2x4-A")["unplanned"][0].update(qty=2),
        "asked for 1, 0 cut and 2 left out",
    ),
    "left out but never asked": (
        lambda p: find(p, "2x4-A")["unplanned"][0].update(mark="FF"),
        "was never asked",
    ),
    "left out of another material": (
        lambda p: find(p, "2x4-B")["unplanned"].append(find(p, "2x4-A")["unplanned"].pop()),
        "was never asked",
    ),
}


def in_mm(plan: Document) -> None:
    """Every length in mm, though inches hold them all."""
    plan["unit"] = "mm"
    lengths = ("kerf", "head_trim", "length", "width", "x", "y", "run_at")

    def change(value: Any) -> None:
        if isinstance(value, list):
            for member in value:
                change(member)
        elif isinstance(value, dict):
            for key, inner in value.items():
                if key in lengths and inner is not None:
                    value[key] = inner * Decimal("25.4")
                else:
                    change(inner)

    change(plan)


DOCUMENT: dict[str, tuple[Damage, str]] = {
    "another format": (lambda p: p.update(format="plan-2"), "format is 'plan-2'"),
    "another unit": (lambda p: p.update(unit="ft"), "unit is 'ft'"),
    "mm without need": (in_mm, "the day's own is 'in'"),
    "no materials": (lambda p: p.pop("materials"), "materials is missing"),
    "a length that is text": (in_part("A1", 0, length="90"), "length is '90'"),
    "a length between two counts": (in_part("A1", 0, x=d("0.00001")), "whole count"),
    "a length below zero": (in_part("A1", 0, x=-1), "zero or more"),
    "a length without end": (in_part("A1", 0, x=Decimal("1E+999999")), "a length in in"),
    "a length that is no number": (in_part("A1", 0, x=Decimal("NaN")), "a length in in"),
    "a flag that is a number": (in_part("A1", 0, turned=0), "true or false"),
    "layouts that are no list": (word("2x6", layouts={}), "promised a list"),
    "a part that is no object": (lambda p: parts_of(p, "A1").append(7), "promised an object"),
    "no stock": (lambda p: find(p, "A1").pop("stock"), "promised an object"),
    "seconds below zero": (word("2x6", seconds=-1), "seconds"),
    "money that is true": (word("2x6", cost=True), "promised a number"),
}

ALL = {
    **STICKS,
    **RUNS,
    **SHEETS,
    **CEILINGS,
    **FIGURES,
    **PATTERNS,
    **UNPLANNED,
    **DOCUMENT,
}


@pytest.mark.parametrize("kind", ALL)
def test_damage_is_found(kind: str) -> None:
    damage, words = ALL[kind]
    plan = document()
    damage(plan)
    faults = check_plan([day()], plan)
    assert any(words in fault for fault in faults), faults


def with_rules(**changes: Any) -> Callable[[Day], Day]:
    return lambda was: replace(was, rules=replace(was.rules, **changes))


def with_offer(row: int, **changes: Any) -> Callable[[Day], Day]:
    def change(offer: Offer) -> Offer:
        return replace(offer, **changes) if offer.row == row else offer

    return lambda was: replace(was, offers=tuple(change(o) for o in was.offers))


def with_part(mark: str, **changes: Any) -> Callable[[Day], Day]:
    return lambda was: replace(
        was, parts=tuple(replace(p, **changes) if p.mark == mark else p for p in was.parts)
    )


TRIM = n("1/4")
CHANGED_DAYS: dict[str, tuple[Callable[[Day], Day], str]] = {
    "a longer head trim": (with_rules(lumber=LumberRules(head_trim=n("12"))), "squared stick"),
    "a wider kerf": (with_rules(lumber=LumberRules(kerf=n("3/16"), head_trim=TRIM)), "the kerf"),
    "fewer parts from a stick": (
        with_rules(lumber=LumberRules(head_trim=TRIM, max_parts=1)),
        "at most 1 from a stick",
    ),
    "a longer piece to be left": (
        with_rules(lumber=LumberRules(head_trim=TRIM, least_left=n("100"))),
        'the last cut leaves 11-1/2", least_left is 100"',
    ),
    "another keep_drop": (
        with_rules(lumber=LumberRules(head_trim=TRIM, keep_drop=n("10"))),
        "keep_drop is 10",
    ),
    "another drop value": (
        with_rules(lumber=LumberRules(head_trim=TRIM, drop_value=Decimal(0))),
        "drop_credit is",
    ),
    "another joint price": (
        with_rules(lumber=LumberRules(head_trim=TRIM, joint_price=Decimal(1))),
        "joint_cost is",
    ),
    "a longer least piece": (
        with_rules(lumber=LumberRules(head_trim=TRIM, joint_min_piece=n("90"))),
        "joint_min_piece is 90",
    ),
    "one stage of rips": (
        with_rules(
            sheets=SheetRules(
                edge_trim=TRIM, drop_value=Decimal("0.25"), first_cut=FirstCut.RIP, stages=1
            )
        ),
        "can't be cut from edge to edge in 1 stages, rip first",
    ),
    "a drop that takes a cut too many": (
        with_rules(sheets=SheetRules(edge_trim=TRIM, drop_value=Decimal("0.25"), stages=1)),
        "its drops don't come off",
    ),
    "a wider edge trim": (
        with_rules(sheets=SheetRules(edge_trim=n("1/2"), drop_value=Decimal("0.25"))),
        "squared sheet",
    ),
    "no board length": (
        with_rules(ceiling=CeilingRules(order_lengths=3), sheets_of={}),
        "kerf is",
    ),
    "another price": (with_offer(3, price=Decimal("6.01")), "cost is 16.50"),
    "a smaller limit": (with_offer(3, limit=0), "limit 0"),
    "nothing on hand": (with_offer(2, on_hand=0), "on hand 0"),
    "a shorter stick": (with_offer(2, length=n("168")), "squared stick"),
    "over-length that counts as less": (with_offer(2, over=n("24")), "within the over-length"),
    "a narrower board": (with_offer(9, width=n("53")), "squared sheet"),
    "one more asked": (with_part("A", qty=4), "asked for 4, 3 cut"),
    "one fewer asked": (with_part("D", qty=2), "asked for 2, 3 cut"),
    "one field more": (with_part("CEIL", qty=3), "rows cover"),
    "one run more": (with_part("P1", qty=3), "asked for 3, 2 cut"),
    "no alternate": (with_part("C", alt=()), "allowed: 2x4-A"),
    "no turning": (with_part("E", turn=False), "turn no"),
    "a field that is an ordinary part": (with_part("CEIL", rule=Rule.PART), "never asked"),
    "a run of another length": (with_part("P1", length=n("256")), "asked for 256"),
    "no joints": (with_part("P1", joints=None), "no joints allowed"),
}


@pytest.mark.parametrize("kind", CHANGED_DAYS)
def test_a_plan_for_another_day_is_found(kind: str) -> None:
    change, words = CHANGED_DAYS[kind]
    faults = check_plan([change(day())], document())
    assert any(words in fault for fault in faults), faults


def test_a_pinwheel_cannot_be_cut_in_any_stages() -> None:
    """Four parts round a middle: apart by a kerf, but no cut passes from edge to edge."""
    was = day()
    pieces = [
        part("S2", "W1", "OSB", "50", "20", 1),
        part("S2", "W2", "OSB", "20", "30", 1),
        part("S2", "W3", "OSB", "50", "17", 1),
        part("S2", "W4", "OSB", "20", "17", 1),
    ]
    wheel = replace(was, rules=replace(was.rules, sheets=SheetRules(kerf=0)), parts=tuple(pieces))
    plan = document()
    plan["materials"] = [find(plan, "OSB")]
    placed = [
        piece("S2", "W1", 50, width=20),
        piece("S2", "W2", 20, 50, width=30),
        piece("S2", "W3", 50, 20, width=17, y=30),
        piece("S2", "W4", 20, 0, width=17, y=20),
    ]
    # W4 reaches from y 20 to 37 over x 0 to 20, W3 begins at x 20: a hole of 30 x 10 between.
    find(plan, "OSB")["layouts"] = [layout("W", "PW", (7, 96, 48), placed, [])]
    faults = check_plan([wheel], plan)
    assert any("can't be cut from edge to edge in 3 stages" in f for f in faults), faults
    assert not any("overlap" in f or "apart" in f for f in faults), faults


def test_many_faults_are_cut_short_with_a_count() -> None:
    plan = document()
    find(plan, "2x4-B")["layouts"] = [
        layout(f"L{i}", f"Q{i}", (5, 192, None), [piece("S9", f"Z{i}", 500)], [])
        for i in range(MOST_FAULTS)
    ]
    faults = check_plan([day()], plan)
    assert len(faults) == MOST_FAULTS + 1
    assert faults[-1].startswith("and ")
    assert faults[-1].endswith("more faults")


def test_a_run_may_be_of_two_materials_where_its_row_allows_both() -> None:
    """P1's second piece comes from an allowed alternate; its joint counts for that material."""
    changed = with_part("P1", alt=("2x4-B",))(day())
    plan = document()
    moved = parts_of(plan, "J5")[0]
    find(plan, "J5")["parts"] = [parts_of(plan, "J5")[1] | {"x": 0}]
    find(plan, "J5")["drops"] = [drop("80.125", "111.625", kept=True)]
    find(plan, "J5")["pattern"] = "PJ5"
    b1 = find(plan, "B1")
    b1["parts"].append(moved | {"x": d("40.125"), "asked": "2x6"})
    b1["drops"] = [drop("136.25", "55.5", kept=True)]
    # 2x6: 6 x 270.125/192 off; 2x4-B: 10 and one joint of 0.50, less 5 x 55.5/192.
    six = {"drop_credit": "8.441406", "joint_cost": "1.5", "objective": "65.058594"}
    put("2x6", **six, bound="65.058594", gap="0")(plan)
    two = {"drop_credit": "1.445313", "joint_cost": "0.5", "objective": "9.054688"}
    put("2x4-B", **two, bound="9.054687")(plan)
    word("2x6", joints=3)(plan)
    word("2x4-B", joints=1)(plan)
    assert check_plan([changed], plan) == []
    assert any("allowed: 2x6" in fault for fault in check_plan([day()], plan))


def test_no_day_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="no day"):
        check_plan([], document())

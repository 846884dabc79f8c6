"""No path ever splits a full-span row: attempts to make one, and to slip one past the checker.

What a row must be is said here again, from the words of the contract alone: one board over the
whole span, rows side by side that add up to the run, at most one of a field narrower than a board.
"""

from __future__ import annotations

import copy
from collections import Counter, defaultdict
from datetime import date
from decimal import Decimal
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cutopt.cutlist import Day, Joints, Part, Rule
from cutopt.files import outputs, parse_document
from cutopt.materials import (
    CeilingRules,
    FirstCut,
    Kind,
    Offer,
    Per,
    Rules,
    SheetRules,
)
from cutopt.measure import INCH
from cutopt.plan import Problem
from cutopt.plan.check import check_plan
from cutopt.records import Place
from cutopt.solve import Settings, solve
from cutopt.solve.words import shown

NAMES = ("GYP-A", "GYP-B")


@st.composite
def boards(draw: st.DrawFn) -> tuple[Offer, ...]:
    """Few boards of one or two materials, with stock, limits and least orders."""
    found = []
    for name in draw(st.sampled_from((NAMES[:1], NAMES))):
        for _ in range(draw(st.integers(1, 3))):
            limit = draw(st.sampled_from((None, None, 0, 2, 9)))
            least = draw(st.sampled_from((0, 0, 0, 5)))
            found.append(
                Offer(
                    len(found) + 2,
                    name,
                    Kind.SHEET,
                    None,
                    draw(st.integers(48, 120)) * INCH,
                    draw(st.sampled_from((40, 48, 48, 54))) * INCH,
                    Decimal(draw(st.integers(8, 40))),
                    Per.EACH,
                    draw(st.sampled_from((0, 0, 1, 4))),
                    limit,
                    min_order=least if limit is None or limit >= least else 0,
                )
            )
    return tuple(found)


@st.composite
def days(draw: st.DrawFn) -> Day:
    """Fields of any span and run, alternates, other parts and jointed runs beside."""
    offers = draw(boards())
    names = tuple(dict.fromkeys(o.material for o in offers))
    parts = []
    for n in range(draw(st.integers(1, 4))):
        name = draw(st.sampled_from(names))
        others = tuple(m for m in names if m != name)
        parts.append(
            Part(
                Place("cuts/ceilings.csv", n + 2),
                f"S{n}",
                "Ceiling",
                "FIELD",
                name,
                draw(st.integers(30, 130)) * INCH,
                draw(st.integers(20, 300)) * INCH,
                draw(st.integers(1, 2)),
                turn=draw(st.booleans()),
                rule=Rule.FULL_SPAN,
                alt=others if draw(st.booleans()) else (),
                # No row of a cut list can have both; no room may make use of it.
                joints=Joints(16 * INCH, 16 * INCH) if draw(st.booleans()) else None,
            )
        )
    for n in range(draw(st.integers(0, 3))):
        jointed = draw(st.booleans())
        parts.append(
            Part(
                Place("cuts/board.csv", n + 2),
                f"S{n}",
                "Wall",
                f"P{n}",
                draw(st.sampled_from(names)),
                draw(st.integers(20, 200 if jointed else 110)) * INCH,
                draw(st.integers(5, 40)) * INCH,
                draw(st.integers(1, 3)),
                turn=draw(st.booleans()) and not jointed,
                rule=Rule.JOINTED if jointed else Rule.PART,
                joints=Joints(16 * INCH, 16 * INCH) if jointed else None,
            )
        )
    rules = Rules(
        sheets=SheetRules(
            kerf=draw(st.sampled_from((0, 0, INCH // 8))),
            edge_trim=draw(st.sampled_from((0, 0, INCH // 4))),
            stages=draw(st.sampled_from((2, 3))),
            first_cut=draw(st.sampled_from(tuple(FirstCut))),
            keep_drop=(24 * INCH, 24 * INCH),
            drop_value=Decimal(draw(st.sampled_from(("0", "0", "0.5")))),
        ),
        ceiling=CeilingRules(draw(st.integers(0, 2))),
    )
    return Day("day", "Plant", date(2026, 3, 2), "in", rules, offers, tuple(parts))


def planned(day: Day) -> Any:
    """The document of a plan that the checker passes."""
    problem = Problem((day,))
    plan = solve(problem, Settings(seconds=3, workers=1))
    return parse_document(outputs(problem, plan)["plan.json"])


def rows_are_whole(day: Day, document: Any) -> None:
    unit = INCH if document["unit"] == "in" else 1600
    boards = {o.row: o for o in day.offers}
    fields = {(p.section, p.mark): p for p in day.parts if p.rule is Rule.FULL_SPAN}
    covered: Counter[tuple[str, str]] = Counter()
    ripped: Counter[tuple[str, str]] = Counter()
    left_out: dict[tuple[str, str], list[Any]] = defaultdict(list)
    for material in document["materials"]:
        for layout in material["layouts"]:
            board = boards[layout["stock"]["row"]]
            of_fields = [p for p in layout["parts"] if (p["section"], p["mark"]) in fields]
            assert len(of_fields) <= 1
            for part in of_fields:
                field = fields[part["section"], part["mark"]]
                key = (part["section"], part["mark"])
                width = part["width"] * unit
                assert part["length"] * unit == field.length <= board.length
                assert (part["turned"], part["run"], part["run_at"]) == (False, None, None)
                assert board.material in field.materials
                assert 0 < width <= (board.width or 0)
                covered[key] += width * layout["count"]
                ripped[key] += layout["count"] * (width < (board.width or 0))
        for missing in material["unplanned"]:
            left_out[missing["section"], missing["mark"]].append(missing)
    for key, field in fields.items():
        laid = field.qty - sum(m["qty"] for m in left_out[key])
        assert covered[key] == laid * (field.width or 0)
        assert ripped[key] <= laid
        had = [o for o in day.offers if o.material in field.materials and o.available != 0]
        if not any(o.length >= field.length for o in had):
            assert not laid
            (reason,) = {m["reason"] for m in left_out[key]}
            assert f"section {field.section}" in reason
            assert f"a span of {shown(field.length)} is covered by no board" in reason
            if had:
                assert f"is {shown(max(o.length for o in had))};" in reason
            assert f"a board of {shown(field.length)} or longer would do" in reason


def halves(part: Any, at: Decimal, kerf: Decimal) -> tuple[Any, Any]:
    first, second = copy.deepcopy(part), copy.deepcopy(part)
    first["length"] = at
    second["x"] = part["x"] + at + kerf
    second["length"] = part["length"] - at - kerf
    return first, second


def splits(day: Day, document: Any) -> list[Any]:
    """The plan with one of its full-span rows split in every way that we can think of."""
    fields = {(p.section, p.mark) for p in day.parts if p.rule is Rule.FULL_SPAN}
    kerf = Decimal(day.rules.sheets.kerf) / INCH
    found = []
    for m, material in enumerate(document["materials"]):
        for n, layout in enumerate(material["layouts"]):
            for k, part in enumerate(layout["parts"]):
                if (part["section"], part["mark"]) not in fields:
                    continue
                at = Decimal(int(part["length"] / 2))
                first, second = halves(part, at, kerf)
                whole = {**second, "length": part["length"] - at}
                runs = [{**p, "run": p["mark"], "run_at": p["x"]} for p in (first, whole)]
                for changed in (
                    [first, second],
                    runs,
                    [{**part, "turned": True}],
                    [{**part, "run": part["mark"], "run_at": 0}],
                    [{**part, "length": at}],
                    [{**part, "width": part["width"] - 1}],
                ):
                    other = copy.deepcopy(document)
                    other["materials"][m]["layouts"][n]["parts"][k : k + 1] = changed
                    found.append(other)
                # One half each from two boards.
                other = copy.deepcopy(document)
                twin = copy.deepcopy(layout)
                twin["id"] += "-twin"
                twin["parts"] = [{**whole, "x": 0}]
                other["materials"][m]["layouts"][n]["parts"][k] = first
                other["materials"][m]["layouts"].append(twin)
                found.append(other)
    return found[:60]


@settings(max_examples=15, suppress_health_check=list(HealthCheck))
@given(day=days())
def test_every_row_is_one_board_over_the_whole_span(day: Day) -> None:
    rows_are_whole(day, planned(day))


@settings(max_examples=8, suppress_health_check=list(HealthCheck))
@given(day=days())
def test_the_checker_refuses_every_split_row(day: Day) -> None:
    document = planned(day)
    for split in splits(day, document):
        assert check_plan((day,), split)


def test_two_short_boards_never_make_a_long_row() -> None:
    """The span is twice the board: what would tempt, with joints, turning and alternates."""
    boards = tuple(
        Offer(n + 2, name, Kind.SHEET, None, 96 * INCH, 48 * INCH, Decimal(9), Per.EACH, 50)
        for n, name in enumerate(NAMES)
    )
    field = Part(
        Place("cuts/ceilings.csv", 2),
        "A-1",
        "Ceiling",
        "FIELD",
        NAMES[0],
        192 * INCH,
        48 * INCH,
        1,
        turn=True,
        rule=Rule.FULL_SPAN,
        alt=(NAMES[1],),
        joints=Joints(48 * INCH, 48 * INCH),
    )
    day = Day("day", "Plant", date(2026, 3, 2), "in", Rules(), boards, (field,))
    document = planned(day)
    assert not any(m["layouts"] for m in document["materials"])
    rows_are_whole(day, document)

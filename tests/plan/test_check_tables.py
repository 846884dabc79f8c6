"""The three tables beside the hand-made plan: right ones pass, damaged ones do not."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

from cutopt.measure import rounded
from cutopt.plan.check import TABLES, check_plan
from tests.plan.hand_made import day, document

Rows = list[dict[str, str]]


def order() -> Rows:
    """Bought: one 144 at 6; one 192 of B at 10; six 2x6; two OSB; five boards of 48, one of 54.

    Board feet of a 2x4: 2 x 4 x ft / 12; a 48 x 144 board is 48 square feet.
    """
    columns = ("material", "length", "width", "pieces", "bundles", "board_feet", "square_feet")
    lines = [
        ("2x4-A", "144", "", "1", "", "8.000", "", "6", "each", "6.00"),
        ("2x4-B", "192", "", "1", "", "10.667", "", "10", "each", "10.00"),
        ("2x6", "192", "", "6", "2", "64.000", "", "12", "each", "72.00"),
        ("OSB", "96", "48", "2", "", "", "64.000", "20", "each", "40.00"),
        ("CLG", "144", "48", "5", "", "", "240.000", "12", "each", "60.00"),
        ("CLG", "144", "54", "1", "", "", "54.000", "14", "each", "14.00"),
    ]
    return [dict(zip((*columns, "price", "per", "extension"), line, strict=True)) for line in lines]


def cuts() -> Rows:
    """A line per part of every layout, from the document."""
    lines: Rows = []
    for entry in document()["materials"]:
        for layout in entry["layouts"]:
            stock = layout["stock"]
            for part in sorted(layout["parts"], key=lambda p: (p["y"], p["x"])):
                along = part["width"] if part["turned"] else part["length"]
                lines.append(
                    {
                        "material": entry["material"],
                        "layout": layout["id"],
                        "pattern": layout["pattern"],
                        "count": str(layout["count"]),
                        "stock_length": str(stock["length"]),
                        "stock_width": "" if stock["width"] is None else str(stock["width"]),
                        "source": stock["source"],
                        "stop": str(part["x"] + along),
                        "length": str(part["length"]),
                        "width": "" if part["width"] is None else str(part["width"]),
                        "section": part["section"],
                        "jig": "Table",
                        "mark": part["mark"],
                        "turned": "yes" if part["turned"] else "no",
                    }
                )
    return lines


def line(
    name: str, amounts: tuple[str, ...], unit: int, cost: str, lost: Fraction
) -> dict[str, str]:
    """Amounts in inches (or square inches): parts, kerf, trim, kept drop, waste drop."""
    exact = [Fraction(a) / unit for a in amounts]
    written = [*(rounded(a, 6) for a in exact), Decimal("0.000000")]
    share = 100 * exact[0] / (sum(exact) - exact[3])
    keys = ("parts", "kerf", "trim", "kept_drop", "waste_drop", "scrap")
    percent = rounded(share, 4)
    return {
        "material": name,
        "input": f"{sum(written):f}",
        **{k: f"{w:f}" for k, w in zip(keys, written, strict=True)},
        "yield_percent": f"{percent:f}",
        "waste_percent": f"{100 - percent:f}",
        "cost_in": cost,
        "cost_waste": f"{rounded(lost, 2):f}",
    }


def yields() -> Rows:
    """By hand. 2x4-A: 192 + 144 + 60 = 396 in, parts 360, five kerfs, three trims.

    2x6: 6 x 192 = 1152, parts 960, six and two kerfs of 1/8, kept 158.5, waste 31. CLG boards have
    no kerf and no trim; 2 fields of 140 x 126 = 35280 of 5 x 6912 + 7776 = 42336 square inches.
    """
    lost_a = Fraction(8 * 12, 192) + Fraction(6 * 14, 144) + Fraction("2.5") * Fraction(10, 60)
    lost_6 = Fraction(12, 192) * (1152 - 960 - Fraction("158.5"))
    trims = 2 * (96 * 48 - Fraction("95.5") * Fraction("47.5"))
    waste = Fraction("95.5") * Fraction("17.375") + Fraction("3.75") + 15 * Fraction("9.875")
    waste += 40 * Fraction("17.375")
    kept = Fraction("55.375") * Fraction("47.5")
    parts = 3 * 1200 + 300
    kerf = 9216 - parts - trims - waste - kept
    sheet = tuple(str(a) for a in (parts, kerf, trims, kept, waste))
    lost_s = Fraction(20, 4608) * (9216 - parts - kept)
    # Waste of money: board by board, dearer boards weigh more.
    lost_c = Fraction(12, 6912) * (3 * 4 * 48 + 144 * 18 + 4 * 30 + 4 * 24)
    lost_c += Fraction(14, 7776) * 4 * 54
    clg = ("35280", "0", "0", "3456", "3600")
    return [
        line("2x4-A", ("360", "0.625", "0.75", "0", "34.625"), 12, "16.50", lost_a),
        line("2x4-B", ("40", "0.125", "0.25", "151.625", "0"), 12, "10.00", Fraction(15, 768)),
        line("2x6", ("960", "1", "1.5", "158.5", "31"), 12, "72.00", lost_6),
        line("OSB", sheet, 144, "40.00", lost_s),
        line("CLG", clg, 144, "74.00", lost_c),
    ]


def kept() -> Rows:
    """By hand: a drop's share of its piece's price; a 24 in rip of a board keeps one edge of it.

    10 x 151.625/192 = 7.897135; 12 x 47.625/192 and 12 x 31.625/192; 20 x 55.375 x 47.5/4608 =
    11.416287, its edges trimmed off; 12 x 24/48 = 6.
    """
    columns = ("material", "kind", "nominal", "length", "width", "price", "per", "on_hand")
    lines = [
        ("2x4-B", "lumber", "2x4", "151.625", "", "7.897135", "each", "1", "0", "", "", ""),
        ("2x6", "lumber", "2x4", "47.625", "", "2.976563", "each", "2", "0", "", "", ""),
        ("2x6", "lumber", "2x4", "31.625", "", "1.976563", "each", "2", "0", "", "", ""),
        ("OSB", "sheet", "", "55.375", "47.5", "11.416287", "each", "1", "0", "", "", "none"),
        ("CLG", "sheet", "", "144", "24", "6", "each", "1", "0", "", "", "one"),
    ]
    more = ("limit", "bundle", "lot", "edges")
    return [dict(zip((*columns, *more), line, strict=True)) for line in lines]


def sawn() -> Rows:
    """By hand: kerf 1/8 and 1/4 squared off OSB, scored boards of CLG with their edges.

    OSB O1: of 95.5 x 47.5 a strip of 30; in it 40, 40.125 + 40, 80.25 + 15; the last ripped at 20.
    """
    squared = [
        ("0", "rip", "sheet", "47.75", "far factory edge", "47.75", "", ""),
        ("0", "rip", "sheet", "47.5", "squared edge", "47.5", "", ""),
        ("0", "crosscut", "sheet", "95.75", "tail end", "95.75", "", ""),
        ("0", "crosscut", "sheet", "95.5", "squared head", "95.5", "", ""),
    ]
    head = "squared head"
    cuts_of = {
        ("OSB", "O1", "PO1", "1"): [
            *squared,
            ("1", "rip", "sheet", "30", "squared edge", "30", "strip A; waste", ""),
            ("2", "crosscut", "strip A", "40", head, "40", "part A1", "D"),
            ("2", "crosscut", "strip A", "80.125", head, "40", "part A2", "D"),
            ("2", "crosscut", "strip A", "95.25", head, "15", "blank A3; waste", ""),
            ("3", "rip", "blank A3", "20", "squared edge", "20", "part A3; waste", "E"),
        ],
        ("OSB", "O2", "PO2", "1"): [
            *squared,
            ("1", "crosscut", "sheet", "40", head, "40", "strip A; kept drop", ""),
            ("2", "rip", "strip A", "30", "squared edge", "30", "part A; waste", "D"),
        ],
        ("CLG", "C1", "PC1", "3"): [
            ("1", "crosscut", "sheet", "140", "head", "140", "part A; waste", "CEIL"),
        ],
        ("CLG", "C2", "PC2", "1"): [
            ("1", "rip", "sheet", "30", "factory edge", "30", "strip A; waste", ""),
            ("2", "crosscut", "strip A", "140", "head", "140", "part A; waste", "CEIL"),
        ],
        ("CLG", "C3", "PC3", "1"): [
            ("1", "rip", "sheet", "24", "factory edge", "24", "strip A; kept drop", ""),
            ("2", "crosscut", "strip A", "140", "head", "140", "part A; waste", "CEIL"),
        ],
        ("CLG", "C4", "PC4", "1"): [
            ("1", "crosscut", "sheet", "140", "head", "140", "part A; waste", "CEIL"),
        ],
    }
    columns = ("material", "layout", "pattern", "count", "cut", "stage", "direction", "piece")
    more = ("measure", "from", "fence", "yields", "marks")
    return [
        dict(zip((*columns, *more), (*key, str(number), *cut), strict=True))
        for key, lines in cuts_of.items()
        for number, cut in enumerate(lines, start=1)
    ]


def tables() -> dict[str, Rows]:
    return {
        "stock_order.csv": order(),
        "cut_list.csv": cuts(),
        "cuts.csv": sawn(),
        "yield.csv": yields(),
        "rack.csv": kept(),
    }


def test_right_tables_check() -> None:
    assert set(tables()) == set(TABLES)
    assert check_plan([day()], document(), tables()) == []


def cell(table: str, row: int, column: str, value: str) -> Callable[[dict[str, Rows]], Any]:
    return lambda all_rows: all_rows[table][row].update({column: value})


DAMAGE: dict[str, tuple[Callable[[dict[str, Rows]], Any], str]] = {
    "a piece too many": (cell("stock_order.csv", 2, "pieces", "7"), "no purchase of the plan"),
    "another price": (cell("stock_order.csv", 2, "price", "13"), "no purchase of the plan"),
    "another length": (cell("stock_order.csv", 2, "length", "144"), "no purchase of the plan"),
    "a bundle too few": (cell("stock_order.csv", 2, "bundles", "1"), "bundles is 1"),
    "bundles of none": (cell("stock_order.csv", 1, "bundles", "1"), "promised blank"),
    "wrong board feet": (cell("stock_order.csv", 1, "board_feet", "10.66"), "board_feet"),
    "wrong square feet": (cell("stock_order.csv", 3, "square_feet", "63"), "square_feet"),
    "a wrong extension": (cell("stock_order.csv", 0, "extension", "6.01"), "extension is 6.01"),
    "an extension of words": (cell("stock_order.csv", 0, "extension", "six"), "a number"),
    "books that nobody laid": (cell("cut_list.csv", 0, "books", "1x2"), "books is '1x2'"),
    "a drop too many": (cell("rack.csv", 1, "on_hand", "3"), "the plan keeps 2"),
    "a drop left out": (lambda t: t["rack.csv"].pop(), '0 of 144" x 24", the plan keeps 1'),
    "another drop": (cell("rack.csv", 3, "width", "46"), "no kept drop of the plan"),
    "a drop of another price": (cell("rack.csv", 3, "price", "11.42"), "no kept drop"),
    "a drop with another edge": (cell("rack.csv", 3, "edges", "both"), "no kept drop"),
    "a drop that can be bought": (cell("rack.csv", 0, "limit", ""), "promised 0"),
    "a drop of the wrong kind": (cell("rack.csv", 0, "kind", "sheet"), "kind is 'sheet'"),
    "a drop without a length": (cell("rack.csv", 0, "length", "long"), "no number above zero"),
    "a purchase left out": (lambda t: t["stock_order.csv"].pop(), "bought and not on it"),
    "a purchase twice": (
        lambda t: t["stock_order.csv"].append(order()[0]),
        "no purchase of the plan",
    ),
    "a wrong stop": (cell("cut_list.csv", 1, "stop", "180"), "is no part of the plan"),
    "a wrong jig": (cell("cut_list.csv", 1, "jig", "Saw"), "jig is 'Saw'"),
    "another source": (cell("cut_list.csv", 0, "source", "buy"), "is no part of the plan"),
    "a part not listed": (lambda t: t["cut_list.csv"].pop(), "has no line"),
    "a part listed twice": (
        lambda t: t["cut_list.csv"].append(cuts()[0]),
        "is no part of the plan",
    ),
    "stops running backwards": (
        lambda t: t["cut_list.csv"].insert(0, t["cut_list.csv"].pop(1)),
        "after a farther one",
    ),
    "a layout in two places": (
        lambda t: t["cut_list.csv"].append(t["cut_list.csv"].pop(0)),
        "stand apart",
    ),
    "a fence off by a kerf": (cell("cuts.csv", 4, "fence", "30.125"), "are two places"),
    "a measure off by a kerf": (cell("cuts.csv", 6, "measure", "80"), "are two places"),
    "measure and fence off by a kerf": (
        lambda t: t["cuts.csv"][4].update(measure="30.125", fence="30.125"),
        'part D, 40" x 30", does not come off',
    ),
    "a cut left out": (lambda t: t["cuts.csv"].pop(4), "no strip A lies on the saw"),
    "the last cut left out": (lambda t: t["cuts.csv"].pop(14), '47-1/2" is left on the saw'),
    "a cut of nothing": (cell("cuts.csv", 4, "piece", "strip Z"), "no strip Z lies on the saw"),
    "a fence off the piece": (cell("cuts.csv", 8, "fence", "31"), "off the piece"),
    "a cut numbered twice": (cell("cuts.csv", 8, "cut", "8"), "cut 8 is number 9"),
    "a stage too many": (cell("cuts.csv", 8, "stage", "5"), "stage 5 after stage 2"),
    "a stage out of turn": (cell("cuts.csv", 8, "stage", "1"), "stage 1 after stage 2"),
    "no direction": (cell("cuts.csv", 8, "direction", "slant"), "is no cut"),
    "a cut without a measure": (cell("cuts.csv", 8, "measure", ""), "is no number"),
    "another mark comes off": (cell("cuts.csv", 8, "marks", "D"), "does not come off"),
    "squared by too much": (
        lambda t: t["cuts.csv"][0].update(measure="47", fence="47"),
        'squares off 1", edge_trim is 1/4"',
    ),
    "waste called a part": (cell("cuts.csv", 8, "yields", "part A3; part A4"), "off the saw"),
    "waste called kept": (cell("cuts.csv", 4, "yields", "strip A; kept drop"), "1 of kept drop"),
    "one piece not named": (cell("cuts.csv", 4, "yields", "strip A"), '17-3/8" is left on'),
    "another pattern sawn": (cell("cuts.csv", 4, "pattern", "PO2"), "pattern is 'PO2'"),
    "a layout that is none": (cell("cuts.csv", 4, "layout", "O9"), "is no layout of sheets"),
    "parts misstated": (cell("yield.csv", 0, "parts", "30.000001"), "parts is 30.000001"),
    "input that does not add up": (cell("yield.csv", 0, "input", "33.1"), "add up to"),
    "a yield misstated": (cell("yield.csv", 2, "yield_percent", "99"), "yield_percent is 99"),
    "a waste misstated": (cell("yield.csv", 2, "waste_percent", "1"), "waste_percent is 1"),
    "a cost misstated": (cell("yield.csv", 4, "cost_in", "73"), "cost_in is 73"),
    "a waste of money misstated": (cell("yield.csv", 4, "cost_waste", "73"), "cost_waste is 73"),
    "a material left out": (lambda t: t["yield.csv"].pop(), "CLG has no line"),
    "a material twice": (lambda t: t["yield.csv"].append(yields()[0]), "stands twice"),
    "an empty line": (lambda t: t["yield.csv"].append({}), "stands twice"),
}


@pytest.mark.parametrize("kind", DAMAGE)
def test_damage_to_a_table_is_found(kind: str) -> None:
    damage, words = DAMAGE[kind]
    written = tables()
    damage(written)
    faults = check_plan([day()], document(), written)
    assert any(words in fault for fault in faults), faults

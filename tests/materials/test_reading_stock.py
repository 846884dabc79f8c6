"""stock.csv: what it means, and every fault with its place."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from cutopt.materials import Edge, Edges, Kind, Per
from cutopt.measure import INCH, parse_length
from tests.cutlist.words import DAY, STOCK, files, only, read, refused, row, warned, without


def test_every_column_is_read() -> None:
    day = read(files()).days[0]
    first = day.offers[0]
    assert (first.row, first.material, first.kind) == (2, "2x4-SPF", Kind.LUMBER)
    assert (first.nominal, first.length, first.width) == ((2, 4), 192 * INCH, None)
    assert (first.price, first.per) == (Decimal(600), Per.MBF)
    assert (first.on_hand, first.limit, first.bundle, first.lot) == (5, None, 208, "A1")
    # 2 × 4 × 16 / 12 board feet at 600 a thousand, by the rule of the US Navy basic course.
    assert first.cost == Fraction(2 * 4 * 16, 12) * Fraction(600, 1000)
    gyp = day.offers[4]
    assert (gyp.row, gyp.kind, gyp.width, gyp.limit) == (6, Kind.SHEET, 48 * INCH, 10)
    # 12 ft × 4 ft = 48 square feet at 450 a thousand.
    assert gyp.cost == Fraction(48 * 450, 1000)


def test_words_may_be_written_as_people_do() -> None:
    stock = (
        STOCK.replace("MBF", "mbf").replace("lumber", "Lumber").replace("material", " Material ")
    )
    stock = stock.replace("on_hand", "On Hand").replace("limit", "LIMIT")
    assert read(files(stock=stock)).days == read(files()).days


@pytest.mark.parametrize(
    ("line", "cells", "told"),
    [
        (2, {"material": ""}, "2:material: blank"),
        (4, {"kind": "lumbr"}, "4:kind: not a known word, read 'lumbr', would be right: did you"),
        (4, {"kind": ""}, "4:kind: blank, would be right: one of lumber, sheet"),
        (2, {"nominal": ""}, "2:nominal: blank, with a price per MBF"),
        (2, {"nominal": "2by4"}, "2:nominal: not a nominal size, read '2by4'"),
        (3, {"nominal": "2x6"}, "3:nominal: 2x4-SPF is 2x4 at line 2, read '2x6'"),
        (2, {"length": ""}, "2:length: blank"),
        (2, {"length": "0"}, "2:length: a length of zero, read '0'"),
        (2, {"length": "-192"}, "2:length: a length below zero, read '-192'"),
        (2, {"length": "1/3"}, "2:length: falls between 0.328125 and 0.34375 in, read '1/3'"),
        (2, {"width": "48"}, "2:width: a width on lumber, which is cut to length only, read '48'"),
        (5, {"width": ""}, "5:width: blank, would be right: the width of the sheet"),
        (5, {"nominal": "4x8"}, "5:nominal: a nominal size on a sheet, read '4x8'"),
        (2, {"price": ""}, "2:price: blank"),
        (2, {"price": "-6"}, "2:price: a price below zero, read '-6'"),
        (2, {"price": "$6"}, "2:price: not a price, read '$6'"),
        (3, {"price": "0"}, "3:price: a price of zero for what can be bought, read '0'"),
        (2, {"per": "MBFT"}, "2:per: not a known word, read 'MBFT', would be right: did you mean"),
        (2, {"per": ""}, "2:per: blank"),
        (4, {"per": "MSF"}, "4:per: no price of lumber, read 'MSF', would be right: each, LF or"),
        (5, {"per": "MBF"}, "5:per: no price of a sheet, read 'MBF', would be right: each or MSF"),
        (5, {"per": "LF"}, "5:per: no price of a sheet, read 'LF'"),
        (2, {"on_hand": "-1"}, "2:on_hand: below zero, read '-1'"),
        (2, {"on_hand": "2.5"}, "2:on_hand: not a whole number, read '2.5'"),
        (2, {"limit": "none"}, "2:limit: not a whole number, read 'none'"),
        (2, {"bundle": "0"}, "2:bundle: zero, read '0', would be right: pieces per bundle, 1 or"),
    ],
)
def test_a_fault_in_a_cell(line: int, cells: dict[str, str], told: str) -> None:
    assert only(files(stock=row(line, STOCK, **cells))).startswith(f"stock.csv:{told}")


OVER = """material,kind,nominal,length,width,price,per,on_hand,limit,bundle,lot,counts_as
2x4,lumber,2x4,{0},,600,MBF,{2},{3},,,{1}
OSB,sheet,,96,48,14.50,each,,,,,
"""
CUTS_OVER = "section,jig,mark,material,length,width,qty\nA,Wall,STUD,2x4,48,,20\n"


def over(length: str, counts_as: str = "", on_hand: str = "", limit: str = "", unit: str = "in"):  # type: ignore[no-untyped-def]
    stock = OVER.format(length, counts_as, on_hand, limit)
    return files(DAY.replace('"in"', f'"{unit}"'), stock=stock, cuts=CUTS_OVER)


# Trade lengths of lumber by 2 ft, or 300 mm, and what is over them: common practice, no source;
# "Stock is never under its nominal length, often 1/4 to 3/4 in over" is from memory.
@pytest.mark.parametrize(
    ("length", "counts_as"),
    [
        ("144-1/2", "144"),
        ("144-63/64", "144"),
        ("144", "144"),
        ("145", "145"),
        ("143-7/8", "143-7/8"),
        ("72-1/4", "72"),
        ("312-3/4", "312"),
        ("336-1/2", "336-1/2"),  # no trade length: 28 ft
        ("60-1/2", "60-1/2"),  # nor 5 ft
        ("104-5/8", "104-5/8"),  # a precut stud
        ("92-5/8", "92-5/8"),
    ],
)
def test_over_length_counts_as_the_trade_length(length: str, counts_as: str) -> None:
    offer = read(over(length)).days[0].offers[0]
    assert offer.length == parse_length(length, "in")
    assert offer.counts_as == parse_length(counts_as, "in")
    told = warned(over(length))
    assert len(told) == (length != counts_as)
    # What is paid for is the length of the row.
    assert offer.cost == Fraction(8, 12) * Fraction(offer.length, 12 * INCH) * Fraction(6, 10)


@pytest.mark.parametrize(
    ("length", "counts_as"),
    [
        *[("3612", "3600"), ("3624.9", "3600"), ("3625", "3625"), ("1810", "1800")],
        *[("7820", "7800"), ("8110", "8110"), ("1515", "1515"), ("3657.6", "3657.6")],
    ],
)
def test_over_length_in_millimetres(length: str, counts_as: str) -> None:
    offer = read(over(length, unit="mm")).days[0].offers[0]
    assert offer.counts_as == parse_length(counts_as, "mm")


def test_what_over_length_counts_as_is_told() -> None:
    assert warned(over("144-1/2")) == [
        'stock.csv:2:length: over-length: counts as 144", and the 1/2" beyond it stays on the '
        "drop, read '144-1/2', would be right: 144-1/2\" under counts_as if parts may use all of it"
    ]


def test_the_row_says_what_it_counts_as() -> None:
    for counts_as in ("144-1/2", "144", "100"):
        days = over("144-1/2", counts_as)
        assert read(days).days[0].offers[0].counts_as == parse_length(counts_as, "in")
        assert not warned(days)


def test_a_drop_on_the_rack_counts_as_measured() -> None:
    assert read(over("144-1/2", "", "3", "0")).days[0].offers[0].counts_as == 289 * INCH // 2
    assert read(over("144-1/2", "144", "3", "0")).days[0].offers[0].counts_as == 144 * INCH


def test_without_a_nominal_size_a_stick_counts_as_measured() -> None:
    stock = OVER.format("144-1/2", "", "", "").replace("lumber,2x4,", "lumber,,")
    stock = stock.replace("600,MBF", "6,each")
    offer = read(files(stock=stock, cuts=CUTS_OVER)).days[0].offers[0]
    assert offer.counts_as == offer.length


@pytest.mark.parametrize(
    ("cells", "told"),
    [
        (
            {"counts_as": "145"},
            "2:counts_as: longer than the stick, read '145', would be right: 144-1/2\" or less",
        ),
        ({"counts_as": "0"}, "2:counts_as: a length of zero, read '0'"),
        ({"counts_as": "full"}, "2:counts_as: not a length, read 'full'"),
    ],
)
def test_a_fault_in_what_a_stick_counts_as(cells: dict[str, str], told: str) -> None:
    assert only(over("144-1/2", **cells)).startswith(f"stock.csv:{told}")


def test_a_sheet_counts_as_it_is() -> None:
    stock = OVER.format("144", "", "", "").replace("each,,,,,", "each,,,,,96")
    assert only(files(stock=stock, cuts=CUTS_OVER)).startswith(
        "stock.csv:3:counts_as: a length that counts on a sheet, read '96', would be right: a blank"
    )


def test_one_kind_for_a_material() -> None:
    bad = STOCK + "2x4-SPF,sheet,,96,48,10,each,,,,\n"
    assert only(files(stock=bad)) == (
        "stock.csv:7:kind: 2x4-SPF is lumber at line 2 and sheet here, read 'sheet', "
        "would be right: one kind for a material"
    )


def test_a_material_whose_row_is_faulty_is_still_known_to_the_cut_lists() -> None:
    assert only(files(stock=row(4, STOCK, length="?"))).startswith("stock.csv:4:length")


def test_a_material_whose_kind_is_unreadable_gives_one_fault_only() -> None:
    assert only(files(stock=row(5, STOCK, kind="panel"))).startswith("stock.csv:5:kind")


@pytest.mark.parametrize("column", ["material", "kind", "length", "price", "per"])
def test_a_missing_column(column: str) -> None:
    assert only(files(stock=without(column, STOCK))).startswith(
        f"stock.csv:1:{column}: the column '{column}' is missing, would be right: a header with"
    )


def test_columns_that_are_missing_or_unknown() -> None:
    faults = refused(files(stock=STOCK.replace("price,per", "prise,per")))
    assert [str(f) for f in faults] == [
        "stock.csv:1:price: the column 'price' is missing, would be right: "
        "a header with material, kind, length, price, per",
        "stock.csv:1:prise: no such column, read 'prise', would be right: did you mean 'price'?",
    ]


def test_no_rows() -> None:
    faults = refused(files(stock=STOCK.splitlines()[0] + "\n"))
    assert str(faults[-1]) == (
        "stock.csv: no rows, would be right: a row for each size that can be had"
    )


def test_optional_columns_may_be_absent() -> None:
    stock = "material,kind,length,price,per\n2x4-SPF,lumber,192,4,each\n"
    cuts = "section,jig,mark,material,length,qty\nA,W,S,2x4-SPF,90,1\n"
    offer = read(files(stock=stock, cuts=cuts)).days[0].offers[0]
    assert (offer.nominal, offer.on_hand, offer.limit, offer.bundle, offer.lot) == (
        *(None, 0, None, None, None),
    )


def test_a_drop_on_the_rack_may_cost_nothing() -> None:
    # Kept drops come back at standard price or at zero (Horngren 2018: one switch, never both).
    stock = STOCK + "2x4-SPF,lumber,2x4,70,,0,MBF,3,0,,rack\n"
    offer = read(files(stock=stock)).days[0].offers[-1]
    assert (offer.cost, offer.available) == (0, 3)


def test_the_same_size_may_stand_in_two_lots() -> None:
    stock = STOCK + "2x4-SPF,lumber,2x4,192,,610,MBF,7,0,,A2\n"
    assert [o.lot for o in read(files(stock=stock)).days[0].offers if o.length == 192 * INCH] == [
        *("A1", None, "A2"),
    ]


def test_an_engineered_size_needs_no_nominal_unless_priced_by_it() -> None:
    stock = STOCK + "LVL,lumber,1-3/4x11-7/8,480,,9,LF,,,,\n"
    assert warned(files(stock=stock)) == [
        "stock.csv:7:nominal: not a nominal size; no board feet are shown, read '1-3/4x11-7/8', "
        "would be right: such as 2x6"
    ]


def test_feet_typed_for_inches_in_the_stock_are_told() -> None:
    stock = STOCK + "2x4-SPF,lumber,2x4,16,,600,MBF,,,,\n"
    assert warned(files(stock=stock)) == [
        "stock.csv:7:length: a stick of 16\" to be bought, read '16', "
        'would be right: 192" if feet were typed for inches'
    ]


def test_a_sheet_size_given_crosswise_is_told() -> None:
    stock = STOCK + "OSB,sheet,,48,120,18,each,,,,\n"
    assert warned(files(stock=stock)) == [
        "stock.csv:7:length: this size of OSB is wider than long, and others are not, "
        "would be right: length along the sheet, the way rips run"
    ]
    # A drop on the rack may have any shape.
    assert warned(files(stock=STOCK + "OSB,sheet,,30,48,2,each,1,0,,\n")) == []


def test_millimetres() -> None:
    day = DAY.replace('"in"', '"mm"')
    stock = "material,kind,length,width,price,per\nMDF,sheet,2440,1220,30,each\n"
    cuts = "section,jig,mark,material,length,width,qty\nA,W,P,MDF,2352.7,600,1\n"
    read_day = read(files(day, stock, cuts)).days[0]
    assert read_day.offers[0].length == 2440 * 1600
    assert read_day.parts[0].length == 23527 * 160


def test_factory_edges_of_sheets() -> None:
    header, *rows = STOCK.splitlines()
    edges = ["", "", "", "One", "none"]
    text = "\n".join([f"{header},edges", *(f"{r},{e}" for r, e in zip(rows, edges, strict=True))])
    osb, gyp = read(files(stock=text)).days[0].offers[3:]
    assert (osb.edges, gyp.edges) == (Edges.ONE, Edges.NONE)
    assert {o.edges for o in read(files()).days[0].offers} == {Edges.BOTH}
    wrong = text.replace("One", "tounge")
    assert only(files(stock=wrong)) == (
        "stock.csv:5:edges: not a known word, read 'tounge', would be right: did you mean 'tongue'?"
    )
    lumber = "\n".join([f"{header},edges", f"{rows[0]},both", *(f"{r}," for r in rows[1:])])
    assert only(files(stock=lumber)) == (
        "stock.csv:2:edges: factory edges on lumber, read 'both', would be right: a blank"
    )


def test_which_edge_of_a_sheet_gives_what() -> None:
    # The squared edge is y = 0 and holds the groove, the far edge the tongue: README, stock.csv.
    gives = {e: (e.squared, e.far) for e in Edges}
    assert gives[Edges.BOTH] == ({Edge.ONE, Edge.GROOVE}, {Edge.ONE, Edge.TONGUE})
    assert gives[Edges.ONE] == ({Edge.ONE}, set())
    assert gives[Edges.NONE] == (set(), set())
    assert gives[Edges.TONGUE] == (set(), {Edge.ONE, Edge.TONGUE})
    assert gives[Edges.GROOVE] == ({Edge.ONE, Edge.GROOVE}, set())


def test_a_least_rip_wider_than_every_sheet_is_told() -> None:
    assert warned(files(day=DAY + '[sheets]\nleast_rip = "14"\n')) == []
    (told,) = warned(files(day=DAY + '[sheets]\nleast_rip = "60"\n'))
    assert told == (
        "day.toml:5:sheets.least_rip: wider than any sheet of OSB, GYP, so that none could be "
        "ripped, read '60\"', would be right: less than 48\""
    )
    own = '[materials.GYP]\nleast_rip = "60"\n'
    (told,) = warned(files(day=DAY + own))
    assert told.startswith("day.toml:5:materials.GYP.least_rip: wider than any sheet of GYP,")

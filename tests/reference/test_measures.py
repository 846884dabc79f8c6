"""Published figures of lumber and sheet measure against `cutopt.measure` and what an offer costs.

Each check names its source; where a figure follows from a published rule, "computed" is said.
"""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from cutopt.materials import Kind, Offer, Per
from cutopt.measure import (
    FOOT,
    INCH,
    SQUARE_FOOT,
    board_feet,
    feet,
    fits_inches,
    nominal_size,
    parse_length,
    rounded,
    show_length,
    square_feet,
)


def lumber(nominal: str, ft: int, price: str, per: Per) -> Offer:
    size = nominal_size(nominal)
    return Offer(2, nominal, Kind.LUMBER, size, ft * FOOT, None, Decimal(price), per)


def sheet(length: str, width: str, price: str, per: Per) -> Offer:
    long, wide = parse_length(length, "in"), parse_length(width, "in")
    return Offer(2, "sheet", Kind.SHEET, None, long, wide, Decimal(price), per)


# Board feet = nominal thickness in × nominal width in × length ft / 12: US Navy basic engineering
# course. One board foot is a board 1 in thick, 12 in wide and 1 ft long.
@pytest.mark.parametrize(
    ("nominal", "ft", "expected"),
    [
        ("1x12", 1, Fraction(1)),  # the unit itself, US Navy basic engineering course
        ("6x8", 16, Fraction(64)),  # Griffith, Estimating Lumber Quantities
        ("2x4", 14, Fraction(28, 3)),  # 9 1/3: computed from the rule
        ("2x6", 16, Fraction(16)),  # computed from the rule
        ("2x10", 20, Fraction(100, 3)),  # 33 1/3: computed from the rule
    ],
)
def test_board_feet_by_the_rule(nominal: str, ft: int, expected: Fraction) -> None:
    assert board_feet(nominal_size(nominal), ft * FOOT) == expected


def test_board_feet_are_kept_exact_and_rounded_only_where_shown() -> None:
    # Published roundings of a 14-ft 2x4 conflict, so three of them make 28 exactly, not 27.99.
    one = board_feet((2, 4), 14 * FOOT)
    assert 3 * one == 28
    assert rounded(one, 2) == Decimal("9.33")


# A price in dollars per MBF is for 1,000 nominal board feet: US Navy basic engineering course.
@pytest.mark.parametrize(
    ("nominal", "ft", "price", "cost"),
    [
        ("6x8", 16, "1000", Fraction(64)),  # 64 board feet (Griffith) at a dollar each
        ("6x8", 16, "450", Fraction(144, 5)),  # 64 × 0.45 = 28.80: computed
        ("2x4", 14, "600", Fraction(28, 5)),  # 9 1/3 × 0.60 = 5.60: computed
        ("2x4", 14, "587.50", Fraction(329, 60)),  # 9 1/3 × 0.5875, no whole number of cents
    ],
)
def test_a_price_per_mbf(nominal: str, ft: int, price: str, cost: Fraction) -> None:
    assert lumber(nominal, ft, price, Per.MBF).cost == cost


def test_a_thousand_board_feet_cost_the_price_per_mbf_however_they_are_cut() -> None:
    # Computed from the rule: 125 12-ft 2x4, 8 BF each; 62.5 16-ft 2x6, 16 BF each.
    for nominal, ft, pieces in (("2x4", 12, Fraction(125)), ("2x6", 16, Fraction(125, 2))):
        assert pieces * lumber(nominal, ft, "640", Per.MBF).cost == 640


# A price in dollars per MSF is for 1,000 square feet of sheet: the trade's definition.
@pytest.mark.parametrize(
    ("length", "width", "area", "price", "cost"),
    [
        ("96", "48", 32, "750", 24),  # a 4x8 sheet is 32 sq ft: computed
        ("16'", "54", 72, "500", 36),  # widest and longest listed gypsum board, 54 in × 16 ft
        ("120", "48", 40, "1000", 40),  # 4x10 fibre-cement panel, JLC field guide: computed
    ],
)
def test_a_price_per_msf(length: str, width: str, area: int, price: str, cost: int) -> None:
    offer = sheet(length, width, price, Per.MSF)
    assert offer.width is not None
    assert square_feet(offer.length * offer.width) == area
    assert offer.cost == cost


def test_a_trimmed_floor_sheet_is_less_than_32_square_feet() -> None:
    # Single-floor sheet 95-7/8 × 47-7/8 in, square edge: APA product guide.
    offer = sheet("95-7/8", "47-7/8", "1000", Per.MSF)
    assert offer.cost == Fraction(767, 8) * Fraction(383, 8) / 144
    assert rounded(offer.cost, 4) == Decimal("31.8751")


def test_prices_per_foot_and_each() -> None:
    # Computed: 1.25 a foot × 14 ft; a price for each is the cost.
    assert lumber("2x4", 14, "1.25", Per.LF).cost == Fraction(35, 2)
    assert lumber("2x4", 14, "7.19", Per.EACH).cost == Fraction(719, 100)
    assert sheet("96", "48", "1.25", Per.LF).cost == 10


# Precut studs and their height with three 1-1/2 in plates: published framing sizes, the sums
# computed. 1-1/2 in is the dressed thickness of a 2x: American Softwood Lumber Standard, PS 20.
@pytest.mark.parametrize(
    ("stud", "wall"), [("92-5/8", "97-1/8"), ("104-5/8", "109-1/8"), ("116-5/8", "121-1/8")]
)
def test_precut_studs_with_three_plates(stud: str, wall: str) -> None:
    height = parse_length(stud, "in") + 3 * parse_length("1-1/2", "in")
    assert height == parse_length(wall, "in")
    assert show_length(height, "in") == f'{wall}"'


def test_five_joist_spaces_fill_a_sheet_at_19_point_2_inches() -> None:
    # 19.2 in is 96/5: APA product guide (five spaces to an 8-ft sheet); it is no 64th of an inch.
    space = parse_length("19.2", "in")
    assert Fraction(space, INCH) == Fraction(96, 5)
    assert 5 * space == 8 * FOOT
    assert space % (INCH // 64)
    assert fits_inches(space)
    assert show_length(space, "in") == '19.2"'


def test_the_inch_is_25_4_mm_exactly() -> None:
    # International inch, 1959: 25.4 mm exactly, from memory.
    assert parse_length("25.4mm", "in") == parse_length("1", "in") == INCH
    assert parse_length("0.3048m", "in") == FOOT
    assert feet(parse_length("304.8", "mm")) == 1
    assert SQUARE_FOOT == FOOT**2


def test_a_length_in_feet_and_inches_by_the_published_rafter() -> None:
    # 7/12, 16 ft span, line length 111-1/8 in: US Navy 14044, fig. 2-17.
    assert parse_length("9'-3 1/8\"", "in") == parse_length("111-1/8", "in")
    # By the framing-square table 13.89 in per foot of run, 8 ft of run: within the table's tenth.
    assert abs(Fraction(parse_length("111-1/8", "in"), INCH) - 8 * Fraction("13.89")) <= Fraction(
        1, 10
    )

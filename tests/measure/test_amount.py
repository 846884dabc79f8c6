"""Board feet, areas and money against published figures."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutopt.measure import (
    FOOT,
    INCH,
    board_feet,
    dressed_width,
    feet,
    money,
    money_floor,
    nominal_size,
    percent,
    rounded,
    square_feet,
)


@pytest.mark.parametrize(
    ("nominal", "ft", "expected"),
    [
        # Griffith, Estimating Lumber Quantities: a 6x8, 16 ft long, holds 64 board feet.
        ((6, 8), 16, Fraction(64)),
        # A 14-ft 2x4: 2 × 4 × 14 / 12, computed from the rule of the US Navy basic course.
        ((2, 4), 14, Fraction(28, 3)),
        ((1, 12), 1, Fraction(1)),
    ],
)
def test_board_feet(nominal: tuple[int, int], ft: int, expected: Fraction) -> None:
    assert board_feet(nominal, ft * FOOT) == expected


def test_areas_and_feet() -> None:
    # A 4x8 sheet is 32 square feet, by definition.
    assert square_feet(48 * INCH * 96 * INCH) == 32
    assert feet(92 * INCH + 5 * INCH // 8) == Fraction("92.625") / 12


@pytest.mark.parametrize("text", ["2x6", " 2 X 6 ", "2×6"])
def test_nominal_sizes(text: str) -> None:
    assert nominal_size(text) == (2, 6)


@pytest.mark.parametrize("text", ["", "2x", "x6", "0x4", "2x0", "5/4x6", "2x6x8", "200x4"])
def test_what_is_no_nominal_size(text: str) -> None:
    with pytest.raises(ValueError, match="nominal"):
        nominal_size(text)


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        (Fraction(1, 3), 2, "0.33"),
        (Fraction(5, 2), 0, "2"),
        (Fraction(7, 2), 0, "4"),
        (Fraction(-5, 2), 0, "-2"),
        (Fraction(-1, 3), 2, "-0.33"),
        (Fraction(2, 3), 4, "0.6667"),
        (7, 2, "7.00"),
    ],
)
def test_rounding_half_to_even(value: Fraction, places: int, text: str) -> None:
    assert f"{rounded(value, places):f}" == text


@given(st.fractions(-(10**6), 10**6), st.integers(0, 8))
def test_rounding_is_as_near_as_can_be(value: Fraction, places: int) -> None:
    got = Fraction(rounded(value, places))
    assert abs(got - value) * 2 * 10**places <= 1
    assert (got * 10**places).denominator == 1


@given(st.fractions(-(10**6), 10**6))
def test_a_floor_is_never_above(value: Fraction) -> None:
    low = Fraction(money_floor(value))
    assert low <= value < low + Fraction(1, 10**6)
    assert abs(Fraction(money(value)) - value) * 2 * 10**6 <= 1


@pytest.mark.parametrize(
    ("nominal", "inches"),
    # American Softwood Lumber Standard, PS 20; the 3 from memory.
    [((2, 3), "2.5"), ((2, 4), "3.5"), ((2, 6), "5.5"), ((2, 8), "7.25"), ((2, 10), "9.25")],
)
def test_dressed_widths(nominal: tuple[int, int], inches: str) -> None:
    assert dressed_width(nominal) == Fraction(inches) * INCH
    assert dressed_width((2, 5)) is None


def test_percent() -> None:
    assert percent(Fraction(1), Fraction(3)) == Decimal("33.3333")
    assert percent(Fraction(1), Fraction(0)) == 0

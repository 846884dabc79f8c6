"""Lengths: what people write, what is refused, and that showing and reading agree."""

from __future__ import annotations

import pickle
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutopt.measure import (
    FOOT,
    INCH,
    LONGEST,
    MM,
    LengthError,
    decimal_length,
    fits_inches,
    length_from_number,
    parse_length,
    show_length,
)

STUD = 92 * INCH + 5 * INCH // 8


def test_a_count_holds_a_64th_and_a_hundredth_of_a_millimetre() -> None:
    # FORMATS.md, "Lengths": 1/64 in is 635 counts and 0.01 mm is 16.
    assert INCH == 64 * 635 == 25.4 * MM
    assert parse_length("1/64", "in") == 635
    assert parse_length("0.01", "mm") == 16


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        # Precut studs: published sizes, FACTS of the trade (US framing practice).
        ("92-5/8", Fraction("92.625")),
        ("104-5/8", Fraction("104.625")),
        ("116-5/8", Fraction("116.625")),
        # The 19.2-in joist spacing of span tables is a fifth of eight feet: 96/5.
        ("19.2", Fraction(96, 5)),
        # Three 1-1/2 plates on a 92-5/8 stud: 97-1/8.
        ("8' 1-1/8", Fraction("97.125")),
    ],
)
def test_lengths_of_the_trade(text: str, inches: Fraction) -> None:
    assert parse_length(text, "in") == inches * INCH


@pytest.mark.parametrize(
    "text",
    # The first nine are FORMATS.md's own examples.
    [
        "92-5/8",
        "92 5/8",
        "92.625",
        '92.625"',
        "7'-8 5/8\"",
        "7' 8-5/8",
        "7'8.625\"",
        "2352.675mm",
        "235.2675cm",
        "2.352675m",
        " 92-5/8 ",
        '92 - 5/8"',
        "92-5/8 in",
        "92.625 IN",
        "92.625in.",
        "7 ft 8-5/8",
        "7 FT. 8.625",
        "7′-8 5/8″",
        "7’ 8-5/8”",
        "92⅝",
        "92-⅝",
        "7' 8⅝\"",
        "92\xa05/8",
        "92–5/8",
        "7'8-5/8''",
        "2352.675 MM",
        "1482/16",
    ],
)
def test_one_length_in_many_words(text: str) -> None:
    assert parse_length(text, "in") == STUD


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("2352.7", 2352 * MM + 1120),
        ('92-5/8"', STUD),
        ("7'-8 5/8\"", STUD),
        ("7' 8 5/8", STUD),
        ("1/2", MM // 2),
        ("92.5 in", 92 * INCH + INCH // 2),
    ],
)
def test_a_bare_number_reads_in_millimetres_and_marks_hold(text: str, counts: int) -> None:
    assert parse_length(text, "mm") == counts


@pytest.mark.parametrize(
    ("text", "counts"),
    [
        ("0", 0),
        ("1/8", INCH // 8),
        (".5", INCH // 2),
        ("5.", 5 * INCH),
        ("7'", 7 * FOOT),
        ("1.5'", FOOT + FOOT // 2),
        ("0'-6\"", 6 * INCH),
        ("⅛", INCH // 8),
        ("1000'", LONGEST),
    ],
)
def test_short_forms(text: str, counts: int) -> None:
    assert parse_length(text, "in") == counts


@pytest.mark.parametrize(
    ("text", "wrong", "right"),
    [
        ("", "not a length", "92-5/8"),
        ("long", "not a length", "92-5/8"),
        ("-3", "below zero", "zero or more"),
        ("−3", "below zero", "zero or more"),
        ("92,5", "a comma in a number", "92.5"),
        ("7'-14\"", "12 in or more beside the feet", "less than 12"),
        ("7'-", "not a length", "7'-8 5/8"),
        ("3/0", "over zero", "92-5/8"),
        ("1e3", "not a length", "92-5/8"),
        ("12 13", "not a length", "92-5/8"),
        ('"', "not a length", "92-5/8"),
        ("'", "not a length", "92-5/8"),
        ("in", "not a length", "92-5/8"),
        ('7"8"', "not a length", "92-5/8"),
        ("1000.01'", "beyond 1,000 ft", "stock"),
        ("99999999999999", "not a length", "92-5/8"),
        ("٣", "not a length", "92-5/8"),
        ("1/2/3", "not a length", "92-5/8"),
        ("nan", "not a length", "92-5/8"),
        # Between two counts: the nearest 64ths, or the nearest two counts of a metric length.
        ("1/3", "falls between 0.328125 and 0.34375", "0.328125 in or 0.34375 in"),
        ("92.625001", "falls between 92.625 and 92.640625", "92.625 in"),
        ("0.0001mm", "falls between 0 and 0.000625", "0 mm or 0.000625 mm"),
    ],
)
def test_what_is_no_length_says_what_would_be(text: str, wrong: str, right: str) -> None:
    with pytest.raises(LengthError) as caught:
        parse_length(text, "in")
    assert wrong in caught.value.wrong
    assert right in caught.value.right
    again = pickle.loads(pickle.dumps(caught.value))
    assert (again.wrong, again.right) == (caught.value.wrong, caught.value.right)


@pytest.mark.parametrize(
    ("value", "counts"),
    [
        (92.625, STUD),
        (96, 96 * INCH),
        ("19.2", 96 * INCH // 5),
        (Decimal("0.1"), INCH // 10),
        # A float stands for its shortest text: 0.1 is a tenth, not the bits nearest to it.
        (0.1, INCH // 10),
        (Decimal("9.6E+1"), 96 * INCH),
    ],
)
def test_numbers_read_by_their_shortest_decimal_text(value: float, counts: int) -> None:
    assert length_from_number(value, "in") == counts


@pytest.mark.parametrize(
    "value",
    [
        float("nan"),
        float("inf"),
        Decimal("1e999999"),
        Decimal("1e-999999"),
        pytest.param(10**5000, id="long"),
        -1,
        "x",
        Decimal("sNaN"),
        0.1 + 0.2,
        1e300,
    ],
)
def test_numbers_that_are_no_length(value: float) -> None:
    with pytest.raises(LengthError):
        length_from_number(value, "in")


@pytest.mark.parametrize(
    ("length", "inches", "feet", "mm"),
    [
        (STUD, '92-5/8"', "7'-8 5/8\"", "2352.675 mm"),
        (0, '0"', '0"', "0 mm"),
        (INCH // 8, '1/8"', '1/8"', "3.175 mm"),
        (96 * INCH, '96"', "8'-0\"", "2438.4 mm"),
        (96 * INCH // 5, '19.2"', '19.2"', "487.68 mm"),
        (-STUD, '-92-5/8"', "-7'-8 5/8\"", "-2352.675 mm"),
        (100 * MM, '~3.937"', '~3.937"', "100 mm"),
    ],
)
def test_lengths_are_shown_as_a_framer_writes_them(
    length: int, inches: str, feet: str, mm: str
) -> None:
    assert show_length(length, "in") == inches
    assert show_length(length, "in", feet=True) == feet
    assert show_length(length, "mm") == mm


SIXTY_FOURTHS = st.integers(0, LONGEST // 635).map(lambda n: 635 * n)
COUNTS = st.integers(0, LONGEST)


@given(SIXTY_FOURTHS, st.booleans(), st.sampled_from(["in", "mm"]))
def test_a_shown_64th_reads_as_itself(length: int, feet: bool, unit: str) -> None:
    assert parse_length(show_length(length, "in", feet), "in") == length
    # Its inch marks hold in a day of millimetres too.
    assert parse_length(show_length(length, "in", feet), "mm") == length


@given(COUNTS)
def test_shown_millimetres_read_as_themselves(length: int) -> None:
    assert parse_length(show_length(length, "mm"), "mm") == length
    assert parse_length(show_length(length, "mm"), "in") == length


@given(COUNTS)
def test_a_length_shown_in_inches_is_exact_or_says_that_it_is_not(length: int) -> None:
    text = show_length(length, "in")
    if not text.startswith("~"):
        assert parse_length(text, "in") == length


@given(COUNTS)
def test_decimals_are_exact(length: int) -> None:
    assert length_from_number(decimal_length(length, "mm") or 0, "mm") == length
    inches = decimal_length(length, "in")
    assert (inches is not None) == fits_inches(length)
    if inches is not None:
        assert Fraction(inches) * INCH == length


@given(st.text(max_size=40), st.sampled_from(["in", "mm"]))
def test_no_text_breaks_the_reader(text: str, unit: str) -> None:
    try:
        length = parse_length(text, unit)  # type: ignore[arg-type]
    except LengthError:
        return
    assert 0 <= length <= LONGEST


@given(
    st.integers(0, 500),
    st.integers(0, 11),
    st.integers(0, 63),
    st.sampled_from(
        ["{f}'-{i} {n}/64\"", "{f}' {i}-{n}/64", "{f}'{i} {n}/64", "{f} ft {i}-{n}/64 in"]
    ),
)
def test_feet_inches_and_fractions(feet: int, inches: int, part: int, form: str) -> None:
    text = form.format(f=feet, i=inches, n=part)
    assert parse_length(text, "in") == feet * FOOT + inches * INCH + part * 635

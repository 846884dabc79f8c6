"""Exact lengths: an integer count of 1/1600 mm.

1/1600 mm holds 1/64 in (635 counts) and 0.01 mm (16 counts) exactly, so that a day in inches
and a day in millimetres are both whole numbers. What falls between two counts is refused with
the nearest two named; nothing is rounded in silence.
"""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from typing import Literal

from cutopt.records import CutoptError

__all__ = [
    "FOOT",
    "INCH",
    "LONGEST",
    "MM",
    "LengthError",
    "Unit",
    "decimal_length",
    "fits_inches",
    "length_from_number",
    "parse_length",
    "show_length",
]

Unit = Literal["in", "mm"]

MM = 1600
INCH = 40_640
FOOT = 12 * INCH
#: No length above this is read (about 1,000 ft): a guard against slips and overflow.
LONGEST = 1000 * FOOT

_METRIC = {"mm": MM, "cm": 10 * MM, "m": 1000 * MM}
_MARKS = str.maketrans(
    {"′": "'", "’": "'", "‘": "'", "″": '"', "”": '"', "“": '"'}
    | {"–": "-", "−": "-", "‑": "-", "⁄": "/", "\xa0": " ", "\u202f": " ", "\u2009": " "}
    | {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
)
_NUMBER = r"\d{1,9}(?:\.\d{0,12})?|\.\d{1,12}"
_METRIC_TEXT = re.compile(rf"({_NUMBER})\s*(mm|cm|m)", re.IGNORECASE | re.ASCII)
_FEET_TEXT = re.compile(rf"({_NUMBER})\s*(?:'|ft\.?)\s*((?:-\s*)?)(.*)", re.IGNORECASE | re.ASCII)
_FRACTION_TEXT = re.compile(r"(?:(\d{1,9})(?:\s+|\s*-\s*))?(\d{1,6})\s*/\s*(\d{1,6})", re.ASCII)
_NUMBER_TEXT = re.compile(_NUMBER, re.ASCII)
_INCH_MARK = re.compile(r'\s*(?:"|in\.?)', re.IGNORECASE)
#: No number with more digits than this, before or behind its point, is looked at.
_MOST_DIGITS = 30


class LengthError(CutoptError, ValueError):
    """A length that cannot be read, or that no count of 1/1600 mm holds.

    `right` says what can be.
    """

    def __init__(self, wrong: str, right: str) -> None:
        self.wrong = wrong
        self.right = right
        super().__init__(f"{wrong}; {right}")

    def __reduce__(self) -> tuple[type[LengthError], tuple[str, str]]:
        return type(self), (self.wrong, self.right)


def parse_length(text: str, unit: Unit) -> int:
    """Read a length as a person writes it.

    Parameters
    ----------
    text
        `92-5/8`, `92 5/8`, `92.625`, `92.625"`, `7'-8 5/8"`, `7' 8-5/8`, `2352.7mm`, `235.27cm`,
        `2.3527m`; a bare number is in `unit`.
    unit
        The unit of a bare number, `in` or `mm`.

    Returns
    -------
    int
        Counts of 1/1600 mm, zero or more.

    Raises
    ------
    LengthError
        Where the text is no length, is negative or beyond `LONGEST`, or falls between two counts.
    """
    word = text.strip().translate(_MARKS).replace("''", '"').strip()
    if word.startswith("-"):
        raise LengthError("a length below zero", "zero or more")
    metric = _METRIC_TEXT.fullmatch(word)
    if metric:
        value = Fraction(metric[1]) * _METRIC[metric[2].lower()]
        return _whole(value, "mm")
    total = Fraction(0)
    feet = _FEET_TEXT.fullmatch(word)
    if feet:
        total = Fraction(feet[1]) * 12
        word = feet[3]
        if feet[2] and not word:
            raise LengthError("not a length", _examples())
    mark = _INCH_MARK.search(word)
    inch_marked = mark is not None and mark.end() == len(word)
    if mark is not None and inch_marked:
        word = word[: mark.start()]
    if unit == "mm" and not feet and not inch_marked:
        return _whole(_inches(word) * MM, "mm")
    if word or not feet:
        inches = _inches(word)
        if feet and inches >= 12:
            raise LengthError("12 in or more beside the feet", "feet and less than 12 in")
        total += inches
    return _whole(total * INCH, "in")


def _inches(word: str) -> Fraction:
    fraction = _FRACTION_TEXT.fullmatch(word)
    if fraction:
        if int(fraction[3]) == 0:
            raise LengthError("a fraction over zero", _examples())
        return int(fraction[1] or 0) + Fraction(int(fraction[2]), int(fraction[3]))
    if _NUMBER_TEXT.fullmatch(word):
        return Fraction(word)
    if re.fullmatch(r"\d+,\d+", word, re.ASCII):
        raise LengthError("a comma in a number", f"a point: {word.replace(',', '.')}")
    raise LengthError("not a length", _examples())


def _examples() -> str:
    return "such as 92-5/8, 92.625, 7'-8 5/8\" or 2352.7mm"


def _whole(value: Fraction, unit: Unit) -> int:
    if value > LONGEST:
        raise LengthError("a length beyond 1,000 ft", "a length of a part or of stock")
    if value.denominator == 1:
        return int(value)
    below = int(value)
    near = [decimal_length(n, unit) for n in (below, below + 1)]
    if unit == "in":
        step = INCH // 64
        low = (value.numerator // value.denominator) // step * step
        near = [decimal_length(n, "in") for n in (low, low + step)]
    a, b = (f"{n.normalize():f}" if n is not None else "?" for n in near)
    raise LengthError(f"falls between {a} and {b} {unit}", f"{a} {unit} or {b} {unit}")


def length_from_number(value: int | float | str | Decimal, unit: Unit) -> int:
    """A JSON or workbook number as a length, by its shortest decimal text (never by its bits).

    Raises `LengthError` as `parse_length` does.
    """
    if isinstance(value, int) and abs(value) > LONGEST:
        raise LengthError("a length beyond 1,000 ft", "a length of a part or of stock")
    try:
        number = Decimal(repr(value) if isinstance(value, float) else str(value))
    except ArithmeticError as error:
        raise LengthError("not a length", _examples()) from error
    exponent = number.as_tuple().exponent
    if not isinstance(exponent, int) or max(-exponent, number.adjusted()) > _MOST_DIGITS:
        raise LengthError("not a length", _examples())
    return parse_length(f"{number:f}", unit)


def fits_inches(length: int) -> bool:
    """Whether the length can be written in inches as a decimal that ends."""
    return length % 127 == 0


def decimal_length(length: int, unit: Unit) -> Decimal | None:
    """The length as an exact decimal in `unit`; None where no decimal in inches ends."""
    if unit == "mm":
        return Decimal(length) / MM
    if not fits_inches(length):
        return None
    return Decimal(length // 127) / (INCH // 127)


def show_length(length: int, unit: Unit, feet: bool = False) -> str:
    """The length for a person: `92-5/8"`, with `feet` `7'-8 5/8"`, or `2352.68 mm`.

    Inches that are no 64th are shown as a decimal, marked with `~` where it had to be cut short.
    """
    if unit == "mm":
        return f"{_plain(Decimal(length) / MM)} mm"
    sign, n = ("-", -length) if length < 0 else ("", length)
    if n % (INCH // 64):
        exact = decimal_length(n, "in")
        if exact is not None and -int(exact.normalize().as_tuple().exponent) <= 5:
            return f'{sign}{_plain(exact)}"'
        return f'{sign}~{_plain(round(Decimal(n) / INCH, 4))}"'
    sixtyfourths = n // (INCH // 64)
    whole, part = divmod(sixtyfourths, 64)
    fraction = str(Fraction(part, 64)) if part else ""
    if not feet:
        body = f"{whole}-{fraction}" if whole and fraction else fraction or str(whole)
        return f'{sign}{body}"'
    ft, inches = divmod(whole, 12)
    body = f"{inches} {fraction}" if inches and fraction else fraction or str(inches)
    return f"{sign}{ft}'-{body}\"" if ft else f'{sign}{body}"'


def _plain(value: Decimal) -> str:
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text

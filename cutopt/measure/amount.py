"""Board feet, areas and money, exact as fractions; rounded once, where they are shown."""

from __future__ import annotations

import re
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, Decimal
from fractions import Fraction

from cutopt.measure.length import FOOT, INCH

__all__ = [
    "SQUARE_FOOT",
    "board_feet",
    "dressed_width",
    "feet",
    "money",
    "money_floor",
    "nominal_size",
    "percent",
    "rounded",
    "square_feet",
]

SQUARE_FOOT = FOOT * FOOT
_NOMINAL = re.compile(r"\s*(\d{1,2})\s*[xX×]\s*(\d{1,2})\s*")


def nominal_size(text: str) -> tuple[int, int]:
    """`2x6` as (2, 6), inches nominal. Raises ValueError where it is no such size."""
    match = _NOMINAL.fullmatch(text)
    if not match or not int(match[1]) or not int(match[2]):
        raise ValueError(f"not a nominal size: {text!r}")
    return int(match[1]), int(match[2])


def dressed_width(nominal: tuple[int, int]) -> int | None:
    """The dry dressed width of a nominal size, in counts; None where the table has none.

    Source: American Softwood Lumber Standard, PS 20; 2x3 and 1x8 from memory.
    """
    quarters = {3: 10, 4: 14, 6: 22, 8: 29, 10: 37, 12: 45}.get(nominal[1])
    return None if quarters is None else quarters * INCH // 4


def board_feet(nominal: tuple[int, int], length: int) -> Fraction:
    """Nominal board feet of one piece: thickness × width in × length ft / 12.

    Source: US Navy basic engineering course; a thickness under 1 in counts as 1, which a whole
    nominal thickness never is.
    """
    return Fraction(nominal[0] * nominal[1] * length, 12 * FOOT)


def feet(length: int) -> Fraction:
    """Linear feet."""
    return Fraction(length, FOOT)


def square_feet(area: int) -> Fraction:
    """Square feet of an area in counts squared."""
    return Fraction(area, SQUARE_FOOT)


def rounded(value: Fraction | int, places: int) -> Decimal:
    """The value to `places` decimals, half to even, computed in integers."""
    return _scaled(Fraction(value), places, ROUND_HALF_EVEN)


def _scaled(value: Fraction, places: int, mode: str) -> Decimal:
    scaled = value * 10**places
    floor = scaled.numerator // scaled.denominator
    rest = scaled - floor
    if mode == ROUND_HALF_EVEN and (
        rest > Fraction(1, 2) or (rest == Fraction(1, 2) and floor % 2)
    ):
        floor += 1
    return Decimal(floor).scaleb(-places)


def money(value: Fraction | int) -> Decimal:
    """Dollars to six places: a millionth is far below a cent of any order."""
    return rounded(value, 6)


def money_floor(value: Fraction | int) -> Decimal:
    """Dollars to six places, never above `value`: for lower bounds."""
    return _scaled(Fraction(value), 6, ROUND_FLOOR)


def percent(part: Fraction, whole: Fraction) -> Decimal:
    """`part` of `whole` in percent to four places; 0 where the whole is 0."""
    return rounded(100 * part / whole, 4) if whole else Decimal(0)

"""Exact inches: rounding up, and the ways in which the plant's offices write a length."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction

__all__ = ["NONE", "ON_CENTRE", "Inch", "down_to_16th", "secant", "up_to_16th", "write"]

Inch = Fraction

NONE = Inch(0)
ON_CENTRE = Inch(16)  # studs and joists

_HAIR = 1e-6  # of a sixteenth: what a square root may be off before it is rounded


def up_to_16th(value: float | Inch) -> Inch:
    """Round a sloped or mitred length up to the next 1/16 in."""
    return Inch(math.ceil(float(value) * 16 - _HAIR), 16)


def down_to_16th(value: float | Inch) -> Inch:
    """Round the height that is left under a slope down to 1/16 in, so that the piece goes in."""
    return Inch(math.floor(float(value) * 16 + _HAIR), 16)


def secant(pitch: Inch) -> float:
    """Length along the slope for one inch of run, for a pitch of rise over run."""
    return math.sqrt(1 + float(pitch) ** 2)


def _mixed(value: Inch, between: str) -> str:
    whole, part = divmod(value, 1)
    if not part:
        return str(whole)
    fraction = f"{part.numerator}/{part.denominator}"
    return f"{whole}{between}{fraction}" if whole else fraction


def _fraction(value: Inch) -> str:
    return _mixed(value, "-")


def _spaced(value: Inch) -> str:
    return _mixed(value, " ")


def _feet(value: Inch) -> str:
    feet, inches = divmod(value, 12)
    whole, part = divmod(inches, 1)
    return f"{feet}'-{whole}{' ' + _mixed(part, '') if part else ''}\""


def _decimal(value: Inch) -> str:
    text = f"{float(value):.5f}".rstrip("0").rstrip(".")
    if Inch(text) != value:
        raise ValueError(f"{value} does not end in five decimals")
    return text


_STYLES: dict[str, Callable[[Inch], str]] = {
    "fraction": _fraction,  # 92-5/8
    "spaced": _spaced,  # 92 5/8
    "feet": _feet,  # 7'-8 5/8"
    "decimal": _decimal,  # 92.625
}


def write(value: Inch, style: str) -> str:
    """A length as text in one of the four styles: fraction, spaced, feet, decimal."""
    return _STYLES[style](value)

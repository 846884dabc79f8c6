"""Exact inches: reading, rounding up, and the ways in which the plant's offices write a length."""

from __future__ import annotations

import math
from fractions import Fraction as F

__all__ = ["Style", "as_decimal", "as_feet", "as_fraction", "as_spaced", "secant", "up_to_16th", "write"]

Style = str

_HAIR = 1e-6  # of a sixteenth: what a square root may be off before it is rounded up


def up_to_16th(value: float | F) -> F:
    """Round a sloped or mitred length up to the next 1/16 in."""
    return F(math.ceil(float(value) * 16 - _HAIR), 16)


def secant(pitch: F) -> float:
    """Length along the slope for one inch of run, for a pitch of rise over run."""
    return math.sqrt(1 + float(pitch) ** 2)


def _mixed(value: F, between: str) -> str:
    whole, part = divmod(value, 1)
    if not part:
        return str(whole)
    fraction = f"{part.numerator}/{part.denominator}"
    return f"{whole}{between}{fraction}" if whole else fraction


def as_fraction(value: F) -> str:
    """``92-5/8``."""
    return _mixed(value, "-")


def as_spaced(value: F) -> str:
    """``92 5/8``."""
    return _mixed(value, " ")


def as_feet(value: F) -> str:
    """``7'-8 5/8"``."""
    feet, inches = divmod(value, 12)
    return f"{feet}'-{_mixed(inches, ' ') if inches >= 1 or not inches else '0 ' + _mixed(inches, ' ')}\""


def as_decimal(value: F) -> str:
    """``92.625``."""
    text = f"{float(value):.5f}".rstrip("0").rstrip(".")
    if F(text) != value:
        raise ValueError(f"{value} does not end in five decimals")
    return text


def write(value: F, style: Style) -> str:
    """A length in one of the four styles: fraction, spaced, feet, decimal."""
    return {"fraction": as_fraction, "spaced": as_spaced, "feet": as_feet, "decimal": as_decimal}[style](value)

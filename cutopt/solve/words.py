"""Lengths in messages of a solver, which knows no unit of the day's."""

from __future__ import annotations

from cutopt.measure import fits_inches, show_length

__all__ = ["shown"]


def shown(*lengths: int) -> str:
    """Lengths for a person, in inches where all of them are whole 127ths of one, else in mm."""
    unit = "in" if all(fits_inches(n) for n in lengths) else "mm"
    return " x ".join(show_length(n, "in" if unit == "in" else "mm") for n in lengths)

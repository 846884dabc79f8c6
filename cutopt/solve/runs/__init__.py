"""Jointed runs: units of mated runs, their pieces, and their columns at given values of pieces."""

from cutopt.solve.runs.pricing import Column, Priced, Pricer
from cutopt.solve.runs.unit import (
    Cut,
    Joints,
    Member,
    Run,
    Unit,
    lengths,
    pieces_of,
    units_of,
)

__all__ = [
    "Column",
    "Cut",
    "Joints",
    "Member",
    "Priced",
    "Pricer",
    "Run",
    "Unit",
    "lengths",
    "pieces_of",
    "units_of",
]

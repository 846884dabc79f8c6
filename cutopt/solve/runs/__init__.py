"""Jointed runs: units of mated runs, their pieces, and their columns at given values of pieces.

`units_of` gathers the runs of cut lists into units; `reason` says which of them can't be made, and
why. A `Pricer` over the others names every piece that can occur (`cuts`: the solver's items) and
finds columns: exactly for single runs and mated pairs, in floats to search by and in int64 to
prove by. `pieces_of` turns a chosen column into pieces with their run's name and place.
"""

from cutopt.solve.runs.plain import equal_pieces, fewest_joints
from cutopt.solve.runs.pricing import Column, Priced, Pricer
from cutopt.solve.runs.reason import largest_clearance, reason
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
    "equal_pieces",
    "fewest_joints",
    "largest_clearance",
    "lengths",
    "pieces_of",
    "reason",
    "units_of",
]

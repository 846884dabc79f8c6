"""Why a unit can't be made of the stock offered, and what would make it possible."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import numpy as np

from cutopt.measure import Unit as Measure
from cutopt.measure import show_length
from cutopt.solve.runs.pricing import Pricer
from cutopt.solve.runs.unit import Run, Unit

__all__ = ["largest_clearance", "reason"]

#: States looked at when three or more runs are tried: far more than in a round of pricing.
_WORK = 200_000


def reason(unit: Unit, measure: Measure = "in") -> str | None:
    """Why no joints make the unit, in words; None where some do.

    Parameters
    ----------
    unit
        Runs and clearances; the longest piece that the stock gives is each run's `longest`.
    measure
        How lengths are written. Lengths are counts of 1/1600 mm here.

    Returns
    -------
    str or None
        One of: a mate that is not there; the first interval without a joint that is longer than
        any stick; the shortest piece, with the largest that would do; the clearance, with the
        largest that works. For three or more mated runs whose search was ended by its work limit,
        that none was found.
    """

    def show(length: int) -> str:
        return show_length(length, measure)

    for mark in unit.missing:
        named = [
            m.part.mark
            for m in (unit.members[0] if unit.members else ())
            if m.part.joints is not None and m.part.joints.mate == mark
        ]
        return _absent(named[0] if named else "the run", mark)
    for r, run in enumerate(unit.runs):
        words = _alone(run, show)
        if words:
            return f"{_name(unit, r)}: {words}" if len(unit.runs) > 1 else words
    return _together(unit, show)


def _name(unit: Unit, r: int) -> str:
    return unit.members[0][r].part.mark if unit.members else f"run {r + 1}"


def _absent(mark: str, mate: str) -> str:
    if mark == mate:
        return f"{mark} names itself as its mate; another run's mark would be right"
    return (
        f"{mark} must keep its joints clear of {mate}, but no jointed run of that mark"
        " in the same section is cut from the same kind of stock"
    )


def _alone(run: Run, show: Callable[[int], str]) -> str | None:
    if run.piece_lengths:
        return None
    if run.longest <= 0:
        return "no stock offered gives a piece for it"
    for a, b in pairwise((0, *run.places, run.length)):
        if b - a > run.longest:
            return (
                f"no joint is allowed between {show(a)} and {show(b)} from its start,"
                f" {show(b - a)} apart, and the longest piece that the stock gives is"
                f" {show(run.longest)}"
            )
    works = _largest(run.least, lambda least: bool(replace(run, least=least).piece_lengths))
    return (
        f"its allowed joints can't make it of pieces from {show(run.least)} to"
        f" {show(run.longest)}; they could if pieces of {show(works)} were allowed"
    )


def _largest(below: int, works: Callable[[int], bool]) -> int:
    """The largest whole number under `below` that works, given that smaller ones do and 0 does."""
    low, high = 0, below
    while high - low > 1:
        middle = (low + high) // 2
        if works(middle):
            low = middle
        else:
            high = middle
    return low


def _feasible(unit: Unit) -> tuple[bool, bool]:
    """Whether there are joints for the unit, and whether that is certain."""
    pricer = Pricer([unit], _WORK)
    priced = pricer.price(np.zeros(len(pricer.cuts), np.int64))
    found = priced.column(0) is not None
    return found, found or not priced.possible(0)


def largest_clearance(unit: Unit) -> int:
    """The largest clearance that the unit's runs can keep, none of its own being raised.

    Its clearances are lowered to it where they are larger. The runs must be possible alone. For
    three or more runs it is the largest that was found to work.
    """

    def works(most: int) -> bool:
        clear = tuple((i, j, min(gap, most)) for i, j, gap in unit.clear)
        return _feasible(replace(unit, clear=clear, members=()))[0]

    most = max((gap for _, _, gap in unit.clear), default=0)
    return most if works(most) else _largest(most, works)


def _together(unit: Unit, show: Callable[[int], str]) -> str | None:
    if not unit.clear:
        return None
    found, certain = _feasible(unit)
    if found:
        return None
    names = [_name(unit, r) for r in range(len(unit.runs))]
    who = f"{', '.join(names[:-1])} and {names[-1]}"
    gaps = sorted({gap for _, _, gap in unit.clear}, reverse=True)
    wanted = show(gaps[0]) if len(gaps) == 1 else " and ".join(show(g) for g in gaps)
    works = largest_clearance(unit)
    start = "no joints of" if certain else "no joints were found of"
    if works <= 0:
        return f"{start} {who} keep {wanted} apart, nor any clearance at all"
    return f"{start} {who} keep {wanted} apart; the largest clearance that works is {show(works)}"

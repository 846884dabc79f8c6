"""Plain ways to joint runs, without regard to the rest of the order: starts and yardsticks."""

from __future__ import annotations

import numpy as np

from cutopt.solve.runs.pricing import Column, Pricer

__all__ = ["equal_pieces", "fewest_joints"]


def fewest_joints(pricer: Pricer) -> list[Column | None]:
    """For each unit a column with as few joints as can be; a run alone takes its longest first."""
    return pricer.best_integer(np.zeros(len(pricer.cuts), np.int64), 1)


def equal_pieces(pricer: Pricer) -> list[Column | None]:
    """For each unit a column of fewest joints whose pieces are as equal as the places allow.

    Equal means the least sum of squared lengths; lengths enter in 10,000ths of the longest.
    """
    if not pricer.cuts:
        return []
    lengths = np.array([cut.length for cut in pricer.cuts], np.int64)
    shares = lengths * 10_000 // int(lengths.max())
    squares = shares * shares
    pieces = max(sum(r.count + 1 for r in u.runs) for u in pricer.units)
    return pricer.best_integer(squares, int(squares.max()) * pieces + 1)

"""A linear solver that goes on from where it ended: one thread, silent, alike every time."""

from __future__ import annotations

import highspy

__all__ = ["simplex"]


def simplex() -> highspy.Highs:
    """An empty linear programme for the simplex method, hot-started at every change."""
    h = highspy.Highs()
    for option, value in (
        ("output_flag", False),
        ("threads", 1),
        ("presolve", "off"),
        ("random_seed", 1),
        ("solver", "simplex"),
    ):
        h.setOptionValue(option, value)
    return h

"""A point on a curve of cost: one setting, and what the best plan found under it costs."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

__all__ = ["CurvePoint"]


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """What a group's best plan found comes to under one setting.

    Parameters
    ----------
    setting
        What was set, in words: "joint price $0.50, no piece under 32 in" or
        "0.25 % dearer allowed".
    objective
        Stock cost less drop credit plus joint cost at that setting, in dollars.
    cost
        What the stock costs, in dollars, whether bought or on hand.
    setups
        How many different layouts are cut (patterns: the same places on the same stock).
    joints
        How many joints the runs have together.
    sticks
        How many pieces of stock are cut.
    lengths
        How many different board lengths are bought, over all materials; 0 where nobody asked.
    bound
        A proved lower bound on the objective at that setting, in dollars; None where none
        was sought.
    """

    setting: str
    objective: Fraction
    cost: Fraction
    setups: int
    joints: int
    sticks: int
    bound: Fraction | None = None
    lengths: int = 0

"""How many set-ups any plan needs, whatever it costs."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from cutopt.solve.lumber.model import Ints, Model

__all__ = ["least_setups"]

_ONE = 1 << 40


def least_setups(model: Model, need: Ints) -> int:
    """A proved lower bound on the set-ups of any plan for these pieces.

    Every length is cut in some set-up, at least once on its stick: so one piece of each length,
    shared out over the set-ups, must fit into as many of the longest sticks. The bound on that
    bin packing is L2 of Martello and Toth (1990, "Knapsack Problems", section 8.3), here in whole
    numbers rounded down.
    """
    sizes: dict[int, int] = {}
    for i in np.flatnonzero(need).tolist():
        shares = [
            Fraction(weight, max(model.stocks[k].room for k in stocks))
            for stocks in model.stocks_of
            if (weight := model.weight(model.stocks[stocks[0]].grid, i)) is not None
        ]
        length = model.kinds[i].length
        share = int(min(shares, default=Fraction(0)) * _ONE)
        sizes[length] = min(share, sizes.get(length, share))
    half = _ONE // 2
    large = sorted(s for s in sizes.values() if s > half)
    small = sorted((s for s in sizes.values() if s <= half), reverse=True)
    best = len(large)
    total = 0
    for at, s in enumerate(small):
        # What is left beside the large ones that leave room for a piece as small as this.
        total += s
        if at + 1 < len(small) and small[at + 1] == s:
            continue
        beside = sum(_ONE - big for big in large if big <= _ONE - s)
        best = max(best, len(large) + max(0, -(-(total - beside) // _ONE)))
    return best

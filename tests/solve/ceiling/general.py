"""The least cost of ceilings by a general-purpose model, written another way.

It knows no mixes of widths and no rows of a kind: per field and offer it counts boards, whose
widths together must reach the run; per offer the boards bought.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutopt.cutlist import Part
from cutopt.materials import Offer
from tests.solve.outside import settled

__all__ = ["least_cost"]

_MOST = 500.0


def least_cost(parts: Sequence[Part], offers: Sequence[Offer], lengths: int) -> float | None:
    """Dollars, or None where the fields can't all be laid.

    `lengths` is the most board lengths that may be bought, 0 for no limit.
    """
    sizes = sorted({o.length for o in offers})
    fields = [(p.length, p.width or 0) for p in parts for _ in range(p.qty)]
    m = len(offers)
    n = len(fields) * m
    # boards per field and offer, bought, bought at all, surplus, lengths
    total = n + 3 * m + len(sizes)
    cost = np.zeros(total)
    upper = np.full(total, _MOST)
    upper[n + m : n + 2 * m] = 1
    upper[n + 3 * m :] = 1
    rows: list[np.ndarray] = []
    low: list[float] = []

    def add(least: float, **terms: float) -> None:
        row = np.zeros(total)
        for name, value in terms.items():
            row[int(name[1:])] += value
        rows.append(row)
        low.append(least)

    for f, (span, run) in enumerate(fields):
        for o, offer in enumerate(offers):
            cost[f * m + o] = float(offer.cost)
            if offer.length < span:
                upper[f * m + o] = 0
        add(run, **{f"x{f * m + o}": offer.width or 0 for o, offer in enumerate(offers)})
    for o, offer in enumerate(offers):
        bought, any_, beyond = n + o, n + m + o, n + 2 * m + o
        cost[beyond] = float(offer.cost)
        if offer.limit is not None:
            upper[bought] = offer.limit
        cut = {f"x{f * m + o}": -1.0 for f in range(len(fields))}
        # Cut at most what lies in the yard and is bought; what is bought is cut or beyond.
        add(-offer.on_hand, **cut, **{f"x{bought}": 1, f"x{beyond}": -1})
        add(0, **{f"x{any_}": _MOST, f"x{bought}": -1})
        add(0, **{f"x{any_}": -float(offer.min_order), f"x{bought}": 1})
        # Bought beyond what is cut from it: cut + surplus is no less than what is bought.
        add(0, **dict.fromkeys(cut, 1.0), **{f"x{bought}": -1, f"x{beyond}": 1})
        if lengths:
            add(0, **{f"x{any_}": -1, f"x{n + 3 * m + sizes.index(offer.length)}": 1})
    if lengths:
        add(-lengths, **{f"x{n + 3 * m + k}": -1.0 for k in range(len(sizes))})
    answer = settled(cost, np.array(rows), np.array(low), np.inf, upper)
    return None if answer is None else answer[0]

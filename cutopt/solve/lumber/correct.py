"""Sticks filled one by one at values that learn from what was wasted.

Sequential value correction (Mukhacheva and others, 2000; Belov and Scheithauer, INFORMS J. on
Computing 19, 2007): each stick takes the filling of the greatest value; pieces that come out with a
drop become dearer, so that the next plan places them earlier. It finds plans without a drop where
rounding a linear programme leaves the worst pieces for the last sticks.
"""

from __future__ import annotations

import random
from fractions import Fraction

import numpy as np

from cutopt.solve.lumber.columns import Generator
from cutopt.solve.lumber.draft import Draft, tidy
from cutopt.solve.lumber.model import Ints
from cutopt.solve.lumber.pricing import Floats

__all__ = ["correct"]

#: Long pieces are worth a little more for their length than short ones: they go first.
_POWERS = (1.0, 1.02, 1.002, 1.05, 1.01, 1.1)
#: Plans made with one power before the values start afresh.
_BLOCK = 4


def correct(
    generator: Generator, rng: random.Random, plans: int, sticks: int, goal: Fraction
) -> Draft | None:
    """The cheapest of some plans made so; None where sticks run out.

    Parameters
    ----------
    plans, sticks
        Plans made and fillings looked at in all: the work.
    goal
        No plan costs less.

    Notes
    -----
    For one material without jointed runs; others are left to the dives.
    """
    model = generator.model
    if len(model.grids) != 1 or len(generator.runs) or model.tight.any():
        return None
    grid = model.grids[0]
    weight = np.zeros(len(model.kinds))
    weight[grid.kinds] = grid.weight
    scale = float(generator.pricer.room.max())
    best: Draft | None = None
    value = weight / scale
    round_, done = 0, 0
    while round_ < plans and done < sticks and not generator.watch.stop():
        power = _POWERS[round_ // _BLOCK % len(_POWERS)]
        if round_ % _BLOCK == 0:
            value = (weight / scale) ** power
        draft, used = _once(generator, value, weight / scale, power, rng)
        done += used
        round_ += 1
        if draft is not None and (best is None or draft.cost < best.cost):
            best = draft
            if best.cost <= goal:
                break
    return best


def _once(
    generator: Generator, value: Floats, share: Floats, power: float, rng: random.Random
) -> tuple[Draft | None, int]:
    """One plan; `value` is corrected on the way. Also the fillings it took."""
    model, pricer = generator.model, generator.pricer
    left = model.need.copy()
    have = [s.available for s in model.stocks]
    draft = Draft()
    fillings = 0
    while left.any():
        fillings += 1
        offered = generator.priced(pricer, value, np.minimum(left, pricer.most_copies))
        best: tuple[float, int] | None = None
        for k in range(len(model.stocks)):
            if have[k] == 0:
                continue
            worth = float(offered.gain[k]) + float(pricer.cost[k])
            rate = worth / float(pricer.cost[k]) if pricer.cost[k] > 0 else float("inf")
            if worth > 0 and (best is None or rate > best[0]):
                best = (rate, k)
        if best is None or generator.watch.stop():
            return None, fillings
        k = best[1]
        pattern = model.pattern(k, pricer.cuts(offered, k))
        if not pattern.cuts:
            return None, fillings
        times = min(int(left[i]) // q for i, q in pattern.cuts)
        some = have[k]
        if some is not None:
            times = min(times, some)
            have[k] = some - times
        # Fewer than all of a good filling leaves more to choose from for the rest.
        if times > 1:
            times = rng.randint(1, times)
        draft.patterns[pattern] = draft.patterns.get(pattern, 0) + times
        room = model.stocks[k].room
        _learn(value, share, left, pattern.cuts, room / max(1, pattern.used), power, times, rng)
        for i, q in pattern.cuts:
            left[i] -= q * times
    draft.patterns, draft.short = tidy(model, model.need, draft.patterns)
    return (draft if draft.whole else None), fillings


def _learn(
    value: Floats,
    share: Floats,
    left: Ints,
    cuts: tuple[tuple[int, int], ...],
    spread: float,
    power: float,
    times: int,
    rng: random.Random,
) -> None:
    """Move the values of what was cut towards what it took of the stick."""
    for i, q in cuts:
        keep = (rng.random() + 0.5) * float(left[i]) / (q * times)
        value[i] = (keep * value[i] + spread * share[i] ** power) / (keep + 1)

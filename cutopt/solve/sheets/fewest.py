"""Sheets of one price: new patterns and covering models in turn until the last sheet is saved.

Where all sheets cost the same, a plan is as good as the bound or whole sheets dearer. Nothing in
between tells a search that it is on its way: each try hits or misses. So tries are unlike: shaken
dives and worths add patterns of their own in turn, and the model over all of them is solved from
another seed each time (a model of the same patterns hits with some seeds and misses with others: on
orders of 20 to 31 types about two times of five).
"""

from __future__ import annotations

import random
from fractions import Fraction

from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.cover import cover
from cutopt.solve.sheets.dive import Draft, dive

__all__ = ["fewest", "one_price"]

#: Tries without gain that end it where one sheet lies between plan and bound, and where more do;
#: the most rows × columns of all models together.
_IDLE, _FAR_IDLE = 4, 8
_CELLS = 120_000
#: Tries in a row without a new pattern that end it.
_STALE = 2
#: Rows × columns of one model from which on a sheet is a small part of the order.
_MOST = 60_000
#: Rounds of pricing after each fixing of a dive, and nodes of a model: hits come at its root.
_ROUNDS, _NODES = 6, 20
#: Pricings of shaken worths between models.
_VARIED = 12


def one_price(generator: Generator) -> bool:
    """Whether plans differ by whole sheets alone."""
    costs = {s.cost for s in generator.model.sheets}
    return len(costs) == 1 and min(costs) > 0 and generator.plain and not generator.jointed


def fewest(
    generator: Generator, best: Draft, bound: Fraction, rng: random.Random, first: bool
) -> Draft:
    """The plan, or one of fewer sheets.

    Parameters
    ----------
    generator
        With all columns of its root; no jointed runs, no credit for drops, sheets of one price.
    best
        The best plan known.
    bound
        What any plan costs at least, rounded up: it ends there.
    rng
        Shakes the dives.
    first
        Solve the model of the patterns that are there, and no other; else go on behind that.
    """
    master, rows = generator.master, len(generator.model.kinds)
    price = generator.model.sheets[0].cost
    cells = stale = 0
    seed = idle = 0 if first else 1
    while best.cost > bound and not generator.watch.stop():
        if idle >= (_FAR_IDLE if best.cost - bound > price else _IDLE):
            break
        before, columns = best.cost, len(master.columns)
        if seed:
            best = _shaken(generator, best, rng, seed % 2 == 0)
            # Where no pattern is new, the next model hardly hits what the last one missed.
            stale = stale + 1 if len(master.columns) == columns else 0
            if stale == _STALE or best.cost <= bound:
                break
        cells += rows * len(master.columns)
        if rows * len(master.columns) > _MOST or cells > _CELLS:
            break
        reach = _reach(generator, best)
        found = cover(generator, generator.room(), bound, best.cost, _NODES, best, seed, reach)
        if found is not None and found.cost < best.cost:
            best = found
        if first:
            break
        idle = idle + 1 if best.cost == before else 0
        seed += 1
    return best


def _reach(generator: Generator, best: Draft) -> float:
    """What patterns of a plan of a sheet less may cost beyond their worth, all together."""
    room = generator.room()
    generator.master.set_need(room.need, room.available, room.copies)
    generator.master.solve()
    less = best.cost - generator.model.sheets[0].cost
    return max(0.0, float(less) - generator.master.objective)


def _shaken(generator: Generator, best: Draft, rng: random.Random, vary: bool) -> Draft:
    """New patterns, from shaken worths or from a dive; the dive's plan where it is better."""
    reach = _reach(generator, best)
    if vary:
        generator.vary(rng, _VARIED, Fraction(reach).limit_denominator(10**6), True)
        return best
    room = generator.room()
    draft = dive(generator, room, rng, _ROUNDS, deep=True)
    return draft if not room.need.any() and draft.cost < best.cost else best

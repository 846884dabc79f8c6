"""A shortest piece that may be left at the saw, on random small days against enumeration.

Kept as a command: `python -m tests.solve.lumber.least_left 2000 [seed]` plans so many days, half of
them with runs and some with over-length stock, limits, alternates, drop credit and most parts of a
stick, and holds each against every filling of every stick. No bound may lie above the least cost,
no cost below it, no stick be left as it may not, and what is called optimal be it. Where the least
cost is missed, or a way through limits is, it is counted; the same seed gives the same days.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from dataclasses import replace

from cutopt.cutlist import Day
from cutopt.materials import LumberRules
from tests.solve.lumber.exact import enumerated
from tests.solve.lumber.making import CELL, solved
from tests.solve.lumber.test_sticks_random import random_day
from tests.solve.lumber.test_sticks_runs import random_run_day

__all__ = ["compared", "day_of_seed", "with_least"]


def with_least(made: Day, rng: random.Random) -> Day:
    """The day where the saw may not be left with less than some cells, some sticks over-length."""
    most = rng.choice((6, 12, 30))

    def ruled(shop: LumberRules) -> LumberRules:
        return replace(shop, least_left=rng.randint(1, most) * CELL)

    shop = made.rules
    return replace(
        made,
        rules=replace(
            shop,
            lumber=ruled(shop.lumber),
            lumber_of={m: ruled(r) for m, r in shop.lumber_of.items()},
        ),
        offers=tuple(replace(o, over=rng.choice((0, 0, 0, 1, 3)) * CELL) for o in made.offers),
    )


def day_of_seed(seed: int, runs: bool) -> Day:
    """One of the days."""
    rng = random.Random(seed)
    if runs:
        made = random_run_day(rng, two=rng.random() < 0.3, tight=rng.random() < 0.2, same=True)
    else:
        made = random_day(rng, loose=rng.random() < 0.6, most=7)
    return with_least(made, rng)


def compared(made: Day) -> str:
    """How it ended: `impossible`, `least`, `dearer`, `left out`, else what is wrong.

    `solved` holds every plan against the checker, which knows what may be left.
    """
    least = enumerated(made)
    planned = solved(made)
    if least is None:
        return "impossible" if planned.left_out else "wrong: planned the impossible"
    if planned.left_out:
        return "left out"
    if planned.bound > least:
        return f"wrong: bound {float(planned.bound)} above {float(least)}"
    if planned.objective < least:
        return f"wrong: {float(planned.objective)} below {float(least)}"
    if planned.objective > least:
        return "wrong: called optimal" if planned.optimal else "dearer"
    return "least"


def main(count: int, seed: int = 1) -> int:
    """Plan so many days; how many are wrong."""
    ends: Counter[str] = Counter()
    started = time.perf_counter()
    for k in range(count):
        end = compared(day_of_seed(seed * 1_000_003 + k, runs=k % 2 == 1))
        ends[end.split(":")[0]] += 1
        if end not in ("impossible", "least"):
            print(f"day {k}: {end}", flush=True)
    told = ", ".join(f"{n} {end}" for end, n in sorted(ends.items()))
    print(f"{count} days: {told}; {time.perf_counter() - started:.0f} s")
    return ends["wrong"]


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1) else 0)

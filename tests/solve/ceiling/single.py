"""Random ceilings of one board width against an integer model written another way.

Per span and board the model counts boards; a board that is bought opens its length, and at most so
many may be open (`scipy.optimize.milp`, which carries a solver of its own). Where the mill sells no
fewer than `min_order`, what is bought beyond what is laid is paid for. A field of one width wants
the same rows from whatever length, so that spans are pooled.
Kept as a command: `python -m tests.solve.ceiling.single 50 [seed]` plans so many and exits 1 where
a plan is not proved, or costs other than the model says.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from datetime import date
from decimal import Decimal
from fractions import Fraction

import numpy as np

from cutopt.cutlist import Day, Part, Rule
from cutopt.materials import CeilingRules, Kind, Offer, Per, Rules, SheetRules
from cutopt.measure import INCH
from cutopt.plan import Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.records import Place
from cutopt.solve import Settings, solve
from tests.solve.outside import count_and_seed, day_of_seed, settled, verdict

__all__ = ["compare", "least_cost", "main", "random_ceiling"]

NAME = "GYP-CLG-1/2"


def random_ceiling(rng: random.Random) -> Day:
    """Five to forty fields; boards of one width, up to eleven lengths, some on hand or limited."""
    width = rng.choice([48, 54]) * INCH
    grain = rng.choice([INCH, INCH // 4])
    sizes = sorted(rng.sample(range(84, 204, rng.choice([4, 6, 12])), rng.randint(3, 10)))
    if sizes[-1] < 192:
        sizes.append(192)
    offers = []
    for n, length in enumerate(sizes):
        rate = rng.uniform(0.36, 0.44)
        limit = rng.choice([None, None, None, 0, 20]) if length != sizes[-1] else None
        offers.append(
            Offer(
                n + 2,
                NAME,
                Kind.SHEET,
                None,
                length * INCH,
                width,
                Decimal(f"{length * rate / 3:.2f}"),
                Per.EACH,
                rng.choice([0, 0, 0, 4, 15]),
                limit,
                min_order=0 if limit == 0 else rng.choice([0, 0, 0, 10, 20]),
            )
        )
    parts = [
        Part(
            place=Place("cuts/ceilings.csv", n + 2),
            section=f"S{n + 1}",
            jig="Ceiling",
            mark="CEILING",
            material=NAME,
            length=rng.randint(70 * INCH // grain, 192 * INCH // grain) * grain,
            width=rng.randint(12, 59) * 12 * INCH + rng.choice([0, 0, 4, 8]) * INCH,
            qty=rng.choice([1, 1, 1, 2]),
            rule=Rule.FULL_SPAN,
        )
        for n in range(rng.randint(5, 40))
    ]
    rules = Rules(sheets=SheetRules(kerf=0), ceiling=CeilingRules(rng.choice([0, 1, 2, 3, 4, 5])))
    return Day("test", "A plant", date(2026, 3, 2), "in", rules, tuple(offers), tuple(parts))


def least_cost(day: Day) -> Fraction | None:
    """The least cost in dollars; None where the fields can't all be covered."""
    wanted: Counter[int] = Counter()
    for p in day.parts:
        wanted[p.length] += -(-(p.width or 0) // (day.offers[0].width or 1)) * p.qty
    spans = sorted(wanted)
    offers, lengths = day.offers, sorted({o.length for o in day.offers})
    n, m, k = len(spans), len(offers), len(lengths)
    every = sum(wanted.values())
    # Boards per span and offer; per offer whether it is bought and what is left over; lengths.
    buys, over, opened = n * m, n * m + m, n * m + 2 * m
    upper = np.concatenate([np.full(n * m, float(every)), np.ones(m), np.zeros(m), np.ones(k)])
    for o, offer in enumerate(offers):
        for s, span in enumerate(spans):
            if offer.length < span:
                upper[s * m + o] = 0
        upper[buys + o] = offer.limit is None or offer.limit >= max(1, offer.min_order)
        upper[over + o] = offer.min_order
    rows, low = [], []

    def at_least(terms: dict[int, float], least: float) -> None:
        row = np.zeros(len(upper))
        for j, a in terms.items():
            row[j] = a
        rows.append(row)
        low.append(least)

    for s, span in enumerate(spans):
        at_least({s * m + o: 1 for o in range(m)}, wanted[span])
    for o, offer in enumerate(offers):
        used = {s * m + o: -1.0 for s in range(n)}
        more = every if offer.limit is None else min(offer.limit, every)
        at_least({**used, buys + o: float(more)}, -offer.on_hand)
        laid = {s * m + o: 1.0 for s in range(n)}
        at_least({**laid, over + o: 1, buys + o: -float(offer.min_order)}, 0)
        at_least({buys + o: -1, opened + lengths.index(offer.length): 1}, 0)
    most = day.rules.for_ceiling(NAME).order_lengths
    if most:
        at_least({opened + j: -1 for j in range(k)}, -most)
    cost = np.zeros(len(upper))
    for s in range(n):
        cost[s * m : (s + 1) * m] = [float(o.cost) for o in offers]
    cost[over:opened] = [float(o.cost) for o in offers]
    answer = settled(cost, np.array(rows), np.array(low), np.inf, upper)
    if answer is None:
        return None
    counts = answer[1]
    paid = [*counts[: n * m], *counts[over:opened]]
    return sum((c * offers[j % m].cost for j, c in enumerate(paid) if c), Fraction(0))


def compare(day: Day) -> list[str]:
    """What is wrong with the plan of a day."""
    plan = solve(Problem((day,)), Settings(seconds=60, seed=1, workers=1))
    words = [f"checker: {told[:3]}"] if (told := check_plan([day], plan_document(plan))) else []
    best = least_cost(day)
    left = [u for m in plan.materials for u in m.unplanned]
    objective = sum((m.objective for m in plan.materials), Fraction(0))
    bound = sum((m.bound for m in plan.materials), Fraction(0))
    end, wrong = verdict(best, left, objective, bound)
    if end in ("closed", "open") and not left:
        words.append(f"not proved: objective {float(objective)}, bound {float(bound)}")
    return [*words, *wrong]


def main(count: int, seed: int = 81) -> int:
    """Compare so many random ceilings; the number of faults."""
    bad = 0
    for k in range(count):
        words = compare(day_of_seed(random_ceiling, seed, k))
        if words:
            bad += 1
            print(f"ceiling {k}: {'; '.join(words)}", flush=True)
    print(f"{count} ceilings of one width: {bad} faulty")
    return bad


if __name__ == "__main__":
    sys.exit(1 if main(*count_and_seed(81)) else 0)

"""Days with jointed runs, everything tried: `python -m tests.solve.runs.brute N [seed]`.

N random small days: a run, a run twice, a mated pair, a pair of different copies, a chain or a star
of three, beside ordinary parts, over one or two materials, with limits, kerfs, trims and drop
credit. `enumerated` tries every way to joint the runs and every way to fill the sticks, in whole
numbers and fractions. Planned and tried, the objective must be the least cost, the bound must not
pass it, what can't be made must be told, and told why: the first interval that no stick bridges,
the shortest piece that would do, the largest clearance that works, each found here by trying.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from fractions import Fraction
from itertools import pairwise, product

from cutopt.cutlist import Day, Part
from cutopt.materials import LumberRules
from cutopt.measure import show_length
from tests.solve.lumber.exact import enumerated, joints_of, longest_of, together, ways_of
from tests.solve.lumber.making import day, offer, part, rules, solved

#: The most different sets of pieces that a day may be made of, to be tried one by one.
_MOST_WAYS = 60
#: How much above the least cost is called dearer and not wrong: the gap at which a search ends.
_CLOSE = Fraction(1, 100_000)


def random_day(rng: random.Random) -> Day:
    """A day that can be tried in every way."""
    while True:
        made = _any_day(rng)
        ways = ways_of(made, longest_of(made))
        if ways is None or len(ways) <= _MOST_WAYS:
            return made


def _any_day(rng: random.Random) -> Day:
    two = rng.random() < 0.3
    limit = rng.choice((2, 3, 5)) if rng.random() < 0.2 else None
    sizes = rng.sample((16, 20, 24, 28, 32), 2)
    offers = [
        offer(2, sizes[0], str(sizes[0] / 8 + rng.choice((0, 0.5))), limit=limit),
        offer(3, sizes[1], str(sizes[1] / 8 + rng.choice((0, 0.5))), rng.choice((0, 1)), limit),
    ]
    if rng.random() < 0.3:
        offers.append(offer(4, rng.randint(8, 15), "0.75", 1, 0))
    alt: tuple[str, ...] = ()
    if two:
        alt = ("2x4-1",)
        offers.append(offer(5, rng.choice((18, 24, 30)), "2.5", material="2x4-1"))
    parts = _runs(rng, alt)
    parts += [
        part(f"P{k}", rng.randint(4, 14), rng.randint(1, 2), alt=alt[: rng.randint(0, 1)])
        for k in range(rng.randint(0, 2))
    ]
    if two:
        parts.append(part("Q", rng.randint(4, 14), 1, material="2x4-1"))

    def shop() -> LumberRules:
        return rules(
            kerf=rng.choice((0, 0, 1)),
            trim=rng.choice((0, 0, 1)),
            keep=rng.choice((4, 6)),
            value=rng.choice(("0", "0.5")),
            joint_price=rng.choice(("0", "0.25", "1")),
            least=rng.choice((0, 4, 6)),
        )

    return day(offers, parts, shop(), {"2x4-1": shop()} if two else None)


def _runs(rng: random.Random, alt: tuple[str, ...]) -> list[Part]:
    step = rng.choice((5, 6, 8))
    first = rng.choice((0, step, 3, 7, 15, 33) if rng.random() < 0.3 else (0, step, 3, 7))
    clear = rng.choice((2, 4, 6, 9))
    shape = rng.choice(("one", "twice", "pair", "pair", "uneven", "chain", "star"))
    at, beside = (first, step), (first, step, clear)
    long = rng.randint(16, 40)
    if shape in ("one", "twice"):
        return [part("TOP", long, 2 if shape == "twice" else 1, joints=at, alt=alt)]
    qty = 2 if shape == "uneven" else 1
    parts = [part("TOP", long, qty, joints=beside, mate="TIE", alt=alt)]
    other = long if rng.random() < 0.5 else rng.randint(14, 34)
    if shape in ("pair", "uneven"):
        back = "TOP" if rng.random() < 0.6 else None
        return [*parts, part("TIE", other, 1, joints=beside if back else at, mate=back, alt=alt)]
    third = rng.randint(14, 30)
    if shape == "chain":
        parts.append(part("TIE", other, 1, joints=beside, mate="SOLE"))
        return [*parts, part("SOLE", third, 1, joints=at)]
    parts.append(part("TIE", other, 1, joints=at))
    return [*parts, part("SOLE", third, 1, joints=(first, step, rng.choice((2, 5))), mate="TIE")]


def told_right(made: Day, reasons: list[str]) -> str | None:
    """What is wrong with the reasons for what no joints make; None where they are right."""
    longest = longest_of(made)
    for here, clear in together(made):
        alone = [list(joints_of(p, made, longest)) for p in here]
        expected = [
            w for p, found in zip(here, alone, strict=True) if not found for w in _why(p, made)
        ]
        kept = [n for n, found in enumerate(alone) if found]
        edges = {
            (kept.index(i), kept.index(j)): gap
            for (i, j), gap in clear.items()
            if i in kept and j in kept
        }
        works = _largest([alone[n] for n in kept], edges)
        if works is not None:
            words = f"the largest clearance that works is {show_length(works, 'in')}"
            expected.append(words if works else "nor any clearance at all")
        for words in expected:
            if not any(words in r for r in reasons):
                return f"{words!r} is not said: {reasons}"
    return None


def _why(p: Part, made: Day) -> list[str]:
    """What must be said of a run that can't be made even alone."""
    assert p.joints is not None
    longest = max(longest_of(made).get(m, 0) for m in p.materials)
    step, first = p.joints.step, p.joints.first
    places = [x for x in range(first, p.length, step) if x > 0]
    for a, b in pairwise((0, *places, p.length)):
        if b - a > longest:
            return [f"between {show_length(a, 'in')} and {show_length(b, 'in')} from its start"]
    return ["they could if pieces of"]


def _largest(ways: list[list[tuple[int, ...]]], clear: dict[tuple[int, int], int]) -> int | None:
    """The largest clearance that works; None where the asked ones do."""
    best = 0
    for joints in product(*ways):
        near = [
            d
            for (i, j), gap in clear.items()
            if (d := min((abs(a - b) for a in joints[i] for b in joints[j]), default=gap)) < gap
        ]
        if not near:
            return None
        best = max(best, min(near))
    return best


def compared(made: Day) -> tuple[str, str | None]:
    """How one day ended, and what is wrong."""
    least = enumerated(made)
    planned = solved(made)
    if least is None:
        if not planned.left_out:
            return "impossible", "planned what can't be made"
        if ways_of(made, longest_of(made)) is None:
            return "impossible joints", told_right(made, planned.reasons)
        return "impossible limits", None
    if planned.left_out:
        return "possible", f"left out what can be made: {planned.reasons}"
    if planned.bound > least:
        return "possible", f"bound {planned.bound} above the least cost {least}"
    if planned.objective < least:
        return "possible", f"objective {planned.objective} below the least cost {least}"
    if planned.objective > least * (1 + _CLOSE):
        return "possible", f"objective {planned.objective}, least {least}, bound {planned.bound}"
    if planned.objective > least:
        return "dearer by less than the gap", None
    return ("proved" if planned.optimal else "least, not proved"), None


def main(count: int, seed: int = 1) -> int:
    """Compare so many days; the number that are wrong."""
    ends: Counter[str] = Counter()
    wrong = 0
    start = time.process_time()
    for k in range(count):
        end, fault = compared(random_day(random.Random(seed * 1_000_003 + k)))
        ends[end] += 1
        if fault:
            wrong += 1
            print(f"day {k}: {fault}", flush=True)
    said = ", ".join(f"{n} {end}" for end, n in sorted(ends.items()))
    print(f"{count} days: {said}; {wrong} wrong; {time.process_time() - start:.0f} CPU s")
    return wrong


if __name__ == "__main__":
    words = [int(w) for w in sys.argv[1:]]
    sys.exit(1 if main(*words) else 0)

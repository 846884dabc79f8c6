"""Every pattern of small sheet days, enumerated from the words of the cutting rule, and a model.

The enumeration is a plain recursion over regions: cut a slice off along the axis of the stage, cut
the slice in the stages that are left, and go on with the rest. It shares no code with cutopt. How
often each pattern is cut is settled by an outside solver (`tests/solve/outside.py`);
every tenth day is also settled by hand over all ways to part the pieces (`shop.least_cost`).
Kept as a command: `python -m tests.solve.sheets.general 300 [seed]` compares so many random days,
with limits, single remnants, alternates, turning, kerf, trim, two and three stages, either first
cut, a narrowest rip and most parts of a sheet among them. No bound may lie above the optimum, no
plan below it, and nothing be left out that can be cut; it exits 1 where one is at fault. The days
are the same for the same seed.
"""

from __future__ import annotations

import random
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import cache

from cutopt.cutlist import Day, Part
from cutopt.materials import FirstCut, Kind, Offer, Per, Rules, SheetRules
from cutopt.measure import INCH
from cutopt.plan import Problem
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.records import Place
from cutopt.solve import Settings, solve
from tests.solve.outside import compare_many, count_and_seed, covered, verdict
from tests.solve.sheets.shop import least_cost as by_hand

__all__ = ["compare", "least_cost", "main", "patterns", "random_day"]

#: How many of each kind.
Counts = tuple[int, ...]
#: The ways in which a kind may lie: (extent along the sheet, across it).
Ways = tuple[tuple[int, int], ...]


def patterns(
    ways: tuple[Ways, ...],
    most: Counts,
    size: tuple[int, int],
    kerf: int,
    stages: int,
    rip: bool,
    parts: int = 0,
) -> frozenset[Counts]:
    """What can be cut from one sheet and is contained in nothing else that can.

    Parameters
    ----------
    ways
        Per kind how it may lie, finished sizes; no way where the sheet's material may not give it.
    most
        Per kind the most that are of use.
    size
        Usable length and width.
    kerf
        What a cut takes, or what is left where that is less.
    stages
        Stages, beside which a last trimming cut is free; at least 1.
    rip
        Whether the first stage rips.
    parts
        Most parts on the sheet, 0 for no limit.
    """
    nothing = (0,) * len(ways)

    def joined(a: Counts, b: Counts) -> Counts:
        return tuple(min(m, x + y) for m, x, y in zip(most, a, b, strict=True))

    def slices(rip: bool, stages: int, room: int) -> list[int]:
        """Heights that a slice needs: of one part, or of parts stacked two stages on."""
        each = sorted({w[rip] for own, m in zip(ways, most, strict=True) if m for w in own})
        if stages < 3:
            return [h for h in each if h <= room]
        found = {0}
        for own, m in zip(ways, most, strict=True):
            for _ in range(m):
                found |= {h + w[rip] + kerf for h in found for w in own if h + w[rip] <= room}
        return sorted(h - kerf for h in found if h and h - kerf <= room)

    @cache
    def cut(length: int, width: int, rip: bool, stages: int) -> frozenset[Counts]:
        """From a region whose next cuts rip, or crosscut."""
        room = width if rip else length
        if room <= 0:
            return frozenset([nothing])
        # One slice first, the rest of the region after it; in what order makes no difference.
        heights = slices(rip, stages, room)
        found = [nothing]
        before: frozenset[Counts] = frozenset([nothing])
        for h in heights:
            if stages == 1:
                # The slice is as high as its part, which a trimming cut frees.
                reach = length if rip else width
                near = frozenset(
                    tuple(int(i == k) for i in range(len(ways)))
                    for k, own in enumerate(ways)
                    if most[k] and any(w[rip] == h and w[not rip] <= reach for w in own)
                )
            else:
                low = (length, h) if rip else (h, width)
                near = cut(*low, not rip, stages - 1)
                if near == before:  # a lower slice does as well
                    continue
                before = near
            left = room - h - kerf
            rest = cut(length, left, True, stages) if rip else cut(left, width, False, stages)
            found += [joined(a, b) for a in near for b in rest]
        return _largest(found, parts)

    return cut(*size, rip, stages)


def _largest(found: Iterable[Counts], parts: int) -> frozenset[Counts]:
    """Without what is contained in another, and without more parts than may be on a sheet."""
    kept: list[Counts] = []
    for own in sorted(set(found), key=lambda c: (-sum(c), c)):
        if parts and sum(own) > parts:
            kept += [c for c in _fewer(own, parts) if c not in kept]
        elif not any(all(a <= b for a, b in zip(own, c, strict=True)) for c in kept):
            kept.append(own)
    return frozenset(kept)


def _fewer(own: Counts, parts: int) -> Iterator[Counts]:
    """Every way to leave out all but so many parts."""
    if not own:
        yield ()
        return
    for n in range(min(own[0], parts) + 1):
        for rest in _fewer(own[1:], parts - n):
            if n + sum(rest) == min(parts, sum(own)):
                yield (n, *rest)


def least_cost(day: Day) -> Fraction | None:
    """The least cost in dollars; None where the parts can't all be cut. Drops must earn nothing."""
    need: Counter[tuple[int, int, bool, tuple[str, ...]]] = Counter()
    for p in day.parts:
        need[p.length, p.width or 0, p.turn, tuple(sorted(p.materials))] += p.qty
    kinds = sorted(need)
    most = tuple(need[k] for k in kinds)
    found: list[tuple[int, Counts, Fraction]] = []
    for s, offer in enumerate(day.offers):
        rule = day.rules.for_sheets(offer.material)
        ways = tuple(
            tuple(
                (x, y)
                for x, y in ((a, b), (b, a))[: 2 if turn and a != b else 1]
                if y >= rule.least_rip or (not rule.edge_trim and y == offer.width)
            )
            if offer.material in materials
            else ()
            for a, b, turn, materials in kinds
        )
        size = (offer.length - 2 * rule.edge_trim, (offer.width or 0) - 2 * rule.edge_trim)
        axes = {FirstCut.RIP: (True,), FirstCut.CROSS: (False,)}.get(rule.first_cut, (True, False))
        cuts: set[Counts] = set()
        for rip in axes:
            cuts |= patterns(ways, most, size, rule.kerf, rule.stages, rip, rule.max_parts)
        largest = sorted(_largest(cuts, rule.max_parts))
        found += [(s, c, offer.cost) for c in largest if any(c)]
    return covered(day.offers, most, found, over=True)


def random_day(rng: random.Random) -> Day:
    """A small day with any of the rules, limits, single remnants, alternates and turning."""
    materials = ["OSB-7/16"] if rng.random() < 0.7 else ["OSB-7/16", "PLY-1/2"]
    grain = rng.choice([INCH // 2, INCH, INCH])
    of = {
        m: SheetRules(
            kerf=rng.choice([0, 0, INCH // 8, INCH // 2, INCH]),
            edge_trim=rng.choice([0, 0, 0, INCH // 4, INCH]),
            stages=rng.choice([2, 3]),
            first_cut=rng.choice(list(FirstCut)),
            keep_drop=(8 * INCH, 8 * INCH),
        )
        for m in materials
    }
    sizes: list[tuple[str, int, int, int, int | None]] = []
    for m in materials:
        for _ in range(rng.choice([1, 1, 2, 3])):
            limit = rng.choice([None, None, None, 0, 2])
            on_hand = rng.choice([0, 0, 1, 2])
            sizes.append((m, rng.randint(14, 30), rng.randint(10, 20), on_hand, limit))
        drops = rng.choice([0, 0, 1, 3])  # on the rack, one of each
        sizes += [(m, rng.randint(6, 20), rng.randint(5, 14), 1, 0) for _ in range(drops)]
    offers = []
    for k, (m, long, wide, on_hand, limit) in enumerate(sizes):
        rack = limit == 0 and on_hand == 1
        rate = rng.choice([0, 0.04, 0.1]) if rack else rng.uniform(0.085, 0.115)
        price = Decimal(f"{long * wide * rate:.{rng.choice([0, 1, 2])}f}")
        offers.append(
            Offer(
                k + 2,
                m,
                Kind.SHEET,
                None,
                long * INCH,
                wide * INCH,
                price,
                Per.EACH,
                on_hand,
                limit,
            )
        )
    longest, widest = max(o.length for o in offers), max(o.width or 0 for o in offers)
    parts = []
    left = rng.randint(3, 9)
    while left > 0:
        n = min(left, rng.randint(1, 3))
        left -= n
        small = rng.random() < 0.6
        a, b = (
            rng.randint(3 * INCH // grain, m // (2 if small else 1) // grain) * grain
            for m in (longest, widest)
        )
        alt = tuple(materials[1:]) if rng.random() < 0.5 else ()
        material = rng.choice(materials) if not alt else materials[0]
        place = Place("cuts/a.csv", len(parts) + 2)
        mark = f"P{len(parts) + 1}"
        turn = rng.random() < 0.4
        parts.append(Part(place, "S1", "Wall", mark, material, a, b, n, turn, alt=alt))
    if rng.random() < 0.15:
        of = {m: replace(r, max_parts=rng.choice([1, 2, 3, 4])) for m, r in of.items()}
    if rng.random() < 0.15:
        of = {m: replace(r, least_rip=rng.choice([4, 6]) * INCH) for m, r in of.items()}
    rules = Rules(sheets=of[materials[0]], sheets_of=of)
    return Day("test", "A plant", date(2026, 3, 2), "in", rules, tuple(offers), tuple(parts))


def compare(day: Day, twice: bool = False) -> tuple[str, list[str]]:
    """How a day ended, and what is wrong with it; `twice`: settled by hand too, where it can be."""
    plan = solve(Problem((day,)), Settings(seconds=60, seed=1, workers=1))
    best = least_cost(day)
    words = [f"checker: {told[:3]}"] if (told := check_plan([day], plan_document(plan))) else []
    if twice and (words_of := _by_hand(day, best)):
        words.append(words_of)
    left = [u for m in plan.materials for u in m.unplanned]
    objective = sum((m.objective for m in plan.materials), Fraction(0))
    bound = sum((m.bound for m in plan.materials), Fraction(0))
    end, wrong = verdict(best, left, objective, bound)
    return end, [*words, *wrong]


def _by_hand(day: Day, best: Fraction | None) -> str:
    """What the search by hand says otherwise; empty where it agrees or would take too long."""
    materials = {o.material for o in day.offers}
    rules = [day.rules.for_sheets(m) for m in materials]
    ruled = any(r.max_parts or r.least_rip for r in rules)
    if ruled or len(materials) > 1 or sum(p.qty for p in day.parts) > 6:
        return ""
    scale = 100
    sheets = [(o.length, o.width or 0, int(o.cost * scale), o.available) for o in day.offers]
    parts = [(p.length, p.width or 0, p.qty, p.turn) for p in day.parts]
    found = by_hand(parts, sheets, rules[0])
    found = None if found is None else found / scale
    return "" if found == best else f"the outside searches differ: {best} and {found}"


def _traits(day: Day) -> list[str]:
    """What of a shop's rules a day has."""
    shop = [day.rules.for_sheets(o.material) for o in day.offers]
    return [
        word
        for word, has in (
            ("limits", any(o.limit for o in day.offers)),
            ("remnants", any(o.limit == 0 and o.on_hand == 1 for o in day.offers)),
            ("alternates", any(p.alt for p in day.parts)),
            ("turning", any(p.turn for p in day.parts)),
            ("kerf", any(r.kerf for r in shop)),
            ("trim", any(r.edge_trim for r in shop)),
            ("three stages", any(r.stages == 3 for r in shop)),
            ("most parts", any(r.max_parts for r in shop)),
            ("narrowest rip", any(r.least_rip for r in shop)),
        )
        if has
    ]


def main(count: int, seed: int = 1) -> int:
    """Compare so many random days; the number of faults."""
    return compare_many(count, seed, random_day, compare, _traits)


if __name__ == "__main__":
    sys.exit(1 if main(*count_and_seed()) else 0)

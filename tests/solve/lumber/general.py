"""Independent exact models of small stick problems, solved by a general-purpose solver.

The solver is an outside one (`tests/solve/outside.py`); nothing is shared with cutopt. The first
model lists every filling of every stick, the second, for every tenth instance, assigns pieces to
single sticks and must agree with the first. Jointed runs are tried in every way to joint them that
could still be cheapest.
Kept as a command: `python -m tests.solve.lumber.general 2000 [seed]` compares so many random
instances, with limits, single remnants, alternates, drop credit and most parts of a stick among
them. No bound may lie above the optimum, no objective below it, and nothing be left out that can be
cut. The days are the same for the same seed.
"""

from __future__ import annotations

import itertools
import random
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from fractions import Fraction

import numpy as np
from scipy.sparse import lil_matrix

from cutopt.cutlist import Day, Part, Rule
from cutopt.materials import LumberRules
from cutopt.measure import INCH
from cutopt.solve.outcome import material_plans
from tests.solve.lumber.groups import day_of, faults, group_of, offer, part, rules, run, solved
from tests.solve.outside import compare_many, count_and_seed, covered, settled, verdict

#: (length, the materials that it may be cut from)
Kind = tuple[int, tuple[str, ...]]
Need = tuple[tuple[Kind, int], ...]
Model = Callable[[Day, "Counter[Kind]"], Fraction | None]

__all__ = ["assigned", "compare", "filled", "least_cost", "random_day"]

#: Floats of the outside solver are trusted to so many dollars.
_CENT = 1e-6


def least_cost(day: Day, cost_of: Model | None = None) -> Fraction | None:
    """The least objective in dollars; None where the parts can't all be cut.

    `cost_of` is the model that costs given pieces, the one of all fillings unless said.
    """
    cost_of = cost_of or filled
    runs = [p for p in day.parts if p.rule is Rule.JOINTED for _ in range(p.qty)]
    fixed: Counter[Kind] = Counter()
    for p in day.parts:
        if p.rule is not Rule.JOINTED:
            fixed[p.length, p.materials] += p.qty
    ways: dict[Need, Fraction] = {}
    for chosen in itertools.product(*(_ways(p, day) for p in runs)):
        if not _clear(runs, chosen):
            continue
        need = fixed.copy()
        joints = Fraction(0)
        for p, at in zip(runs, chosen, strict=True):
            price = min(Fraction(day.rules.for_lumber(m).joint_price) for m in p.materials)
            joints += len(at) * price
            for a, b in itertools.pairwise((0, *at, p.length)):
                need[b - a, _allowed(p, day, b - a, bool(at))] += 1
        key = tuple(sorted(need.items()))
        ways[key] = min(joints, ways.get(key, joints))
    best: Fraction | None = None
    for low, joints, key in sorted((_least(day, k) + float(j), j, k) for k, j in ways.items()):
        if best is not None and low > best:
            break
        cost = cost_of(day, Counter(dict(key)))
        if cost is not None and (best is None or cost + joints < best):
            best = cost + joints
    return best


def _least(day: Day, need: Need) -> float:
    """What these pieces cost at least: each unit of length at the cheapest that any stick has it.

    A kept drop is worth no more than its share of the price, so that a full stick is cheapest.
    """
    low = 0.0
    for (length, materials), n in need:
        rates = [
            float(o.cost) * (length + r.kerf) / (o.length - r.head_trim + r.kerf)
            for o in day.offers
            if o.material in materials
            and length <= o.length - (r := day.rules.for_lumber(o.material)).head_trim
        ]
        low += n * min(rates, default=0.0)
    return low - _CENT


def _ways(p: Part, day: Day) -> list[tuple[int, ...]]:
    """Every way to joint a run."""
    assert p.joints is not None
    places = [
        p.joints.first + k * p.joints.step
        for k in range(p.length // p.joints.step + 1)
        if 0 < p.joints.first + k * p.joints.step < p.length
    ]
    least = min(day.rules.for_lumber(m).joint_min_piece for m in p.materials)
    found = []
    for n in range(len(places) + 1):
        for at in itertools.combinations(places, n):
            pieces = [b - a for a, b in itertools.pairwise((0, *at, p.length))]
            if n == 0 or min(pieces) >= least:
                found.append(at)
    return found


def _allowed(p: Part, day: Day, length: int, joined: bool) -> tuple[str, ...]:
    """The materials that may give a piece of this length."""
    return tuple(
        m for m in p.materials if not joined or length >= day.rules.for_lumber(m).joint_min_piece
    )


def _clear(runs: list[Part], ways: tuple[tuple[int, ...], ...]) -> bool:
    """Whether every copy keeps clear of its mate's same copy."""
    copies: Counter[str] = Counter()
    named: dict[tuple[str, int], int] = {}
    keys = []
    for i, p in enumerate(runs):
        copies[p.mark] += 1
        keys.append((p.mark, copies[p.mark]))
        named[keys[-1]] = i
    for i, p in enumerate(runs):
        assert p.joints is not None
        if p.joints.mate is None:
            continue
        j = named.get((p.joints.mate, keys[i][1]))
        if j is not None and any(abs(x - y) < p.joints.clear for x in ways[i] for y in ways[j]):
            return False
    return True


def filled(day: Day, need: Counter[Kind]) -> Fraction | None:
    """The model of all fillings: how often is each cut, every piece as often as wanted."""
    kinds = sorted((k for k, n in need.items() if n), reverse=True)
    if not kinds:
        return Fraction(0)
    found: list[tuple[int, tuple[int, ...], Fraction]] = []
    for s, o in enumerate(day.offers):
        r = day.rules.for_lumber(o.material)
        most = [need[k] if o.material in k[1] else 0 for k in kinds]
        sizes = [k[0] + r.kerf for k in kinds]
        usable = o.length - r.head_trim
        for cuts in _fillings(sizes, most, usable + r.kerf, r.max_parts or sum(most)):
            if not any(cuts):
                continue
            drop = usable - sum(q * size for q, size in zip(cuts, sizes, strict=True))
            kept = drop > 0 and drop >= r.keep_drop
            credit = Fraction(r.drop_value) * o.cost * drop / o.length if kept else Fraction(0)
            found.append((s, cuts, o.cost - credit))
    return covered(day.offers, [need[k] for k in kinds], found)


def _fillings(
    sizes: list[int], most: list[int], room: int, parts: int, i: int = 0
) -> Iterator[tuple[int, ...]]:
    """Every way to fill a stick, the empty one among them."""
    if i == len(sizes):
        yield ()
        return
    for q in range(min(most[i], room // sizes[i], parts) + 1):
        for rest in _fillings(sizes, most, room - q * sizes[i], parts - q, i + 1):
            yield (q, *rest)


def assigned(day: Day, need: Counter[Kind]) -> Fraction | None:
    """The assignment model. Per stick: used or not, pieces of each kind, the drop kept or not.

    The cost is what the outside solver says, a float.
    """
    kinds = sorted(k for k, n in need.items() if n)
    if not kinds:
        return Fraction(0)
    pieces = sum(need.values())
    sticks = []
    for o in day.offers:
        copies = pieces if o.available is None else min(pieces, o.available)
        sticks += [o] * copies
    m, n = len(kinds), len(sticks)
    if n == 0:
        return None
    unit = float(INCH)
    width = m + 3  # pieces, used, kept, drop
    cost = np.zeros(n * width)
    high = np.zeros(n * width)
    whole = np.ones(n * width)
    rows: list[tuple[dict[int, float], float, float]] = []
    inf = np.inf
    for s, o in enumerate(sticks):
        r = day.rules.for_lumber(o.material)
        base = s * width
        used, kept, drop = base + m, base + m + 1, base + m + 2
        usable, kerf = (o.length - r.head_trim) / unit, r.kerf / unit
        for i, (length, materials) in enumerate(kinds):
            fits = o.material in materials and length <= o.length - r.head_trim
            high[base + i] = need[length, materials] if fits else 0
        high[used] = high[kept] = 1
        high[drop] = max(0.0, usable)
        whole[drop] = 0
        cost[used] = float(o.cost)
        cost[drop] = -float(Fraction(r.drop_value) * o.cost / o.length) * unit
        weight = {base + i: length / unit + kerf for i, (length, _) in enumerate(kinds)}
        rows.append(({**weight, used: -(usable + kerf)}, -inf, 0.0))
        # A drop is what is left behind the last kerf; worth something only where it is kept.
        rows.append(({**weight, drop: 1.0, used: -usable - 2 * kerf, kept: 2 * kerf}, -inf, 0.0))
        rows.append(({drop: 1.0, kept: -max(0.0, usable)}, -inf, 0.0))
        rows.append(({drop: 1.0, kept: -r.keep_drop / unit}, 0.0, inf))
        rows.append(({kept: 1.0, used: -1.0}, -inf, 0.0))
        if r.max_parts:
            rows.append(({base + i: 1.0 for i in range(m)} | {used: -r.max_parts}, -inf, 0.0))
        if s and sticks[s - 1] is o:
            rows.append(({used: 1.0, used - width: -1.0}, -inf, 0.0))
    for i, kind in enumerate(kinds):
        row = {s * width + i: 1.0 for s in range(n)}
        rows.append((row, float(need[kind]), float(need[kind])))
    matrix = lil_matrix((len(rows), n * width))
    for k, (row, _, _) in enumerate(rows):
        for j, a in row.items():
            matrix[k, j] = a
    answer = settled(
        cost,
        matrix.tocsr(),
        np.array([r[1] for r in rows]),
        np.array([r[2] for r in rows]),
        high,
        whole,
    )
    return None if answer is None else Fraction(answer[0])


def random_day(rng: random.Random) -> Day:
    """A small day with any of the rules, limits, alternates and runs."""
    materials = ["2x4"] if rng.random() < 0.7 else ["2x4", "2x4-B"]
    kerf = rng.choice([0, 0, INCH // 8, INCH])
    of = {
        m: rules(
            kerf=kerf,
            head_trim=rng.choice([0, 0, INCH // 4, INCH]),
            keep_drop=rng.choice([0, 12, 24, 48]) * INCH,
            drop_value=rng.choice(["0", "0.5", "0.5", "0.9", "1"]),
            max_parts=rng.choice([0, 0, 0, 2, 3]),
            joint_price=rng.choice(["0.5", "0.25"]),
            joint_min_piece=rng.choice([0, 16, 24]) * INCH,
        )
        for m in materials
    }
    if rng.random() < 0.6:
        price = of[materials[0]].joint_price
        of = {m: _priced(r, str(price)) for m, r in of.items()}
    else:
        of = dict.fromkeys(materials, of[materials[0]])
    grain = rng.choice([INCH // 2, INCH, 4 * INCH])
    offers = []
    for m in materials:
        for length in rng.sample([60, 72, 96, 100, 120], rng.randint(1, 3)):
            price = f"{length * rng.uniform(0.04, 0.06):.{rng.choice([0, 1, 2])}f}"
            limit = rng.choice([None, None, None, 0, 2])
            offers.append(offer(length * INCH, price, rng.choice([0, 1, 2]), limit, m))
        for _ in range(rng.choice([0, 0, 1, 3])):  # drops on the rack, one of each
            length = rng.randint(20, 70)
            price = rng.choice(["0", f"{length * 0.025:.2f}", f"{length * 0.05:.2f}"])
            offers.append(offer(length * INCH, price, 1, 0, m))
    parts = []
    left = rng.randint(3, 8)
    while left > 0:
        n = min(left, rng.randint(1, 3))
        length = rng.randint(10 * INCH // grain, 75 * INCH // grain) * grain
        alt = tuple(materials[1:]) if rng.random() < 0.5 else ()
        parts.append(part(length, n, alt=alt, mark=f"P{len(parts)}"))
        left -= n
    if rng.random() < 0.35:
        first, step = rng.choice([(16, 16), (24, 24), (0, 24), (12, 32)])
        clear = rng.choice([0, 8, 24]) * INCH
        alt = tuple(materials[1:]) if rng.random() < 0.5 else ()
        parts = parts[: max(1, len(parts) // 2)]
        parts.append(
            run(
                rng.randint(50, 140) * INCH,
                first * INCH,
                step * INCH,
                mark="R1",
                alt=alt,
                mate="R2" if clear else None,
                clear=clear,
            )
        )
        if clear:
            parts.append(run(rng.randint(50, 120) * INCH, first * INCH, step * INCH, mark="R2"))
    return day_of(parts, offers, of[materials[0]], of)


def _priced(r: LumberRules, price: str) -> LumberRules:
    return rules(
        r.kerf, r.head_trim, r.keep_drop, str(r.drop_value), r.max_parts, price, r.joint_min_piece
    )


def _traits(day: Day) -> list[str]:
    """What of a mill's rules an instance has."""
    shop = [day.rules.for_lumber(o.material) for o in day.offers]
    return [
        word
        for word, has in (
            ("limits", any(o.limit for o in day.offers)),
            ("remnants", any(o.limit == 0 and o.on_hand == 1 for o in day.offers)),
            ("alternates", any(p.alt for p in day.parts)),
            ("drop credit", any(r.drop_value for r in shop)),
            ("max_parts", any(r.max_parts for r in shop)),
            ("runs", any(p.rule is Rule.JOINTED for p in day.parts)),
        )
        if has
    ]


def compare(day: Day, twice: bool = False) -> tuple[str, list[str]]:
    """How an instance ended, and what is wrong with it; `twice`: with both outside models."""
    outcome = solved(day)
    best = least_cost(day)
    words = [f"checker: {told[:3]}"] if (told := faults(day, outcome)) else []
    if twice:
        other = least_cost(day, assigned)
        if (other is None) != (best is None) or abs((other or 0) - (best or 0)) > _CENT:
            words.append(f"the outside models differ: {best} and {other}")
    plans = material_plans(group_of(day), outcome)
    objective = sum((p.objective for p in plans), Fraction(0))
    end, wrong = verdict(best, outcome.unplanned, objective, outcome.bound)
    if end == "open" and not wrong and objective > (best or 0) * Fraction(1_000_011, 1_000_000):
        words.append(f"objective {float(objective)}, optimum {float(best or 0)}, {outcome.stop}")
    return end, [*words, *wrong]


def main(count: int, seed: int = 1) -> int:
    """Compare so many random instances; the number of faults."""
    return compare_many(count, seed, random_day, compare, _traits)


if __name__ == "__main__":
    sys.exit(1 if main(*count_and_seed()) else 0)

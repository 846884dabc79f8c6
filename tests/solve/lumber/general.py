"""An independent exact model of small stick problems: pieces assigned to single sticks.

Solved by `scipy.optimize.milp`, which carries a solver of its own; it shares no code with cutopt's
column generation. Jointed runs are tried in every way to joint them. Kept as a command:
`python -m tests.solve.lumber.general 2000` compares so many random instances.
"""

from __future__ import annotations

import itertools
import random
import sys
import time
from collections import Counter
from fractions import Fraction

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

from cutopt.cutlist import Day, Part, Rule
from cutopt.materials import LumberRules
from cutopt.measure import INCH
from cutopt.solve.outcome import material_plans
from tests.solve.lumber.groups import day_of, faults, group_of, offer, part, rules, run, solved

__all__ = ["least_cost", "random_day"]


def least_cost(day: Day) -> float | None:
    """The least objective in dollars; None where the parts can't all be cut."""
    runs = [p for p in day.parts if p.rule is Rule.JOINTED for _ in range(p.qty)]
    fixed: Counter[tuple[int, tuple[str, ...]]] = Counter()
    for p in day.parts:
        if p.rule is not Rule.JOINTED:
            fixed[p.length, p.materials] += p.qty
    best: float | None = None
    seen: dict[tuple[object, ...], float | None] = {}
    for ways in itertools.product(*(_ways(p, day) for p in runs)):
        if not _clear(runs, ways):
            continue
        need = fixed.copy()
        joints = 0.0
        for p, at in zip(runs, ways, strict=True):
            price = min(float(day.rules.for_lumber(m).joint_price) for m in p.materials)
            joints += len(at) * price
            for a, b in itertools.pairwise((0, *at, p.length)):
                need[b - a, _allowed(p, day, b - a, bool(at))] += 1
        key = tuple(sorted(need.items()))
        if key not in seen:
            seen[key] = _assigned(day, need)
        cost = seen[key]
        if cost is not None and (best is None or cost + joints < best):
            best = cost + joints
    return best


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


def _assigned(day: Day, need: Counter[tuple[int, tuple[str, ...]]]) -> float | None:
    """The assignment model. Per stick: used or not, pieces of each kind, the drop kept or not."""
    kinds = sorted(k for k, n in need.items() if n)
    if not kinds:
        return 0.0
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
    answer = milp(
        cost,
        constraints=LinearConstraint(
            matrix.tocsr(), np.array([r[1] for r in rows]), np.array([r[2] for r in rows])
        ),
        bounds=Bounds(np.zeros(n * width), high),
        integrality=whole,
        options={"mip_rel_gap": 0.0, "time_limit": 60.0},
    )
    if answer.status == 2:
        return None
    if answer.status != 0:
        raise RuntimeError(answer.message)
    return float(answer.fun)


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


def main(count: int, seed: int = 1) -> int:
    """Compare so many random instances; the number of faults."""
    bad = proved = open_ = impossible = 0
    started = time.perf_counter()
    for k in range(count):
        day = random_day(random.Random(seed * 1_000_003 + k))
        outcome = solved(day)
        best = least_cost(day)
        told = faults(day, outcome)
        plans = material_plans(group_of(day), outcome)
        objective = float(sum(p.objective for p in plans))
        words = []
        if told:
            words.append(f"checker: {told[:3]}")
        if best is None:
            impossible += 1
            if not outcome.unplanned:
                words.append("planned what cannot be planned")
        elif outcome.unplanned:
            words.append(f"left out what can be planned: {outcome.unplanned[0]}")
        else:
            if float(outcome.bound) > best + 1e-6:
                words.append(f"bound {float(outcome.bound)} above the optimum {best}")
            if objective < best - 1e-6:
                words.append(f"objective {objective} below the optimum {best}")
            if objective > best + 1e-6:
                open_ += 1
                if objective > best * (1 + 1.1e-5):
                    words.append(f"objective {objective}, optimum {best}, {outcome.stop}")
            proved += objective <= float(outcome.bound) + 1e-9
        if words:
            bad += 1
            print(f"instance {k}: {'; '.join(words)}")
    seconds = time.perf_counter() - started
    print(
        f"{count} instances, {proved} proved optimal, {impossible} impossible,"
        f" {open_} above the optimum, {bad} faulty, {seconds:.0f} s"
    )
    return bad


if __name__ == "__main__":
    sys.exit(1 if main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1) else 0)

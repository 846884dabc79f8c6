"""Hard classes of the literature, made here under seeds: nobody has tuned anything to them.

Generators after the papers named at each, from memory. One stock length, price 1, no kerf, unless
said. `optimum` is given where the making proves it.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from tests.bench.lumber.instance import Instance, Size, made, usual
from tests.bench.lumber.plant import plant

__all__ = ["hard_classes", "open_classes"]

_NO_SAW = usual("0", kerf=0, trim=0)


def _instance(
    name: str, family: str, room: int, pieces: Sequence[int], optimum: int | None = None
) -> Instance:
    wanted = sorted(Counter(pieces).items(), reverse=True)
    known = None if optimum is None else Fraction(optimum)
    return made(name, family, [Size(room, Decimal(1))], wanted, _NO_SAW, known)


def triplets(sticks: int, seed: int, room: int = 1000) -> Instance:
    """Three pieces fill every stick exactly: the T class of Falkenauer, J. Heuristics 2, 1996."""
    rng = random.Random(seed)
    pieces: list[int] = []
    for _ in range(sticks):
        first = rng.randint(38 * room // 100, 49 * room // 100)
        second = rng.randint(room // 4, (room - first) // 2)
        pieces += [first, second, room - first - second]
    name = f"triplets-{3 * sticks}-{seed}" + (f"-of-{room}" if room != 1000 else "")
    return _instance(name, "triplets", room, pieces, sticks)


def uniform(pieces: int, low: int, high: int, room: int, seed: int) -> Instance:
    """Lengths at random: the uniform class of Falkenauer, and Scholl, Klein, Jürgens (1997)."""
    rng = random.Random(seed)
    sizes = [rng.randint(low, high) for _ in range(pieces)]
    return _instance(f"uniform-{pieces}-{low}-{high}-of-{room}-{seed}", "uniform", room, sizes)


def few_of_each(lengths: int, low: str, high: str, demand: int, seed: int) -> Instance:
    """Lengths in a band and uneven demand: CUTGEN1 of Gau and Wäscher, EJOR 84, 1995."""
    rng = random.Random(seed)
    room = 10_000
    band = (int(Fraction(low) * room), int(Fraction(high) * room))
    sizes = rng.sample(range(band[0], band[1] + 1), lengths)
    shares = [rng.random() for _ in sizes]
    total = lengths * demand
    counts = [max(1, int(total * s / sum(shares))) for s in shares[:-1]]
    counts.append(max(1, total - sum(counts)))
    pieces = [n for n, q in zip(sizes, counts, strict=True) for _ in range(q)]
    return _instance(f"band-{lengths}-{low}-{high}-x{demand}-{seed}", "band", room, pieces)


def near_thirds(pieces: int, seed: int) -> Instance:
    """Three to four in a stick, nearly all different: the band of Hard28, room 1000."""
    rng = random.Random(seed)
    sizes = [
        rng.randint(220, 360) if rng.random() < 0.6 else rng.randint(1, 790) for _ in range(pieces)
    ]
    return _instance(f"thirds-{pieces}-{seed}", "thirds", 1000, sizes)


def fine(pieces: int, seed: int) -> Instance:
    """Room 100,000, lengths from a fifth to a third: as Scholl, Klein and Jürgens' third set."""
    rng = random.Random(seed)
    sizes = [rng.randint(20_000, 35_000) for _ in range(pieces)]
    return _instance(f"fine-{pieces}-{seed}", "fine", 100_000, sizes)


def augmented(sticks: int, room: int, seed: int) -> Instance:
    """Exact triplets around an instance whose bound can't be met.

    In the style of Delorme, Iori and Martello (EJOR 255, 2016). At the core lies Fieldhouse's
    instance: 44 × 2, 33 × 3, 12 × 6 from 132 want 1.962 sticks by the linear bound and 3 in fact.
    With the triplets the fewest is one more than sticks + 2, or by luck just that.
    """
    rng = random.Random(seed)
    cell = room // 132
    room = cell * 132
    pieces = [44 * cell] * 2 + [33 * cell] * 3 + [12 * cell] * 6
    taken = set(pieces)
    for _ in range(sticks):
        while True:
            first = rng.randint(36 * room // 100, 46 * room // 100)
            second = rng.randint(26 * room // 100, (room - first) // 2)
            group = [first, second, room - first - second]
            if not taken & set(group) and len(set(group)) == 3:
                break
        taken |= set(group)
        pieces += group
    return _instance(f"augmented-{len(pieces)}-of-{room}-{seed}", "augmented", room, pieces)


def few_of_seven(seed: int) -> Instance:
    """A hundred lengths, one to three of each, from seven stock lengths at a plant's prices."""
    return plant(f"few-of-each-{seed}", 100, 200, seed, family="few of each", few=True)


def one_length(seed: int, lengths: int = 120, pieces: int = 3000) -> Instance:
    """A plant's material when only sixteen-footers can be had."""
    return plant(f"one-length-{seed}", lengths, pieces, seed, feet=(16,), family="one length")


def hard_classes(quick: bool = False) -> list[Instance]:
    """Classes like the published ones: promised to be proved."""
    if quick:
        return [
            triplets(40, 7001),
            uniform(250, 20, 100, 150, 7002),
            near_thirds(160, 7003),
            few_of_each(40, "0.05", "0.5", 10, 7004),
        ]
    found = [triplets(n, 7100 + n) for n in (20, 40, 83, 167)]
    found += [uniform(n, 20, 100, 150, 7200 + n) for n in (120, 250, 500, 1000)]
    found += [uniform(n, 1, 100, 100, 7300 + n) for n in (100, 500)]
    found += [uniform(n, 50, 200, 1000, 7400 + n) for n in (100, 200, 500)]
    found += [uniform(200, 200, 350, 1000, 7500 + k) for k in range(2)]
    found += [near_thirds(n, 7600 + n + k) for n in (160, 180, 200) for k in (1, 2)]
    found += [fine(200, 7700 + k) for k in range(3)]
    found += [
        few_of_each(lengths, low, high, demand, 7800 + lengths)
        for lengths, low, high, demand in (
            (40, "0.01", "0.2", 10),
            (40, "0.01", "0.8", 10),
            (40, "0.2", "0.8", 50),
            (60, "0.05", "0.5", 5),
            (100, "0.15", "0.35", 2),
        )
    ]
    return found


def open_classes(quick: bool = False) -> list[Instance]:
    """Harder than what is promised: told as they come."""
    if quick:
        return [few_of_seven(8001), one_length(8002)]
    found = [few_of_seven(8100 + k) for k in range(3)]
    found += [one_length(8200 + k) for k in range(3)]
    found += [augmented(sticks, room, 8300 + sticks) for sticks, room in ((20, 1320), (60, 2640))]
    found += [augmented(130, 10_000, 8430)]
    # Nearly every length only once, on a fine grid, nothing wasted.
    found += [triplets(sticks, 8500 + sticks, 10_000) for sticks in (67, 134)]
    return found

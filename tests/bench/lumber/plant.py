"""Materials such as a plant that frames walls and trusses asks for, made under a seed.

Precut studs in great numbers, cripples and headers, plates, truss webs and chords, on the grid that
the drawings use. Seven stock lengths from 8 to 20 ft, the price per foot different for each. The
shape of the demand is common practice, no source; prices are invented.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from decimal import Decimal

from cutopt.measure import FOOT, INCH
from tests.bench.lumber.instance import Instance, Size, day_of, made, usual

__all__ = ["FEET", "MIXES", "day_of_materials", "plant", "remnants", "sizes_of", "wanted_of"]

FEET = (8, 10, 12, 14, 16, 18, 20)
#: What a foot costs beside a foot of a ten-footer.
FACTORS = {8: "0.95", 10: "1", 12: "0.98", 14: "1.03", 16: "1.01", 18: "1.08", 20: "1.11"}
#: Per kind of stick: stud lengths in sixteenths, and shares of the lengths that are cripples and
#: headers, plates, webs.
MIXES: dict[str, tuple[tuple[int, ...], tuple[float, float]]] = {
    "2x4": ((1482, 1674, 1418), (0.30, 0.35)),
    "2x6": ((1482, 1674, 1866), (0.35, 0.45)),
    "2x3": ((1440, 1344, 1528), (0.20, 0.20)),
}
#: (least, most) inches, (least, most) pieces beside each other, before all is scaled.
_RANGES = {"short": (8, 86, 2, 30), "plate": (20, 192, 1, 10), "web": (10, 110, 10, 100)}


def sizes_of(feet: Sequence[int] = FEET, cents: int = 62) -> list[Size]:
    """Stock lengths without limit at so many cents per foot, times the factor of each."""
    return [
        Size(f * FOOT, (Decimal(cents * f) * Decimal(FACTORS[f])).quantize(Decimal(1)) / 100)
        for f in feet
    ]


def wanted_of(
    rng: random.Random,
    lengths: int,
    pieces: int,
    mix: str = "2x4",
    grid: int = INCH // 16,
    longest: int = 192,
) -> list[tuple[int, int]]:
    """(length, how many), longest first: `pieces` of `lengths` different lengths on the grid."""
    studs, (short, plate) = MIXES[mix]
    weights: dict[int, float] = {}
    for stud, share in zip(studs, (0.28, 0.08, 0.04), strict=True):
        weights[stud * INCH // 16 // grid * grid] = share
    others = max(0, lengths - len(weights))
    kinds = ["short"] * round(others * short) + ["plate"] * round(others * plate)
    kinds += ["web"] * (others - len(kinds))
    made: dict[int, float] = {}
    for kind in kinds:
        low, high, few, many = _RANGES[kind]
        high = min(high, longest)
        while True:
            length = rng.randint(-(-low * INCH // grid), high * INCH // grid) * grid
            if length not in weights and length not in made:
                break
        made[length] = rng.randint(few, many)
    total = sum(made.values())
    left = 1 - sum(weights.values())
    weights |= {length: left * w / total for length, w in made.items()}
    counts = {length: max(1, int(pieces * w)) for length, w in weights.items()}
    most = max(counts, key=lambda length: (counts[length], length))
    counts[most] = max(1, counts[most] + pieces - sum(counts.values()))
    return sorted(counts.items(), reverse=True)


def plant(
    name: str,
    lengths: int,
    pieces: int,
    seed: int,
    mix: str = "2x4",
    share: str = "0",
    grid: int = INCH // 16,
    feet: Sequence[int] = FEET,
    family: str = "plant",
    few: bool = False,
) -> Instance:
    """A material of one plant; `few`: one to three pieces of each length."""
    rng = random.Random(seed)
    wanted = wanted_of(rng, lengths, pieces, mix, grid, 12 * max(feet) - 8)
    if few:
        wanted = [(length, rng.randint(1, 3)) for length, _ in wanted]
    return made(name, family, sizes_of(feet), wanted, usual(share))


def remnants(
    name: str, count: int, seed: int, lengths: int = 120, pieces: int = 3000, share: str = "0"
) -> Instance:
    """Single drops on the rack beside the seven lengths, booked at half their price or less."""
    rng = random.Random(seed)
    wanted = wanted_of(rng, lengths, pieces)
    rack: set[int] = set()
    while len(rack) < count:
        rack.add(rng.randint(24 * 16, 110 * 16))
    drops = [
        Size(
            n * INCH // 16,
            (Decimal(n) * rng.choice((20, 25, 31)) / 16 / 12 / 100).quantize(Decimal("0.01")),
            only=1,
        )
        for n in sorted(rack)
    ]
    return made(name, "remnants", [*sizes_of(), *drops], wanted, usual(share))


def day_of_materials(name: str, seed: int, share: str = "0.5") -> Instance:
    """A day of 25 materials and 85,000 pieces."""
    rng = random.Random(seed)
    materials = []
    weights = [rng.choice((1, 2, 3, 5, 8)) for _ in range(25)]
    left = 85_000
    for k, weight in enumerate(weights):
        pieces = left if k == 24 else 85_000 * weight // sum(weights)
        left -= pieces
        lengths = rng.choice((40, 60, 80, 120, 120, 160, 200, 300))
        mix = rng.choice(sorted(MIXES))
        wanted = wanted_of(rng, lengths, pieces, mix)
        sizes = sizes_of(cents=rng.randint(45, 110))
        materials.append((f"{mix}-{k + 1}", sizes, wanted, usual(share)))
    return Instance(name, "day", day_of(materials))

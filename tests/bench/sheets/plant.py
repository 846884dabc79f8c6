"""Sheet orders such as a plant that builds homes in sections asks for, made under a seed.

Five families: floor decking (full-width ends and last-row rips), wall sheathing (between and above
openings, gables), gypsum wall board of twelve sizes, siding of three, and plywood strips for ridge
beams. The shape of the demand is common practice, no source; prices are invented. Everything is on
one grid, on which part sizes are rounded up and sheets down.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from decimal import Decimal
from fractions import Fraction

from cutopt.materials import FirstCut
from cutopt.measure import FOOT, INCH
from tests.bench.sheets.instance import Instance, Size, Wanted, made, made_ceilings, usual

__all__ = ["FAMILIES", "ceilings", "order", "rack", "sizes_of", "spans", "wanted_of"]

SIXTEENTH = INCH // 16
#: Sixteenths behind a whole inch, and how often drawings have them.
_BEHIND = (0, 4, 8, 12, 2, 6, 10, 14, 1)
_OFTEN = (35, 12, 20, 12, 5, 5, 5, 4, 2)
#: A part before it is laid on the grid: length and width in inches, whether it may be turned.
_Drawn = tuple[Fraction, Fraction, bool]


def _inches(rng: random.Random, least: int, most: int) -> Fraction:
    """A measure from `least` to `most` inches as drawings have them."""
    behind = rng.choices(_BEHIND, _OFTEN)[0]
    return Fraction(min(16 * most, 16 * rng.randint(least, most - 1) + behind), 16)


def _one_of(rng: random.Random, *measures: str) -> Fraction:
    return Fraction(rng.choice(measures))


def _floor(rng: random.Random) -> _Drawn:
    """Decking: ends in the full width, last rows ripped, pieces around stairs and shafts."""
    chance = rng.random()
    if chance < 0.45:
        return _inches(rng, 12, 92), _one_of(rng, "47.5", "48"), False
    if chance < 0.85:
        length = Fraction(96) if rng.random() < 0.4 else _inches(rng, 16, 95)
        return length, _inches(rng, 4, 45), False
    return _inches(rng, 12, 60), _inches(rng, 6, 44), False


def _sheathing(rng: random.Random) -> _Drawn:
    """Wall sheathing: rips of wall height, pieces under and over openings, gable pieces."""
    chance = rng.random()
    if chance < 0.35:
        high = _one_of(rng, "81.5", "84", "90", "92.625", "95.875")
        return high, _inches(rng, 6, 47), False
    if chance < 0.75:
        return _inches(rng, 12, 72), _inches(rng, 8, 46), rng.random() < 0.15
    over = _one_of(rng, "25.5", "31.5", "37.5", "47.5", "49.5", "61.5", "73.5")
    return over, _one_of(rng, "9.25", "11.25", "14", "20", "32.5", "40"), rng.random() < 0.3


def _gypsum(rng: random.Random) -> _Drawn:
    """Wall board laid along the wall: near full width, pieces beside openings, small fillers."""
    chance = rng.random()
    if chance < 0.5:
        width = Fraction(48) if rng.random() < 0.5 else _one_of(rng, "36", "42", "45", "47.5")
        length = _inches(rng, 30, 190)
    elif chance < 0.8:
        length, width = _inches(rng, 14, 100), _inches(rng, 10, 47)
    else:
        length, width = _inches(rng, 12, 40), _inches(rng, 5, 24)
    return length, width, max(length, width) < 47 and rng.random() < 0.5


def _siding(rng: random.Random) -> _Drawn:
    """Siding, grain upright: pieces at openings, rips of wall and gable height."""
    if rng.random() < 0.5:
        return _inches(rng, 14, 60), _inches(rng, 10, 48), False
    return _one_of(rng, "81", "90", "94", "102.5", "105"), _inches(rng, 6, 47), False


def _ridge(rng: random.Random) -> _Drawn:
    """Strips for ridge beams, in the depths of the beams, whole lengths and what staggers them."""
    depths = ("5.5", "7.25", "9.25", "11.25", "11.875", "14", "16", "18", "20", "22", "23.875")
    depth = _one_of(rng, *depths) + _one_of(rng, "0", "0", "0.125", "0.25")
    length = _one_of(rng, "96", "96", "48", "72") if rng.random() < 0.8 else _inches(rng, 24, 95)
    return length, depth, False


FAMILIES: dict[str, Callable[[random.Random], _Drawn]] = {
    "floor": _floor,
    "sheathing": _sheathing,
    "gypsum": _gypsum,
    "siding": _siding,
    "ridge": _ridge,
}


def sizes_of(family: str, grid: int = SIXTEENTH) -> list[Size]:
    """What the family's sheets are sold in, without limit."""
    if family == "gypsum":
        feet = [(f, w) for f in (8, 9, 10, 12, 14, 16) for w in (48, 54)]
        cents = [42 + 3 * (w == 54) + 2 * (f > 12) for f, w in feet]
        prices = [
            Decimal(round(c * f * w / 12)) / 100 for (f, w), c in zip(feet, cents, strict=True)
        ]
        known = [(f * FOOT, w * INCH, p) for (f, w), p in zip(feet, prices, strict=True)]
    elif family == "siding":
        dollars = {8: "38.00", 9: "45.00", 10: "52.00"}
        known = [(f * FOOT, 48 * INCH, Decimal(p)) for f, p in dollars.items()]
    else:
        known = [(96 * INCH, 48 * INCH, Decimal("22.00"))]
    return [Size(a // grid * grid, b // grid * grid, price) for a, b, price in known]


def rack(
    rng: random.Random, count: int, sizes: Sequence[Size], grid: int = SIXTEENTH
) -> list[Size]:
    """Single drops on the rack, booked well below the price of a new sheet of their area."""
    rate = min(Fraction(s.price) / (s.length * s.width) for s in sizes)
    found = []
    for _ in range(count):
        length = rng.randint(24 * 16, 95 * 16) * SIXTEENTH // grid * grid
        width = 48 * INCH if rng.random() < 0.5 else rng.randint(10 * 16, 46 * 16) * SIXTEENTH
        width = width // grid * grid
        share = Fraction(rng.choice((25, 30, 35)), 100)
        cents = round(100 * share * rate * length * width)
        found.append(Size(length, width, Decimal(cents) / 100, only=1))
    return found


def _shared(rng: random.Random, types: int, pieces: int) -> list[int]:
    """`pieces` shared out unevenly, every type at least one."""
    weights = [rng.expovariate(1) + 0.05 for _ in range(types)]
    over = pieces - types
    counts = [1 + int(over * w / sum(weights)) for w in weights]
    for k in range(pieces - sum(counts)):
        counts[k % types] += 1
    return counts


def wanted_of(
    rng: random.Random,
    family: str,
    types: int,
    pieces: int,
    sizes: Sequence[Size],
    grid: int = SIXTEENTH,
    scale: Fraction = Fraction(1),
) -> list[Wanted]:
    """`pieces` of `types` different parts, each of which some unlimited size holds.

    `scale` makes parts smaller than the family's, so that more lie on a sheet.
    """
    whole = [(s.length, s.width) for s in sizes if s.only is None]
    found: dict[tuple[int, int, bool], None] = {}
    for _ in range(400 * types):
        if len(found) == types:
            break
        long, wide, turn = FAMILIES[family](rng)
        a, b = (max(_laid(Fraction(1), grid), _laid(scale * m, grid)) for m in (long, wide))
        if any(a <= length and b <= width for length, width in whole):
            found[a, b, turn] = None
    if len(found) < types:
        raise ValueError(f"{family} has no {types} different parts on this grid")
    counts = _shared(rng, types, pieces)
    return [(a, b, n, turn) for (a, b, turn), n in zip(found, counts, strict=True)]


def _laid(inches: Fraction, grid: int) -> int:
    """Inches in counts, rounded up to the grid."""
    return math.ceil(inches * INCH / grid) * grid


def order(
    name: str,
    set_name: str,
    family: str,
    types: int,
    pieces: int,
    seed: int,
    *,
    grid: int = SIXTEENTH,
    remnants: int = 0,
    sizes: Sequence[Size] | None = None,
    stages: int = 3,
    first: FirstCut = FirstCut.EITHER,
    scale: Fraction = Fraction(1),
    kerf: int | None = None,
    cell: str = "",
) -> Instance:
    """A material of one plant. Gypsum is scored unless `kerf` says otherwise, all else sawn."""
    rng = random.Random(seed)
    if sizes is None:
        sizes = sizes_of(family, grid)
    if kerf is None:
        kerf = 0 if family == "gypsum" else max(1, round(INCH / 8 / grid)) * grid
    wanted = wanted_of(rng, family, types, pieces, sizes, grid, scale)
    drops = rack(rng, remnants, sizes, grid)
    return made(name, set_name, [*sizes, *drops], wanted, usual(kerf, stages, first), cell)


#: Widths of sections between their walls, in inches.
_BETWEEN = ("142", "148.5", "158", "164", "172", "178.5", "184", "188")


def spans(rng: random.Random, sections: int) -> list[tuple[int, int, int]]:
    """Ceiling fields of sections, flat or sloped from wall to ridge: (span, run, 1) in counts.

    A sloped field's span is the slope's length, rounded up to a quarter inch.
    """
    found = []
    for _ in range(sections):
        inches = float(rng.choice(_BETWEEN)) + rng.choice((0, 0, -2, 0.5, 1.25))
        pitch = rng.choice((0, 0, 0, 3, 4, 5)) / 12
        if rng.random() < 0.35 and pitch:
            inches /= 2
        inches *= math.sqrt(1 + pitch * pitch)
        if rng.random() < 0.25:  # up to a wall within the section
            inches *= rng.uniform(0.45, 0.9)
        run = rng.randint(12, 59) * 12 + rng.choice((0, 0, 4, 6, 8))
        found.append((math.ceil(4 * inches) * INCH // 4, run * INCH, 1))
    return found


def ceilings(
    name: str,
    set_name: str,
    sections: int,
    seed: int,
    *,
    widths: Sequence[int] = (48, 54),
    lengths: int = 4,
    step: int = 1,
    cell: str = "",
) -> Instance:
    """Fields of so many sections; boards are sold in every `step` inches of length."""
    rng = random.Random(seed)
    fields = spans(rng, sections)
    spread = [span for span, _, _ in fields]
    inches = range(min(spread) // INCH // step * step, -(-max(spread) // INCH) + step, step)
    cents = {48: 48, 54: 50}  # a square foot
    sizes = [
        Size(n * INCH, w * INCH, (Decimal(cents[w] * n * w) / 144).quantize(Decimal(1)) / 100)
        for n in inches
        if n > 0
        for w in widths
    ]
    return made_ceilings(name, set_name, sizes, fields, lengths, cell)

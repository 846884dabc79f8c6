"""Which instances are measured, set by set, and which of them the slow models see."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from cutopt.materials import Kind
from cutopt.measure import INCH
from tests.bench.common.days import ROOT, demo_groups
from tests.bench.lumber.hard import hard_classes, open_classes
from tests.bench.lumber.instance import Instance, Size, made, usual
from tests.bench.lumber.plant import day_of_materials, plant, remnants
from tests.bench.runs_days import Scenario, made_day

__all__ = ["SETS", "Set", "published"]

PUBLISHED = ROOT / "tests" / "reference" / "data" / "lumber.jsonl"
#: Those of the published instances that the slow models see, one of a class.
_SEEN = ("u250_00", "Hard28_BPP119")
PIECES = (1_000, 10_000, 100_000, 1_000_000)


@dataclass(frozen=True)
class Set:
    """A set: how it is made (True: a sample), what it shows, what the slow models see of it."""

    make: Callable[[bool], list[Instance]]
    about: str
    modelled: tuple[str, ...] = ()
    workers: int = 1


def demo_days(quick: bool) -> list[Instance]:
    """The lumber of the demo days, a group of materials that depend on each other at a time."""
    groups = demo_groups(Kind.LUMBER, quick)
    return [Instance(name, "days", day) for name, day in groups]


def published(quick: bool = False) -> list[Instance]:
    """The instances of the literature that tests/reference holds; sources are named there."""
    lines = PUBLISHED.read_text(encoding="utf-8").splitlines()
    found = []
    for entry in map(json.loads, lines[3::9] if quick else lines):
        sizes = [Size(entry["capacity"], Decimal(1))]
        wanted = [(length, n) for length, n in entry["items"]]
        shop = usual("0", kerf=0, trim=0)
        optimum = Fraction(entry["optimum"])
        found.append(made(entry["name"], entry["family"], sizes, wanted, shop, optimum))
    return found


def plants(quick: bool) -> list[Instance]:
    """Plant-like: 120 lengths, 3,000 pieces, seven stock lengths; with drop credit too."""
    seeds = (1,) if quick else (1, 2, 3, 4, 5)
    found = [
        plant(f"plant-120-{share}-{seed}", 120, 3000, 100 + seed, share=share)
        for seed in seeds
        for share in ("0", "0.5")
    ]
    if quick:
        return found
    return [
        *found,
        plant("plant-2x6-80", 80, 1500, 111, mix="2x6"),
        plant("plant-2x3-60", 60, 2001, 112, mix="2x3"),
        plant("plant-250", 250, 12007, 113),
    ]


def plants_300(quick: bool) -> list[Instance]:
    """The same with 300 lengths."""
    return [
        plant(f"plant-300-{share}-{seed}", 300, 7500, 200 + seed, share=share)
        for seed in ((1,) if quick else (1, 2, 3))
        for share in ("0", "0.5")
    ]


def small(quick: bool) -> list[Instance]:
    """What a general-purpose model might still do."""
    sizes = ((12, 20), (25, 60)) if quick else ((12, 20), (25, 60), (30, 150))
    return [
        plant(f"small-{lengths}x{pieces}", lengths, pieces, 300 + lengths)
        for lengths, pieces in sizes
    ]


def more_lengths(quick: bool) -> list[Instance]:
    """20 to 400 lengths, 25 pieces of each in the mean."""
    return [
        plant(f"lengths-{n}", n, 25 * n, 400 + n)
        for n in ((20, 100) if quick else (20, 50, 100, 200, 300, 400))
    ]


def more_pieces(quick: bool) -> list[Instance]:
    """The same 120 lengths, a thousand to a million pieces."""
    return [
        plant(f"pieces-{n}-{seed}", 120, n, 500 + seed)
        for seed in ((1,) if quick else (1, 2, 3))
        for n in ((PIECES[0], PIECES[-1]) if quick else PIECES)
    ]


def finer_grids(quick: bool) -> list[Instance]:
    """120 lengths on a sixteenth, on a sixty-fourth, on a hundredth of a millimetre."""
    grids = {"16th": INCH // 16, "64th": INCH // 64, "0.01mm": 16}
    return [
        plant(f"grid-{word}", 120, 3000, 601, grid=grid)
        for word, grid in list(grids.items())[:: 2 if quick else 1]
    ]


def more_remnants(quick: bool) -> list[Instance]:
    """Single drops on the rack beside 120 lengths."""
    counts = (200,) if quick else (0, 50, 100, 200, 500)
    found = [remnants(f"remnants-{n}", n, 700 + n) for n in counts]
    if not quick:
        found += [remnants(f"remnants-200-{k}", 200, 750 + k) for k in (1, 2)]
        found.append(remnants("remnants-200-credit", 200, 760, share="0.5"))
    return found


def jointed(quick: bool) -> list[Instance]:
    """30 to 100 jointed runs with mates beside ordinary parts."""
    sections = (6,) if quick else (6, 10, 20)
    prices = ("level",) if quick else ("level", "rising", "uneven")
    return [
        Instance(f"runs-{s.name}", "runs", made_day(s))
        for s in (Scenario(n, p) for n in sections for p in prices)
    ]


def whole_day(quick: bool) -> list[Instance]:
    """25 materials and 85,000 pieces through the process pool."""
    return [day_of_materials("day-25", 901)]


SETS: dict[str, Set] = {
    "days": Set(demo_days, "lumber of the demo days", ("2026-03-02 2x3-SPF-STUD",)),
    "published": Set(published, "published instances, fewest sticks", _SEEN),
    "plant": Set(plants, "plant-like, 120 lengths", ("plant-120-0-1",)),
    "plant-300": Set(plants_300, "plant-like, 300 lengths"),
    "small": Set(small, "small plants", ("small-12x20", "small-25x60", "small-30x150")),
    "lengths": Set(more_lengths, "growth: lengths"),
    "pieces": Set(more_pieces, "growth: pieces, 120 lengths"),
    "grids": Set(finer_grids, "growth: grid, 120 lengths"),
    "remnants": Set(more_remnants, "single remnants beside 120 lengths"),
    "runs": Set(jointed, "jointed runs with mates"),
    "hard": Set(hard_classes, "hard classes, made here"),
    "open": Set(open_classes, "harder still, nothing promised"),
    "day": Set(whole_day, "a day of 25 materials, two processes", workers=2),
}

"""Which instances are measured, set by set, how long each may take, and what the models see."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from cutopt.materials import FirstCut, Kind
from cutopt.measure import INCH
from tests.bench.common.days import ROOT, demo_groups
from tests.bench.sheets.instance import Instance, Size, made, usual
from tests.bench.sheets.plant import FAMILIES, ceilings, order, sizes_of

__all__ = ["PUBLISHED", "SETS", "SMALL_ORDERS", "Set"]

PUBLISHED = ROOT / "tests" / "bench" / "data" / "sheets.jsonl"
#: (types, pieces) of the small orders.
SMALL_ORDERS = ((8, 15), (15, 30), (25, 60))
#: Families with one size of sheet.
_ONE_SIZE = ("floor", "sheathing", "ridge")
#: A unit of the published instances, so that no length is below what a day may ask.
_UNIT = 1600
#: Optima that can't be: of wood-A8's one kind, 486 x 310, five lie along a sheet of 2750 x 1220 and
#: three across, so that sixteen unturned want two sheets, not the one that is tabled.
_REFUTED = {"wood-A8": 2}


@dataclass(frozen=True)
class Set:
    """A set: how it is made (a sample?, seeds shifted by), what it shows, its guard in seconds.

    `modelled` are the instances that the slow models see.
    """

    make: Callable[[bool, int], list[Instance]]
    about: str
    seconds: float
    modelled: tuple[str, ...] = ()


def demo_days(quick: bool, shift: int) -> list[Instance]:
    """The sheets of the demo days, a group of materials that depend on each other at a time."""
    groups = demo_groups(Kind.SHEET, quick)
    return [Instance(name, "days", day) for name, day in groups]


def _published(family: str, set_name: str) -> list[Instance]:
    lines = PUBLISHED.read_text(encoding="utf-8").splitlines()
    found = []
    for entry in map(json.loads, lines):
        if entry["family"] != family:
            continue
        free = entry["stages"] == "any"
        shop = usual(0, 3 if free else entry["stages"], FirstCut(entry["first_cut"]))
        size = Size(entry["length"] * _UNIT, entry["width"] * _UNIT, Decimal(1))
        wanted = [(a * _UNIT, b * _UNIT, n, entry["turn"]) for a, b, n in entry["parts"]]
        best = _REFUTED.get(entry["name"], entry["best"])
        best = None if best is None else Fraction(best)
        found.append(made(entry["name"], set_name, [size], wanted, shop, "", best, free))
    return found


def dataset_c(quick: bool, shift: int) -> list[Instance]:
    """Two stages with trimming; sources in tests/bench/data."""
    return _published("dataset C", "dataset-c")


def wood(quick: bool, shift: int) -> list[Instance]:
    """Wood-industry orders, optima without a limit of stages, planned in three.

    In them no part is turned: turned, A5, A7, A15 and A20 would take a sheet or two less than the
    optimum that is tabled.
    """
    found = _published("wood industry A", "wood")
    return found[:8] if quick else found


def typical(quick: bool, shift: int) -> list[Instance]:
    """Forty days of one sheet size: 40 to 80 types, 500 to 2,000 pieces."""
    found = []
    for k in range(0, 40, 8 if quick else 1):
        types = (40, 50, 60, 70, 80)[k // 3 % 5]
        pieces = (500, 1000, 1500, 2000)[k % 4]
        family = _ONE_SIZE[k % 3]
        name = f"{family}-{types}x{pieces}-{k}"
        found.append(order(name, "typical", family, types, pieces, 61_000 + k + shift))
    return found


def gypsum(quick: bool, shift: int) -> list[Instance]:
    """Wall board in twelve sizes, sixty single drops on the rack."""
    sizes = ((40, 500), (60, 1000), (80, 2000), (40, 2000), (80, 500), (60, 1500))
    return [
        order(
            f"gypsum-{types}x{pieces}",
            "gypsum",
            "gypsum",
            types,
            pieces,
            62_000 + k + shift,
            remnants=60,
        )
        for k, (types, pieces) in enumerate(sizes[: 2 if quick else None])
    ]


def large(quick: bool, shift: int) -> list[Instance]:
    """200 types, 10,000 pieces, every family."""
    names = ("sheathing", "gypsum") if quick else tuple(FAMILIES)
    return [
        order(f"{f}-200x10000", "large", f, 200, 10_000, 63_000 + list(FAMILIES).index(f) + shift)
        for f in names
    ]


def _small(set_name: str, scale: Fraction, quick: bool, seed: int) -> list[Instance]:
    found = []
    kept = 1 if quick else 5
    for family in ("siding", "gypsum"):
        sizes = len(sizes_of(family))
        for types, pieces in SMALL_ORDERS:
            for stages in (2, 3):
                for drops in (0, 40):
                    for k in range(kept):
                        cell = f"{pieces} pieces, {sizes} sizes"
                        name = f"{family}-{pieces}-{stages}st-{drops}rem-{k}"
                        made_by = seed + 10 * pieces + 100_000 * stages + 1_000 * drops + k
                        found.append(
                            order(
                                name,
                                set_name,
                                family,
                                types,
                                pieces,
                                made_by,
                                remnants=drops,
                                stages=stages,
                                scale=scale,
                                kerf=INCH // 8,
                                cell=cell,
                            )
                        )
    return found


def small(quick: bool, shift: int) -> list[Instance]:
    """120 small orders: 15, 30, 60 pieces, 3 and 12 sizes, 2 and 3 stages, 0 and 40 drops."""
    return _small("small", Fraction(3, 5), quick, 64_000 + shift)


def dense(quick: bool, shift: int) -> list[Instance]:
    """The same with large parts, few of which lie on a sheet, without drops on the rack."""
    found = _small("dense", Fraction(1), quick, 65_000 + shift)
    return [i for i in found if "-0rem-" in i.name and not i.cell.startswith("15 ")]


def more_types(quick: bool, shift: int) -> list[Instance]:
    """10 to 200 types, ten pieces of each in the mean."""
    return [
        order(f"{f}-types-{n}", "types", f, n, 10 * n, 66_000 + n + shift, cell=f)
        for f in ("sheathing", "gypsum")
        for n in ((10, 80) if quick else (10, 20, 40, 80, 120, 200))
    ]


def more_pieces(quick: bool, shift: int) -> list[Instance]:
    """The same 40 types, 75 to 10,000 pieces."""
    return [
        order(f"{f}-pieces-{n}", "pieces", f, 40, n, 67_000 + shift, cell=f)
        for f in ("sheathing", "siding")
        for n in ((75, 1000) if quick else (75, 150, 300, 1000, 3000, 10_000))
    ]


def finer_grids(quick: bool, shift: int) -> list[Instance]:
    """60 types on an eighth, a sixteenth, a thirty-second of an inch, and on a millimetre."""
    grids = {"8th": INCH // 8, "16th": INCH // 16, "32nd": INCH // 32, "mm": 1600}
    return [
        order(f"{f}-grid-{word}", "grids", f, 60, 800, 68_000 + shift, grid=grid, cell=f)
        for f in ("sheathing", "siding")
        for word, grid in list(grids.items())[:: 3 if quick else 1]
    ]


def more_remnants(quick: bool, shift: int) -> list[Instance]:
    """40 types and 500 pieces beside 0 to 100 single drops on the rack."""
    return [
        order(f"{f}-rack-{n}", "remnants", f, 40, 500, 69_000 + shift, remnants=n, cell=f)
        for f in ("sheathing", "gypsum")
        for n in ((0, 40) if quick else (0, 10, 20, 40, 60, 100))
    ]


def more_sizes(quick: bool, shift: int) -> list[Instance]:
    """The same parts from 1 to 12 sizes of sheet."""
    sold = sizes_of("gypsum")
    ranked = [sold[k] for k in (10, 0, 6, 4, 1, 2, 8, 7, 3, 5, 9, 11)]
    return [
        order(f"gypsum-sizes-{n}", "sizes", "gypsum", 40, 600, 70_000 + shift, sizes=ranked[:n])
        for n in ((1, 12) if quick else (1, 2, 3, 6, 9, 12))
    ]


def all_ceilings(quick: bool, shift: int) -> list[Instance]:
    """10 to 1,000 sections, boards of one width and of both, any inch and every half foot."""
    counts = (10, 300) if quick else (10, 30, 100, 300, 1000)
    found = []
    for widths in ((48,), (48, 54)):
        word = "both" if len(widths) == 2 else "48"
        for n in counts:
            for step in (1, 6):
                name = f"ceilings-{n}-{word}-by-{step}"
                seed = 71_000 + n + 10_000 * step + shift
                found.append(
                    ceilings(name, "ceilings", n, seed, widths=widths, step=step, cell=word)
                )
    if not quick:
        found += [
            ceilings(
                f"ceilings-300-both-by-{step}-{k}", "ceilings", 300, seed, step=step, cell="both"
            )
            for k in (1, 2)
            for step in (1, 6)
            for seed in (72_000 + 10_000 * step + k + shift,)
        ]
    return found


SETS: dict[str, Set] = {
    "days": Set(demo_days, "sheets of the demo days", 60, ("2026-03-02 SDG-PLY-19/32",)),
    "dataset-c": Set(dataset_c, "published: dataset C, fewest sheets", 60, ("C-A1", "C-CU1")),
    "wood": Set(wood, "published: wood-industry orders, fewest sheets", 30, ("wood-A6", "wood-A7")),
    "typical": Set(typical, "40 to 80 types, 500 to 2,000 pieces, one size", 10),
    "gypsum": Set(gypsum, "gypsum, 12 sizes, 60 remnants", 10),
    "large": Set(large, "200 types, 10,000 pieces", 15),
    "small": Set(
        small,
        "small orders",
        10,
        ("siding-15-2st-0rem-0", "gypsum-30-2st-0rem-0", "siding-60-2st-0rem-0"),
    ),
    "dense": Set(dense, "small orders of large parts", 10, ("siding-30-2st-0rem-0",)),
    "types": Set(more_types, "growth: types", 30, ("sheathing-types-10",)),
    "pieces": Set(more_pieces, "growth: pieces, 40 types", 30, ("sheathing-pieces-75",)),
    "grids": Set(finer_grids, "growth: grid, 60 types", 30),
    "remnants": Set(more_remnants, "growth: single remnants", 30),
    "sizes": Set(more_sizes, "growth: sheet sizes", 30),
    "ceilings": Set(
        all_ceilings,
        "ceilings of 10 to 1,000 sections, 4 lengths",
        20,
        ("ceilings-10-both-by-6", "ceilings-300-both-by-6"),
    ),
}

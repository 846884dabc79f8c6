"""Days made for measuring the saw floor: sections of a few models, two or three jigs each.

Every cart (a section at a jig) takes common studs and cripples, lengths shared with other
sections of its model, and lengths that no other section has. Sizes are invented; no real plant's.
"""

from __future__ import annotations

import random
from datetime import date
from decimal import Decimal

from cutopt.cutlist import Day, Part
from cutopt.materials import Kind, Offer, Per, Rules
from cutopt.measure import INCH
from cutopt.plan import Problem
from cutopt.records import Place

__all__ = ["made_day"]

_FEET = (8, 10, 12, 14, 16, 20)
_PRICES = {"2x4": 620, "2x6": 655, "2x8": 700}
#: Per jig: its usual material, another that some of its parts are cut from, common lengths (in).
_Jigs = dict[str, tuple[str, str, tuple[float, ...]]]
_JIGS: _Jigs = {
    "Outer wall table": ("2x6", "2x4", (92.625, 14.5, 81.5, 36)),
    "Partition table": ("2x4", "2x4", (92.625, 14.5, 81.5)),
    "Roof table": ("2x8", "2x4", (72, 22.5, 14.5)),
}


#: Harder: every cart takes two materials.
_MIXED: _Jigs = {**_JIGS, "Partition table": ("2x4", "2x6", (92.625, 14.5, 81.5))}


def made_day(seed: int, carts: int, mixed: bool = False) -> Problem:
    """A day of `carts` carts; the same for the same seed.

    Parameters
    ----------
    seed
        Of what is random.
    carts
        Sections times jigs; the last section has fewer where they do not divide it.
    mixed
        Whether carts at the partition table take a second material too.
    """
    jigs_of = _MIXED if mixed else _JIGS
    chance = random.Random(f"floor {seed} {carts}")
    jigs = tuple(jigs_of)[: 3 if carts % 3 == 0 and chance.random() < 0.5 else 2]
    sections = [f"S{i + 1:02}" for i in range(-(-carts // len(jigs)))]
    models = [_model(chance, jigs, jigs_of) for _ in range(max(2, len(sections) // 4))]
    parts: list[Part] = []
    for at, section in enumerate(sections):
        model = chance.choice(models)
        for step, jig in enumerate(jigs):
            need = at * len(jigs) + step + 1
            if need > carts:
                break
            parts += _cart(chance, section, jig, need, model[jig], len(parts), jigs_of)
    used = {p.material for p in parts}
    offers = [
        Offer(
            row=row,
            material=material,
            kind=Kind.LUMBER,
            nominal=(int(material[0]), int(material[2:])),
            length=feet * 12 * INCH,
            width=None,
            price=Decimal(price + 6 * (feet - 8) + chance.randint(-20, 20)),
            per=Per.MBF,
        )
        for row, (material, price, feet) in enumerate(
            ((m, p, f) for m, p in _PRICES.items() if m in used for f in _FEET), start=2
        )
    ]
    day = Day(f"made-{seed}", "Made", date(2026, 1, 5), "in", Rules(), tuple(offers), tuple(parts))
    return Problem((day,))


def _counts(inches: float) -> int:
    return round(inches * 16) * INCH // 16


def _model(
    chance: random.Random, jigs: tuple[str, ...], jigs_of: _Jigs
) -> dict[str, list[tuple[str, int]]]:
    """Per jig the lengths that sections of the model share, each with its material."""
    return {
        jig: [
            (jigs_of[jig][0 if chance.random() < 0.85 else 1], _counts(chance.uniform(20, 175)))
            for _ in range(8)
        ]
        for jig in jigs
    }


def _cart(
    chance: random.Random,
    section: str,
    jig: str,
    need: int,
    shared: list[tuple[str, int]],
    row: int,
    jigs_of: _Jigs,
) -> list[Part]:
    usual, other, common = jigs_of[jig]
    wanted: list[tuple[str, int, int]] = []
    for i, inches in enumerate(common):
        low, high = ((8, 20), (4, 12))[i] if i < 2 else (0, 6)
        wanted.append((usual, _counts(inches), chance.randint(low, high)))
    for material, length in shared:
        if chance.random() < 0.75:
            wanted.append((material, length, chance.randint(1, 4)))
    for _ in range(chance.randint(3, 9)):
        material = usual if chance.random() < 0.9 else other
        wanted.append((material, _counts(chance.uniform(24, 190)), chance.randint(1, 2)))
    return [
        Part(
            place=Place("made.csv", row + i + 2),
            section=section,
            jig=jig,
            mark=f"{section}-{need}-{i + 1}",
            material=material,
            length=length,
            width=None,
            qty=qty,
            need=need,
        )
        for i, (material, length, qty) in enumerate(wanted)
        if qty
    ]

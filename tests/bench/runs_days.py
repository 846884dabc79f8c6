"""Made days for the measurement of jointed runs: an invented plant's wall plates and rims.

Every day is one material: sections with two or three plated walls (a top plate and a tie plate that
are mates, a sole plate that is not), a rim or ridge piece without a mate, and ordinary parts around
them: studs, cripples, headers, blocks. Plates may be joined on the stud grid, 16 or 24 in, mates at
least 48 in apart: common practice for lapped plates, no source.
"""

from __future__ import annotations

import random
from collections import Counter
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from cutopt.cutlist import Day, Joints, Part, Rule
from cutopt.materials import Kind, LumberRules, Offer, Per, Rules
from cutopt.measure import FOOT, INCH
from cutopt.records import Place

__all__ = ["PRICES", "SHOPS", "Scenario", "made_day"]

MATERIAL = "2x6-HF-2"
NOMINAL = (2, 6)
CLEAR = 48 * INCH

#: Dollars per thousand board feet by feet of length. Invented, in three shapes that markets have:
#: nearly level, dearer by the foot the longer, and uneven with one length scarce and one in glut.
PRICES = {
    "level": {8: 612, 10: 618, 12: 612, 14: 622, 16: 630, 18: 648, 20: 660},
    "rising": {8: 540, 10: 575, 12: 590, 14: 628, 16: 655, 18: 735, 20: 790},
    "uneven": {8: 655, 10: 590, 12: 642, 14: 705, 16: 618, 18: 772, 20: 744},
}

#: The shop's rules beside the kerf: what a format's defaults say, and joints for nothing.
SHOPS = {
    "usual": LumberRules(
        kerf=INCH // 8,
        head_trim=0,
        keep_drop=24 * INCH,
        drop_value=Decimal("0.5"),
        joint_price=Decimal("0.50"),
        joint_min_piece=32 * INCH,
    ),
    "free": LumberRules(
        kerf=INCH // 8,
        head_trim=INCH // 4,
        keep_drop=24 * INCH,
        drop_value=Decimal("0"),
        joint_price=Decimal("0"),
        joint_min_piece=0,
    ),
}


@dataclass(frozen=True)
class Scenario:
    """What a made day is made from: equal scenarios give equal days."""

    sections: int
    prices: str
    shop: str = "usual"
    seed: int = 1

    @property
    def name(self) -> str:
        """In one word."""
        return f"{self.sections}-{self.prices}-{self.shop}-{self.seed}"


class _Lists:
    """Rows of the cut lists as they are written down."""

    def __init__(self) -> None:
        self.parts: list[Part] = []

    def add(
        self, section: str, mark: str, length: int, qty: int = 1, joints: Joints | None = None
    ) -> None:
        rule = Rule.PART if joints is None else Rule.JOINTED
        place = Place("cuts/walls.csv", len(self.parts) + 2)
        self.parts.append(
            Part(
                place,
                section,
                "Wall table",
                mark,
                MATERIAL,
                length,
                None,
                qty,
                rule=rule,
                joints=joints,
            )
        )


def made_day(scenario: Scenario) -> Day:
    """The day: five jointed runs a section, so 30 runs in 6 sections and 100 in 20."""
    rng = random.Random(f"jointed runs {scenario.sections} {scenario.seed}")
    lists = _Lists()
    for s in range(scenario.sections):
        _section(lists, f"D{s + 1:02}", rng)
    offers = [_offer(i + 2, feet, scenario.prices) for i, feet in enumerate(PRICES["level"])]
    for length in (rng.randint(28 * 4, 110 * 4) * INCH // 4 for _ in range(3)):
        row = len(offers) + 2
        price = Decimal(600)
        offers.append(
            Offer(
                row, MATERIAL, Kind.LUMBER, NOMINAL, length, None, price, Per.MBF, 1, 0, lot="rack"
            )
        )
    return Day(
        scenario.name,
        "an invented plant",
        date(2026, 3, 2),
        "in",
        Rules(lumber=SHOPS[scenario.shop]),
        tuple(offers),
        tuple(lists.parts),
    )


def _offer(row: int, feet: int, prices: str) -> Offer:
    price = Decimal(PRICES[prices][feet])
    return Offer(row, MATERIAL, Kind.LUMBER, NOMINAL, feet * FOOT, None, price, Per.MBF, 0, None)


def _section(lists: _Lists, name: str, rng: random.Random) -> None:
    """Two mated plates on either long wall, one run alone; studs and what stands at openings."""
    grid = rng.choice((16, 16, 16, 24))
    first = rng.choice((grid, grid, 15.25 if grid == 16 else 23.25, 8))
    length = rng.choice((44, 48, 52, 56, 60, 64, 66)) * 12 - rng.choice((0, 0, 3.5, 7, 11))
    for wall in ("A", "B"):
        long = _inches(length - (rng.choice((0, 0, 5.5, 11)) if wall == "B" else 0))
        at = Joints(_inches(first), grid * INCH, CLEAR, f"{wall}-TIE")
        lists.add(name, f"{wall}-TOP", long, joints=at)
        at = Joints(_inches(first), grid * INCH, CLEAR, f"{wall}-TOP")
        lists.add(name, f"{wall}-TIE", long, joints=at)
    alone = rng.choice(("SOLE", "RIM", "RIDGE"))
    step = grid if alone == "SOLE" else rng.choice((16, 24))
    lists.add(name, alone, _inches(length + (24 if alone == "RIDGE" else 0)), joints=_plain(step))
    stud = rng.choice((92.625, 104.625, 116.625))
    wanted: Counter[int] = Counter()
    wanted[_inches(stud)] += round(2 * length / grid * rng.uniform(0.75, 0.95))
    for _ in range(rng.randint(3, 6)):
        opening = rng.choice((24, 30, 36, 40.5, 48, 60, 72))
        high = rng.choice((78.5, 80.75, 84))
        wanted[_inches(opening + 3)] += 2
        wanted[_inches(opening)] += rng.choice((1, 2))
        wanted[_inches(high)] += 2
        cripples = max(1, round(opening / grid))
        wanted[_inches(stud - high - 5.5)] += cripples
        if rng.random() < 0.6:
            wanted[_inches(rng.choice((28.25, 33.5, 36.125)))] += cripples
    wanted[_inches(grid - 1.5)] += rng.randint(6, 30)
    wanted[_inches(rng.randint(60, 140) + rng.choice((0, 0.25, 0.5, 0.625, 0.875)))] += 2
    wanted[_inches(rng.randint(100, 170) + rng.choice((0, 0.125, 0.375, 0.75)))] += rng.choice(
        (2, 4)
    )
    for k, (piece, qty) in enumerate(sorted(wanted.items(), reverse=True), 1):
        if piece > 0:
            lists.add(name, f"P{k}", piece, qty)


def _plain(step: int) -> Joints:
    return Joints(step * INCH, step * INCH, 0, None)


def _inches(value: float) -> int:
    """Counts for inches with a part in eighths or sixteenths, exactly."""
    return round(value * 16) * (INCH // 16)

"""One thing to measure: a day of lumber, with a name and the family that it belongs to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from cutopt.cutlist import Day, Part
from cutopt.materials import Kind, LumberRules, Offer, Rules
from cutopt.measure import INCH
from cutopt.records import Place
from tests.bench.common.days import stock_row

__all__ = ["Instance", "Size", "day_of", "made", "usual"]


@dataclass(frozen=True, slots=True)
class Size:
    """A length of stick in counts, its price each; `only` so many of it, None for no limit."""

    length: int
    price: Decimal
    only: int | None = None


@dataclass(frozen=True)
class Instance:
    """A named day. `optimum` where it is known from outside; `parts` are lumber only."""

    name: str
    family: str
    day: Day
    optimum: Fraction | None = None

    @property
    def pieces(self) -> int:
        """Parts wanted, a jointed run counting as one."""
        return sum(p.qty for p in self.day.parts)

    @property
    def lengths(self) -> int:
        """Different lengths wanted, material by material."""
        return len({(p.material, p.length) for p in self.day.parts})

    @property
    def sizes(self) -> int:
        """Rows of stock."""
        return len(self.day.offers)


def usual(
    share: str = "0", kerf: int = INCH // 8, trim: int = INCH // 4, keep: int = 24 * INCH
) -> LumberRules:
    """A shop's rules; `share` of its price is what a kept drop is worth."""
    return LumberRules(kerf=kerf, head_trim=trim, keep_drop=keep, drop_value=Decimal(share))


def offers_of(material: str, sizes: Iterable[Size], first: int = 2) -> tuple[Offer, ...]:
    """Rows of stock.csv: what is limited lies in the yard and can't be bought."""
    return tuple(
        stock_row(first + k, material, Kind.LUMBER, (size.length, None), size.price, size.only)
        for k, size in enumerate(sizes)
    )


def day_of(
    materials: Sequence[tuple[str, Sequence[Size], Sequence[tuple[int, int]], LumberRules]],
) -> Day:
    """A day of (material, sizes, (length, how many), rules)."""
    offers: list[Offer] = []
    parts: list[Part] = []
    for material, sizes, wanted, _ in materials:
        offers += offers_of(material, sizes, len(offers) + 2)
        for length, qty in wanted:
            place = Place("cuts/made.csv", len(parts) + 2)
            mark = f"P{len(parts) + 1}"
            parts.append(Part(place, "A", "wall", mark, material, length, None, qty))
    rules = Rules(lumber_of={material: shop for material, _, _, shop in materials})
    return Day("made", "a plant", date(2026, 3, 2), "mm", rules, tuple(offers), tuple(parts))


def made(
    name: str,
    family: str,
    sizes: Sequence[Size],
    wanted: Sequence[tuple[int, int]],
    shop: LumberRules,
    optimum: Fraction | None = None,
) -> Instance:
    """An instance of one material."""
    return Instance(name, family, day_of([("2x4", sizes, wanted, shop)]), optimum)

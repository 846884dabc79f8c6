"""One thing to measure: a day of sheet goods, with a name and the set that it belongs to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from cutopt.cutlist import Day, Part, Rule
from cutopt.materials import CeilingRules, FirstCut, Kind, Offer, Rules, SheetRules
from cutopt.measure import INCH
from cutopt.records import Place
from tests.bench.common.days import stock_row

__all__ = ["Instance", "Size", "Wanted", "made", "made_ceilings", "usual"]

MATERIAL = "SHEET"
CEILING = "GYP-CLG-1/2"
#: length, width, how many, whether it may be turned; measures in counts.
Wanted = tuple[int, int, int, bool]


@dataclass(frozen=True, slots=True)
class Size:
    """A sheet in counts, its price each; `only` so many of it, None for no limit."""

    length: int
    width: int
    price: Decimal
    only: int | None = None


@dataclass(frozen=True)
class Instance:
    """A named day of sheets. `cell` groups instances of a set that are promised something together.

    `optimum` is the least cost where it is known from outside; `freer` where it is known for a
    cutting rule that allows more than the day's, so that no plan may cost less but a bound may lie
    above it.
    """

    name: str
    family: str
    day: Day
    cell: str = ""
    optimum: Fraction | None = None
    freer: bool = False

    @property
    def pieces(self) -> int:
        """Parts wanted, a ceiling field or a jointed run counting as one."""
        return sum(p.qty for p in self.day.parts)

    @property
    def types(self) -> int:
        """Different parts wanted, material by material."""
        return len({(p.material, p.length, p.width, p.turn) for p in self.day.parts})

    @property
    def sizes(self) -> int:
        """Rows of stock."""
        return len(self.day.offers)

    @property
    def sheet(self) -> Fraction:
        """What the cheapest sheet that can be had without limit costs; 0 where there is none."""
        return min((o.cost for o in self.day.offers if o.available is None), default=Fraction(0))

    @property
    def plain(self) -> bool:
        """Whether every row is an ordinary part that its own material alone may give."""
        return all(p.rule is Rule.PART and not p.alt for p in self.day.parts)


def usual(
    kerf: int = INCH // 8, stages: int = 3, first: FirstCut = FirstCut.EITHER, trim: int = 0
) -> SheetRules:
    """A shop's rules; drops earn nothing."""
    return SheetRules(kerf=kerf, edge_trim=trim, stages=stages, first_cut=first)


def _offers(material: str, sizes: Iterable[Size]) -> tuple[Offer, ...]:
    """Rows of stock.csv: what is limited lies in the yard and can't be bought."""
    return tuple(
        stock_row(2 + k, material, Kind.SHEET, (s.length, s.width), s.price, s.only)
        for k, s in enumerate(sizes)
    )


def _day(offers: tuple[Offer, ...], parts: Iterable[Part], rules: Rules) -> Day:
    return Day("made", "a plant", date(2026, 3, 2), "mm", rules, offers, tuple(parts))


def made(
    name: str,
    family: str,
    sizes: Sequence[Size],
    wanted: Sequence[Wanted],
    shop: SheetRules,
    cell: str = "",
    optimum: Fraction | None = None,
    freer: bool = False,
) -> Instance:
    """An instance of one material."""
    parts = [
        Part(Place("cuts/made.csv", n + 2), "A", "wall", f"P{n + 1}", MATERIAL, a, b, qty, turn)
        for n, (a, b, qty, turn) in enumerate(wanted)
    ]
    day = _day(_offers(MATERIAL, sizes), parts, Rules(sheets=shop))
    return Instance(name, family, day, cell, optimum, freer)


def made_ceilings(
    name: str,
    family: str,
    sizes: Sequence[Size],
    fields: Sequence[tuple[int, int, int]],
    lengths: int,
    cell: str = "",
) -> Instance:
    """Ceiling fields (span, run, how many), scored boards, at most so many lengths bought."""
    parts = [
        Part(
            place=Place("cuts/made.csv", n + 2),
            section=f"S{n + 1}",
            jig="Ceiling",
            mark="CEILING",
            material=CEILING,
            length=span,
            width=run,
            qty=qty,
            rule=Rule.FULL_SPAN,
        )
        for n, (span, run, qty) in enumerate(fields)
    ]
    rules = Rules(sheets=usual(kerf=0), ceiling=CeilingRules(lengths))
    return Instance(name, family, _day(_offers(CEILING, sizes), parts, rules), cell)

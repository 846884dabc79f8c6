"""What the days ask for and what the shop offers, looked up by the words of a plan."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import pairwise

from cutopt.cutlist import Day, Part, Rule
from cutopt.materials import Kind, Offer, Per
from cutopt.measure import FOOT
from cutopt.plan.check.seen import SeenLayout, SeenMaterial, SeenPart, SeenUnplanned

__all__ = ["Asked", "PlainKey", "Shop", "SpanKey", "assign", "piece_cost"]

#: section, mark, length, width (None for lumber)
PlainKey = tuple[str, str, int, int | None]
#: section, mark, span
SpanKey = tuple[str, str, int]


class Shop:
    """The stock and the rules of the first day."""

    def __init__(self, day: Day) -> None:
        self.rules = day.rules
        self.offers: dict[int, Offer] = {o.row: o for o in day.offers}
        self.kinds: dict[str, Kind] = {o.material: o.kind for o in day.offers}

    def stock(self, material: SeenMaterial, layout: SeenLayout) -> Offer | None:
        """The offer that a layout is cut from; None where its row is none of the material's."""
        offer = self.offers.get(layout.row)
        return offer if offer is not None and offer.material == material.material else None


def piece_cost(offer: Offer) -> Fraction:
    """Dollars for one piece: by the piece, foot, 1,000 nominal board feet or square feet.

    Board feet: nominal thickness in × nominal width in × length ft / 12 (US Navy basic
    engineering course).
    """
    price = Fraction(offer.price)
    feet = Fraction(offer.length, FOOT)
    if offer.per is Per.LF:
        return price * feet
    if offer.per is Per.MBF and offer.nominal is not None:
        thick, wide = offer.nominal
        return price * thick * wide * feet / 12_000
    if offer.per is Per.MSF and offer.width is not None:
        return price * feet * Fraction(offer.width, FOOT) / 1_000
    return price


class Asked:
    """The rows of every day's cut lists, by what a plan tells of a part."""

    def __init__(self, days: Sequence[Day], shop: Shop) -> None:
        self.plain: dict[PlainKey, list[Part]] = defaultdict(list)
        self.spans: dict[SpanKey, list[Part]] = defaultdict(list)
        self.runs: dict[tuple[str, str], list[Part]] = defaultdict(list)
        self.marks: dict[tuple[str, str], list[Part]] = defaultdict(list)
        for row in (part for day in days for part in day.parts):
            self.marks[row.section, row.mark].append(row)
            if row.rule is Rule.FULL_SPAN:
                self.spans[row.section, row.mark, row.length].append(row)
            elif row.rule is Rule.JOINTED:
                self.runs[row.section, row.mark].append(row)
            else:
                lumber = shop.kinds.get(row.material) is Kind.LUMBER
                width = None if lumber else row.width
                self.plain[row.section, row.mark, row.length, width].append(row)

    def span_rows(self, part: SeenPart, material: str) -> list[Part]:
        """The ceiling fields that a part may be a row of; none where it is an ordinary part."""
        if part.run is not None:
            return []
        fields = self.spans.get((part.section, part.mark, part.length), [])
        plain = self.plain.get((part.section, part.mark, part.length, part.width), [])
        if not plain:
            return fields
        # One mark for a field and for a part of the same size: the material tells them apart.
        if any(material in row.materials for row in plain):
            return []
        return [row for row in fields if material in row.materials]

    def left_out(self, missing: SeenUnplanned, material: str) -> list[Part]:
        """The rows that an unplanned entry under `material` may speak of."""
        return [
            row
            for row in self.marks.get((missing.section, missing.mark), [])
            if row.length == missing.length
            and row.material == material
            and (missing.width is None or row.width == missing.width)
        ]


def assign(
    supply: Sequence[int], demand: Sequence[int], fits: Callable[[int, int], bool]
) -> list[int]:
    """How much of each supply can be placed in the demands that it fits, most in all.

    Largest flow by augmenting paths; the sizes here are a handful of kinds against a handful of
    rows. Returns what is left of each supply.
    """
    left = list(supply)
    room = list(demand)
    allowed = [[j for j in range(len(demand)) if fits(i, j)] for i in range(len(supply))]
    placed = [[0] * len(demand) for _ in supply]
    for i in range(len(supply)):
        while left[i]:
            path = _path(i, allowed, placed, room)
            if path is None:
                break
            gives = [placed[after[0]][at[1]] for at, after in pairwise(path)]
            amount = min([left[i], room[path[-1][1]], *gives])
            for step, (s, d) in enumerate(path):
                placed[s][d] += amount
                if step + 1 < len(path):
                    placed[path[step + 1][0]][d] -= amount
            left[i] -= amount
            room[path[-1][1]] -= amount
    return left


def _path(
    start: int, allowed: list[list[int]], placed: list[list[int]], room: list[int]
) -> list[tuple[int, int]] | None:
    """A way from a supply to free room: (supply, demand) steps, each pushing out the next."""
    came: dict[int, tuple[int, int] | None] = {start: None}
    queue = [start]
    reached: set[int] = set()
    for s in queue:
        for d in allowed[s]:
            if d in reached:
                continue
            reached.add(d)
            if room[d]:
                path = [(s, d)]
                back = came[s]
                while back is not None:
                    path.append(back)
                    back = came[back[0]]
                return path[::-1]
            for other in range(len(placed)):
                if other not in came and placed[other][d]:
                    came[other] = (s, d)
                    queue.append(other)
    return None

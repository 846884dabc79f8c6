"""Jointed runs on sheets: strips of ridge ply and the like, their pieces priced with all the rest.

A run is made of pieces; which ones is decided together with what they are cut from. In the master
a way to joint a unit of runs takes its pieces out of what the patterns cut.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cutopt.cutlist import Part
from cutopt.materials import Offer, Rules
from cutopt.measure import fits_inches
from cutopt.plan import Group, Unplanned
from cutopt.solve.demand import Piece
from cutopt.solve.runs import (
    Column,
    Cut,
    Pricer,
    Unit,
    equal_pieces,
    fewest_joints,
    pieces_of,
    reason,
    units_of,
)
from cutopt.solve.sheets.lie import rips
from cutopt.solve.sheets.points import Ints

__all__ = ["Jointed", "Way", "jointed_units", "run_pieces", "unmade"]


@dataclass(frozen=True, slots=True)
class Way:
    """One way to joint a unit: the pieces it takes, shape (kinds,), and what its joints cost."""

    unit: int
    column: Column
    cuts: Ints
    cost: Fraction


def jointed_units(
    group: Group, parts: Sequence[Part]
) -> tuple[tuple[Unit, ...], tuple[tuple[str, Unplanned], ...]]:
    """The units that can be made, and why the others can't."""

    def longest(part: Part) -> int:
        return max((_longest(part, o, group.rules) for o in group.offers), default=0)

    units: list[Unit] = []
    unplanned: list[tuple[str, Unplanned]] = []
    for unit in units_of(parts, group.rules, longest):
        inches = all(fits_inches(r.length) and fits_inches(r.step) for r in unit.runs)
        why = reason(unit, "in" if inches else "mm")
        if why is None:
            units.append(unit)
        else:
            unplanned += unmade(unit, unit.copies, why)
    return tuple(units), tuple(unplanned)


def _longest(part: Part, offer: Offer, rules: Rules) -> int:
    """The longest piece of a run that an offer gives; 0 for none."""
    if offer.material not in part.materials or offer.available == 0 or offer.width is None:
        return 0
    edge = rules.for_sheets(offer.material).edge_trim
    length, width = offer.length - 2 * edge, offer.width - 2 * edge
    across = part.width or 0
    lies = across <= width and rips(across, offer, rules)
    turned = part.turn and across <= length and rips(width, offer, rules)
    return max(length if lies else 0, width if turned else 0, 0)


def unmade(unit: Unit, copies: int, why: str) -> list[tuple[str, Unplanned]]:
    """The runs of a unit's last copies as parts that could not be planned."""
    count: dict[int, tuple[Part, int]] = {}
    for members in unit.members[unit.copies - copies :]:
        for member in members:
            part, n = count.get(id(member.part), (member.part, 0))
            count[id(member.part)] = (part, n + 1)
    return [
        (p.material, Unplanned(p.section, p.mark, p.length, p.width, n, why))
        for p, n in count.values()
    ]


def run_pieces(units: Sequence[Unit], ways: Sequence[tuple[Way, int]]) -> list[Piece]:
    """The pieces of the chosen ways; equal units are given to the runs in order."""
    pieces: list[Piece] = []
    used: dict[int, int] = defaultdict(int)
    for way, count in ways:
        unit = units[way.unit]
        for _ in range(count):
            members = unit.members[used[way.unit]]
            used[way.unit] += 1
            pieces += pieces_of(unit, way.column.joints, members)
    return pieces


class Jointed:
    """The units of a group with what prices them.

    Units whose joints cost the same share a pricer. A unit that may be cut from several materials
    counts the cheapest of their joint prices.
    """

    def __init__(self, units: Sequence[Unit], rules: Rules) -> None:
        self.units = tuple(units)
        self.copies: Ints = np.array([u.copies for u in units], dtype=np.int64)
        prices: dict[Fraction, list[int]] = defaultdict(list)
        for n, unit in enumerate(units):
            names = {m for run in unit.runs for m in run.materials}
            prices[min(Fraction(rules.for_lumber(m).joint_price) for m in names)].append(n)
        self.prices = tuple(prices)
        self._classes = [(p, ns, Pricer([units[n] for n in ns])) for p, ns in prices.items()]
        #: Joints between pieces of different materials are counted by no material.
        self.uncounted = sum(
            (
                price * units[n].copies * sum(len(r.materials) - 1 for r in units[n].runs)
                for price, ns in prices.items()
                for n in ns
            ),
            Fraction(0),
        )
        self._kinds = 0
        self._at: list[list[int]] = []

    def __bool__(self) -> bool:
        return bool(self.units)

    def extra(self) -> dict[Cut, int]:
        """Every piece that can occur, and the most of it that all units together can use."""
        most: dict[Cut, int] = {}
        for _, ns, pricer in self._classes:
            for cut in pricer.cuts:
                n = sum(
                    self.units[k].copies * sum(r.length // cut.length for r in self.units[k].runs)
                    for k in ns
                )
                most[cut] = most.get(cut, 0) + n
        return most

    def bind(self, kind_of: Mapping[Cut, int], kinds: int) -> None:
        """Say which kind each piece is."""
        self._kinds = kinds
        self._at = [[kind_of[c] for c in pricer.cuts] for _, _, pricer in self._classes]

    def _way(self, number: int, column: Column) -> Way:
        price, ns, _ = self._classes[number]
        cuts = np.zeros(self._kinds, dtype=np.int64)
        for i, q in column.cuts:
            cuts[self._at[number][i]] += q
        return Way(ns[column.unit], column, cuts, price * column.joint_count)

    def first(self) -> list[Way]:
        """Plain ways to begin with: fewest joints, and pieces as equal as can be."""
        return [
            self._way(number, column)
            for number, (_, _, pricer) in enumerate(self._classes)
            for column in (*fewest_joints(pricer), *equal_pieces(pricer))
            if column is not None
        ]

    def price(self, worth: Ints, scale: int, near: int = 1) -> tuple[list[int], list[Way]]:
        """At integer worths: per unit the least that a way is worth, and the best ways.

        Parameters
        ----------
        worth
            Per kind, dollars × `scale`.
        near
            At most so many ways of each unit.
        """
        least = [0] * len(self.units)
        ways: list[Way] = []
        for number, (price, ns, pricer) in enumerate(self._classes):
            values = worth[self._at[number]]
            priced = pricer.price(values, int(price * scale))
            for k, n in enumerate(ns):
                least[n] = int(priced.bound[k])
                found = [priced.column(k)] if near == 1 else priced.near(k, near)
                ways += [self._way(number, c) for c in found if c is not None]
        return least, ways

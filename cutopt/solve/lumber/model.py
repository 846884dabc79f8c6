"""What the stick solver sees of a group: kinds of pieces, sizes of stick, and a grid per material.

On a grid a part takes part + kerf and a stick holds usable + kerf, so that n parts take n kerfs
with a drop left and fewer where they come out exact. Both are divided by the greatest common
divisor of the parts: what a stick has beyond a whole number of units can hold nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

import numpy as np
from numpy.typing import NDArray

from cutopt.materials import Offer
from cutopt.plan import Group
from cutopt.solve.demand import Item

__all__ = ["Bools", "Cuts", "Grid", "Ints", "Kind", "Model", "Pattern", "Stock", "model_of"]

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

#: (kind, how many), in order of the kind, which is longest first.
Cuts = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True, order=True)
class Kind:
    """Pieces of equal length and equal allowed materials."""

    length: int
    materials: tuple[str, ...]


@dataclass(frozen=True)
class Grid:
    """The lengths of one material in whole units.

    Parameters
    ----------
    unit
        Counts of 1/1600 mm in a unit.
    keep, share
        The least drop that is kept, in counts, and the share of its price that it is worth.
    most
        Most parts from one stick; None where that binds nowhere.
    kinds : array
        The kinds that may be cut from it and fit some stick, longest first.
    weight : array
        Part + kerf of each of them, in units.
    least : int
        The shortest piece that the last cut of a stick may leave, in counts.
    """

    material: str
    unit: int
    keep: int
    share: Fraction
    most: int | None
    kinds: Ints
    weight: Ints
    least: int


@dataclass(frozen=True, slots=True)
class Stock:
    """One size of stick at one price: offers that differ in row or lot alone are one stock.

    `room` is what parts may use + kerf in units of its material's grid, rounded down; `usable` is
    the squared stick in counts, over-length included, from which drops are measured; `available`
    None where there is no limit. Where a shortest piece may be left at the saw, a stick is used up
    to `safe` units, which leaves enough, or from `full` on, which leaves nothing, and never
    between them; elsewhere `safe` is the whole room.
    """

    grid: int
    offers: tuple[Offer, ...]
    length: int
    cost: Fraction
    available: int | None
    usable: int
    room: int
    safe: int
    full: int

    @property
    def over(self) -> int:
        """What of the length parts may not use."""
        return self.offers[0].over


@dataclass(frozen=True, slots=True)
class Pattern:
    """What is cut from one stick, the units it uses, its cost less the credit for its drop."""

    stock: int
    cuts: Cuts
    used: int
    cost: Fraction


class Model:
    """Kinds and sticks of a group.

    Attributes
    ----------
    need : array, shape (kinds,)
        Pieces wanted of each kind, those of jointed runs left out.
    joined : array, shape (kinds,)
        Kinds that jointed runs may ask for beyond `need`.
    stocks_of : list
        The stocks of each grid.
    ruled : list of bool
        Whether what is left of some stick of each grid can be too short.
    tight : array, shape (kinds,)
        Kinds so short that without one of them a stick may have too little left: where one is cut
        too many, it can't simply be left out.
    """

    def __init__(
        self,
        kinds: Sequence[Kind],
        need: Ints,
        joined: Bools,
        grids: Sequence[Grid],
        stocks: Sequence[Stock],
    ) -> None:
        self.kinds = tuple(kinds)
        self.need = need
        self.joined = joined
        self.grids = tuple(grids)
        self.stocks = tuple(stocks)
        self._weight = [
            dict(zip(g.kinds.tolist(), g.weight.tolist(), strict=True)) for g in self.grids
        ]
        self._slope = [self.grids[s.grid].share * s.cost / s.length for s in self.stocks]
        self.stocks_of = [
            [k for k, s in enumerate(self.stocks) if s.grid == g] for g in range(len(self.grids))
        ]
        self.ruled = [any(not self._any_use(k) for k in at) for at in self.stocks_of]
        self.tight = np.zeros(len(self.kinds), bool)
        for grid, ruled in zip(self.grids, self.ruled, strict=True):
            if ruled:
                short = [self.kinds[i].length < grid.least for i in grid.kinds.tolist()]
                self.tight[grid.kinds] |= np.array(short, bool)

    def wanting(self, need: Ints) -> Model:
        """The same kinds and sticks for another need."""
        return Model(self.kinds, need, self.joined, self.grids, self.stocks)

    def weight(self, grid: int, kind: int) -> int | None:
        """Part + kerf in the grid's units; None where the kind can't be cut from it."""
        return self._weight[grid].get(kind)

    def slope(self, stock: int) -> Fraction:
        """The credit for each count of a drop that is kept."""
        return self._slope[stock]

    def _any_use(self, stock: int) -> bool:
        return self.stocks[stock].safe >= self.stocks[stock].room

    def allows(self, stock: int, used: int) -> bool:
        """Whether the saw may be left with what a stick has beside so many used units."""
        s = self.stocks[stock]
        return used <= s.safe or s.full <= used <= s.room

    def cost(self, stock: int, used: int) -> Fraction:
        """Exact dollars for a stick of which so many units are used, its drop credited."""
        s = self.stocks[stock]
        grid = self.grids[s.grid]
        drop = s.usable - used * grid.unit
        if drop <= 0 or drop < grid.keep:
            return s.cost
        return s.cost - self._slope[stock] * drop

    def pattern(self, stock: int, cuts: Mapping[int, int] | Iterable[tuple[int, int]]) -> Pattern:
        """A pattern from its pieces, which must fit."""
        weight = self._weight[self.stocks[stock].grid]
        pairs = sorted((i, q) for i, q in dict(cuts).items() if q)
        used = sum(weight[i] * q for i, q in pairs)
        return Pattern(stock, tuple(pairs), used, self.cost(stock, used))

    def holds(self, stock: int, kind: int) -> bool:
        """Whether a stick is long enough for a piece, whatever else is cut from it."""
        s = self.stocks[stock]
        weight = self._weight[s.grid].get(kind)
        return weight is not None and weight <= s.room

    def fits(self, stock: int, cuts: Cuts) -> bool:
        """Whether these pieces, and no more, can be cut from one stick."""
        s = self.stocks[stock]
        most = self.grids[s.grid].most
        weight = self._weight[s.grid]
        if any(i not in weight for i, _ in cuts):
            return False
        if most is not None and sum(q for _, q in cuts) > most:
            return False
        used = sum(weight[i] * q for i, q in cuts)
        return used <= s.room and self.allows(stock, used)


def model_of(group: Group, items: Sequence[Item], extra: Iterable[Kind] = ()) -> Model:
    """The model of items that each fit some stick.

    Parameters
    ----------
    items
        The demand. Kind i is item i where `extra` adds none.
    extra
        Kinds that jointed runs may be cut into, which are wanted beside.
    """
    need: dict[Kind, int] = {}
    for item in items:
        kind = Kind(item.length, item.materials)
        need[kind] = need.get(kind, 0) + item.demand
    joined = set(extra)
    kinds = sorted({*need, *joined}, key=lambda k: (-k.length, k.materials))
    grids: list[Grid] = []
    stocks: list[Stock] = []
    for material in group.materials:
        offers = [o for o in group.offers if o.material == material and o.available != 0]
        grid = _grid(group, material, kinds, offers)
        if grid is not None:
            grids.append(grid)
            least = min(kinds[i].length for i in grid.kinds.tolist())
            stocks += _stocks(group, material, len(grids) - 1, grid.unit, least, offers)
    return Model(
        kinds,
        np.array([need.get(k, 0) for k in kinds], np.int64),
        np.array([k in joined for k in kinds], bool),
        grids,
        stocks,
    )


def _grid(
    group: Group, material: str, kinds: Sequence[Kind], offers: Sequence[Offer]
) -> Grid | None:
    """The grid of a material; None where nothing can be cut from it."""
    rules = group.rules.for_lumber(material)
    longest = max((o.counts_as - rules.head_trim for o in offers), default=0)
    inside = [i for i, k in enumerate(kinds) if material in k.materials and k.length <= longest]
    if not inside:
        return None
    weight = [kinds[i].length + rules.kerf for i in inside]
    unit = gcd(*weight)
    binds = bool(0 < rules.max_parts < (longest + rules.kerf) // min(weight))
    return Grid(
        material=material,
        unit=unit,
        keep=rules.keep_drop,
        share=Fraction(rules.drop_value),
        most=rules.max_parts if binds else None,
        kinds=np.array(inside, np.int64),
        weight=np.array(weight, np.int64) // unit,
        least=rules.least_left,
    )


def _stocks(
    group: Group, material: str, grid: int, unit: int, least: int, offers: Sequence[Offer]
) -> list[Stock]:
    rules = group.rules.for_lumber(material)
    same: dict[tuple[int, int, Fraction], list[Offer]] = {}
    for offer in offers:
        if offer.counts_as - rules.head_trim >= least:
            same.setdefault((offer.length, offer.counts_as, offer.cost), []).append(offer)
    stocks = []
    for (length, counts_as, cost), members in same.items():
        usable = length - rules.head_trim
        counts = [o.available for o in members]
        available = None if None in counts else sum(c for c in counts if c is not None)
        room = (counts_as - rules.head_trim + rules.kerf) // unit
        safe, full = _uses(usable, rules.least_left, unit, room)
        stocks.append(
            Stock(grid, tuple(members), length, cost, available, usable, room, safe, full)
        )
    return stocks


def _uses(usable: int, least: int, unit: int, room: int) -> tuple[int, int]:
    """The most units that leave at least `least`, and the fewest that leave nothing."""
    safe, full = max(0, (usable - least) // unit), -(-usable // unit)
    return (room, room) if safe >= min(room, full - 1) else (safe, full)

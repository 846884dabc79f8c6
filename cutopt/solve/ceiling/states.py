"""Offers bought from or not, with a price on what limits them: the relaxation of a ceiling.

Once it is decided which offers are bought from, rows and boards are tied together by stock alone:
what lies in the yard, what can be had, what the mill sells at least. Each of these ties is given a
price, and what is left falls apart into fields: each takes its cheapest mix, each row the cheapest
board that covers it. So for any prices whatever every choice of offers has a proved bound, in
whole numbers; the prices only decide how near it comes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import chain, combinations

from cutopt.materials import Offer
from cutopt.solve.ceiling.model import BoardModel

__all__ = [
    "Option",
    "Prices",
    "Relaxed",
    "State",
    "given_back",
    "governed",
    "options_of",
    "price_of",
]

#: Ways to buy a length in one width or another.
_MOST_OPTIONS = 16

#: An offer by index, and whether it is bought from.
State = tuple[int, bool]


@dataclass(slots=True)
class Prices:
    """Per state the price of a board beyond its own, and per offer what a least order gives back.

    `tie` ≥ 0 is taken for every board of a state and given back for as many as can be had. Of an
    offer with a least order `share`, from 0 to its price, is taken off every board and charged for
    the least order instead.
    """

    tie: dict[State, int] = field(default_factory=dict)
    share: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Option:
    """A way to treat a length: `states` of its offers, and whether it counts as bought."""

    states: tuple[State, ...]
    counts: bool

    @property
    def opened(self) -> tuple[int, ...]:
        """The offers that are bought from."""
        return tuple(i for i, bought in self.states if bought)


@dataclass(frozen=True, slots=True)
class Relaxed:
    """The least of the relaxation: which offers are bought from, what each state cuts, mixes.

    `used` counts boards per state, `laid` the mix of each field.
    """

    bound: int
    states: tuple[State, ...]
    used: dict[State, int]
    laid: tuple[int, ...]


def governed(build: BoardModel) -> str | None:
    """The one material whose lengths or least orders are to be chosen; None if none or several."""
    names = set(build.lengths) & {name for name, _ in build.bought}
    names |= {build.group.offers[i].material for i in build.opened}
    if len(names) != 1 or build.shorts:
        return None
    return next(iter(names))


def options_of(build: BoardModel, material: str) -> list[tuple[int, tuple[Option, ...]]] | None:
    """Per length of the material, longest first, the ways to treat it; None where too many."""
    offers = build.group.offers
    cut = {i for i, _, _ in build.cut}
    lengths: dict[int, list[int]] = defaultdict(list)
    for i in build.used:
        if offers[i].material == material and i in cut:
            lengths[offers[i].length].append(i)
    found = []
    limited = material in build.lengths
    for length in sorted(lengths, reverse=True):
        members = lengths[length]
        free = [i for i in members if _sold(offers[i]) and i not in build.opened]
        gated = [i for i in members if i in build.opened]
        options: list[Option] = []
        must = (material, length) in build.forced
        if not must and (limited or not free):
            options.append(Option(_states(offers, members, ()), False))
        for some in chain.from_iterable(combinations(gated, n) for n in range(len(gated) + 1)):
            opened = {*free, *some}
            if opened or must:
                options.append(Option(_states(offers, members, opened), limited))
        if len(options) > _MOST_OPTIONS:
            return None
        found.append((length, tuple(options)))
    return found


def _sold(offer: Offer) -> bool:
    return offer.limit is None or offer.limit >= max(1, offer.min_order)


def price_of(build: BoardModel, prices: Prices, state: State) -> int:
    """What is added to a board's cost in a state."""
    i, bought = state
    return prices.tie.get(state, 0) - (prices.share.get(i, 0) if bought else 0)


def given_back(build: BoardModel, prices: Prices, state: State) -> int:
    """What a state's prices come to for all that can be had and must be bought."""
    i, bought = state
    o = build.group.offers[i]
    had = o.on_hand + (o.limit or 0 if bought else 0)
    share = prices.share.get(i, 0) * o.min_order if bought else 0
    return share - prices.tie.get(state, 0) * had


def _states(
    offers: tuple[Offer, ...], members: Iterable[int], opened: Iterable[int]
) -> tuple[State, ...]:
    bought = set(opened)
    return tuple((i, i in bought) for i in members if i in bought or offers[i].on_hand)

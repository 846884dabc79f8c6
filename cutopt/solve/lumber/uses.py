"""From patterns to sticks: which offers they come from, where each part lies, what is left."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from cutopt.materials import Offer
from cutopt.plan import Drop, Group
from cutopt.plan.value import keeps
from cutopt.solve.demand import Item
from cutopt.solve.lumber.model import Cuts, Kind, Model, Pattern
from cutopt.solve.outcome import Spot, Use

__all__ = ["lot_age", "uses_of"]

_NUMBER = re.compile(r"(\d+)", re.ASCII)
#: Month, day, year.
_AMERICAN_DATE = re.compile(r"(\d\d?)[/-](\d\d?)[/-](\d{4})", re.ASCII)


def uses_of(
    group: Group, model: Model, patterns: Mapping[Pattern, int], items: Sequence[Item]
) -> tuple[Use, ...]:
    """The uses of a plan; `items` are what its kinds became, in any order."""
    index = {Kind(item.length, item.materials): i for i, item in enumerate(items)}
    item_of = [index.get(kind, -1) for kind in model.kinds]
    sources = [_sources(s.offers) for s in model.stocks]
    pending: list[tuple[Offer, int] | None] = [None] * len(sources)
    uses: list[Use] = []
    for pattern, count in patterns.items():
        left = count
        while left:
            offer, have = pending[pattern.stock] or next(sources[pattern.stock])
            n = min(left, have)
            pending[pattern.stock] = (offer, have - n) if have > n else None
            uses.append(_use(group, model, offer, pattern.cuts, item_of, n))
            left -= n
    return tuple(_joined(uses))


def _sources(offers: tuple[Offer, ...]) -> Iterator[tuple[Offer, int]]:
    """(offer, how many) in the order of taking: the yard first, the older lot and row first."""
    order = sorted(offers, key=lambda o: (lot_age(o.lot), o.row))
    for offer in order:
        if offer.on_hand:
            yield offer, offer.on_hand
    for offer in order:
        if offer.limit is None:
            yield offer, 1 << 62
        elif offer.limit:
            yield offer, offer.limit


def lot_age(lot: str | None) -> tuple[bool, tuple[tuple[bool, int, str], ...]]:
    """A key that puts the older lot first, as far as its words tell; no lot comes last.

    Lots are free text: numbers and dates in them are taken as numbers, so that L9 comes before L10
    and 2026-3-2 before 2026-03-10; a date may also be written month/day/year, as in the US. What
    has a number where another has a word comes first; capitals mean nothing.
    """
    if lot is None or not lot.strip():
        return True, ()
    text = _AMERICAN_DATE.sub(r"\3-\1-\2", lot.strip().casefold())
    words = (w for w in _NUMBER.split(text) if w)
    return False, tuple(
        (False, int(w), "") if w.isascii() and w.isdigit() else (True, 0, w) for w in words
    )


def _joined(uses: list[Use]) -> Iterator[Use]:
    """Equal sticks of one offer together: the yard's and the bought ones."""
    counts: dict[tuple[int, tuple[Spot, ...]], Use] = {}
    for use in uses:
        key = (use.offer.row, use.spots)
        old = counts.get(key)
        n = use.count + (old.count if old else 0)
        counts[key] = Use(use.offer, use.spots, use.drops, n)
    yield from counts.values()


def _use(
    group: Group, model: Model, offer: Offer, cuts: Cuts, item_of: Sequence[int], count: int
) -> Use:
    rules = group.rules.for_lumber(offer.material)
    usable = offer.length - rules.head_trim
    spots: list[Spot] = []
    x = 0
    for i, q in cuts:
        for _ in range(q):
            spots.append(Spot(item_of[i], x))
            x += model.kinds[i].length + rules.kerf
    drop = usable - x
    drops = (Drop(x, 0, drop, None, keeps(offer, drop, None, group.rules)),) if drop > 0 else ()
    return Use(offer, tuple(spots), drops, count)

"""From a plan over kinds and sheets back to items and rows of stock.csv."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from cutopt.materials import Offer, Rules
from cutopt.solve.demand import Item
from cutopt.solve.outcome import Spot, Use
from cutopt.solve.sheets.dive import Chosen
from cutopt.solve.sheets.layout import lay
from cutopt.solve.sheets.model import Kind, Model, Want, want_of

__all__ = ["uses_of"]


class _Members:
    """The items of a kind, handed out in order."""

    def __init__(self, kind: Kind, index: Mapping[Want, int], items: Sequence[Item]) -> None:
        self._left = [
            [index[want], swapped, items[index[want]].demand]
            for want, swapped in kind.members
            if want in index
        ]

    def offer(self, spots: int, copies: int) -> tuple[list[tuple[int, bool]], int]:
        """Items for `spots` places on each sheet, and for how many equal sheets they last."""
        chosen: list[tuple[int, bool]] = []
        for i, swapped, left in self._left:
            places = min(spots - len(chosen), left)
            if places > 0:
                chosen += [(i, bool(swapped))] * places
                copies = min(copies, left // places)
        return chosen, copies

    def take(self, chosen: Sequence[tuple[int, bool]], copies: int) -> None:
        """Hand out what `offer` showed, `copies` times."""
        for i, n in Counter(i for i, _ in chosen).items():
            for entry in self._left:
                if entry[0] == i:
                    entry[2] -= n * copies


class _Stock:
    """The rows behind a sheet: what lies in the yard first, then what can be bought."""

    def __init__(self, offers: Sequence[Offer]) -> None:
        self._left: list[tuple[Offer, int | None]] = [
            (o, o.on_hand) for o in sorted(offers, key=lambda o: o.row) if o.on_hand
        ]
        self._left += [(o, o.limit) for o in sorted(offers, key=lambda o: o.row) if o.limit != 0]

    def take(self, count: int) -> list[tuple[Offer, int]]:
        """Rows for `count` sheets."""
        rows: list[tuple[Offer, int]] = []
        while count:
            offer, left = self._left[0]
            n = count if left is None else min(count, left)
            rows.append((offer, n))
            count -= n
            if left is not None:
                self._left[0] = (offer, left - n)
                if left == n:
                    self._left.pop(0)
        return rows


def uses_of(
    chosen: Sequence[Chosen],
    model: Model,
    items: Sequence[Item],
    rules: Rules,
    thorough: bool = True,
) -> tuple[Use, ...]:
    """The uses of a plan, every place given to an item, every sheet to a row of stock.

    `thorough`: whether parts may leave their strips for larger drops (`layout.lay`).
    """
    index = {want_of(item): n for n, item in enumerate(items)}
    members = [_Members(kind, index, items) for kind in model.kinds]
    stock = [_Stock(s.offers) for s in model.sheets]
    counted: dict[tuple[Offer, tuple[Spot, ...]], int] = {}
    drops = {}
    for c in chosen:
        placed, left_over = lay(c.pattern, model, rules, thorough)
        wanted = Counter(kind for kind, _, _ in placed)
        rest = c.count
        while rest:
            copies = rest
            given: dict[int, list[tuple[int, bool]]] = {}
            for kind, n in wanted.items():
                given[kind], copies = members[kind].offer(n, copies)
            for kind, taken in given.items():
                members[kind].take(taken, copies)
            queue = {kind: iter(taken) for kind, taken in given.items()}
            spots = []
            for kind, turned, rect in placed:
                item, swapped = next(queue[kind])
                spots.append(Spot(item, rect.x, rect.y, turned != swapped))
            for offer, n in stock[c.pattern.sheet].take(copies):
                key = (offer, tuple(spots))
                counted[key] = counted.get(key, 0) + n
                drops[key] = left_over
            rest -= copies
    return tuple(Use(offer, spots, drops[offer, spots], n) for (offer, spots), n in counted.items())

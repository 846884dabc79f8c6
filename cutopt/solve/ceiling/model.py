"""Which boards are bought for all fields of a group together: one model, widths and lengths in one.

Variables: copies of a field laid in each mix of widths; boards of each offer cut to each kind of
row; whether a length is bought; of an offer that the mill sells no fewer of than `min_order`,
whether it is bought, and what is bought beyond what is cut. Equal fields are one, so that the
model does not grow with the line.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from math import ceil, floor, lcm

from cutopt.materials import Offer
from cutopt.plan import Group
from cutopt.solve.ceiling.fields import Field, laid_rows
from cutopt.solve.ceiling.tree import IntegerModel
from cutopt.solve.sums import next_sum

__all__ = ["BoardModel", "Price", "RowKey"]

_FINEST = 10**7

#: (offer, span, finished width): dollars for a board cut to that row, less what its rest earns.
Price = Callable[[Offer, int, int], Fraction]
#: material, board width, span, finished width
RowKey = tuple[str, int, int, int]


class BoardModel:
    """The integer model and what its variables mean.

    Parameters
    ----------
    lengths
        Per material, most different lengths that may be bought; 0 for no limit.
    forced
        (material, length) that count as bought whatever the fields need.
    shorts
        Whether fields may be left out, at a cost above all else.
    price
        What a board cut to a row costs, where that is not its price: then rows are told apart by
        their finished widths, and it is never above the price.
    own
        Per offer, most boards of each pattern of other parts that is cut from boards without a
        row: variables of `own`, bought like the rest.
    """

    def __init__(
        self,
        group: Group,
        fields: Sequence[Field],
        lengths: dict[str, int],
        forced: frozenset[tuple[str, int]],
        shorts: bool,
        price: Price | None = None,
        own: Mapping[int, Sequence[int]] | None = None,
    ) -> None:
        self.group, self.fields, self.shorts = group, fields, shorts
        self.price = price
        self._own = own or {}
        self.model = IntegerModel()
        self.used = [
            i for i, o in enumerate(group.offers) if o.available != 0 and o.width is not None
        ]
        unit = lcm(*(group.offers[i].cost.denominator for i in self.used))
        self.unit = unit if unit <= _FINEST else _FINEST
        #: Whole and rounded down: what a plan costs at least is proved with them.
        self.costs = [floor(o.cost * self.unit) for o in group.offers]
        #: Per material, most lengths to buy; no entry where there is no limit.
        self.lengths = {m: n for m, n in lengths.items() if n}
        for name, length in forced:
            offered = any(o.material == name and o.length == length for o in self._boards_in_use())
            if name in self.lengths and not offered:
                self.lengths[name] -= 1
        self._mixes()
        self._boards()
        self.forced = frozenset(key for key in forced if key in self.bought)
        for key in self.forced:
            self.model.row({self.bought[key]: 1}, 1)
        dear = {self.model.cost[v] for v in self.short} if shorts else set()
        self._sums = [Fraction(c) for c in sorted({self.costs[i] for i in self.used} | dear)]

    @property
    def plain(self) -> bool:
        """Whether a board costs the same whatever row it is cut to."""
        return self.price is None

    def _boards_in_use(self) -> list[Offer]:
        spans = [f.span for f in self.fields]
        offers = (self.group.offers[i] for i in self.used)
        return [o for o in offers if spans and o.length >= min(spans)]

    def row_cost(self, i: int, span: int, finished: int) -> int:
        """What a board of offer `i` cut to a row costs, rounded down."""
        if self.price is None:
            return self.costs[i]
        return floor(self.price(self.group.offers[i], span, finished) * self.unit)

    def _mixes(self) -> None:
        m = self.model
        # A field left out costs more than a board dearer than any for every row that it has, and
        # more than all that the mill's least orders could add.
        dear = 4 * max((self.costs[i] for i in self.used), default=1) + 1
        dear += sum(self.costs[i] * self.group.offers[i].min_order for i in self.used)
        self.laid: list[list[int]] = []
        self.short: list[int] = []
        #: Rows wanted of a kind: variable and rows per copy.
        self.rows: dict[RowKey, dict[int, int]] = defaultdict(dict)
        self.most: dict[RowKey, int] = defaultdict(int)
        for f in self.fields:
            variables = []
            needed = max(sum(n for _, n in mix.rows) for mix in f.mixes)
            per: dict[RowKey, int] = defaultdict(int)
            for mix in f.mixes:
                v = m.variable(0, f.copies)
                variables.append(v)
                found: dict[RowKey, int] = defaultdict(int)
                for width, finished, n in laid_rows(mix, f.run):
                    kind = width if self.plain else finished
                    found[mix.material, width, f.span, kind] += n
                for key, n in found.items():
                    self.rows[key][v] = n
                    per[key] = max(per[key], n)
            for key, n in per.items():
                self.most[key] += n * f.copies
            short = m.variable(dear * needed, f.copies if self.shorts else 0)
            m.loose[short] = f.copies
            m.row({**dict.fromkeys(variables, 1), short: 1}, f.copies, exact=True)
            self.laid.append(variables)
            self.short.append(short)

    def _boards(self) -> None:
        m = self.model
        offers = self.group.offers
        self.bought: dict[tuple[str, int], int] = {}
        #: Offers with a least order: whether any is bought, and what is bought beyond what is cut.
        self.opened: dict[int, int] = {}
        self.surplus: dict[int, int] = {}
        self.cut: dict[tuple[int, int, int], int] = {}
        of_row: dict[RowKey, list[int]] = defaultdict(list)
        of_offer: dict[int, list[int]] = defaultdict(list)
        for (material, width, span, finished), most in self.most.items():
            for i in self.used:
                o = offers[i]
                if o.material == material and o.width == width and o.length >= span:
                    had = most if o.available is None else min(most, o.available)
                    v = m.variable(self.row_cost(i, span, finished), had)
                    self.cut[i, span, finished] = v
                    of_row[material, width, span, finished].append(v)
                    of_offer[i].append(v)
        for key, per in self.rows.items():
            terms = dict.fromkeys(of_row[key], 1) | {v: -n for v, n in per.items()}
            m.row(terms, 0, exact=True)
        self.own: dict[int, list[int]] = {}
        for i, uppers in self._own.items():
            self.own[i] = [m.variable(self.costs[i], n) for n in uppers]
            of_offer[i] += self.own[i]
        for i, variables in of_offer.items():
            self._stock(i, variables)
        for material, most in self.lengths.items():
            ys = [y for (name, _), y in self.bought.items() if name == material]
            m.row(dict.fromkeys(ys, -1), -max(most, 0))

        #: For each kind of row the offers that cover it, cheapest first: (index, its variable).
        self.fitting = {
            key: sorted(
                (
                    (i, self.cut[i, key[2], key[3]])
                    for i in self.used
                    if (i, key[2], key[3]) in self.cut
                    and offers[i].material == key[0]
                    and offers[i].width == key[1]
                ),
                key=lambda e: (m.cost[e[1]], offers[e[0]].length, e[0]),
            )
            for key in self.rows
        }

    def _stock(self, i: int, variables: list[int]) -> None:
        """No more boards than can be had; bought ones as the mill sells them."""
        m, o = self.model, self.group.offers[i]
        room = sum(m.upper[v] for v in variables)
        more = room if o.limit is None else min(o.limit, room)
        if o.limit is not None and o.limit < o.min_order:
            more = 0
        gate = None
        if o.material in self.lengths and o.limit != 0:
            gate = self._length(o)
        if o.min_order and more:
            z = self.opened[i] = m.variable(0, 1, first=True)
            beyond = self.surplus[i] = m.variable(self.costs[i], o.min_order)
            m.row({**dict.fromkeys(variables, 1), beyond: 1, z: -o.min_order}, 0)
            if gate is not None:
                m.row({gate: 1, z: -1}, 0)
            gate = z
        if gate is None:
            m.row(dict.fromkeys(variables, -1), -(o.on_hand + more))
            return
        m.row(dict.fromkeys(variables, -1) | {gate: more}, -o.on_hand)
        for v in variables:
            if m.upper[v] > o.on_hand:
                m.row({v: -1, gate: min(more, m.upper[v] - o.on_hand)}, -o.on_hand)

    def round_up(self, bound: int) -> int:
        """The least cost that a plan can have from a bound on."""
        if not self.plain:
            return bound
        return ceil(next_sum(Fraction(bound), self._sums))

    def _length(self, offer: Offer) -> int:
        key = (offer.material, offer.length)
        if key not in self.bought:
            self.bought[key] = self.model.variable(0, 1, first=True)
        return self.bought[key]

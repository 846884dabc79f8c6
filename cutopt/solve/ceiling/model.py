"""Which boards are bought for all fields of a group together: one model, widths and lengths in one.

Variables: copies of a field laid in each mix of widths; boards of each offer cut to each span;
whether a length is bought. Equal fields are one, so that the model does not grow with the line.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from fractions import Fraction
from math import ceil, floor, lcm

import numpy as np
from numpy.typing import NDArray

from cutopt.materials import Offer
from cutopt.plan import Drop, Group
from cutopt.plan.value import drop_credit, keeps
from cutopt.solve.ceiling.fields import Field, Mix
from cutopt.solve.ceiling.tree import IntegerModel
from cutopt.solve.sums import next_sum

__all__ = ["BoardModel", "Rounder"]

_FINEST = 10**7


class BoardModel:
    """The integer model and what its variables mean."""

    def __init__(
        self,
        group: Group,
        fields: Sequence[Field],
        lengths: dict[str, int],
        forced: frozenset[tuple[str, int]],
        shorts: bool,
    ) -> None:
        self.group, self.fields, self.shorts = group, fields, shorts
        self.model = IntegerModel()
        self.used = [
            i for i, o in enumerate(group.offers) if o.available != 0 and o.width is not None
        ]
        unit = lcm(*(group.offers[i].cost.denominator for i in self.used))
        self.unit = unit if unit <= _FINEST else _FINEST
        self.costs = [floor(o.cost * self.unit) for o in group.offers]
        self.plain = not any(self._share(m) for m in group.materials)
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

    def _boards_in_use(self) -> list[Offer]:
        spans = [f.span for f in self.fields]
        offers = (self.group.offers[i] for i in self.used)
        return [o for o in offers if spans and o.length >= min(spans)]

    def _share(self, material: str) -> Fraction:
        return Fraction(self.group.rules.for_sheets(material).drop_value)

    def _full_row(self, offer: Offer, span: int) -> int:
        """What a board cut to a full row costs less its kept over-length, rounded down."""
        rule = self.group.rules.for_sheets(offer.material)
        over, width = offer.length - span - rule.kerf, offer.width or 0
        if not rule.drop_value or not keeps(offer, over, width, self.group.rules):
            return self.costs[self.group.offers.index(offer)]
        drop = Drop(0, 0, over, width, True)
        return floor((offer.cost - drop_credit(offer, drop, self.group.rules)) * self.unit)

    def _rip_credit(self, field: Field, mix: Mix) -> int:
        """The most that ripping the last row can earn beyond that, rounded up."""
        share = self._share(mix.material)
        spare = sum(w * n for w, n in mix.rows) - field.run
        if not share or not spare:
            return 0
        widths = dict(mix.rows)
        dearest = max(
            self.group.offers[i].cost / width
            for i in self.used
            if (width := self.group.offers[i].width or 0) in widths
            and self.group.offers[i].material == mix.material
        )
        return ceil(share * dearest * spare * self.unit)

    def _mixes(self) -> None:
        m = self.model
        # A field left out costs more than a board dearer than any for every row that it has.
        dear = 4 * max((self.costs[i] for i in self.used), default=1) + 1
        self.laid: list[list[int]] = []
        self.short: list[int] = []
        #: Rows wanted of (material, board width, span): variable and rows per copy.
        self.rows: dict[tuple[str, int, int], dict[int, int]] = defaultdict(dict)
        self.most: dict[tuple[str, int, int], int] = defaultdict(int)
        for f in self.fields:
            variables = []
            needed = max(sum(n for _, n in mix.rows) for mix in f.mixes)
            per: dict[tuple[str, int, int], int] = defaultdict(int)
            for mix in f.mixes:
                v = m.variable(-self._rip_credit(f, mix), f.copies)
                variables.append(v)
                for width, n in mix.rows:
                    key = (mix.material, width, f.span)
                    self.rows[key][v] = n
                    per[key] = max(per[key], n)
            for key, n in per.items():
                self.most[key] += n * f.copies
            short = m.variable(dear * needed, f.copies if self.shorts else 0)
            m.row({**dict.fromkeys(variables, 1), short: 1}, f.copies, exact=True)
            self.laid.append(variables)
            self.short.append(short)

    def _boards(self) -> None:
        m = self.model
        offers = self.group.offers
        self.bought: dict[tuple[str, int], int] = {}
        self.cut: dict[tuple[int, int], int] = {}
        of_row: dict[tuple[str, int, int], list[int]] = defaultdict(list)
        of_offer: dict[int, list[int]] = defaultdict(list)
        for (material, width, span), most in self.most.items():
            for i in self.used:
                o = offers[i]
                if o.material == material and o.width == width and o.length >= span:
                    had = most if o.available is None else min(most, o.available)
                    v = m.variable(self._full_row(o, span), had)
                    self.cut[i, span] = v
                    of_row[material, width, span].append(v)
                    of_offer[i].append(v)
        for key, per in self.rows.items():
            terms = dict.fromkeys(of_row[key], 1) | {v: -n for v, n in per.items()}
            m.row(terms, 0, exact=True)
        for i, variables in of_offer.items():
            o = offers[i]
            room = sum(m.upper[v] for v in variables)
            more = room if o.limit is None else min(o.limit, room)
            if o.material not in self.lengths:
                m.row(dict.fromkeys(variables, -1), -(o.on_hand + more))
                continue
            y = self._length(o)
            m.row(dict.fromkeys(variables, -1) | {y: more}, -o.on_hand)
            for v in variables:
                if m.upper[v] > o.on_hand:
                    m.row({v: -1, y: m.upper[v] - o.on_hand}, -o.on_hand)
        for material, most in self.lengths.items():
            ys = [y for (name, _), y in self.bought.items() if name == material]
            m.row(dict.fromkeys(ys, -1), -max(most, 0))

        #: For each kind of row the offers that cover it, cheapest first: (index, its variable).
        self.fitting = {
            key: sorted(
                (
                    (i, self.cut[i, key[2]])
                    for i in self.used
                    if (i, key[2]) in self.cut
                    and offers[i].material == key[0]
                    and offers[i].width == key[1]
                ),
                key=lambda e: (m.cost[e[1]], offers[e[0]].length, e[0]),
            )
            for key in self.rows
        }

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


class Rounder:
    """Whole values from a relaxation's: lengths it leans on, whole mixes, boards as they last."""

    def __init__(self, build: BoardModel) -> None:
        self.build = build

    def rounded(self, values: NDArray[np.float64]) -> list[int] | None:
        build = self.build
        laid: list[list[int]] = []
        for variables, f in zip(build.laid, build.fields, strict=True):
            n = [int(values[v] + 1e-6) for v in variables]
            rest = [values[v] - k for v, k in zip(variables, n, strict=True)]
            short = round(values[build.short[len(laid)]])
            for _ in range(f.copies - short - sum(n)):
                j = max(range(len(n)), key=lambda j: rest[j])
                n[j] += 1
                rest[j] -= 1
            laid.append(n)
        return self.whole(laid, self._lengths(values))

    def whole(
        self, laid: Sequence[Sequence[int]], chosen: set[tuple[str, int]]
    ) -> list[int] | None:
        """Values for mixes and lengths that are decided; None where boards are too few."""
        build, m = self.build, self.build.model
        whole = [0] * len(m.cost)
        for variables, f, n, short in zip(build.laid, build.fields, laid, build.short, strict=True):
            for v, k in zip(variables, n, strict=True):
                whole[v] = k
            whole[short] = f.copies - sum(n)
        if not self._cut(whole, chosen):
            return None
        for key, y in build.bought.items():
            whole[y] = int(key in chosen)
        return whole

    def _lengths(self, values: NDArray[np.float64]) -> set[tuple[str, int]]:
        """As many lengths as may be bought, those that the relaxation leans on most."""
        leaning = sorted((-float(values[y]), key) for key, y in self.build.bought.items())
        chosen: set[tuple[str, int]] = set()
        for material, most in self.build.lengths.items():
            keys = [key for _, key in leaning if key[0] == material]
            chosen |= set(keys[: max(most, 0)])
        return chosen

    def _cut(self, whole: list[int], chosen: set[tuple[str, int]]) -> bool:
        """Boards for the rows, longest spans first, the cheapest that last; False if too few."""
        build = self.build
        offers = build.group.offers
        left: dict[int, int] = {}
        for i in build.used:
            o = offers[i]
            buy = o.material not in build.lengths or (o.material, o.length) in chosen
            more = (10**9 if o.limit is None else o.limit) if buy else 0
            left[i] = o.on_hand + more
        for (material, width, span), per in sorted(build.rows.items(), key=lambda e: -e[0][2]):
            wanted = sum(whole[v] * n for v, n in per.items())
            for i, v in build.fitting[material, width, span]:
                n = min(wanted, left[i])
                whole[v] = n
                left[i] -= n
                wanted -= n
            if wanted:
                return False
        return True

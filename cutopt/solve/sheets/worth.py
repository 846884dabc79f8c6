"""What leftovers of ceiling boards can be worth at most, and what other parts cost at least.

At any worths of the parts every board that lays a row costs its price less the dearest parts that
can be cut beside the row, every other board its price less its dearest pattern; what the parts are
worth together is then a bound of the whole. Here the second half is certified in whole numbers,
and the first half's leftovers are priced with the same numbers.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from cutopt.cutlist import Part, Rule
from cutopt.plan import Group
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.sheets.alone import alone
from cutopt.solve.sheets.bound import dual_bound
from cutopt.solve.sheets.jointed import Jointed, jointed_units
from cutopt.solve.sheets.leftovers import (
    Leftover,
    leftover_group,
    plain_materials,
    with_leftovers,
)
from cutopt.solve.sheets.model import Want, model_of, want_of
from cutopt.solve.sheets.pattern import Pattern, counts, trimmed
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.pricers import pricers_of

__all__ = ["Valued", "Values"]

_FINE = 40
#: How far worths are shaken to find further patterns.
_SHAKES = (0.1, 0.3, 0.6)

Worths = Mapping[Want, Fraction]
#: How often a pattern cuts each kind.
Cut = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Valued:
    """`bound` is what the parts cost at least if cut from boards of their own and from leftovers
    that are worth `values` dollars each; a leftover that is missing is worth nothing.
    """

    bound: Fraction
    values: Mapping[Leftover, Fraction]


class Values:
    """Parts that can all be planned, and leftovers that they could be cut from.

    Parameters
    ----------
    group
        Offers and rules, without leftovers.
    parts
        Ordinary parts and jointed runs.
    lefts
        What is to be valued.
    """

    def __init__(self, group: Group, parts: Sequence[Part], lefts: Iterable[Leftover]) -> None:
        self.row = max((o.row for o in group.offers), default=0) + 1
        self.lefts = list(dict.fromkeys(lefts))
        self.group = leftover_group(group, group.offers, ((x, 1) for x in self.lefts), self.row)
        asked = [with_leftovers(p, self.group) for p in parts]
        units, _ = jointed_units(self.group, asked)
        self.jointed = Jointed(units, self.group.rules)
        pieces = [
            Piece(p, p.length, p.width, p.qty, p.materials)
            for p in asked
            if p.rule is not Rule.JOINTED
        ]
        need = {want_of(i): i.demand for i in items_of(pieces)}
        self.model = model_of(self.group, need, self.jointed.extra())
        self.jointed.bind(self.model.kind_of, len(self.model.kinds))
        dearest = max((s.cost for s in self.model.sheets), default=Fraction(0))
        self.scale = int(2**_FINE / dearest) + 1 if dearest > 0 else 1
        strips, stacks = pricers_of(self.model)
        self._pricers = [*(p for p in strips if p.bench.stages < 3), *stacks]
        self._most: Ints = np.array(self.model.most, dtype=np.int64)

    def _worth(self, worths: Worths, share: Fraction) -> Ints:
        worth = np.zeros(len(self.model.kinds), dtype=np.int64)
        for want, i in self.model.kind_of.items():
            plain = want._replace(materials=plain_materials(want.materials))
            worth[i] = int(worths.get(plain, Fraction(0)) * share * self.scale)
        return worth

    def _dearest(self, worth: Ints) -> list[tuple[int, Pattern]]:
        """The worth of each sheet's dearest pattern, or more, and the pattern."""
        found: list[tuple[int, Pattern]] = []
        for pricer in self._pricers:
            # Where drops earn credit a part's worth is what it adds to that.
            credit = [int(pricer.bench.credit * a * self.scale) for a in self.model.areas]
            now = np.maximum(worth - np.array(credit, dtype=np.int64), 0)
            priced = pricer.price(now, self._most, [True] * len(self.model.sheets))
            found += [(p.value, p.pattern) for p in priced]
        return found

    def at(self, worths: Worths, share: Fraction = Fraction(1)) -> Valued | None:
        """Certify dollars per piece, of which `share` is taken; None where nothing is proved."""
        if not self.model.sheets:
            return None
        worth = self._worth(worths, share)
        values: dict[int, int] = {}
        for value, pattern in self._dearest(worth):
            values[pattern.sheet] = max(values.get(pattern.sheet, 0), value)
        runs = 0
        if self.jointed:
            least, _ = self.jointed.price(worth, self.scale)
            copies = self.jointed.copies.tolist()
            runs = sum(n * v for n, v in zip(copies, least, strict=True))
        own = {q for q, s in enumerate(self.model.sheets) if s.offers[0].row < self.row}
        proof = dual_bound(
            self.model,
            self.model.need.tolist(),
            worth.tolist(),
            self.scale,
            {q: v for q, v in values.items() if q in own},
            runs,
        )
        if not proof.unit:
            return None
        found: dict[Leftover, Fraction] = {}
        for q, value in values.items():
            if q not in own:
                for offer in self.model.sheets[q].offers:
                    found[self.lefts[offer.row - self.row]] = Fraction(value) / proof.unit
        return Valued(max(Fraction(0), proof.bound - self.jointed.uncounted), found)

    def worths(self, duals: Sequence[float]) -> dict[Want, Fraction]:
        """Dollars per piece from a number per kind: any will do, the nearer the better."""
        return {
            want._replace(materials=plain_materials(want.materials)): Fraction(max(0.0, duals[i]))
            for want, i in self.model.kind_of.items()
        }

    def numbers(self, worths: Worths) -> list[float]:
        """Per kind what one is worth, in a unit of its own."""
        return [float(n) for n in self._worth(worths, Fraction(1)).tolist()]

    def patterns(
        self, worths: Sequence[Worths], rounds: int, rng: random.Random
    ) -> tuple[dict[int, set[Cut]], dict[Leftover, set[Cut]]]:
        """Patterns of parts that are good at these worths or near them, and each part alone.

        By row of stock.csv, and by leftover.
        """
        own: dict[int, set[Cut]] = defaultdict(set)
        left: dict[Leftover, set[Cut]] = defaultdict(set)

        def note(pattern: Pattern) -> None:
            cut = counts(trimmed(pattern, self.model.most), len(self.model.kinds))
            if not cut.any():
                return
            for offer in self.model.sheets[pattern.sheet].offers:
                if offer.row < self.row:
                    own[offer.row].add(tuple(cut.tolist()))
                else:
                    left[self.lefts[offer.row - self.row]].add(tuple(cut.tolist()))

        for bench in self.model.benches:
            for v in bench.variants:
                for q in bench.sheets:
                    found = alone(self.model, q, v)
                    if found is not None:
                        note(found[0])
                        strips = found[0].strips
                        one = Pattern(q, found[0].axis, ((strips[0][0][:1],),))
                        note(one)
        for one_of in worths:
            worth = self._worth(one_of, Fraction(1))
            for n in range(rounds):
                shake = _SHAKES[n % len(_SHAKES)] if n else 0.0
                noise = np.array([1 + shake * (2 * rng.random() - 1) for _ in worth])
                shaken = np.maximum(worth, 1) * noise
                for _, pattern in self._dearest(shaken.astype(np.int64)):
                    note(pattern)
        return own, left

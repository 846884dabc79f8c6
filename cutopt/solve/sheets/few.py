"""A bound where a sheet gives few parts: as if its patterns held M parts at most on average.

A second linear programme over patterns of any number of parts, with a row per sheet that they
must keep together. Its duals are worths of the parts and, per sheet, a price of every part; at
these the dearest pattern at worths less the price, and M times the price, bound every pattern of
at most M parts. So the bound of the worths holds for every plan, in integers like all bounds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from fractions import Fraction

import highspy
import numpy as np
from numpy.typing import NDArray

from cutopt.solve.search import LateError, Watch
from cutopt.solve.sheets.bound import Certificate, dual_bound
from cutopt.solve.sheets.limit import TRIES, Pricer
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern, counts
from cutopt.solve.sheets.points import Ints
from cutopt.solve.simplex import simplex

__all__ = ["Averages", "fewest_cost"]

Floats = NDArray[np.float64]

_TOLERANCE = 1e-7
_SMOOTH = 0.5
#: Rounds of pricing: most, and fewest whatever their work in table entries.
_ROUNDS = 300
_FEWEST = 3
_WORK = 20_000_000_000


@dataclass(frozen=True, slots=True)
class _Duals:
    part: Floats
    sheet: Floats
    price: Floats


def fewest_cost(model: Model) -> Fraction:
    """What the cheapest sheets cost that are enough by number alone; 0 where any gives any number.

    Fractions of sheets, which the worths of parts allow, are rounded up here.
    """
    if not all(b.max_parts for b in model.benches):
        return Fraction(0)
    most = max(b.max_parts for b in model.benches)
    wanted = -(-int(model.need.sum()) // most)
    total = Fraction(0)
    for sheet in sorted(model.sheets, key=lambda s: s.base):
        n = wanted if sheet.available is None else min(wanted, sheet.available)
        total += max(sheet.base, Fraction(0)) * n
        wanted -= n
    return total


class Averages:
    """The programme and its columns.

    Parameters
    ----------
    model
        Without jointed runs.
    pricers
        Those whose tables together hold every pattern of the rule.
    scale
        Whole worths in a dollar.
    credit
        Per credit of an area, what the area of each kind earns in whole worths.

    Attributes
    ----------
    patterns
        Every pattern of the programme, of any number of parts.
    """

    def __init__(
        self,
        model: Model,
        pricers: Sequence[Pricer],
        scale: int,
        credit: Mapping[Fraction, Ints],
        watch: Watch,
    ) -> None:
        self.model, self.pricers, self.scale, self.credit = model, pricers, scale, credit
        self._watch = watch
        self._known: set[tuple[int, bytes]] = set()
        self.patterns: list[Pattern] = []
        self._most = np.array(model.most, dtype=np.int64)
        h = self._h = simplex()
        none = (np.array([], dtype=np.int32), np.array([], dtype=np.float64))
        for need in model.need:
            h.addRow(float(need), highspy.kHighsInf, 0, *none)
        kinds = len(model.kinds)
        self._limit = [b.max_parts for b in model.bench_of]
        for sheet in model.sheets:
            few = highspy.kHighsInf if sheet.available is None else float(sheet.available)
            h.addRow(-highspy.kHighsInf, few, 0, *none)
        for _ in model.sheets:
            h.addRow(-highspy.kHighsInf, 0.0, 0, *none)
        dear = 10.0 * max(float(max(s.cost for s in model.sheets)), 1.0)
        for i in range(kinds):
            h.addCol(dear, 0.0, highspy.kHighsInf, 1, np.array([i], dtype=np.int32), np.ones(1))

    def add(self, pattern: Pattern) -> bool:
        """Add a pattern of any number of parts; False where its like is there."""
        q, kinds = pattern.sheet, len(self.model.kinds)
        cuts = counts(pattern, kinds)
        key = (q, cuts.tobytes())
        if key in self._known:
            return False
        self._known.add(key)
        self.patterns.append(pattern)
        sheet, bench = self.model.sheets[q], self.model.bench_of[q]
        cost = float(sheet.base)
        if bench.credit:
            cost += float(self.credit[bench.credit] @ cuts) / self.scale
        index = np.flatnonzero(cuts)
        values = cuts[index].astype(np.float64)
        index = np.append(index, kinds + q)
        values = np.append(values, 1.0)
        over = int(cuts.sum()) - self._limit[q]
        if self._limit[q] and over:
            index = np.append(index, kinds + len(self.model.sheets) + q)
            values = np.append(values, float(over))
        self._h.addCol(cost, 0.0, highspy.kHighsInf, len(index), index.astype(np.int32), values)
        return True

    def _solve(self) -> _Duals:
        self._h.run()
        dual = np.array(self._h.getSolution().row_dual)
        kinds, sheets = len(self.model.kinds), len(self.model.sheets)
        return _Duals(
            np.maximum(dual[:kinds], 0.0),
            np.minimum(dual[kinds : kinds + sheets], 0.0),
            np.maximum(-dual[kinds + sheets :], 0.0),
        )

    def _priced(
        self, pricers: Sequence[Pricer], worth: Ints, price: Ints
    ) -> tuple[list[Pattern], dict[int, int]]:
        """Dearest patterns of any number of parts at worths less each sheet's price of a part;
        and, by sheet, what no pattern of few parts exceeds at the worths themselves.
        """
        found: list[Pattern] = []
        values: dict[int, int] = {}
        for pricer in pricers:
            bench = pricer.bench
            plain = worth - self.credit[bench.credit] if bench.credit else worth
            for each in sorted({int(price[q]) for q in bench.sheets}):
                asked = [
                    q in bench.sheets and int(price[q]) == each
                    for q in range(len(self.model.sheets))
                ]
                less = np.maximum(plain - each, 0)
                at = {p.pattern.sheet: p for p in pricer.unlimited(less, self._most, asked)}
                found += [p.pattern for p in at.values()]
                for q in np.flatnonzero(asked).tolist():
                    value = (at[q].value if q in at else 0) + each * bench.max_parts
                    values[q] = max(values.get(q, 0), value)
        return found, values

    def bound(self, quick: Sequence[Pricer]) -> Certificate | None:
        """The best bound that the allowed work finds; None where the clock allowed none.

        `quick` are pricers that are less work and hold only some patterns: they go first.
        """
        for _ in range(_ROUNDS if quick else 0):
            duals = self._solve()
            try:
                found, _ = self._priced(quick, *self._whole(duals.part, duals.price))
            except LateError:
                break
            added = sum(self._helps(p, duals) and self.add(p) for p in found)
            if not added or self._watch.stop():
                break
        need = self.model.need.tolist()
        best: Certificate | None = None
        center: tuple[Floats, Floats] | None = None
        work = 0
        once = sum(p.effort for p in self.pricers) // (1 + TRIES)
        with suppress(LateError):
            for n in range(_ROUNDS):
                if self._watch.stop() or (n >= _FEWEST and work > _WORK):
                    break
                duals = self._solve()
                added = 0
                for smooth in (_SMOOTH, 0.0):
                    if added or (smooth and center is None):
                        continue
                    part, price = duals.part, duals.price
                    if smooth and center is not None:
                        part = smooth * center[0] + (1 - smooth) * part
                        price = smooth * center[1] + (1 - smooth) * price
                    worth, each = self._whole(part, price)
                    work += once * len(set(each.tolist()))
                    found, values = self._priced(self.pricers, worth, each)
                    made = dual_bound(self.model, need, worth.tolist(), self.scale, values)
                    if best is None or made.bound > best.bound:
                        best, center = made, (part, price)
                    added += sum(self._helps(p, duals) and self.add(p) for p in found)
                if not added:
                    break
        return best

    def _whole(self, part: Floats, price: Floats) -> tuple[Ints, Ints]:
        """Worths and prices as whole numbers."""
        worth = np.maximum(np.floor(part * self.scale), 0).astype(np.int64)
        return worth, np.floor(price * self.scale).astype(np.int64)

    def _helps(self, pattern: Pattern, duals: _Duals) -> bool:
        q = pattern.sheet
        sheet, bench = self.model.sheets[q], self.model.bench_of[q]
        cuts = counts(pattern, len(self.model.kinds))
        cost = float(sheet.base)
        if bench.credit:
            cost += float(self.credit[bench.credit] @ cuts) / self.scale
        gain = float(cuts @ duals.part) + float(duals.sheet[q]) - cost
        if self._limit[q]:
            gain -= float(duals.price[q]) * (int(cuts.sum()) - self._limit[q])
        return gain > _TOLERANCE * max(cost, 1e-9)

"""Column generation: patterns are priced until none helps, with a proved bound on the way."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from cutopt.materials import Rules
from cutopt.solve.search import LateError, Watch
from cutopt.solve.sheets.alone import alone
from cutopt.solve.sheets.bound import Certificate, area_bound, dual_bound
from cutopt.solve.sheets.few import Averages, fewest_cost
from cutopt.solve.sheets.jointed import Jointed
from cutopt.solve.sheets.layout import credit_of
from cutopt.solve.sheets.master import Column, Master
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern, dearest, trimmed
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.pricers import pricers_of
from cutopt.solve.sheets.pricing import Priced, StackPricer, StripPricer
from cutopt.solve.sums import next_sum

__all__ = ["Generator", "Room"]

#: Worths are whole numbers of the dearest sheet's cost / 2^_FINE.
_FINE = 40
#: A column must be better by so much of its cost to be added.
_TOLERANCE = 1e-7
_SMOOTH = 0.5
#: Ways of each unit of runs that a round adds at most.
_NEAR = 4
#: Work of pricing at the root where sheets give few parts, in table entries.
_FEW_WORK = 10_000_000_000
#: How far worths are shaken to find neighbours of the best patterns.
_SHAKES = (0.02, 0.1, 0.3, 0.05, 0.6)
#: Kept back of the time for a plan made at once: a share of it, and seconds for each kind at most.
_KEPT, _KEPT_EACH = 0.15, 0.001


class Room:
    """What is still to be cut and what can still be had while a plan is built up."""

    def __init__(self, model: Model, copies: Ints) -> None:
        self.need: Ints = model.need.copy()
        self.available: list[int | None] = [s.available for s in model.sheets]
        self.copies: Ints = copies.copy()

    def copy(self) -> Room:
        """A second room that can be used up on its own."""
        other = Room.__new__(Room)
        other.need = self.need.copy()
        other.available = list(self.available)
        other.copies = self.copies.copy()
        return other

    def open_sheets(self) -> list[bool]:
        """Which sheets can still be had."""
        return [n is None or n > 0 for n in self.available]


class Generator:
    """The master with its pricers.

    Attributes
    ----------
    bound
        The best proved bound for the whole model, dollars, not yet rounded up.
    ahead
        Seconds before the deadline at which its searches end: above 0 while there is no plan.
    """

    def __init__(self, model: Model, jointed: Jointed, rules: Rules, watch: Watch) -> None:
        self.model, self.jointed, self.rules, self.watch = model, jointed, rules, watch
        self.master = Master(model, jointed.copies)
        self.bound = Fraction(0)
        self.certificate: Certificate | None = None
        dearest = max(s.cost for s in model.sheets)
        self.scale = int(2**_FINE / dearest) + 1 if dearest > 0 else 1
        self.strips, self.stacks = pricers_of(model)
        for pricer in (*self.strips, *self.stacks):
            pricer.look = self.look
        self._looking = False
        self.ahead = min(_KEPT * watch.seconds, _KEPT_EACH * len(model.kinds))
        self._plain = all(not s.credit for s in model.sheets)
        self._base = np.array([float(s.base) for s in model.sheets])
        self._credit = {
            b.credit: np.array(
                [int(b.credit * a * self.scale) for a in model.areas], dtype=np.int64
            )
            for b in model.benches
        }
        self._center: NDArray[np.float64] | None = None

    # -- columns ---------------------------------------------------------------------------------

    def cost(self, pattern: Pattern) -> Fraction:
        """What the pattern costs less the credit of its drops."""
        sheet = self.model.sheets[pattern.sheet]
        return sheet.cost - credit_of(pattern, self.model, self.rules)

    def column(self, pattern: Pattern) -> Column:
        """The pattern as a column."""
        return self.master.column(pattern, self.cost(pattern))

    def start(self) -> None:
        """First columns: each kind alone, as many as fit, on the sheet where one is cheapest.

        Out of time there are fewer: what no column cuts is short in the master.
        """
        for bench in self.model.benches:
            best: dict[int, tuple[Fraction, Pattern]] = {}
            for v in bench.variants:
                for q in bench.sheets:
                    found = alone(self.model, q, v)
                    if found is None:
                        continue
                    pattern, parts = found
                    cost = self.model.sheets[q].cost
                    each = cost / min(parts, max(1, self.model.most[v.kind]))
                    if v.kind not in best or each < best[v.kind][0]:
                        best[v.kind] = (each, pattern)
            for _, pattern in best.values():
                if self.late():
                    break
                self.master.add(self.column(trimmed(pattern, self.model.most)))
        for way in self.jointed.first():
            self.master.add_way(way)

    def room(self) -> Room:
        """All that is wanted and all that can be had."""
        return Room(self.model, self.jointed.copies)

    # -- pricing ---------------------------------------------------------------------------------

    def late(self) -> bool:
        """Whether searches are to end."""
        return self.watch.stop(self.ahead) is not None

    def look(self) -> None:
        """Give up a pricing within `looking` where searches are to end."""
        if self._looking and self.late():
            raise LateError

    @contextmanager
    def looking(self) -> Iterator[None]:
        """Pricings in here may raise `LateError`."""
        before, self._looking = self._looking, True
        try:
            yield
        finally:
            self._looking = before

    def worths(self, part: NDArray[np.float64]) -> Ints:
        """Duals rounded down to whole worths."""
        return np.maximum(np.floor(part * self.scale), 0).astype(np.int64)

    def _price(
        self,
        pricers: Sequence[StripPricer | StackPricer],
        worth: Ints,
        most: Ints,
        open_sheets: Sequence[bool],
    ) -> list[Priced]:
        found: list[Priced] = []
        for pricer in pricers:
            self.look()
            credit = self._credit[pricer.bench.credit] if pricer.bench.credit else 0
            found += pricer.price(np.maximum(worth - credit, 0), most, open_sheets)
        return found

    def _improving(self, found: Sequence[Priced]) -> int:
        """Add the patterns that the last duals say will help; how many were new."""
        duals = self.master.duals
        added = 0
        for priced in found:
            column = self.column(priced.pattern)
            cost = float(column.cost)
            gain = float(column.cuts @ duals.part) + duals.sheet[priced.pattern.sheet] - cost
            if gain > _TOLERANCE * max(cost, 1e-9):
                added += self.master.add(column)
        return added

    def improving(self, found: Sequence[Priced]) -> int:
        """Add the patterns that the last duals say will help; how many were new."""
        return self._improving(found)

    def priced(self, worth: Ints, most: Ints, open_sheets: Sequence[bool]) -> list[Priced]:
        """Dearest patterns of the whole rule, without credit for drops."""
        return self._price(self.proving(), worth, most, open_sheets)

    def runs_worth(self, worth: Ints) -> int:
        """What all jointed runs are worth at least where parts are worth so much."""
        return self._joint(worth)[1]

    def _joint(self, worth: Ints) -> tuple[int, int]:
        """Add ways that the last duals say will help: how many, and what all runs are worth."""
        if not self.jointed:
            return 0, 0
        least, ways = self.jointed.price(worth, self.scale, _NEAR)
        duals = self.master.duals
        added = 0
        for way in ways:
            gain = duals.unit[way.unit] - float(way.cuts @ duals.part) - float(way.cost)
            if gain > _TOLERANCE * max(1.0, float(duals.unit[way.unit])):
                added += self.master.add_way(way)
        copies = self.jointed.copies.tolist()
        return added, sum(n * v for n, v in zip(copies, least, strict=True))

    def _full_bound(self, worth: Ints, found: Sequence[Priced], runs: int) -> Certificate:
        values: dict[int, int] = {}
        for priced in found:
            q = priced.pattern.sheet
            values[q] = max(values.get(q, 0), priced.value)
        need = self.model.need.tolist()
        return dual_bound(self.model, need, worth.tolist(), self.scale, values, runs)

    def most_held(self, worth: Sequence[int]) -> list[int]:
        """What the dearest pattern of each sheet is worth at most, for whole worths."""
        most = np.array(self.model.most, dtype=np.int64)
        values = np.array(worth, dtype=np.int64)
        found = self._price(self.proving(), values, most, [True] * len(self.model.sheets))
        held = [0] * len(self.model.sheets)
        for priced in found:
            held[priced.pattern.sheet] = max(held[priced.pattern.sheet], priced.value)
        return held

    @property
    def plain(self) -> bool:
        """Whether no drop earns credit."""
        return self._plain

    def proving(self) -> list[StripPricer | StackPricer]:
        """Pricers whose tables together hold every pattern of every bench's rule."""
        return [p for p in self.strips if p.bench.stages < 3] + list(self.stacks)

    def by_area(self) -> None:
        """The bound by area, where nothing better is proved: it takes no pricing."""
        certificate = area_bound(self.model, self.scale, self._credit)
        if certificate.bound > self.bound:
            self.bound, self.certificate = certificate.bound, certificate

    def prove(self) -> None:
        """Improve the bound from the duals of the last solve."""
        worth = self.worths(self.master.duals.part)
        most = np.array(self.model.most, dtype=np.int64)
        found = self._price(self.proving(), worth, most, [True] * len(self.model.sheets))
        self._note(worth, found, self._joint(worth)[1])
        self._improving(found)

    def _note(self, worth: Ints, found: Sequence[Priced], runs: int) -> None:
        certificate = self._full_bound(worth, found, runs)
        bound = max(Fraction(0), certificate.bound - self.jointed.uncounted)
        if bound > self.bound:
            self.bound, self.certificate = bound, certificate
            self._center = worth / self.scale

    def rounded_bound(self) -> Fraction:
        """The bound, rounded up to the next cost that a plan can have."""
        return self.round_up(self.bound)

    def round_up(self, bound: Fraction) -> Fraction:
        """The next reachable cost; the bound itself where drops earn credit."""
        if not self._plain:
            return bound
        joints = self.jointed.prices if self.jointed else ()
        return next_sum(bound, (*(s.cost for s in self.model.sheets), *joints))

    def root(self, rounds: int, closing: bool = True, enough: Fraction | None = None) -> None:
        """Generate columns for the whole model until none helps, or for `rounds` rounds.

        With `closing` it ends as soon as more columns can't raise the rounded bound; with `enough`
        as soon as the bound is above that.
        """
        with suppress(LateError), self.looking():
            self._root(rounds, closing, enough)

    def _root(self, rounds: int, closing: bool, enough: Fraction | None) -> None:
        room = self.room()
        most = np.array(self.model.most, dtype=np.int64)
        open_sheets = room.open_sheets()
        proving = self.proving()
        quick = [p for p in self.strips if p.bench.stages >= 3]
        proved = False
        work = 0
        for _ in range(rounds):
            if self.late():
                return
            if work > _FEW_WORK:
                break
            self.master.solve()
            exact = self.master.duals.part
            added = 0
            if quick:
                worth = self.worths(exact)
                added = self._improving(self._price(quick, worth, most, open_sheets))
                added += self._joint(worth)[0]
            for smooth in (_SMOOTH, 0.0):
                center = self._center
                if added or (smooth and center is None):
                    continue
                part = exact
                if smooth and center is not None:
                    part = smooth * center + (1 - smooth) * exact
                worth = self.worths(part)
                found = self._price(proving, worth, most, open_sheets)
                if self.model.counted:
                    work += sum(p.effort for p in proving)
                added, runs = self._joint(worth)
                self._note(worth, found, runs)
                proved = True
                added += self._improving(found)
            if not added:
                return
            if closing and proved and self._closed():
                return
            if enough is not None and self.bound > enough:
                return
        self.master.solve()
        self.prove()

    def few(self) -> None:
        """Where sheets give few parts: a bound by what they give on average, columns from it."""
        if not self.model.counted or self.jointed:
            return
        averages = Averages(self.model, self.proving(), self.scale, self._credit, self.watch)
        for column in self.master.columns:
            averages.add(column.pattern)
        with self.looking():
            certificate = averages.bound(self.strips if self.stacks else [])
        if certificate is None:
            return
        if certificate.bound > self.bound:
            self.bound, self.certificate = certificate.bound, certificate
        self.bound = max(self.bound, fewest_cost(self.model))
        self._center = np.array(certificate.worth, dtype=np.int64) / self.scale
        for pattern in averages.patterns:
            limit = self.model.bench_of[pattern.sheet].max_parts or sum(self.model.most)
            wanted = trimmed(pattern, self.model.most)
            self.master.add(self.column(dearest(wanted, certificate.worth, limit)))

    def _closed(self) -> bool:
        """Whether more columns can't raise the rounded bound."""
        if not self._plain or self.master.short.any():
            return False
        objective = Fraction(self.master.objective).limit_denominator(10**9)
        return self.round_up(self.bound) >= self.round_up(objective * (1 - Fraction(1, 10**9)))

    def refine(self, room: Room, rounds: int, deep: bool) -> None:
        """Generate columns for what is left of a plan: no bound, only columns."""
        most = room.need
        if room.copies.any():
            most = np.array(self.model.most, dtype=np.int64)
        with suppress(LateError), self.looking():
            if self._refined(room, rounds, deep, most):
                return
        self.master.solve()

    def _refined(self, room: Room, rounds: int, deep: bool, most: Ints) -> bool:
        """Whether no column helps any more."""
        open_sheets = room.open_sheets()
        for _ in range(rounds):
            if self.late():
                break
            self.master.solve()
            worth = self.worths(self.master.duals.part)
            added = self._improving(self._price(self.strips, worth, most, open_sheets))
            if room.copies.any():
                added += self._joint(worth)[0]
            if not added and deep and self.stacks:
                added = self._improving(self._price(self.stacks, worth, most, open_sheets))
            if not added:
                return True
        return False

    def vary(self, rng: random.Random, rounds: int, margin: Fraction, deep: bool) -> int:
        """Add patterns that are best for shaken worths: neighbours of the best ones.

        Only what costs at most `margin` more than it is worth can be in a plan that closes so
        wide a gap; the rest is left out.
        """
        with suppress(LateError), self.looking():
            return self._vary(rng, rounds, margin, deep)
        return 0

    def _vary(self, rng: random.Random, rounds: int, margin: Fraction, deep: bool) -> int:
        duals = self.master.duals
        part = np.maximum(duals.part, 0.0)
        most = np.array(self.model.most, dtype=np.int64)
        open_sheets = self.room().open_sheets()
        pricers = [*self.strips, *(self.stacks if deep else ())]
        gap = float(margin)
        added = 0
        for n in range(rounds):
            if self.late():
                break
            shake = _SHAKES[n % len(_SHAKES)]
            noise = np.array([1 + shake * (2 * rng.random() - 1) for _ in part])
            worth = self.worths(part * noise)
            for priced in self._price([pricers[n % len(pricers)]], worth, most, open_sheets):
                pattern = trimmed(priced.pattern, self.model.most)
                column = self.column(pattern)
                worthy = float(column.cuts @ duals.part) + duals.sheet[pattern.sheet]
                if float(column.cost) - worthy <= gap:
                    added += self.master.add(column)
        return added

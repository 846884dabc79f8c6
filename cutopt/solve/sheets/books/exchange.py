"""Some layouts taken out and exactly their parts put into fewer.

Ruin and recreate (Schrimpf, Schneider, Stamm-Wilbrandt and Dueck 2000, "Record breaking
optimization results using the ruin and recreate principle", Journal of Computational Physics 159).
What is put back is built one layout after the other, each for as many sheets as it can be cut from
(the sequential heuristic of Haessler 1975, "Controlling cutting pattern changes in one-dimensional
trim problems", Operations Research 23): the pattern of most worth among the parts that are wanted
so often. The last layout is found exactly: its parts are what is left, divided by its sheets.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

import numpy as np

from cutopt.solve.search import Watch
from cutopt.solve.sheets.books.fit import Fitter
from cutopt.solve.sheets.books.key import Key, Keys, Plan
from cutopt.solve.sheets.books.promising import promising
from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints

__all__ = ["Exchange", "Work"]

#: Layouts that are taken out at once, fewest and most.
_FEWEST, _MOST = 2, 6
#: Patterns that are tried for the next layout, and how far worths are shaken for them.
_TRIED = 2
_TRIED_TWICE = 3
_SHAKEN = 0.25
#: How often as many layouts as before are allowed, to cut them in fewer books or to move on.
_SIDEWAYS = 0.25
#: How often a set-up of few sheets is taken out before one of many.
_FEW = 0.8
#: What a step costs in patterns filled.
_STEP = 1
_NEVER = 1 << 40


@dataclass(slots=True)
class Work:
    """Patterns that were filled, and how many may be."""

    most: int
    spent: int = 0

    @property
    def left(self) -> int:
        """Not above zero where the work is done."""
        return self.most - self.spent


class Exchange:
    """A plan, and what is done to it.

    Parameters
    ----------
    worth : array, shape (kinds,)
        Whole worths of the parts in the least-cost plan.
    allowed
        Dollars that the sheets may cost.

    Attributes
    ----------
    now : dict
        Patterns with their sheets: always exactly the parts that were given.
    """

    def __init__(
        self,
        keys: Keys,
        plan: Plan,
        worth: Ints,
        allowed: Fraction,
        rng: random.Random,
        work: Work,
        watch: Watch,
    ) -> None:
        self.keys, self.model, self.generator = keys, keys.model, keys.generator
        self.now, self.worth, self.allowed = dict(plan), worth, allowed
        self.rng, self.work, self.watch = rng, work, watch
        self.fitter = Fitter(self.generator, work)
        self._areas: Ints = np.array(self.model.areas, dtype=np.int64)
        self.cost = self._cost(self.now)

    def run(self) -> None:
        """Try what looks promising, then what comes, until the work is done."""
        half = self.work.left // 2
        while self.work.left > half and self.watch.stop() is None and self._promising(half):
            pass
        while self.work.left > 0 and self.watch.stop() is None:
            counts = self.keys.counts(self.now)
            if len(counts) < 2:
                return
            self._step(counts)

    def _promising(self, least: int) -> bool:
        """Try pairs and triples by what their parts come to; whether one was of use."""
        for chosen, times, sheet in promising(self.keys, self.now, self._areas):
            if self.work.left <= least or self.watch.stop() is not None:
                return False
            if not all(p in self.now for p in chosen):
                continue  # taken out since, for layouts that are as good
            out = {p: self.now[p] for p in chosen}
            if self._repeat(out, times, sheet):
                return True
        return False

    def _repeat(self, out: Plan, times: int, sheet: int) -> bool:
        """Put the parts of some layouts into one that is cut so often, and one more sheet."""
        left, free = self._cuts(out), self._free(out)
        budget = self._cost(out) + self.allowed - self.cost
        number = sum(out.values())
        tried = set()
        for _ in range(1 if times == number else _TRIED_TWICE):
            if times == number:
                pattern = self.fitter.all_of(left // times, sheet)
            else:
                shake = np.array([1 + _SHAKEN * (2 * self.rng.random() - 1) for _ in left])
                worth = np.maximum((self._areas * shake).astype(np.int64), 1)
                pattern = self.fitter.fill(worth, left // times, sheet, self.rng)
            if pattern is None or pattern in tried:
                continue
            tried.add(pattern)
            made = {pattern: times}
            rest = left - self.keys.column(pattern).cuts * times
            spent = self.keys.column(pattern).cost * times
            if rest.any():
                free[sheet] -= times
                closed = self._closed(rest, [sheet], free, budget - spent)
                free[sheet] += times
                if closed is None:
                    continue
                made[closed[0]] = made.get(closed[0], 0) + closed[1]
            if self._take(out, made):
                return True
        return False

    def _cost(self, plan: Mapping[Pattern, int]) -> Fraction:
        return sum((self.keys.column(p).cost * n for p, n in plan.items()), Fraction(0))

    def _cuts(self, plan: Mapping[Pattern, int]) -> Ints:
        total: Ints = np.zeros(len(self.model.kinds), dtype=np.int64)
        for pattern, n in plan.items():
            total += self.keys.column(pattern).cuts * n
        return total

    def _free(self, out: Mapping[Pattern, int]) -> list[int]:
        """Sheets that can be had once these are not cut."""
        free = [_NEVER if s.available is None else s.available for s in self.model.sheets]
        for pattern, n in self.now.items():
            if pattern not in out:
                free[pattern.sheet] -= n
        return free

    def _step(self, counts: Mapping[Key, Sequence[int]]) -> None:
        """Take some set-ups out and try to do with one less."""
        self.work.spent += _STEP
        keys = self._chosen(counts)
        out = {p: n for p, n in self.now.items() if self.keys.of(p) in keys}
        cost = self._cost(out)
        less = self.rng.random() >= _SIDEWAYS
        budget = cost + self.allowed - self.cost
        made = self._build(out, budget, len(keys) - less)
        if made is not None:
            self._take(out, made)

    def _chosen(self, counts: Mapping[Key, Sequence[int]]) -> set[Key]:
        """Set-ups of few sheets, and such as share parts with the first of them."""
        keys = list(counts)
        many = min(self.rng.randint(_FEWEST, _MOST), len(keys))
        kinds = {key: np.frombuffer(key[-1], dtype=np.int64) > 0 for key in keys}
        rank = {key: counts[key][0] if self.rng.random() < _FEW else 0 for key in keys}
        first = min(keys, key=lambda k: rank[k] * self.rng.random())
        near = sorted(
            (k for k in keys if k != first),
            key=lambda k: (
                (rank[k] > max(2, counts[first][0]))
                - self.rng.random()
                - int((kinds[k] & kinds[first]).sum()) * self.rng.random()
            ),
        )
        return {first, *near[: many - 1]}

    def _build(self, out: Mapping[Pattern, int], budget: Fraction, most: int) -> Plan | None:
        """At most so many layouts for exactly the parts of `out`; None where none were found."""
        left, free = self._cuts(out), self._free(out)
        sheets = sorted({p.sheet for p in out})
        made: Plan = {}
        while left.any():
            if most == 0:
                return None
            if most == 1:
                closed = self._closed(left, sheets, free, budget)
                if closed is None:
                    return None
                made[closed[0]] = made.get(closed[0], 0) + closed[1]
                return made
            picked = self._next(left, sheets, free, budget)
            if picked is None:
                return None
            pattern, n = picked
            column = self.keys.column(pattern)
            left -= column.cuts * n
            free[pattern.sheet] -= n
            budget -= column.cost * n
            made[pattern] = made.get(pattern, 0) + n
            most -= 1
        return made

    def _next(
        self, left: Ints, sheets: Sequence[int], free: Sequence[int], budget: Fraction
    ) -> tuple[Pattern, int] | None:
        """The pattern that uses up most kinds for what it costs beyond its worth."""
        wanted = sorted(set(left[left > 0].tolist()))
        best: tuple[float, Pattern, int] | None = None
        for _ in range(_TRIED):
            least = self.rng.choice(wanted)
            sheet = self.rng.choice(sheets)
            shake = [1 + _SHAKEN * (2 * self.rng.random() - 1) for _ in left]
            worth = np.maximum((self.worth * np.array(shake)).astype(np.int64), 1)
            pattern = self.fitter.fill(worth, left // least, sheet, self.rng)
            if pattern is None:
                continue
            column = self.keys.column(pattern)
            used = column.cuts > 0
            n = min(int((left[used] // column.cuts[used]).min()), free[sheet])
            if column.cost > 0:
                n = min(n, int(budget / column.cost))
            if n < 1:
                continue
            up = int((left[used] == n * column.cuts[used]).sum())
            filled = float(column.cuts @ self.worth) / max(float(column.cost), 1e-9)
            rank = up + 0.5 * self.rng.random() + filled / max(1.0, float(self.generator.scale))
            if best is None or rank > best[0]:
                best = (rank, pattern, n)
        return None if best is None else best[1:]

    def _closed(
        self, left: Ints, sheets: Sequence[int], free: Sequence[int], budget: Fraction
    ) -> tuple[Pattern, int] | None:
        """All that is left from equal sheets, at least cost."""
        common = gcd(*left[left > 0].tolist())
        options = sorted(
            (self.model.sheets[q].cost * n, n, q)
            for n in range(1, common + 1)
            if common % n == 0
            for q in sheets
            if n <= free[q]
        )
        for cost, n, q in options:
            if cost > budget and not self.model.sheets[q].credit:
                return None
            pattern = self.fitter.all_of(left // n, q)
            if pattern is not None and self.keys.column(pattern).cost * n <= budget:
                return pattern, n
        return None

    def _take(self, out: Mapping[Pattern, int], made: Mapping[Pattern, int]) -> bool:
        """Keep what was made where it is no worse; whether there are fewer set-ups or books."""
        now = {p: n for p, n in self.now.items() if p not in out}
        for pattern, n in made.items():
            now[pattern] = now.get(pattern, 0) + n
        cost = self.cost - self._cost(out) + self._cost(made)
        before, after = self.keys.measure(self.now), self.keys.measure(now)
        if (*after, cost) <= (*before, self.cost) and cost <= self.allowed:
            self.now, self.cost = now, cost
            return after < before
        return False

"""Fewer set-ups: some layouts of a plan are taken out and their pieces put into fewer.

Ruin and recreate (Schrimpf, Schneider, Stamm-Wilbrandt and Dueck 2000, "Record breaking
optimization results using the ruin and recreate principle", Journal of Computational Physics
159), as a generalisation of combining two layouts into one, three into two and four into three
(Foerster and Wäscher 2000, "Pattern reduction in one-dimensional cutting stock problems",
International Journal of Production Research 38) to many stock lengths, prices and limits. Where
plans may be dearer, whole plans are built anew as well, to begin with.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

import numpy as np

from cutopt.solve.lumber.model import Ints, Model, Pattern
from cutopt.solve.lumber.pricing import Floats
from cutopt.solve.lumber.setups.build import MANY, Builder, Work
from cutopt.solve.lumber.setups.exact import fewest
from cutopt.solve.lumber.setups.key import Key, Keys, cost_of
from cutopt.solve.lumber.setups.pool import Pool, joined, pool_of
from cutopt.solve.search import Watch

__all__ = ["Reducer"]

#: Candidates listed once for all where a plan may be no dearer.
_LISTED = 3_000
#: A list this short is given to the integer model, for so many nodes, where set-ups have so few
#: sticks: there it ends soon and finds most. With much work to do, it may take longer.
_SHORT = 400
_NODES = 5
_STICKS = 10
_MUCH = 1_000_000
#: Whole plans built anew, and the dollars that one kind used up may cost, in shares of what a
#: set-up may: the smaller ones stay within the tolerance, the larger ones have fewer set-ups.
_STARTS = 8
_SHARES = (1.0, 2.0, 4.0, 8.0)
#: Tries with the same layouts taken out, fewest and most of them.
_PASSES = 6
_FEWEST, _MOST = (2, 8), (4, 20)
#: How often a try may leave as many layouts as there were, to lose cost or part stacks.
_SIDEWAYS = 0.3
#: What each try may use of what the tolerance has left.
_GREED = 0.6
#: What a step costs beside the rows that it looks at.
_STEP = 200


class Reducer:
    """A plan, and what is done to it.

    Parameters
    ----------
    least, allowed
        What the sticks of the least-cost plan cost, and what these may, in dollars.

    Attributes
    ----------
    now : dict
        Patterns with their counts: always exactly the pieces that were given.
    """

    def __init__(
        self,
        model: Model,
        patterns: Mapping[Pattern, int],
        keys: Keys,
        worth: Floats,
        least: Fraction,
        allowed: Fraction,
        seed: int,
        work: Work,
        watch: Watch,
    ) -> None:
        self.model, self.keys, self.watch, self.work = model, keys, watch, work
        self.now = dict(patterns)
        self.allowed = allowed
        self.cost = cost_of(patterns)
        self._chance = np.random.default_rng(seed)
        self._builder = Builder(model, worth, self._chance, work)
        self._dearer = allowed > least
        #: What a set-up less may cost, about.
        self._price = max(float(allowed - least) / max(1, len(self.now)), 1e-6)
        self._pool = joined(()) if self._dearer else self._all_candidates()

    def run(self, least: int) -> None:
        """Reduce until the work is done, or `least` set-ups are left in whole stacks."""
        if self._dearer:
            self._build_anew()
        elif self._settled():
            return
        one = all(s == 1 for s in self.keys.stack)
        while self.work.left > 0 and self.watch.stop() is None:
            grouped = self.keys.grouped(self.now)
            if len(grouped) < 2 or (one and len(grouped) <= least):
                return
            self._step(grouped)

    def _needed(self, patterns: Mapping[Pattern, int]) -> Ints:
        need = np.zeros(len(self.model.kinds), np.int64)
        for p, n in patterns.items():
            for i, q in p.cuts:
                need[i] += q * n
        return need

    def _caps(self, but: Mapping[Pattern, int]) -> Ints:
        """Sticks that can be had when these are not cut."""
        caps = np.array(
            [MANY if s.available is None else s.available for s in self.model.stocks], np.int64
        )
        for p, n in self.now.items():
            if p not in but and self.model.stocks[p.stock].available is not None:
                caps[p.stock] -= n
        return caps

    def _over(self, patterns: Mapping[Pattern, int]) -> float:
        return sum(n * self._builder.over(p) for p, n in patterns.items())

    def _all_candidates(self) -> Pool:
        """All that a plan that is no dearer could use, as far as the list goes.

        A limited stick may cost less than its worth; what such sticks gain can be spent.
        """
        slack = self._over(self.now)
        for k, stock in enumerate(self.model.stocks):
            if stock.available:
                overs = [self._builder.over(p) for p in self.now if p.stock == k]
                slack += stock.available * max(0.0, -min(overs, default=0.0))
        need = self._needed(self.now)
        self.work.spent += 100 * int(np.count_nonzero(need))
        found = self._builder.lister.near_worth(need, max(0.0, slack), _LISTED)
        known = list(self.now)
        return joined((pool_of(self.model, known, [self._builder.over(p) for p in known]), found))

    def _settled(self) -> bool:
        """Ask the integer model where it is quick; whether nothing is left to do."""
        setups = len(self.keys.counts(self.now))
        few = sum(self.now.values()) <= _STICKS * setups or self.work.most >= _MUCH
        if setups < 2 or len(self._pool) > _SHORT or not few or self.work.most <= 0:
            return False
        none = len(self.model.kinds)
        known = {
            self.model.pattern(int(self._pool.stock[r]), self._pool.cuts(r, none)): None
            for r in range(len(self._pool))
        }
        patterns = [*self.now, *(p for p in known if p not in self.now)]
        need = self._needed(self.now)
        made, solved = fewest(self.model, self.keys, patterns, need, self.allowed, setups, _NODES)
        if made is not None:
            self._take({}, made, Fraction(0), whole=True)
        return solved and all(s == 1 for s in self.keys.stack)

    def _build_anew(self) -> None:
        need, caps = self._needed(self.now), self._caps(self.now)
        budget = self._over(self.now) + float(self.allowed - self.cost)
        half = self.work.left // 2
        for t in range(_STARTS):
            if self.work.left < half or self.watch.stop() is not None:
                return
            price = self._price * _SHARES[t % len(_SHARES)]
            made = self._builder.build(need, caps, None, budget, MANY, price)
            if made is not None:
                self._take({}, made, Fraction(0), whole=True)

    def _step(self, grouped: Mapping[Key, Sequence[Pattern]]) -> None:
        """Take some layouts out and try to do with one less."""
        keys = self._chosen(grouped)
        out = {p: self.now[p] for key in keys for p in grouped[key]}
        need, caps = self._needed(out), self._caps(out)
        over, cost = self._over(out), cost_of(out)
        spare = max(0.0, float(self.allowed - self.cost))
        self.work.spent += _STEP + len(self._pool)
        if self._dearer:
            each = self._price + max(0.0, over) / len(keys)
            pool = self._builder.listed(need, 2 * each, 4 * each)
        else:
            inside = np.append(need > 0, True)
            pool = self._pool.take(np.flatnonzero(inside[self._pool.kind].all(axis=1)))
            if len(pool) <= len(out):
                return
        for _ in range(_PASSES):
            price = self._price * 2.0 ** self._chance.uniform(-1.0, 3.0)
            less = self._chance.random() >= _SIDEWAYS
            budget = over + (_GREED * spare if less else 0.0) + 1e-9
            made = self._builder.build(need, caps, pool, budget, len(keys) - less, price)
            if made is not None and self._take(out, made, cost):
                return

    def _chosen(self, grouped: Mapping[Key, Sequence[Pattern]]) -> list[Key]:
        """Set-ups that have something to do with each other: kinds, counts, or a candidate."""
        keys = list(grouped)
        fewest, most = _MOST if self._dearer else _FEWEST
        many = min(int(self._chance.integers(fewest, most + 1)), len(keys))
        kinds = [{i for p in grouped[key] for i, _ in p.cuts} for key in keys]
        count = [sum(self.now[p] for p in grouped[key]) for key in keys]
        rank = self._chance.random(len(keys))
        way = self._chance.random()
        first = int(self._chance.integers(len(keys)))
        if way < 0.4 or (way < 0.7 and not len(self._pool)):
            rank += [len(k & kinds[first]) for k in kinds]
        elif way < 0.7:
            row = int(self._chance.integers(len(self._pool)))
            wanted = {i for i, _ in self._pool.cuts(row, len(self.model.kinds))}
            rank += [len(k & wanted) for k in kinds]
            first = int(rank.argmax())
        elif way < 0.9:
            rank += [n % count[first] == 0 or count[first] % n == 0 for n in count]
        rank += [0.3 * (n <= 3) for n in count]
        rank[first] = np.inf
        return [keys[j] for j in np.argsort(-rank, kind="stable")[:many].tolist()]

    def _take(
        self,
        out: Mapping[Pattern, int],
        made: Mapping[Pattern, int],
        cost: Fraction,
        whole: bool = False,
    ) -> bool:
        """Keep what was made in place of `out` (of cost `cost`) where it is no worse."""
        new = cost_of(made) + (Fraction(0) if whole else self.cost - cost)
        if new > self.allowed:
            return False
        now = {} if whole else {p: n for p, n in self.now.items() if p not in out}
        for p, n in made.items():
            now[p] = now.get(p, 0) + n
        if (*self.keys.measure(now), new) > (*self.keys.measure(self.now), self.cost):
            return False
        self.now, self.cost = now, new
        return True

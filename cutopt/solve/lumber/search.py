"""The search for the least cost: bound, dives, covering models, and what they found."""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction

from cutopt.plan import Group, Stop
from cutopt.solve.lumber.bound import proved, rounded_up, step_of_costs
from cutopt.solve.lumber.branch import branch, step_of
from cutopt.solve.lumber.columns import Generator
from cutopt.solve.lumber.dive import dive
from cutopt.solve.lumber.draft import Draft, greedy, tidy, wanted
from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Model, Pattern
from cutopt.solve.lumber.pool import cover
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.lumber.tail import TooManyError, list_patterns, list_ways
from cutopt.solve.search import Progress, Report, Watch

__all__ = ["CLOSE", "Search"]

#: The search ends where the gap is no more than this share of the cost.
CLOSE = Fraction(1, 100_000)
#: Rounds of pricing at the root, and after each fixing of a dive.
_ROOT_ROUNDS = 3_000
_DIVE_ROUNDS = 12
#: How near the master must come to its bound at the root, as a share.
_ROOT_CLOSE = 1e-7
#: Rounds of dives and a covering model; dives in each, and where only one lower cost is open;
#: nodes of each model.
_TRIES = 4
_DIVES = 3
_MOST_DIVES = 12
_NODES = 200
#: Columns listed for the exact end, nodes of its search, and how often a smaller list is tried.
_LISTED = 3_000
_BRANCHES = 1_000
_FINISHES = 8


class Search:
    """One group of materials.

    Attributes
    ----------
    bound
        Proved, in dollars.
    best
        The plan that costs least of those with nothing short; else the one with least short.
    """

    def __init__(
        self,
        group: Group,
        model: Model,
        runs: RunPricer,
        watch: Watch,
        seed: int,
        report: Report,
    ) -> None:
        self.group, self.model, self.runs = group, model, runs
        self.watch, self.report = watch, report
        self.rng = random.Random(seed)  # noqa: S311 - a search, not a secret
        self.generator = Generator(model, runs, watch)
        self.bound = Fraction(0)
        self.best = Draft()
        self.cost: Fraction | None = None
        self._step = step_of_costs(model, runs)
        self._root = self.generator.master.duals
        self._short: int | None = None
        self._tried: set[int] = set()

    def run(self, start: Draft | None = None) -> None:
        """Search; `start` is a plan that is known."""
        generator = self.generator
        if start is not None:
            self.take(start)
        self._start()
        centre = generator.root(_ROOT_ROUNDS, _ROOT_CLOSE)
        self.worths = proved(generator.pricer, self.runs, centre.piece)
        self.bound = self.worths.bound
        self._round()
        self._tell("bound")
        self._root = generator.master.duals
        for t in range(_TRIES):
            for k in range(_MOST_DIVES):
                if self._ended():
                    return
                if k >= _DIVES and not self._near():
                    break
                self.take(dive(generator, _DIVE_ROUNDS, self.rng if t or k else None))
            self._tell("dives")
            if self.cost is None:
                return
            if not self._ended():
                self._cover()
            if not self._ended() and t in (0, _TRIES - 1):
                self._finish()

    def _near(self) -> bool:
        """Whether only the next lower cost could be better, as with sticks of one price."""
        return self.cost is not None and 0 < self.cost - self.bound <= self._step

    def _ended(self) -> bool:
        return self.closed() or self.watch.stop() is not None

    def _cover(self) -> None:
        """The best plan from the columns at hand, as far as a limited search finds it."""
        if self.cost is None:
            return
        master = self.generator.master
        slack = float(self.cost - self._step - self.worths.bound) * (1 + 1e-7) + 1e-7
        reduced = [master.reduced(c, self._root) for c in master.columns]
        covered = cover(self.generator, reduced, slack, self.cost, _NODES, float(CLOSE) / 2, None)
        if covered is not None:
            self.take(covered)
            self._tell("cover")

    def _start(self) -> None:
        """Columns to begin with: a greedy plan's, and sticks of one kind alone."""
        model, master = self.model, self.generator.master
        draft = Draft()
        left = self.runs.copies.copy()
        for column in self.runs.starts():
            master.add(column)
            if left[column.unit]:
                draft.runs[column] = int(left[column.unit])
                left[column.unit] = 0
        draft.copies_short = {u: int(n) for u, n in enumerate(left.tolist()) if n}
        need = wanted(model, draft.runs)
        patterns, _ = greedy(model, need, [s.available for s in model.stocks])
        draft.patterns, draft.short = tidy(model, need, patterns)
        self.take(draft)
        for g, grid in enumerate(model.grids):
            for i, w in zip(grid.kinds.tolist(), grid.weight.tolist(), strict=True):
                alone = []
                for k in model.stocks_of[g]:
                    q = min(model.stocks[k].room // w, grid.most or 1 << 40)
                    if not model.joined[i]:
                        q = min(q, int(model.need[i]))
                    if q:
                        alone.append(model.pattern(k, {i: q}))
                if alone:
                    master.add(min(alone, key=lambda p: (p.cost / p.used, p.stock)))

    def take(self, draft: Draft) -> None:
        """Keep a plan where it is better; its patterns join the pool."""
        for pattern in draft.patterns:
            self.generator.master.add(pattern)
        if draft.whole:
            cost = draft.cost
            if self.cost is None or cost < self.cost:
                self.cost, self.best = cost, draft
                self._round()
            return
        short = sum(n * self.model.kinds[i].length for i, n in draft.short.items())
        short += sum(n * self.runs.lengths[u] for u, n in draft.copies_short.items())
        if self.cost is None and (self._short is None or short < self._short):
            self._short, self.best = short, draft

    def _finish(self) -> None:
        """List every column that a better plan could use, and search them to the end."""
        if self.cost is None:
            return
        generator, worths = self.generator, self.worths
        every = int((self.cost - self._step) * worths.scale) - worths.total
        slack, narrow = every, False
        for _ in range(_FINISHES):
            if slack < 0 or slack in self._tried or self._ended():
                return
            self._tried.add(slack)
            try:
                patterns = list_patterns(generator.pricer, worths, slack, _LISTED)
                ways = list_ways(self.runs, worths, slack, _LISTED)
            except TooManyError:
                if narrow:
                    return
                slack //= 4
                continue
            proved = self._search([*patterns, *ways], slack, every)
            if not proved or slack >= every:
                return
            # Nothing that cheap: a little dearer, while all can be listed.
            slack, narrow = min(every, 2 * slack), True

    def _search(self, columns: Sequence[Pattern | RunColumn], slack: int, every: int) -> bool:
        """The best plan from all columns that cost at most `slack` beyond their worth.

        Whether the search came to its end.
        """
        if self.cost is None:
            return False
        worths = self.worths
        below = self.cost
        if slack < every:
            below = min(below, (worths.total + slack) / worths.scale)
        ended = branch(
            self.model,
            columns,
            self.runs.copies,
            below,
            step_of(columns),
            _BRANCHES,
            self.watch,
        )
        if ended.used is not None:
            draft = Draft()
            for column, n in zip(columns, ended.used, strict=True):
                if n and isinstance(column, Pattern):
                    draft.patterns[column] = n
                elif n and isinstance(column, RunColumn):
                    draft.runs[column] = n
            need = wanted(self.model, draft.runs)
            draft.patterns, draft.short = tidy(self.model, need, draft.patterns)
            self.take(draft)
        self.bound = max(self.bound, min(ended.bound, self.cost))
        self._round()
        self._tell("finish")
        return ended.complete

    def _round(self) -> None:
        self.bound = rounded_up(self.model, self.runs, self.bound, self.cost)

    def closed(self) -> bool:
        """Whether the plan is as good as proved."""
        return self.cost is not None and self.cost - self.bound <= CLOSE * self.cost

    def stopped(self) -> Stop:
        """Why the search ended."""
        if self.cost is not None and self.cost <= self.bound:
            return Stop.PROVED
        if self.closed():
            return Stop.GAP
        return self.watch.stop() or Stop.WORK

    def _tell(self, phase: str) -> None:
        cost = None if self.cost is None else float(self.cost)
        self.report(Progress(self.group.materials, phase, cost, float(self.bound)))

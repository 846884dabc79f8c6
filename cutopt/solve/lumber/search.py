"""The search for the least cost: bound, dives, covering models, and what they found."""

from __future__ import annotations

import random
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from cutopt.plan import Group, Stop
from cutopt.solve.covering import branch, step_of
from cutopt.solve.lumber.bound import Worths, proved, rounded_up, step_of_costs
from cutopt.solve.lumber.columns import Generator
from cutopt.solve.lumber.correct import correct
from cutopt.solve.lumber.covering import covering_of
from cutopt.solve.lumber.dive import dive
from cutopt.solve.lumber.draft import Draft, drafted, greedy, tidy, wanted
from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Model, Pattern
from cutopt.solve.lumber.pool import MOST_COLUMNS, cover
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
#: The work of a node for each row of the model, and the fewest nodes that are worth a model.
_NODE, _FEWEST_NODES = 6e-5, 10
#: The work of any model over the pool grows with its entries, and more than they do.
_MODEL = 1.5e-8
#: Nodes of a model over patterns alone, the runs as a dive has fixed them.
_SETTLE_NODES = 100
#: With runs and a pool as large as this, more work takes as long as all before and saves next to
#: nothing. From such gaps on: no further dive; nothing after the dives; no model over all of a pool
#: that is larger still, and no second round.
_MANY_COLUMNS = 400
_MOST_COLUMNS = 1_000
_CLOSE_DIVE = Fraction(1, 50_000)
_CLOSE_DIVES = Fraction(1, 20_000)
_CLOSE_ROUND = Fraction(1, 10_000)
#: How often a list for the exact end is tried there.
_FEW_FINISHES = 2
#: Columns listed for the exact end, and how often a smaller list is tried.
_LISTED = 6_000
#: The work of listing a column.
_LISTING = 2e-4
#: Work to prove a plan that is as good as proved: where kinds are few or the gap is this share,
#: as it is left by rounding where drops earn credit.
_LAST, _FEW_KINDS, _NOTHING = 0.3, 20, Fraction(1, 10**8)
_FINISHES = 8
#: Work for a first look at the exact end.
_QUICK = 10.0
#: The work that a gap is worth once the bound is there: how small a share, and seconds of a usual
#: machine, counted and not timed. A day of many materials is planned while the planner waits.
_WORTH = (
    (Fraction(1, 50_000), 0.2),
    (Fraction(1, 20_000), 0.4),
    (Fraction(1, 10_000), 0.7),
    (Fraction(1, 4_000), 1.2),
    (Fraction(1, 2_000), 4.0),
)
#: The same with jointed runs, whose plans are harder to round.
_WORTH_RUNS = (
    (Fraction(1, 20_000), 1.0),
    (Fraction(1, 11_000), 2.0),
    (Fraction(1, 1_000), 5.0),
)
_MOST_WORK = 45.0
#: Plans have few different costs where they are at most so many steps.
_COARSE = 2_000
#: Plans by corrected values before the dives and between them, and the fillings that they may take.
_PLANS, _MORE_PLANS, _FEW_FILLINGS, _FILLINGS = 8, 48, 500, 6_000


class Search:
    """One group of materials.

    Attributes
    ----------
    bound
        Proved, in dollars.
    best
        The plan that costs least of those with nothing short; else the one with least short.
    """

    worths: Worths

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
        self._branched = self._rooted = 0.0

    def run(self, start: Draft | None = None) -> None:
        """Search; `start` is a plan that is known."""
        if start is not None:
            self.take(start)
        self._start()
        self._improve()
        if self.closed() and self._all_but_proved():
            self._finish(_LAST, last=True)

    def _improve(self) -> None:
        """Bound, dives, models and the exact end, while the gap is worth it."""
        generator = self.generator
        self._root_bound(float(self._step) if self._coarse() else 0.0)
        if self._coarse() and not self._ended():
            self._correct(_PLANS, _FEW_FILLINGS)
            if not self._ended():
                self._root_bound(0.0)
        for t in range(_TRIES):
            for k in range(_MOST_DIVES):
                if self._ended() or (k and self._enough(_CLOSE_DIVE)):
                    return
                if k >= _DIVES and not self._near() and self._left() >= self._model_work():
                    break
                draft = dive(generator, _DIVE_ROUNDS, self.rng if t or k else None)
                self.take(draft)
                if draft.runs and draft.whole and not self._ended():
                    self._cover(_SETTLE_NODES, draft.runs)
                if not t and not k and self._near() and not self._ended():
                    self._finish(_QUICK)
            self._tell("dives")
            if self.cost is None:
                return
            if self._coarse() and not self._ended():
                self._correct(_MORE_PLANS, _FILLINGS)
            if self._enough(_CLOSE_DIVES) or self._enough(_CLOSE_ROUND, _MOST_COLUMNS):
                return
            if not self._ended() and (t == 0 or not len(self.runs)):
                self._cover(_NODES, None)
            if not self._ended() and t in (0, _TRIES - 1):
                self._finish()
            if self._enough(_CLOSE_ROUND):
                return

    def _root_bound(self, step: float) -> None:
        """The bound of column generation, proved; `step` as in `Generator.root`."""
        generator = self.generator
        centre = generator.root(_ROOT_ROUNDS, _ROOT_CLOSE, step)
        worths = proved(generator.pricer, self.runs, centre.piece)
        if not self.bound or worths.bound > self.worths.bound:
            self.worths = worths
        self.bound = max(self.bound, self.worths.bound)
        self._round()
        self._root = generator.master.duals
        self._rooted = generator.work
        self._tell("bound")

    def _coarse(self) -> bool:
        """Whether plans have few different costs, as with sticks of one price."""
        return self.cost is not None and self._step > 0 and self.cost <= _COARSE * self._step

    def _correct(self, plans: int, fillings: int) -> None:
        """Plans by corrected values: good where the last sticks decide."""
        draft = correct(self.generator, self.rng, plans, fillings, self.bound)
        if draft is not None:
            self.take(draft)
            self._tell("correct")

    def _model_work(self) -> float:
        """What a model over the pool takes at least: dives are worth more than a hurried one."""
        master = self.generator.master
        cells = master.rows * min(len(master.columns), MOST_COLUMNS)
        return float(_MODEL * cells**1.5)

    def _near(self) -> bool:
        """Whether only the next lower cost could be better, as with sticks of one price."""
        return self.cost is not None and 0 < self.cost - self.bound <= self._step

    def _ended(self) -> bool:
        return self.closed() or self._left() <= 0 or self.watch.stop() is not None

    def _left(self) -> float:
        """The work that the gap is still worth."""
        most = _MOST_WORK
        if self.cost is not None:
            gap = self.cost - self.bound
            worth = _WORTH_RUNS if len(self.runs) else _WORTH
            most = next((w for share, w in worth if gap <= share * self.cost), most)
        return most - (self.generator.work - self._rooted) - self._branched

    def _many(self, columns: int = _MANY_COLUMNS) -> bool:
        """Whether it is a large day with runs."""
        return len(self.runs) > 0 and len(self.generator.master.columns) > columns

    def _enough(self, gap: Fraction, columns: int = _MANY_COLUMNS) -> bool:
        """Whether such a day has come so near its bound that more work is for nothing."""
        if self.cost is None or not self._many(columns):
            return False
        return self.cost - self.bound <= gap * self.cost

    def _cover(self, nodes: int, runs: dict[RunColumn, int] | None) -> None:
        """The best plan from the columns at hand, as far as a limited search finds it.

        `runs`: ways to joint them that are kept; None to choose them too.
        """
        master = self.generator.master
        if self.cost is None or self._left() < self._model_work():
            return
        slack = float(self.cost - self._step - self.worths.bound) * (1 + 1e-7) + 1e-7
        reduced = [master.reduced(c, self._root) for c in master.columns]
        close = _CLOSE_DIVE if self._many() else CLOSE
        nodes = max(_FEWEST_NODES, min(nodes, int(self._left() / (master.rows * _NODE))))
        covered = cover(
            self.generator,
            reduced,
            slack,
            self.cost,
            nodes,
            float(close) / 2,
            runs,
        )
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

    def _all_but_proved(self) -> bool:
        """Whether the last small piece of a gap is easily closed."""
        if self.cost is None or self.cost <= self.bound:
            return False
        few = len(self.model.kinds) <= _FEW_KINDS
        return few or self.cost - self.bound <= _NOTHING * self.cost

    def _finish(self, work: float = _MOST_WORK, *, last: bool = False) -> None:
        """List every column that a better plan could use, and search them to the end."""
        if self.cost is None:
            return
        generator, worths = self.generator, self.worths
        every = int((self.cost - self._step) * worths.scale) - worths.total
        slack, narrow = every, False
        for _ in range(_FEW_FINISHES if self._many() else _FINISHES):
            if slack < 0 or slack in self._tried or (self._ended() and not last):
                return
            if work == _MOST_WORK:
                self._tried.add(slack)
            most = min(_LISTED, int(self._left() / _LISTING))
            try:
                patterns = list_patterns(generator.pricer, worths, slack, most)
                ways = list_ways(self.runs, worths, slack, most)
                self._branched += _LISTING * len(patterns)
            except TooManyError:
                if narrow:
                    return
                slack //= 4
                continue
            proved = self._search([*patterns, *ways], slack, every, work)
            if not proved or slack >= every or last:
                return
            # Nothing that cheap: a little dearer, while all can be listed.
            slack, narrow = min(every, 2 * slack), True

    def _search(
        self, columns: Sequence[Pattern | RunColumn], slack: int, every: int, work: float
    ) -> bool:
        """The best plan from all columns that cost at most `slack` beyond their worth.

        Whether the search came to its end.
        """
        if self.cost is None:
            return False
        worths = self.worths
        below = self.cost
        if slack < every:
            below = min(below, (worths.total + slack) / worths.scale)
        exactly = np.flatnonzero(worths.piece > slack).tolist()
        covering = covering_of(self.model, columns, self.runs.copies, exactly)
        step = step_of(covering.columns)
        ended = branch(covering, below, step, min(work, self._left()), self.watch)
        self._branched += ended.work
        if ended.used is not None:
            self.take(drafted(self.model, columns, ended.used))
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

"""Column generation: rounds of pricing against the master, and the best worths seen on the way."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from cutopt.solve.lumber.master import Master
from cutopt.solve.lumber.model import Ints, Model
from cutopt.solve.lumber.pricing import Floats, Offered, PatternPricer
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.search import Watch

__all__ = ["Centre", "Generator", "Left"]

#: How far the worths that are priced lean to the best ones so far.
_SMOOTHING = 0.5
#: Reduced costs below minus this share of a column's cost are worth a column.
_EPS = 1e-9
#: The most patterns that one round adds.
_MOST_ADDED = 40
#: Rooms of more units than the first are priced on a rougher grid first, of about the second.
_FINE, _ROUGH = 20_000, 4_000

#: Seconds of a usual machine for an entry of a pricing table, for a row in a step of the simplex
#: method and for starting it.
_CELL, _STEP, _SOLVE = 1.2e-9, 1.5e-7, 4e-4


@dataclass(frozen=True, slots=True)
class Left:
    """What is still to be done: pieces by kind, sticks by stock, copies by unit."""

    need: Ints
    available: list[int | None]
    copies: Ints


@dataclass(frozen=True, slots=True)
class Centre:
    """The worths with the best bound so far."""

    piece: Floats
    bound: float


class Generator:
    """The master with its pricers.

    Attributes
    ----------
    rough
        A pricer on a rougher grid where the units are many; it proves nothing.
    """

    def __init__(self, model: Model, runs: RunPricer, watch: Watch) -> None:
        self.model = model
        self.runs = runs
        self.watch = watch
        self.pricer = PatternPricer(model)
        self.rough = _rough_pricer(model)
        self.master = Master(model, runs.copies, runs.lengths)
        self._priced = 0

    @property
    def work(self) -> float:
        """What was done so far, in seconds of a usual machine: counted, not timed."""
        master = self.master
        lp = master.steps * master.rows * _STEP + master.solves * _SOLVE
        return self._priced * _CELL + lp

    def priced(self, pricer: PatternPricer, worth: Floats, copies: Ints) -> Offered:
        """Price all sticks once; the work is counted."""
        self._priced += pricer.cells
        return pricer.price(worth, copies)

    def all_left(self) -> Left:
        """Everything."""
        model = self.model
        return Left(
            model.need.copy(), [s.available for s in model.stocks], self.master.copies.copy()
        )

    def root(self, most: int, close: float, step: float = 0.0) -> Centre:
        """Generate until the bound meets the master within `close` (a share), or `most` rounds.

        With costs that are multiples of `step` it is enough that no multiple lies between.
        """
        master = self.master
        best = Centre(np.zeros(len(self.model.kinds)), 0.0)
        self._roughly(most)
        for _ in range(most):
            master.solve()
            if self.watch.stop():
                break
            duals = master.duals
            smoothed = _SMOOTHING if best.bound > 0 else 0.0
            worth = smoothed * best.piece + (1 - smoothed) * duals.piece
            added, best = self._round(worth, best)
            if not added and smoothed:
                added, best = self._round(duals.piece, best)
            if not added or master.objective - best.bound <= close * abs(master.objective):
                break
            if step and master.objective <= ceil(best.bound / step - _EPS) * step + _EPS:
                break
        return best if best.bound > 0 else Centre(self._by_length(), 0.0)

    def _by_length(self) -> Floats:
        """Each piece worth its length at the least price: a bound where time left no other."""
        worth = np.full(len(self.model.kinds), np.inf)
        for g, grid in enumerate(self.model.grids):
            rates = [self.pricer.cost[k] / self.pricer.room[k] for k in self.model.stocks_of[g]]
            of_grid = grid.weight * float(min(rates))
            worth[grid.kinds] = np.minimum(worth[grid.kinds], of_grid)
        return np.where(np.isfinite(worth), worth, 0.0)

    def _roughly(self, most: int) -> None:
        """Generate what the rougher grid can tell; it proves nothing."""
        if self.rough is None:
            return
        master = self.master
        centre: Floats | None = None
        for _ in range(most):
            master.solve()
            if self.watch.stop():
                return
            duals = master.duals.piece
            centre = duals if centre is None else _SMOOTHING * centre + (1 - _SMOOTHING) * duals
            added = self._price_roughly(centre) or self._price_roughly(duals)
            if not added:
                return

    def _price_roughly(self, worth: Floats) -> int:
        if self.rough is None:
            return 0
        offered = self.priced(self.rough, worth, self.rough.most_copies)
        ways = self.runs.price(self.runs.lifted(worth, offered.filled))
        return self._add(offered, self.rough) + self.runs.add(self.master, ways)

    def _round(self, worth: Floats, best: Centre) -> tuple[int, Centre]:
        """Price once at these worths."""
        offered = self.priced(self.pricer, worth, self.pricer.most_copies)
        lifted = self.runs.lifted(worth, offered.filled)
        ways = self.runs.price(lifted)
        total = float(self.model.need @ worth) + float(self.runs.copies @ ways.value)
        bound = total / offered.over
        for k, stock in enumerate(self.model.stocks):
            if stock.available is not None and offered.gain[k] > 0:
                bound -= stock.available * float(offered.gain[k])
        if bound > best.bound:
            best = Centre(worth / offered.over, bound)
        return self._add(offered, self.pricer) + self.runs.add(self.master, ways), best

    def _add(self, offered: Offered, pricer: PatternPricer) -> int:
        """Add the best pattern of every stock where it promises a gain."""
        reduced = -offered.gain - self.master.duals.stock
        added = 0
        for k in np.argsort(reduced, kind="stable")[:_MOST_ADDED].tolist():
            if reduced[k] > -_EPS * max(1.0, self.pricer.cost[k]):
                break
            pattern = self.model.pattern(k, pricer.cuts(offered, k))
            if self.master.reduced(pattern) < -_EPS * max(1.0, self.pricer.cost[k]):
                added += self.master.add(pattern)
        return added

    def reprice(self, left: Left, rounds: int) -> None:
        """Solve the master for what is left, pricing at most so many times."""
        master = self.master
        open_ended = self.model.joined & bool(left.copies.any())
        pricer = self.rough or self.pricer
        copies = np.where(open_ended, pricer.most_copies, left.need)
        master.want(left.need, left.available, left.copies, copies)
        for r in range(rounds + 1):
            master.solve()
            if r == rounds or self.watch.stop():
                return
            offered = self.priced(pricer, master.duals.piece, copies)
            added = self._add(offered, pricer)
            if left.copies.any():
                ways = self.runs.price(master.duals.piece)
                added += self.runs.add(master, ways)
            if not added:
                return


def _rough_pricer(model: Model) -> PatternPricer | None:
    """A pricer on a grid of fewer units, pieces rounded up and sticks down.

    What fits there fits in truth; what it finds is good, not best. None where nothing is gained.
    """
    most = max((s.room for s in model.stocks), default=0)
    times = -(-most // _ROUGH)
    if most <= _FINE or any(model.ruled):
        return None
    grids = [replace(g, unit=g.unit * times, weight=-(-g.weight // times)) for g in model.grids]
    stocks = [replace(s, room=s.room // times) for s in model.stocks]
    return PatternPricer(Model(model.kinds, model.need, model.joined, grids, stocks))

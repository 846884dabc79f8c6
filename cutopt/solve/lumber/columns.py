"""Column generation: rounds of pricing against the master, and the best worths seen on the way."""

from __future__ import annotations

from dataclasses import dataclass

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
    rounds
        Rounds of pricing so far: what the work of a search is counted in.
    """

    def __init__(self, model: Model, runs: RunPricer, watch: Watch) -> None:
        self.model = model
        self.runs = runs
        self.watch = watch
        self.pricer = PatternPricer(model)
        self.master = Master(model, runs.copies, runs.lengths)
        self.rounds = 0

    def all_left(self) -> Left:
        """Everything."""
        model = self.model
        return Left(
            model.need.copy(), [s.available for s in model.stocks], self.master.copies.copy()
        )

    def root(self, most: int, close: float) -> Centre:
        """Generate until the bound meets the master within `close` (a share), or `most` rounds."""
        master = self.master
        best = Centre(np.zeros(len(self.model.kinds)), 0.0)
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
        return best

    def _round(self, worth: Floats, best: Centre) -> tuple[int, Centre]:
        """Price once at these worths."""
        self.rounds += 1
        offered = self.pricer.price(worth, self.pricer.most_copies)
        lifted = self.runs.lifted(worth, offered.filled)
        ways = self.runs.price(lifted)
        total = float(self.model.need @ worth) + float(self.runs.copies @ ways.value)
        bound = total / offered.over
        for k, stock in enumerate(self.model.stocks):
            if stock.available is not None and offered.gain[k] > 0:
                bound -= stock.available * float(offered.gain[k])
        if bound > best.bound:
            best = Centre(worth / offered.over, bound)
        return self._add(offered) + self.runs.add(self.master, ways), best

    def _add(self, offered: Offered) -> int:
        """Add the best pattern of every stock where it promises a gain."""
        reduced = -offered.gain - self.master.duals.stock
        added = 0
        for k in np.argsort(reduced, kind="stable")[:_MOST_ADDED].tolist():
            if reduced[k] > -_EPS * max(1.0, self.pricer.cost[k]):
                break
            pattern = self.pricer.pattern(offered, k)
            if self.master.reduced(pattern) < -_EPS * max(1.0, self.pricer.cost[k]):
                added += self.master.add(pattern)
        return added

    def reprice(self, left: Left, rounds: int) -> None:
        """Solve the master for what is left, pricing at most so many times."""
        master = self.master
        open_ended = self.model.joined & bool(left.copies.any())
        copies = np.where(open_ended, self.pricer.most_copies, left.need)
        master.want(left.need, left.available, left.copies, copies)
        for r in range(rounds + 1):
            master.solve()
            if r == rounds or self.watch.stop():
                return
            self.rounds += 1
            offered = self.pricer.price(master.duals.piece, copies)
            added = self._add(offered)
            if left.copies.any():
                ways = self.runs.price(master.duals.piece)
                added += self.runs.add(master, ways)
            if not added:
                return

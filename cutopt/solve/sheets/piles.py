"""Strips side by side: what they are worth at most up to every place across a sheet.

An unbounded knapsack over strip heights, for all strip lengths at once, height by height. A height
that is worth no more than lower strips in its room is passed over.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.sheets.points import Ints, Points

__all__ = ["Piles"]

#: Numbers in the steps back that are kept from one table to the next.
_KEPT = 4_000_000
#: Heights after which the watch is looked at.
_LOOK = 16


class Piles:
    """The table of a set of heights and stops, filled anew for other worths.

    Parameters
    ----------
    stops
        All sums of heights up to the widest sheet.
    heights
        Shape (heights,), ascending, above 0 but for the first, which may be 0.
    """

    def __init__(self, stops: Points, heights: Ints) -> None:
        self.stops, self.heights = stops.at, heights
        self._first = np.searchsorted(self.stops, heights, side="left").tolist()
        self._back: dict[int, list[NDArray[np.int32]]] = {}
        self._held = 0

    def fill(self, gains: Ints, look: Callable[[], object]) -> Filled:
        """What strips are worth at most, by their length and the stop that they end at.

        Parameters
        ----------
        gains
            Worth of one strip, shape (lengths, heights).
        look
            Called every so often; may raise where time is up.
        """
        best: Ints = np.zeros((len(gains), len(self.stops)), dtype=np.int64)
        for h, height in enumerate(self.heights.tolist()):
            if h % _LOOK == 0:
                look()
            first = self._first[h]
            if height <= 0 or first >= len(self.stops):
                continue
            gain = gains[:, h : h + 1]
            if (gain[:, 0] <= best[:, first]).all():
                continue
            for times, back in enumerate(self._steps(h)):
                at = len(self.stops) - len(back)
                offered = best[:, back]
                offered += gain << times
                np.maximum(best[:, at:], offered, out=best[:, at:])
        return Filled(self, best, gains)

    def _steps(self, h: int) -> list[NDArray[np.int32]]:
        """Indices 1, 2, 4 ... heights behind each stop from the first that is so far up."""
        known = self._back.get(h)
        if known is not None:
            return known
        stops, height = self.stops, int(self.heights[h])
        steps = []
        far = height
        while far <= stops[-1]:
            first = int(np.searchsorted(stops, far, side="left"))
            back = np.searchsorted(stops, stops[first:] - far, side="right") - 1
            steps.append(back.astype(np.int32))
            far *= 2
        self._held += sum(len(s) for s in steps)
        if self._held <= _KEPT:
            self._back[h] = steps
        return steps


class Filled:
    """A filled table: `best` has shape (lengths, stops)."""

    def __init__(self, piles: Piles, best: Ints, gains: Ints) -> None:
        self.piles, self.best, self.gains = piles, best, gains

    def read(self, row: int, at: int) -> list[int]:
        """The heights, by index, of strips of one length that are worth most up to a stop."""
        stops, heights = self.piles.stops, self.piles.heights
        best, gains = self.best[row], self.gains[row]
        found: list[int] = []
        while best[at] > 0:
            at = int(np.searchsorted(best, best[at], side="left"))
            some = slice(0, int(np.searchsorted(heights, stops[at], side="right")))
            back = np.searchsorted(stops, stops[at] - heights[some], side="right") - 1
            fits = (gains[some] > 0) & (heights[some] > 0) & (best[back] + gains[some] == best[at])
            h = int(fits.argmax())
            found.append(h)
            at = int(back[h])
        return found

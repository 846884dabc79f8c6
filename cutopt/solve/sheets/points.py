"""The places that matter along one measure of a sheet, and a bounded knapsack over them.

Cuts need only lie at sums of part sizes: pushing every part towards the squared edge loses
nothing. A table over these places is exact for any unit, and short where there are few parts.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import gcd

import numpy as np
from numpy.typing import NDArray

__all__ = ["Ints", "Knapsack", "Points", "chunks"]

Ints = NDArray[np.int64]


def chunks(copies: int) -> Iterator[int]:
    """1, 2, 4 ... and a rest: sums of some of them are every number from 0 to `copies`."""
    step = 1
    while copies > 0:
        took = min(step, copies)
        yield took
        copies -= took
        step *= 2


#: Where at least this share of all places are sums of sizes, `Points` may hold every place.
_DENSE = 0.75
#: Index of each point less a step.
_Back = slice | NDArray[np.intp]


class Points:
    """Sums of sizes, each used at most so often, not above `cap`; sorted, 0 among them.

    Parameters
    ----------
    even
        Whether points may lie one unit apart where most places are sums anyway. A table holds the
        same values, and what lies a step behind is then a slice of it, which is much faster.
    """

    def __init__(
        self, sizes: Sequence[int], copies: Sequence[int], cap: int, even: bool = False
    ) -> None:
        most: dict[int, int] = {}
        for size, n in zip(sizes, copies, strict=True):
            if size <= cap and n > 0:
                most[size] = most.get(size, 0) + n
        unit = gcd(*most) if most else 1
        cells = cap // unit
        seen = np.zeros(cells + 1, dtype=bool)
        seen[0] = True
        for size, n in sorted(most.items()):
            for m in chunks(min(n, cap // size)):
                step = m * size // unit
                if step <= cells:
                    seen[step:] |= seen[:-step].copy()
        if even and np.count_nonzero(seen) >= _DENSE * len(seen):
            seen[:] = True
        self.at: Ints = np.flatnonzero(seen).astype(np.int64) * unit
        self._back: dict[int, tuple[int, NDArray[np.intp]]] = {}
        #: The distance of all points, where they lie evenly; else 0.
        self._unit = unit if even and seen.all() else 0

    def __len__(self) -> int:
        return len(self.at)

    def floor(self, measure: int) -> int:
        """Index of the largest point not above `measure` (which is at least 0)."""
        return int(np.searchsorted(self.at, measure, side="right")) - 1

    def floors(self, measures: Ints) -> NDArray[np.intp]:
        """`floor` of many measures, of any shape."""
        return np.searchsorted(self.at, measures, side="right") - 1

    def back(self, step: int) -> tuple[int, NDArray[np.intp]]:
        """First index at or above `step`, and from there on the index of each point less `step`."""
        known = self._back.get(step)
        if known is None:
            low = int(np.searchsorted(self.at, step, side="left"))
            index = np.searchsorted(self.at, self.at[low:] - step, side="right") - 1
            known = self._back[step] = (low, index)
        return known

    def behind(self, step: int) -> tuple[int, _Back]:
        """As `back`, as a slice where points lie evenly."""
        if not self._unit:
            return self.back(step)
        low = -(-step // self._unit)
        return low, slice(0, max(0, len(self.at) - low))


class Knapsack:
    """Best values over points, thing by thing; `rows` tables side by side with values of their own.

    `table` has shape (rows, points), or as many of the first points as are asked for. What was
    taken is kept, so that the best choice can be read back as of any moment (`mark`).
    """

    def __init__(self, points: Points, rows: int = 1, first: int | None = None) -> None:
        self.points = points
        self._places = len(points) if first is None else first
        self.table: Ints = np.zeros((rows, self._places), dtype=np.int64)
        self._steps: list[tuple[int, int, int, _Back, NDArray[np.bool_]]] = []
        self._room: Ints = np.empty_like(self.table)

    @property
    def mark(self) -> int:
        """The moment, to read back from later."""
        return len(self._steps)

    def add(self, tag: int, size: int, values: Ints, copies: int) -> bool:
        """Offer up to `copies` of a thing; `values` has shape (rows,). True where it was of use."""
        places = self._places
        cap = int(self.points.at[places - 1])
        used = False
        for m in chunks(min(copies, cap // size)):
            low, back = self.points.behind(m * size)
            here = self.table[:, low:]
            if low >= places:
                break
            back = slice(0, places - low) if isinstance(back, slice) else back[: places - low]
            offered = self._room[:, low:]
            np.add(self.table[:, back], (m * values)[:, None], out=offered)
            took = offered > here
            if took.any():
                np.maximum(here, offered, out=here)
                self._steps.append((tag, m, low, back, took))
                used = True
        return used

    def read(self, at: int, row: int = 0, mark: int | None = None) -> list[tuple[int, int]]:
        """What makes up the best value at point index `at`: (tag, copies), as of `mark`."""
        taken: dict[int, int] = {}
        steps = self._steps if mark is None else self._steps[:mark]
        for tag, m, low, back, took in reversed(steps):
            if at >= low and took[row, at - low]:
                taken[tag] = taken.get(tag, 0) + m
                at = at - low if isinstance(back, slice) else int(back[at - low])
        return list(taken.items())

"""Percentiles of what was measured, and a line through it with its noise."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Line", "fitted", "percentile"]

#: Samples are gathered into so many blocks: neighbours are not independent, blocks nearly are.
BLOCKS = 12
#: A slope is told from noise beyond so many of its standard errors.
ERRORS = 3.0


def percentile(values: Sequence[float], share: float) -> float:
    """The least of the values that so many (a share, 0 to 1) are not above; nearest rank."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(share * len(ordered)) - 1)]


@dataclass(frozen=True, slots=True)
class Line:
    """A least-squares line: its slope a second, the slope's standard error, over how long."""

    slope: float
    error: float
    seconds: float

    @property
    def growth(self) -> float:
        """What the line gains over the whole time."""
        return self.slope * self.seconds

    def grows(self, least: float) -> bool:
        """Whether it gains more than `least`, and that is more than noise."""
        return self.growth > least and self.slope > ERRORS * self.error


def fitted(samples: Sequence[tuple[float, float]]) -> Line:
    """The line through (seconds, value) samples, by the means of `BLOCKS` blocks of them."""
    size = max(1, len(samples) // BLOCKS)
    blocks = [samples[i : i + size] for i in range(0, len(samples) - size + 1, size)]
    xs = [math.fsum(x for x, _ in block) / size for block in blocks]
    ys = [math.fsum(y for _, y in block) / size for block in blocks]
    if len(xs) < 3:
        return Line(0.0, math.inf, 0.0)
    middle, level = math.fsum(xs) / len(xs), math.fsum(ys) / len(ys)
    spread = math.fsum((x - middle) ** 2 for x in xs)
    slope = math.fsum((x - middle) * (y - level) for x, y in zip(xs, ys, strict=True)) / spread
    left = math.fsum((y - level - slope * (x - middle)) ** 2 for x, y in zip(xs, ys, strict=True))
    error = math.sqrt(left / (len(xs) - 2) / spread)
    return Line(slope, error, samples[-1][0] - samples[0][0])

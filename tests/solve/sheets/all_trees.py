"""The most that can be kept of a tiny sheet: every edge-to-edge way to cut it, tried."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from cutopt.plan.guillotine import Axis

__all__ = ["most_kept"]

Part = tuple[int, int, bool]
_NO = -(1 << 40)


def most_kept(
    parts: Sequence[Part],
    length: int,
    width: int,
    kerf: int,
    axes: Sequence[Axis],
    stages: int,
    keep: tuple[int, int],
) -> int:
    """Area of kept drops at most, over all cuts in whole units; below 0 where nothing fits.

    `parts` are (length, width, may be turned). A last cut that frees a single part is free.
    """

    @cache
    def slices(a: int, b: int, inside: tuple[Part, ...], rip: bool, stage: int) -> int:
        """A region, `a` along the sheet and `b` across it, that this stage may still cut."""
        if not inside:
            return a * b if a >= keep[0] and b >= keep[1] else 0
        if stage > stages and len(inside) > 1:
            return _NO
        reach = b if rip else a
        best = child(a, b, inside, rip, stage)
        for cut in range(1, reach):
            rest = max(0, reach - cut - kerf)
            for first, second in subsets(inside):
                if not rest and second:
                    continue
                low = child(a, cut, first, rip, stage) if rip else child(cut, b, first, rip, stage)
                if low < 0:
                    continue
                high = 0
                if rest:
                    high = (
                        slices(a, rest, second, rip, stage)
                        if rip
                        else slices(rest, b, second, rip, stage)
                    )
                best = max(best, low + high)
        return best

    @cache
    def child(a: int, b: int, inside: tuple[Part, ...], rip: bool, stage: int) -> int:
        """A region that the next stage turns to."""
        if not inside:
            return a * b if a >= keep[0] and b >= keep[1] else 0
        if len(inside) == 1 and (
            (a, b) == inside[0][:2] or (inside[0][2] and (b, a) == inside[0][:2])
        ):
            return 0
        area = sum(p[0] * p[1] for p in inside)
        if stage > stages or area > a * b:
            return _NO
        return slices(a, b, inside, not rip, stage + 1)

    @cache
    def subsets(inside: tuple[Part, ...]) -> list[tuple[tuple[Part, ...], tuple[Part, ...]]]:
        found = {}
        for mask in range(1 << len(inside)):
            first = tuple(p for i, p in enumerate(inside) if mask >> i & 1)
            found[first] = tuple(p for i, p in enumerate(inside) if not mask >> i & 1)
        return list(found.items())

    return max(
        (slices(length, width, tuple(sorted(parts)), axis is Axis.RIP, 1) for axis in axes),
        default=_NO,
    )

"""What is cut from one sheet, as a tree: strips, in them stacks, in them parts.

A strip lies across the first cuts, a stack across the second, parts in a stack across the third.
With two stages every stack is a single part. All that the solver adds, trims or draws goes through
this one form, so that no layout can need more stages than it has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.points import Ints

__all__ = ["Pattern", "Stack", "Strip", "counts", "dearest", "trimmed"]

#: Parts one beside the other across the strip: (kind, turned) each.
Stack = tuple[tuple[int, bool], ...]
Strip = tuple[Stack, ...]


@dataclass(frozen=True, slots=True)
class Pattern:
    """`sheet` is the index of the sheet it is cut from, `axis` that of the first cuts."""

    sheet: int
    axis: Axis
    strips: tuple[Strip, ...]


def counts(pattern: Pattern, kinds: int) -> Ints:
    """How often the pattern cuts each kind, shape (kinds,)."""
    found = np.zeros(kinds, dtype=np.int64)
    for strip in pattern.strips:
        for stack in strip:
            for kind, _ in stack:
                found[kind] += 1
    return found


def trimmed(pattern: Pattern, left: Sequence[int]) -> Pattern:
    """The pattern without the parts beyond `left` of each kind: what is not wanted is not cut."""
    still = list(left)
    strips: list[Strip] = []
    for strip in pattern.strips:
        stacks: list[Stack] = []
        for stack in strip:
            kept: list[tuple[int, bool]] = []
            for kind, turned in stack:
                if still[kind] > 0:
                    still[kind] -= 1
                    kept.append((kind, turned))
            if kept:
                stacks.append(tuple(kept))
        if stacks:
            strips.append(tuple(stacks))
    return Pattern(pattern.sheet, pattern.axis, tuple(strips))


def dearest(pattern: Pattern, worth: Sequence[int], limit: int) -> Pattern:
    """The pattern without all but its `limit` dearest parts."""
    kinds = sorted(
        (kind for strip in pattern.strips for stack in strip for kind, _ in stack),
        key=lambda kind: (-worth[kind], kind),
    )
    left = [0] * len(worth)
    for kind in kinds[:limit]:
        left[kind] += 1
    return trimmed(pattern, left)

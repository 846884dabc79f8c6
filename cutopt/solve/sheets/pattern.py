"""What is cut from one sheet, as a tree: strips, in them stacks, in them parts.

A strip lies across the first cuts, a stack across the second, parts in a stack across the third.
With two stages every stack is a single part. All that the solver adds, trims or draws goes through
this one form, so that no layout can need more stages than it has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutopt.plan.guillotine import Axis, Rect
from cutopt.solve.sheets.points import Ints

__all__ = ["Pattern", "Stack", "Strip", "counts", "dearest", "place", "trimmed"]

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


def place(
    pattern: Pattern, sizes: Sequence[tuple[int, int]], kerf: int
) -> tuple[tuple[int, bool, Rect], ...]:
    """Where the parts lie: (kind, turned, rectangle) from the squared head and edge.

    `sizes` are the finished (length, width) of the kinds. The highest strip lies at the squared
    edge, in it the widest stack at the head, so that what is left over lies together.
    """
    rip = pattern.axis is Axis.RIP

    def extent(kind: int, turned: bool) -> tuple[int, int]:
        """Along the strip and across it."""
        length, width = sizes[kind]
        if turned:
            length, width = width, length
        return (length, width) if rip else (width, length)

    def stack_size(stack: Stack) -> tuple[int, int]:
        sizes_here = [extent(*p) for p in stack]
        return max(a for a, _ in sizes_here), sum(b for _, b in sizes_here) + kerf * (
            len(stack) - 1
        )

    def strip_height(strip: Strip) -> int:
        return max(stack_size(s)[1] for s in strip)

    placed: list[tuple[int, bool, Rect]] = []
    across = 0
    for strip in sorted(pattern.strips, key=lambda s: (-strip_height(s), s)):
        along = 0
        for stack in sorted(strip, key=lambda s: (-stack_size(s)[1], -stack_size(s)[0], s)):
            at = across
            for kind, turned in sorted(stack, key=lambda p: (-extent(*p)[0], p)):
                a, b = extent(kind, turned)
                rect = Rect(along, at, a, b) if rip else Rect(at, along, b, a)
                placed.append((kind, turned, rect))
                at += b + kerf
            along += stack_size(stack)[0] + kerf
        across += strip_height(strip) + kerf
    return tuple(placed)

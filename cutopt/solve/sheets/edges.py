"""Parts that keep factory edges: where a pattern's parts lie so that each has those it asks for.

A factory edge runs along the sheet, at its squared side (y = 0) or its far side (y = width). With
rips first only the outermost strips reach it, and of a strip's stacks the outermost part; with
crosscuts first each strip reaches both, with the outermost stack at either side, or with a single
stack as wide as the sheet. What is trimmed off then lies inside.

A pattern does not say which of its strips or stacks lies where. Leaving parts out of one that can
be laid never makes it one that can't, so that whoever trims patterns need not know of edges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.materials import Edge, Edges
from cutopt.plan.guillotine import Axis, Rect
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern, Stack, Strip

__all__ = ["on_edges"]

_Part = tuple[int, bool]
_Placed = tuple[int, bool, Rect]
#: Whether at the squared side, and whether at the far one.
_Sides = tuple[bool, bool]


def on_edges(pattern: Pattern, model: Model) -> tuple[_Placed, ...]:
    """Where the parts lie: (kind, turned, rectangle), each part at the edges it asks for.

    Raises
    ------
    ValueError
        Where there is no such place, which is so for no pattern of this room.
    """
    sheet, bench = model.sheets[pattern.sheet], model.bench_of[pattern.sheet]
    laid = _Laid(
        tuple((k.length, k.width) for k in model.kinds),
        tuple(k.edge for k in model.kinds),
        sheet.edges,
        sheet.width - bench.kerf,
        bench.kerf,
    )
    placed = laid.rips(pattern) if pattern.axis is Axis.RIP else laid.crosscuts(pattern)
    if placed is None:
        raise ValueError(f"a pattern that cannot keep its factory edges: {pattern}")
    return tuple(placed)


@dataclass(frozen=True, slots=True)
class _Laid:
    """A sheet: finished sizes and edges of the kinds, its own edges, its finished width."""

    sizes: Sequence[tuple[int, int]]
    edge: Sequence[Edge]
    edges: Edges
    width: int
    kerf: int

    def _size(self, part: _Part) -> tuple[int, int]:
        """Along the sheet and across it."""
        length, width = self.sizes[part[0]]
        return (width, length) if part[1] else (length, width)

    def _sides(self, part: _Part) -> _Sides:
        """The sides at which the part has what it asks for."""
        edge = self.edge[part[0]]
        if edge is Edge.BOTH:
            whole = self.edges is Edges.BOTH and self._size(part)[1] == self.width
            return whole, whole
        return edge in self.edges.squared, edge in self.edges.far

    def _asking(self, parts: Stack) -> list[_Part]:
        return [p for p in parts if self.edge[p[0]]]

    def _long(self, stack: Sequence[_Part]) -> int:
        """Parts one behind the other along the sheet."""
        return sum(self._size(p)[0] for p in stack) + self.kerf * (len(stack) - 1)

    def _wide(self, stack: Sequence[_Part]) -> int:
        """Parts one beside the other across the sheet."""
        return sum(self._size(p)[1] for p in stack) + self.kerf * (len(stack) - 1)

    def _longest(self, stack: Stack) -> int:
        return max(self._size(p)[0] for p in stack)

    def _widest(self, stack: Stack) -> int:
        return max(self._size(p)[1] for p in stack)

    # -- rips first: strips along the sheet, in them stacks across it ------------------------------

    def rips(self, pattern: Pattern) -> list[_Placed] | None:
        """Strips that ask for an edge lie outermost, the others between them by falling width."""

        def width(strip: Strip) -> int:
            return max(self._wide(stack) for stack in strip)

        asking = [n for n, s in enumerate(pattern.strips) if any(map(self._asking, s))]
        between = sorted(
            (s for n, s in enumerate(pattern.strips) if n not in asking),
            key=lambda s: (-width(s), s),
        )
        for squared, far in _ends(asking):
            first = [pattern.strips[n] for n in squared]
            last = [pattern.strips[n] for n in far]
            if not all(self._reaches(stack, 0) for strip in first for stack in strip):
                continue
            if not all(self._reaches(stack, 1) for strip in last for stack in strip):
                continue
            placed: list[_Placed] = []
            y = 0
            for strip in first + between:
                placed += self._strip(strip, y)
                y += width(strip) + self.kerf
            for strip in last:
                placed += map(self._mirrored, self._strip(strip, 0))
            return placed
        if len(asking) == len(pattern.strips) == 1:
            return self._whole_strip(pattern.strips[0])
        return None

    def _reaches(self, stack: Stack, side: int) -> bool:
        """Whether one part at that side is all that asks for an edge, and has it there."""
        asking = self._asking(stack)
        return not asking or (len(asking) == 1 and self._sides(asking[0])[side])

    def _strip(self, strip: Strip, y: int) -> list[_Placed]:
        """Widest stack at the head, what asks for an edge first in each."""
        placed: list[_Placed] = []
        x = 0
        for stack in sorted(strip, key=lambda s: (-self._wide(s), -self._longest(s), s)):
            at = y
            for part in sorted(stack, key=lambda p: (not self.edge[p[0]], -self._size(p)[0], p)):
                a, b = self._size(part)
                placed.append((*part, Rect(x, at, a, b)))
                at += b + self.kerf
            x += self._longest(stack) + self.kerf
        return placed

    def _mirrored(self, placed: _Placed) -> _Placed:
        kind, turned, r = placed
        return kind, turned, Rect(r.x, self.width - r.y - r.width, r.length, r.width)

    def _whole_strip(self, strip: Strip) -> list[_Placed] | None:
        """The only strip, as wide as the sheet: each of its stacks reaches both sides."""
        placed: list[_Placed] = []
        x = 0
        for stack in sorted(strip, key=lambda s: (-self._wide(s), -self._longest(s), s)):
            ends = self._both_ends(stack)
            if ends is None:
                return None
            first, last = ends
            rest = list(stack)
            for part in first + last:
                rest.remove(part)
            y = 0
            for part in first + sorted(rest, key=lambda p: (-self._size(p)[0], p)):
                a, b = self._size(part)
                placed.append((*part, Rect(x, y, a, b)))
                y += b + self.kerf
            for part in last:
                a, b = self._size(part)
                placed.append((*part, Rect(x, self.width - b, a, b)))
            x += self._longest(stack) + self.kerf
        return placed

    def _both_ends(self, stack: Stack) -> tuple[list[_Part], list[_Part]] | None:
        """Which part of the stack lies at the squared side, and which at the far one."""
        asking = self._asking(stack)
        for first, last in _ends(range(len(asking))):
            squared, far = [asking[n] for n in first], [asking[n] for n in last]
            if all(self._sides(p)[0] for p in squared) and all(self._sides(p)[1] for p in far):
                return squared, far
        return None

    # -- crosscuts first: strips across the sheet, in them stacks along it -------------------------

    def crosscuts(self, pattern: Pattern) -> list[_Placed] | None:
        """Strips by falling length, in each the stacks that ask for an edge outermost."""

        def length(strip: Strip) -> int:
            return max(self._long(stack) for stack in strip)

        placed: list[_Placed] = []
        x = 0
        for strip in sorted(pattern.strips, key=lambda s: (-length(s), s)):
            laid = self._across(strip, x)
            if laid is None:
                return None
            placed += laid
            x += length(strip) + self.kerf
        return placed

    def _across(self, strip: Strip, x: int) -> list[_Placed] | None:
        """One strip, from side to side."""
        asking = [n for n, stack in enumerate(strip) if self._asking(stack)]
        between = sorted(
            (stack for n, stack in enumerate(strip) if n not in asking),
            key=lambda s: (-self._long(s), -self._widest(s), s),
        )
        for squared, far in _ends(asking):
            first, last = [strip[n] for n in squared], [strip[n] for n in far]
            if not all(self._sides(p)[0] for s in first for p in self._asking(s)):
                continue
            if not all(self._sides(p)[1] for s in last for p in self._asking(s)):
                continue
            placed: list[_Placed] = []
            y = 0
            for stack in first + between:
                placed += self._stack(stack, x, y)
                y += self._widest(stack) + self.kerf
            for stack in last:
                placed += map(self._mirrored, self._stack(stack, x, 0))
            return placed
        if len(asking) == len(strip) == 1 and all(
            any(self._sides(p)) for p in self._asking(strip[0])
        ):
            # A single stack as wide as the sheet: each part at the side that it asks for.
            return [
                p if not self.edge[p[0]] or self._sides((p[0], p[1]))[0] else self._mirrored(p)
                for p in self._stack(strip[0], x, 0)
            ]
        return None

    def _stack(self, stack: Stack, x: int, y: int) -> list[_Placed]:
        placed: list[_Placed] = []
        for part in sorted(stack, key=lambda p: (-self._size(p)[1], p)):
            a, b = self._size(part)
            placed.append((*part, Rect(x, y, a, b)))
            x += a + self.kerf
        return placed


def _ends(asking: Sequence[int]) -> list[tuple[tuple[int, ...], tuple[int, ...]]]:
    """Ways to give at most one to the squared side and at most one to the far one."""
    if not asking:
        return [((), ())]
    if len(asking) == 1:
        return [((asking[0],), ()), ((), (asking[0],))]
    if len(asking) == 2:
        return [((asking[0],), (asking[1],)), ((asking[1],), (asking[0],))]
    return []

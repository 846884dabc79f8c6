"""One sheet's parts laid anew so that what is left over is worth most on the rack.

The same parts can be cut from a sheet in many ways that cost the same and leave different drops:
narrow strips behind every row of parts, or one wide piece. Tried are the pattern's own tree, the
tree turned to the other first cut, rows laid together as one row of stacks, and parts shelved anew
into as short or as narrow a piece of the sheet as they will go (first fit by falling height). In
each tree what is left at a level may come off there, or be given to one of its strips or stacks,
whose own drop grows by it. No tree needs more stages than the rule allows.

Of all these the one that keeps most area is taken, then the one with the fewest kept drops, then
the one with the largest; the pattern's own is taken where nothing is gained.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutopt.plan.guillotine import Axis, Rect
from cutopt.solve.sheets.pattern import Stack, Strip

__all__ = ["Arranged", "Table", "arranged", "shelved"]

#: Strips that are tried together at most: pairs of them are looked at.
_MOST_STRIPS = 12
#: Parts that are shelved anew at most, and tries to find the shortest piece that holds them.
_MOST_PARTS = 40
_HALVINGS = 7
#: Shelving anew is tried where at least this share of what is left over is not kept yet.
_LOST = 4

#: (kept area, less the number of kept drops, the largest of them): the larger, the better.
_Worth = tuple[int, int, int]
_NOTHING: _Worth = (0, 0, 0)
#: (child that grows, by how much); a child of −1 for none.
_Grow = tuple[int, int]
_NONE: _Grow = (-1, 0)


@dataclass(frozen=True, slots=True)
class Table:
    """A sheet and the rule by which it is cut; lengths without any kerf added.

    `sizes` are the kinds' finished (length, width), `turn` which kinds may be turned, `keep` the
    least (length, width) of a drop that is kept.
    """

    sizes: tuple[tuple[int, int], ...]
    turn: tuple[bool, ...]
    length: int
    width: int
    kerf: int
    stages: int
    axes: tuple[Axis, ...]
    keep: tuple[int, int]


@dataclass(frozen=True, slots=True)
class Arranged:
    """(kind, turned, where) of each part, and the kept drops that the tree was chosen for."""

    axis: Axis
    placed: tuple[tuple[int, bool, Rect], ...]
    kept: tuple[Rect, ...]


def arranged(axis: Axis, strips: Sequence[Strip], table: Table, thorough: bool) -> Arranged:
    """The tree of these parts that keeps most.

    Parameters
    ----------
    axis, strips
        The pattern as it was found; its first cuts are along `axis`.
    table
        The sheet and its rule.
    thorough
        Whether parts are shelved anew as well; else their strips and stacks stay together.
    """
    trees = _Trees(table)
    best: tuple[_Worth, _View, tuple[Strip, ...]] | None = None
    for view, tree in trees.all(axis, tuple(strips), thorough):
        worth = view.worth(tree)
        if best is None or worth > best[0]:
            best = (worth, view, tree)
        if thorough and best is not None:
            trees.kept = best[0][0]
    if best is None:
        raise ValueError("a pattern without a tree")
    return best[1].laid(best[2])


def shelved(kinds: Sequence[int], table: Table) -> tuple[Axis, tuple[Strip, ...]] | None:
    """A tree that holds all these parts, by first fit; None where none was found."""
    for axis in table.axes:
        view = _View(table, axis)
        for lying in view.lying([(k, False) for k in kinds]):
            tree = view.low(lying)
            if tree is not None:
                return axis, tree
    return None


class _Trees:
    """The trees of one sheet's parts."""

    def __init__(self, table: Table) -> None:
        self.table = table
        self.views = {axis: _View(table, axis) for axis in Axis}
        #: The most that a tree has kept so far.
        self.kept = 0

    def all(
        self, axis: Axis, strips: tuple[Strip, ...], thorough: bool
    ) -> Iterator[tuple[_View, tuple[Strip, ...]]]:
        view, table = self.views[axis], self.table
        own: list[tuple[_View, tuple[Strip, ...]]] = [(view, strips)]
        if axis.other in table.axes:
            other = self.views[axis.other]
            singles = all(len(s) == 1 for strip in strips for s in strip)
            if singles and (table.stages >= 3 or all(len(strip) == 1 for strip in strips)):
                # Rows become stacks of one row the other way.
                turned = tuple(tuple(p for stack in strip for p in stack) for strip in strips)
                own.append((other, (turned,)))
            if len(strips) == 1:
                own.append((other, tuple(tuple((p,) for p in stack) for stack in strips[0])))
        yield from own
        if table.stages >= 3:
            for seen, tree in own:
                if 1 < len(tree) <= _MOST_STRIPS:
                    yield from ((seen, merged) for merged in seen.merged(tree))
        parts = [p for strip in strips for stack in strip for p in stack]
        if not thorough or len(parts) > _MOST_PARTS:
            return
        area = table.length * table.width
        over = area - sum(table.sizes[k][0] * table.sizes[k][1] for k, _ in parts)
        least = table.keep[0] * table.keep[1]
        for seen in (self.views[a] for a in table.axes):
            for lying in seen.lying(parts):
                if over - self.kept < max(least, over // _LOST):
                    return
                yield from ((seen, tree) for tree in seen.shelved(lying))


class _View:
    """The sheet seen along its first cuts: `along` the strips and `across` them."""

    def __init__(self, table: Table, axis: Axis) -> None:
        self.table, self.axis = table, axis
        self.kerf, self.deep = table.kerf, table.stages >= 3
        rip = axis is Axis.RIP
        keep = table.keep
        self.along, self.across = (
            (table.length, table.width) if rip else (table.width, table.length)
        )
        self.least_along, self.least_across = keep if rip else (keep[1], keep[0])

    def extent(self, part: tuple[int, bool]) -> tuple[int, int]:
        """Along the strip and across it."""
        length, width = self.table.sizes[part[0]]
        return (length, width) if part[1] is (self.axis is Axis.CROSS) else (width, length)

    def stack(self, stack: Stack) -> tuple[int, int]:
        sizes = [self.extent(p) for p in stack]
        across = sum(b for _, b in sizes) + self.kerf * (len(sizes) - 1)
        return max(a for a, _ in sizes), across

    def _used(self, sizes: Sequence[int]) -> int:
        """What these take side by side, kerfs between them counted."""
        return sum(sizes) + self.kerf * (len(sizes) - 1)

    # -- worths ----------------------------------------------------------------------------------

    def _drop(self, along: int, across: int) -> _Worth:
        if along <= 0 or across <= 0 or along < self.least_along or across < self.least_across:
            return _NOTHING
        return along * across, -1, along * across

    def _in_stack(self, stack: Stack, along: int, across: int) -> _Worth:
        """A stack in a place of its own: what lies on top of it and beside its parts."""
        worth = self._drop(along, across - self.stack(stack)[1] - self.kerf)
        if along > self.least_along + self.kerf:
            for part in stack:
                a, b = self.extent(part)
                worth = _sum(worth, self._drop(along - a - self.kerf, b))
        return worth

    def _in_strip(self, strip: Strip, across: int) -> tuple[_Worth, _Grow]:
        """A strip of a height: what it keeps at most, and the stack that grows for it."""
        sizes = [self.stack(s) for s in strip]
        over = self.along - self._used([a for a, _ in sizes])
        each = [self._in_stack(s, a, across) for s, (a, _) in zip(strip, sizes, strict=True)]
        total = _NOTHING
        for worth in each:
            total = _sum(total, worth)
        best, grow = _sum(total, self._drop(over - self.kerf, across)), _NONE
        if not self.deep or over <= 0:
            return best, grow
        for j, (stack, (a, b)) in enumerate(zip(strip, sizes, strict=True)):
            if across - b - self.kerf < self.least_across and len(strip) > 1:
                continue
            for more in {over, self.least_along - a}:
                if 0 < more <= over:
                    new = self._in_stack(stack, a + more, across)
                    rest = self._drop(over - more - self.kerf, across)
                    worth = _NOTHING
                    for i, w in enumerate(each):
                        worth = _sum(worth, new if i == j else w)
                    worth = _sum(worth, rest)
                    if worth > best:
                        best, grow = worth, (j, more)
        return best, grow

    def _choose(self, strips: Sequence[Strip]) -> tuple[_Worth, _Grow]:
        """What the sheet keeps at most, and the strip that grows for it."""
        heights = [max(self.stack(s)[1] for s in strip) for strip in strips]
        over = self.across - self._used(heights)
        each = [self._in_strip(s, h)[0] for s, h in zip(strips, heights, strict=True)]
        total = _NOTHING
        for worth in each:
            total = _sum(total, worth)
        best, grow = _sum(total, self._drop(self.along, over - self.kerf)), _NONE
        if over <= 0:
            return best, grow
        for j, (strip, height) in enumerate(zip(strips, heights, strict=True)):
            # From what height on something is kept at the strip's end or on one of its stacks.
            steps = {over, self.least_across - height}
            steps |= {self.stack(s)[1] + self.kerf + self.least_across - height for s in strip}
            for more in sorted(steps):
                if 0 < more <= over:
                    worth = self._drop(self.along, over - more - self.kerf)
                    new = self._in_strip(strip, height + more)[0]
                    for i, w in enumerate(each):
                        worth = _sum(worth, new if i == j else w)
                    if worth > best:
                        best, grow = worth, (j, more)
        return best, grow

    def worth(self, strips: Sequence[Strip]) -> _Worth:
        """What the sheet keeps at most when it is cut into these strips."""
        return self._choose(strips)[0]

    # -- other trees -----------------------------------------------------------------------------

    def fits(self, strips: Sequence[Strip]) -> bool:
        """Whether these strips go on the sheet."""
        heights = [max(self.stack(s)[1] for s in strip) for strip in strips]
        return self._used(heights) <= self.across and all(
            self._used([self.stack(s)[0] for s in strip]) <= self.along for strip in strips
        )

    def merged(self, strips: tuple[Strip, ...]) -> Iterator[tuple[Strip, ...]]:
        """Strips laid together as one of stacks: the shortest ones, then pairs on top of that."""
        ordered = sorted(strips, key=lambda s: (self._used([self.stack(t)[0] for t in s]), s))
        best: tuple[_Worth, tuple[Strip, ...]] = (self.worth(strips), strips)
        for n in range(2, len(ordered) + 1):
            tree = (self._together(ordered[:n]), *ordered[n:])
            if self.fits(tree):
                yield tree
                best = max(best, (self.worth(tree), tree), key=lambda b: b[0])
        while len(best[1]) > 2:
            before = best
            for i in range(1, len(before[1])):
                for j in range(i):
                    rest = [s for n, s in enumerate(before[1]) if n not in (i, j)]
                    tree = (self._together([before[1][j], before[1][i]]), *rest)
                    if self.fits(tree):
                        best = max(best, (self.worth(tree), tree), key=lambda b: b[0])
            if best is before:
                return
            yield best[1]

    def _together(self, strips: Sequence[Strip]) -> Strip:
        """One strip: the widest stacks on each other, then the next."""
        stacks: list[list[tuple[int, bool]]] = []
        for strip in strips:
            for n, stack in enumerate(sorted(strip, key=lambda s: (-self.stack(s)[0], s))):
                if n == len(stacks):
                    stacks.append([])
                stacks[n] += stack
        return tuple(tuple(s) for s in stacks)

    def lying(self, parts: Sequence[tuple[int, bool]]) -> Iterator[list[tuple[int, bool]]]:
        """The parts as they lie; where they may be turned also all along and all across."""
        yield list(parts)
        if any(self.table.turn[k] for k, _ in parts):
            for along in (True, False):
                yield [self._turned(p, along) for p in parts]

    def _turned(self, part: tuple[int, bool], along: bool) -> tuple[int, bool]:
        a, b = self.extent(part)
        if self.table.turn[part[0]] and a != b and (a > b) is not along:
            return part[0], not part[1]
        return part

    def low(self, parts: Sequence[tuple[int, bool]]) -> tuple[Strip, ...] | None:
        """Parts in strips as low as they go, by falling height; None where they do not fit."""
        return self._shelves(self._falling(parts), self.along)

    def _falling(self, parts: Sequence[tuple[int, bool]]) -> list[tuple[int, bool]]:
        return sorted(parts, key=lambda p: (-self.extent(p)[1], -self.extent(p)[0], p))

    def shelved(self, parts: Sequence[tuple[int, bool]]) -> Iterator[tuple[Strip, ...]]:
        """Parts in strips as low as they go, then in strips as short as they go."""
        ordered = self._falling(parts)
        tree = self._shelves(ordered, self.along)
        if tree is None:
            return
        yield tree
        area = sum(self.extent(p)[0] * self.extent(p)[1] for p in ordered)
        low = max(max(self.extent(p)[0] for p in ordered), -(-area // self.across))
        high = self.along
        for _ in range(_HALVINGS):
            if high - low < 2 * self.kerf + 2:
                break
            middle = (low + high) // 2
            tree = self._shelves(ordered, middle)
            if tree is None:
                low = middle
            else:
                high = max(self._used([self.stack(s)[0] for s in strip]) for strip in tree)
                yield tree
                if self.deep:
                    yield from self.merged(tree) if 1 < len(tree) <= _MOST_STRIPS else ()

    def _shelves(self, ordered: Sequence[tuple[int, bool]], along: int) -> tuple[Strip, ...] | None:
        """First fit by falling height into strips of a length; None where they do not fit."""
        strips: list[_Shelf] = []
        across = 0
        for part in ordered:
            a, b = self.extent(part)
            if not any(s.take(part, a, b, along, self.kerf, self.deep) for s in strips):
                if a > along or across + b > self.across:
                    return None
                strips.append(_Shelf(b, a, [(a, b, [part])]))
                across += b + self.kerf
        return tuple(tuple(tuple(stack) for _, _, stack in s.stacks) for s in strips)

    # -- places ----------------------------------------------------------------------------------

    def laid(self, strips: Sequence[Strip]) -> Arranged:
        """Where parts and kept drops lie: the highest strip at the squared edge, in it the highest
        stack at the head; what grows comes last.
        """
        _, (grows, more) = self._choose(strips)
        heights = [max(self.stack(s)[1] for s in strip) for strip in strips]
        order = sorted(range(len(strips)), key=lambda i: (i == grows, -heights[i], strips[i]))
        placed: list[tuple[int, bool, Rect]] = []
        kept: list[Rect] = []
        at = 0
        for i in order:
            height = heights[i] + (more if i == grows else 0)
            self._lay_strip(strips[i], at, height, placed, kept)
            at += height + self.kerf
        self._keep(kept, 0, at, self.along, self.across - at)
        return Arranged(self.axis, tuple(placed), tuple(kept))

    def _lay_strip(
        self,
        strip: Strip,
        at: int,
        height: int,
        placed: list[tuple[int, bool, Rect]],
        kept: list[Rect],
    ) -> None:
        _, (grows, more) = self._in_strip(strip, height)
        sizes = [self.stack(s) for s in strip]
        order = sorted(
            range(len(strip)), key=lambda j: (j == grows, -sizes[j][1], -sizes[j][0], strip[j])
        )
        along = 0
        for j in order:
            wide = sizes[j][0] + (more if j == grows else 0)
            across = at
            for part in sorted(strip[j], key=lambda p: (-self.extent(p)[0], p)):
                a, b = self.extent(part)
                placed.append((*part, self._rect(along, across, a, b)))
                self._keep(kept, along + a + self.kerf, across, wide - a - self.kerf, b)
                across += b + self.kerf
            self._keep(kept, along, across, wide, at + height - across)
            along += wide + self.kerf
        self._keep(kept, along, at, self.along - along, height)

    def _keep(self, kept: list[Rect], along: int, across: int, a: int, b: int) -> None:
        if self._drop(a, b)[0]:
            kept.append(self._rect(along, across, a, b))

    def _rect(self, along: int, across: int, a: int, b: int) -> Rect:
        return Rect(along, across, a, b) if self.axis is Axis.RIP else Rect(across, along, b, a)


def _sum(one: _Worth, other: _Worth) -> _Worth:
    return one[0] + other[0], one[1] + other[1], max(one[2], other[2])


@dataclass(slots=True)
class _Shelf:
    """A strip under way: its height, what it takes along, and (width, height, parts) of stacks."""

    height: int
    used: int
    stacks: list[tuple[int, int, list[tuple[int, bool]]]]

    def take(
        self, part: tuple[int, bool], a: int, b: int, along: int, kerf: int, deep: bool
    ) -> bool:
        """Put a part on a stack or beside the last one, where it fits."""
        if deep:
            for n, (wide, high, stack) in enumerate(self.stacks):
                if a <= wide and high + kerf + b <= self.height:
                    stack.append(part)
                    self.stacks[n] = (wide, high + kerf + b, stack)
                    return True
        if b > self.height or self.used + kerf + a > along:
            return False
        self.stacks.append((a, b, [part]))
        self.used += kerf + a
        return True

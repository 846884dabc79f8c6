"""Every strip that can be in a pattern worth enough, for all sheets of one length along."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.sheets.listing.fill import NEVER, Fillings, Floor, FullError, Thing, fillings
from cutopt.solve.sheets.listing.same import Counts, Keys, first_of_each, keys_of
from cutopt.solve.sheets.pattern import Stack, Strip
from cutopt.solve.sheets.points import Ints, Knapsack, Points
from cutopt.solve.sheets.pricing import Lying, StackPricer, StripPricer

__all__ = ["Asked", "Strips", "strips_of"]

#: Pairs of a strip under way and a stack that are held against each other at once.
_PAIRS = 1_000_000


@dataclass(frozen=True, slots=True)
class Asked:
    """A sheet: how far it reaches across its strips, and the least worth that is asked of it."""

    sheet: int
    across: int
    least: int


@dataclass(frozen=True, slots=True)
class Strips:
    """Strips with different contents: shapes (strips, kinds) and (strips,), by falling height.

    `rest` bounds what strips no higher than a height are worth in what is left across:
    `rest[height index, floor(left)]`, with the index of each strip's height in `level`.
    """

    counts: Counts
    sums: Keys
    height: Ints
    value: Ints
    level: Ints
    rest: Ints
    floor: Floor
    make: Callable[[int], Strip]
    held: int


def _sorted(
    counts: Counts,
    sums: Keys,
    height: Ints,
    value: Ints,
    level: Ints,
    rest: Ints,
    floor: Floor,
    make: Callable[[int], Strip],
) -> Strips:
    """Of equal contents the lowest strip; by falling height, of one height the dearest first."""
    kept = first_of_each(counts, sums, height)
    kept = kept[np.lexsort((kept, -value[kept], -height[kept]))]
    return Strips(
        counts[kept],
        sums[kept],
        height[kept],
        value[kept],
        level[kept],
        rest,
        floor,
        lambda at: make(int(kept[at])),
        len(counts),
    )


def strips_of(
    pricer: StripPricer | StackPricer,
    along: int,
    asked: Sequence[Asked],
    worth: Ints,
    need: Ints,
    keys: Keys,
    most: int,
) -> Strips | None:
    """Strips for sheets that are `along` long; None where none is worth enough.

    Raises
    ------
    FullError
        More than `most` are held on the way.
    """
    widest = max(a.across for a in asked)
    lying = [
        v for v in pricer.lying if v.along <= along and v.across <= widest and need[v.kind] > 0
    ]
    if not lying:
        return None
    if isinstance(pricer, StripPricer):
        return _plain(lying, along, widest, asked, worth, need, keys, most)
    return _stacked(lying, along, widest, asked, worth, need, keys, most)


def _things(lying: Sequence[Lying], stacked: bool) -> list[Thing]:
    if stacked:
        made = [Thing(v.kind, v.turned, v.across, v.along) for v in lying]
    else:
        made = [Thing(v.kind, v.turned, v.along, v.across) for v in lying]
    return sorted(made, key=lambda t: (-t.across, -t.size, t.kind))


def _spent(asked: Sequence[Asked], rest: Ints, floor: Floor, heights: Ints) -> Ints:
    """By height, the most that the rest of any sheet is worth less what is asked of it."""
    best = np.full(len(heights), NEVER, dtype=np.int64)
    for a in asked:
        fits = heights <= a.across
        left = floor(a.across - heights[fits])
        best[fits] = np.maximum(best[fits], rest[-1, left] - a.least)
    return best


def _plain(
    lying: Sequence[Lying],
    along: int,
    widest: int,
    asked: Sequence[Asked],
    worth: Ints,
    need: Ints,
    keys: Keys,
    most: int,
) -> Strips | None:
    """Two stages: strips are parts side by side, as high as the highest."""
    copies = [int(need[v.kind]) for v in lying]
    points = Points([v.along for v in lying], copies, along)
    across = Points([v.across for v in lying], copies, widest)
    heights = sorted({v.across for v in lying})
    filled = Knapsack(points)
    piled = Knapsack(across)
    rest = np.zeros((len(heights), len(across)), dtype=np.int64)
    for level, height in enumerate(heights):
        for v in lying:
            if v.across == height and worth[v.kind] > 0:
                filled.add(0, v.along, worth[v.kind : v.kind + 1], int(need[v.kind]))
        number = sum(n for v, n in zip(lying, copies, strict=True) if v.across <= height)
        piled.add(level, height, filled.table[:, -1], number)
        rest[level] = piled.table[0]
    floor = Floor(across, widest)
    spent = _spent(asked, rest, floor, np.array(heights, dtype=np.int64))
    falling = heights[::-1]
    reward = np.broadcast_to(spent[::-1, None], (len(heights), len(points)))
    things = _things(lying, stacked=False)
    found = fillings(things, falling, worth, need, points, reward, most)
    if not len(found.value):
        return None
    tall = np.array(falling, dtype=np.int64)[found.cls]

    def make(at: int) -> Strip:
        strip: list[Stack] = []
        for t, n in found.things(at):
            strip += [((things[t].kind, things[t].turned),)] * n
        return tuple(strip)

    sums = keys_of(found.counts, keys)
    levels = len(heights) - 1 - found.cls
    return _sorted(found.counts, sums, tall, found.value, levels, rest, floor, make)


def _stacked(
    lying: Sequence[Lying],
    along: int,
    widest: int,
    asked: Sequence[Asked],
    worth: Ints,
    need: Ints,
    keys: Keys,
    most: int,
) -> Strips | None:
    """Three stages: strips are stacks side by side, as high as the highest."""
    copies = [int(need[v.kind]) for v in lying]
    across = Points([v.across for v in lying], copies, widest)
    widths = sorted({v.along for v in lying})
    places = Points(widths, [along // w for w in widths], along)
    piles = Points([v.across for v in lying], [widest // v.across for v in lying], widest)
    stacked = Knapsack(across)
    rows = []
    for w in widths:
        for v in lying:
            if v.along == w and worth[v.kind] > 0:
                stacked.add(0, v.across, worth[v.kind : v.kind + 1], int(need[v.kind]))
        rows.append(stacked.table[0].copy())
    by_rest = _filled(places, np.array(widths, dtype=np.int64), np.array(rows))
    heights = across.at[1:]
    floor = Floor(piles, widest)
    rest = _piled(piles, heights, by_rest[-1, 1:], widest)
    spent = _spent(asked, rest, floor, heights)
    # The most beside a stack of a width in a strip of a height, then over all heights above it.
    falling = widths[::-1]
    left = Floor(places, along)(along - np.array(falling, dtype=np.int64))
    beside = by_rest[left][:, 1:] + spent[None, :]
    reward = np.maximum.accumulate(beside[:, ::-1], axis=1)[:, ::-1]
    reward = np.concatenate([reward[:, :1], reward], axis=1)
    things = _things(lying, stacked=True)
    found = fillings(things, falling, worth, need, across, reward, most)
    if not len(found.value):
        return None
    return _Rows(
        found,
        things,
        np.array(falling, dtype=np.int64)[found.cls],
        along,
        places,
        by_rest,
        heights,
        spent,
        rest,
        floor,
        need,
        keys,
        most,
    ).strips()


def _filled(places: Points, widths: Ints, rows: Ints) -> Ints:
    """Best worth of any stacks in a length, by place and height; shape (places, heights)."""
    best = np.zeros((len(places), rows.shape[1]), dtype=np.int64)
    reach = np.searchsorted(widths, places.at, side="right")
    back = np.searchsorted(places.at, places.at[:, None] - widths[None, :], side="right") - 1
    for c in range(1, len(places)):
        k = int(reach[c])
        if k:
            best[c] = (best[back[c, :k]] + rows[:k]).max(axis=0)
    return best


def _piled(piles: Points, heights: Ints, gains: Ints, widest: int) -> Ints:
    """By height, the most that strips no higher are worth across; shape (heights, piles)."""
    best = np.zeros(len(piles), dtype=np.int64)
    rest = np.zeros((len(heights), len(piles)), dtype=np.int64)
    before = 0
    for level, (height, gain) in enumerate(zip(heights.tolist(), gains.tolist(), strict=True)):
        if gain > before:
            before = gain
            step = height
            while step <= widest:
                low, back = piles.back(step)
                if not len(back):
                    break
                taken = best[back] + (step // height) * gain
                np.maximum(best[low:], taken, out=best[low:])
                step *= 2
        rest[level] = best
    return rest


class _Rows:
    """Stacks side by side in strips of every height that a stack has."""

    def __init__(
        self,
        stacks: Fillings,
        things: Sequence[Thing],
        width: Ints,
        along: int,
        places: Points,
        by_rest: Ints,
        heights: Ints,
        spent: Ints,
        rest: Ints,
        floor: Floor,
        need: Ints,
        keys: Keys,
        most: int,
    ) -> None:
        self.stacks, self.things, self.width = stacks, things, width
        self.along, self.heights, self.spent = along, heights, spent
        self.by_rest, self.places = by_rest, Floor(places, along)
        self.rest, self.floor = rest, floor
        self.need, self.keys, self.most = need, keys, most
        self.sums = keys_of(stacks.counts, keys)
        self.counts: list[Counts] = []
        self.all_sums: list[Keys] = []
        self.value: list[Ints] = []
        self.level: list[Ints] = []
        self.before: list[Ints] = []
        self.stack: list[Ints] = []
        self.held = 0

    def strips(self) -> Strips | None:
        """All of them."""
        for height in np.unique(self.stacks.used)[::-1].tolist():
            self._of_height(int(np.searchsorted(self.heights, height)), height)
        if not self.held:
            return None
        level, value = np.concatenate(self.level), np.concatenate(self.value)
        # Some only lead to others.
        at = np.flatnonzero(value + self.spent[level] >= 0)
        if not len(at):
            return None
        make = self._maker()
        return _sorted(
            np.concatenate(self.counts)[at],
            np.concatenate(self.all_sums)[at],
            self.heights[level[at]],
            value[at],
            level[at],
            self.rest,
            self.floor,
            lambda n: make(int(at[n])),
        )

    def _maker(self) -> Callable[[int], Strip]:
        before, stack = np.concatenate(self.before), np.concatenate(self.stack)

        def make(at: int) -> Strip:
            made: list[Stack] = []
            while at >= 0:
                parts: list[tuple[int, bool]] = []
                for t, n in self.stacks.things(int(stack[at])):
                    parts += [(self.things[t].kind, self.things[t].turned)] * n
                made.append(tuple(parts))
                at = int(before[at])
            return tuple(made[::-1])

        return make

    def _of_height(self, level: int, height: int) -> None:
        s = self.stacks
        ahead = self.by_rest[:, level + 1] + self.spent[level]
        able = np.flatnonzero(s.used <= height)
        bound = s.value[able] + ahead[self.places(self.along - self.width[able])]
        able = able[bound >= 0]
        # The highest first, then by falling width: a strip is listed in one order only.
        lower = s.used[able] < height
        able = able[np.lexsort((able, -self.width[able], lower))]
        if not len(able) or s.used[able[0]] < height:
            return
        heads = int((s.used[able] == height).sum())
        counts, sums = s.counts[able], self.sums[able]
        width, value = self.width[able], s.value[able]
        at = np.arange(heads)
        self._keep(
            counts[:heads], sums[:heads], value[:heads], level, np.full(heads, -1), able[:heads]
        )
        here = self.held - heads + np.arange(heads)
        state = (counts[:heads], sums[:heads], self.along - width[:heads], value[:heads], at, here)
        while len(state[0]):
            state = self._more(state, level, able, (counts, sums, width, value), ahead)

    def _more(
        self,
        state: tuple[Counts, Keys, Ints, Ints, NDArray[np.intp], Ints],
        level: int,
        able: NDArray[np.intp],
        stacks: tuple[Counts, Keys, Ints, Ints],
        ahead: Ints,
    ) -> tuple[Counts, Keys, Ints, Ints, NDArray[np.intp], Ints]:
        """Every strip under way with one more stack, no earlier than its last."""
        counts, sums, left, value, last, number = state
        s_counts, s_sums, s_width, s_value = stacks
        found: list[tuple[NDArray[np.intp], NDArray[np.intp]]] = []
        some = 0
        for i, j in self._pairs(left, value, last, s_width, s_value, ahead):
            keep = (counts[i] + s_counts[j] <= self.need).all(axis=1)
            found.append((i[keep], j[keep]))
            some += int(keep.sum())
            if some > self.most:
                raise FullError
        if not found:
            found.append((np.zeros(0, np.intp), np.zeros(0, np.intp)))
        i = np.concatenate([a for a, _ in found])
        j = np.concatenate([b for _, b in found])
        new = counts[i] + s_counts[j]
        new_sums = sums[i] + s_sums[j]
        room = left[i] - s_width[j]
        # Of equal contents with the same last stack the one with the most room leads furthest.
        told = new_sums + (j.astype(np.uint64) + np.uint64(1)) * np.uint64(0x9E3779B97F4A7C15)
        halves = np.stack([j & 0x7FFF, j >> 15], axis=1).astype(np.int16)
        kept = first_of_each(np.concatenate([new, halves], axis=1), told, -room)
        i, j = i[kept], j[kept]
        new, new_sums, room = new[kept], new_sums[kept], room[kept]
        worth = value[i] + s_value[j]
        self._keep(new, new_sums, worth, level, number[i], able[j])
        here = self.held - len(i) + np.arange(len(i))
        return new, new_sums, room, worth, j, here

    def _pairs(
        self,
        left: Ints,
        value: Ints,
        last: NDArray[np.intp],
        s_width: Ints,
        s_value: Ints,
        ahead: Ints,
    ) -> Iterator[tuple[NDArray[np.intp], NDArray[np.intp]]]:
        """Strips and stacks that together may still become worth enough, some at a time.

        Strips with the same rest are looked at as one before each is.
        """
        order = np.argsort(left, kind="stable")
        lefts, start, size = np.unique(left[order], return_index=True, return_counts=True)
        most = np.maximum.reduceat(value[order], start)
        first = np.minimum.reduceat(last[order], start)
        index = np.arange(len(s_width))
        block = max(1, _PAIRS // len(s_width))
        for at in range(0, len(lefts), block):
            part = slice(at, at + block)
            room = lefts[part, None] - s_width[None, :]
            g, j = np.nonzero((room >= 0) & (index[None, :] >= first[part, None]))
            gain = s_value[j] + ahead[self.places(room[g, j])]
            enough = most[part][g] + gain >= 0
            g, j, gain = g[enough] + at, j[enough], gain[enough]
            ends = np.cumsum(size[g])
            low = 0
            while low < len(g):
                before = int(ends[low - 1]) if low else 0
                high = max(low + 1, int(np.searchsorted(ends, before + _PAIRS, side="right")))
                here = size[g[low:high]]
                which = np.repeat(np.arange(low, high), here)
                offset = np.arange(len(which)) - np.repeat(np.cumsum(here) - here, here)
                i = order[start[g[which]] + offset]
                good = (value[i] + gain[which] >= 0) & (j[which] >= last[i])
                yield i[good], j[which[good]]
                low = high

    def _keep(
        self, counts: Counts, sums: Keys, value: Ints, level: int, before: Ints, stack: Ints
    ) -> None:
        self.counts.append(counts)
        self.all_sums.append(sums)
        self.value.append(value)
        self.level.append(np.full(len(value), level, dtype=np.int64))
        self.before.append(before)
        self.stack.append(stack)
        self.held += len(value)
        if self.held > self.most:
            raise FullError

"""Strips side by side: every pattern of a sheet that is worth enough."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from cutopt.solve.sheets.listing.fill import FullError
from cutopt.solve.sheets.listing.same import Counts, Keys, first_of_each
from cutopt.solve.sheets.listing.strips import Asked, Strips
from cutopt.solve.sheets.pattern import Strip
from cutopt.solve.sheets.points import Ints

__all__ = ["Piled", "pile"]


@dataclass(frozen=True, slots=True)
class Piled:
    """Patterns with different contents: shapes (patterns, kinds) and (patterns,)."""

    counts: Counts
    sums: Keys
    before: Ints
    strip: Ints
    last: Ints
    strips: Strips

    def make(self, at: int) -> tuple[Strip, ...]:
        """The strips of pattern `at`."""
        made: list[Strip] = []
        end = int(self.last[at])
        while end:
            made.append(self.strips.make(int(self.strip[end])))
            end = int(self.before[end])
        return tuple(made[::-1])


def pile(strips: Strips, asked: Asked, need: Ints, most: int) -> Piled:
    """Every pattern of strips on a sheet that is worth at least what is asked.

    Heights come falling, strips of one height in their order, so that no pattern is made twice in
    different orders; what was made twice all the same is told apart by its contents.

    Raises
    ------
    FullError
        More than `most` are held on the way.
    """
    least, kinds = asked.least, strips.counts.shape[1]
    cuts = np.flatnonzero(np.diff(strips.height)) + 1
    starts = np.concatenate([[0], cuts]).tolist()
    ends = np.concatenate([cuts, [len(strips.height)]]).tolist()
    counts: Counts = np.zeros((1, kinds), dtype=np.int16)
    sums: Keys = np.zeros(1, dtype=np.uint64)
    left, value, chain = (np.array([n], dtype=np.int64) for n in (asked.across, 0, 0))
    links: list[Ints] = [np.zeros((2, 1), dtype=np.int64)]
    held = 1
    done: list[tuple[Counts, Keys, Ints]] = []
    for start, end in zip(starts, ends, strict=True):
        height, level = int(strips.height[start]), int(strips.level[start])
        if height > asked.across:
            continue
        fresh = (counts, sums, left, value, chain, np.full(len(left), start, dtype=np.int64))
        falling = -strips.value[start:end]
        new_parts: list[tuple[Counts, Keys, Ints, Ints, Ints]] = [fresh[:5]]
        while len(fresh[0]):
            counts_, sums_, left_, value_, chain_, last = fresh
            able = np.flatnonzero(left_ >= height)
            if not len(able):
                break
            room = left_[able] - height
            wanted = least - value_[able] - strips.rest[level, strips.floor(room)]
            # Strips of one height fall in value: those that are worth enough lie together.
            stop = start + np.searchsorted(falling, -wanted, side="right")
            number = np.maximum(stop - last[able], 0)
            total = int(number.sum())
            if total > most:
                raise FullError
            if not total:
                break
            i = np.repeat(np.arange(len(able)), number)
            ahead = np.cumsum(number) - number
            j = last[able][i] + np.arange(total) - ahead[i]
            i = able[i]
            keep = (counts_[i] + strips.counts[j] <= need).all(axis=1)
            i, j = i[keep], j[keep]
            more = counts_[i] + strips.counts[j]
            more_sums = sums_[i] + strips.sums[j]
            kept = first_of_each(more, more_sums, (height - left_[i]) * (end + 1) + j)
            i, j, more, more_sums = i[kept], j[kept], more[kept], more_sums[kept]
            here = held + np.arange(len(i), dtype=np.int64)
            links.append(np.stack([chain_[i], j]))
            held += len(i)
            if held > most:
                raise FullError
            fresh = (more, more_sums, left_[i] - height, value_[i] + strips.value[j], here, j)
            new_parts.append(fresh[:5])
            full = np.flatnonzero(fresh[3] >= least)
            done.append((more[full], more_sums[full], here[full]))
        if len(new_parts) == 1:
            continue
        counts = np.concatenate([p[0] for p in new_parts])
        sums = np.concatenate([p[1] for p in new_parts])
        left, value, chain = (np.concatenate([p[k] for p in new_parts]) for k in (2, 3, 4))
        # What no strip from here on can lift to what is asked is left behind.
        on = np.flatnonzero(value + strips.rest[level, strips.floor(left)] >= least)
        on = on[first_of_each(counts[on], sums[on], -left[on])]
        counts, sums = counts[on], sums[on]
        left, value, chain = left[on], value[on], chain[on]
    before, strip = np.concatenate(links, axis=1)
    if not done:
        nothing = np.zeros(0, dtype=np.int64)
        empty = np.zeros((0, kinds), dtype=np.int16)
        return Piled(empty, np.zeros(0, dtype=np.uint64), before, strip, nothing, strips)
    all_counts, all_sums, last = (np.concatenate([d[k] for d in done]) for k in range(3))
    kept = first_of_each(all_counts, all_sums, np.arange(len(last)))
    return Piled(all_counts[kept], all_sums[kept], before, strip, last[kept], strips)

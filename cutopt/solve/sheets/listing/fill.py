"""Every filling of a length by parts that is worth enough, grown part by part in arrays.

A filling is a strip of parts or a stack of them: its parts' sizes add up along one measure, its
first part is the greatest across and says its class. What a filling may still lead to is known
exactly from a table filled from the last part back, so nothing is held that leads nowhere.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cutopt.solve.sheets.listing.same import Counts
from cutopt.solve.sheets.points import Ints, Points, chunks

__all__ = ["Fillings", "Floor", "FullError", "Thing", "fillings"]

#: Worths are far below this; sums of two of it do not overflow.
NEVER = -(1 << 61)


class FullError(Exception):
    """More is to be held than is allowed."""


class Floor:
    """The last point not above a measure, looked up at once."""

    def __init__(self, points: Points, cap: int) -> None:
        self.at = points.at
        self.unit = int(np.gcd.reduce(points.at)) or max(1, cap)
        cells = np.arange(cap // self.unit + 1, dtype=np.int64) * self.unit
        self._index = np.searchsorted(points.at, cells, side="right") - 1

    def __call__(self, measure: Ints) -> Ints:
        """Indices; measures are from 0 to the cap."""
        found: Ints = self._index[measure // self.unit]
        return found


@dataclass(frozen=True, slots=True)
class Thing:
    """A part as it lies: `size` adds up, `across` decides the class."""

    kind: int
    turned: bool
    size: int
    across: int


@dataclass(frozen=True, slots=True)
class Fillings:
    """Found fillings: shapes (fillings, kinds) and (fillings,). `last` ends each one's chain."""

    counts: Counts
    used: Ints
    value: Ints
    cls: Ints
    last: Ints
    before: Ints
    thing: Ints
    number: Ints

    def things(self, at: int) -> list[tuple[int, int]]:
        """What filling `at` is made of: (thing, how many)."""
        made: list[tuple[int, int]] = []
        end = int(self.last[at])
        while end:
            made.append((int(self.thing[end]), int(self.number[end])))
            end = int(self.before[end])
        return made[::-1]


def fillings(
    things: Sequence[Thing],
    classes: Sequence[int],
    worth: Ints,
    need: Ints,
    points: Points,
    reward: Ints,
    most: int,
) -> Fillings:
    """All fillings whose value and reward are at least 0 together.

    Parameters
    ----------
    things
        By falling `across`.
    classes
        The different measures across, falling.
    worth, need
        Per kind, shape (kinds,).
    points
        Places where sizes can end.
    reward : array, shape (classes, points)
        What else can be gained beside a filling of a class that ends at a point, less what is
        asked; never rising with the point.
    most
        Fillings that may be held at once.

    Raises
    ------
    FullError
        There are more.
    """
    cap = int(points.at[-1])
    floor = Floor(points, cap)
    copies = [min(int(need[t.kind]), cap // t.size) for t in things]
    ahead: list[Ints] = [reward]
    for t, n in zip(reversed(things), reversed(copies), strict=True):
        best = ahead[-1].copy()
        for m in chunks(n):
            ends = points.at + m * t.size
            some = int(np.searchsorted(ends, cap, side="right"))
            if some:
                to = floor(ends[:some])
                gained = best[:, to] + m * int(worth[t.kind])
                np.maximum(best[:, :some], gained, out=best[:, :some])
        ahead.append(best)
    ahead.reverse()
    number_of = {a: c for c, a in enumerate(classes)}
    counts: Counts = np.zeros((0, len(worth)), dtype=np.int16)
    used = value = cls = last = np.zeros(0, dtype=np.int64)
    chain: list[Ints] = [np.zeros((3, 1), dtype=np.int64)]
    held = 1
    twins = {t.kind for t in things if any(o.kind == t.kind and o is not t for o in things)}
    for v, (t, n) in enumerate(zip(things, copies, strict=True)):
        follow = ahead[v + 1]
        w, c = int(worth[t.kind]), number_of[t.across]
        grown: list[tuple[Counts, Ints, Ints, Ints, Ints]] = []
        for q in range(1, n + 1):
            new_used = used + q * t.size
            fits = new_used <= cap
            if t.kind in twins:
                fits &= counts[:, t.kind] + q <= need[t.kind]
            at = np.flatnonzero(fits)
            at = at[value[at] + q * w + follow[cls[at], floor(new_used[at])] >= 0]
            alone = q * w + follow[c, floor(np.array([q * t.size]))[0]] >= 0
            fresh = np.zeros((len(at) + alone, len(worth)), dtype=np.int16)
            fresh[: len(at)] = counts[at]
            fresh[:, t.kind] += q
            one = np.ones(1 if alone else 0, dtype=np.int64)
            old = np.concatenate([last[at], 0 * one])
            made = (
                fresh,
                np.concatenate([new_used[at], one * q * t.size]),
                np.concatenate([value[at] + q * w, one * q * w]),
                np.concatenate([cls[at], one * c]),
                held + np.arange(len(old), dtype=np.int64),
            )
            grown.append(made)
            chain.append(np.stack([old, np.full_like(old, v), np.full_like(old, q)]))
            held += len(old)
        keep = np.flatnonzero(value + follow[cls, floor(used)] >= 0)
        parts = [(counts[keep], used[keep], value[keep], cls[keep], last[keep]), *grown]
        counts = np.concatenate([p[0] for p in parts])
        used, value, cls, last = (np.concatenate([p[k] for p in parts]) for k in range(1, 5))
        if len(used) > most:
            raise FullError
    before, thing, number = np.concatenate(chain, axis=1)
    return Fillings(counts, used, value, cls, last, before, thing, number)

"""Rows that every whole plan keeps and a fractional one may not: rank-one cuts on few kinds.

A few rows, each times a whole number, are added up and divided, both sides rounded up (Chvátal and
Gomory): Σ ⌈Σ m a / d⌉ x ≥ ⌈Σ m b / d⌉. Halves of up to three rows are the subset rows of Jepsen,
Petersen, Spoorendonk and Pisinger (Operations Research 56, 2008): where the sum of the demands is
odd and the rows are just met, one is broken when patterns with an odd sum are used less than once.
Other divisors and up to five rows are looked at where halves break nothing more (the multipliers
of Pecin, Pessoa, Poggi, Uchoa and Santos, Operations Research Letters 45, 2017).
"""

from __future__ import annotations

from itertools import combinations
from math import comb

import numpy as np

from cutopt.solve.covering.column import Bools, Floats, Ints

__all__ = ["Cut", "richer", "row_of", "together", "violated"]

#: The kinds whose rows are added up, how often each, and the divisor.
Cut = tuple[tuple[int, ...], tuple[int, ...], int]

_EPS = 1e-6
#: What a cut must be broken by, and the most that are handed out at once.
_LEAST = 0.03
_MOST = 40
#: Most sets of kinds that are looked at closely.
_LOOKED = 20_000
#: Multipliers and divisors beside halves: of all sets of so many kinds, or of some by chance.
_TIMES = (
    ((1,), 3),
    ((2,), 3),
    ((1, 1), 3),
    ((1, 2), 3),
    ((2, 1), 3),
    ((1, 1, 1), 3),
    ((2, 1, 1), 3),
    ((1, 2, 1), 3),
    ((1, 1, 2), 3),
    ((1, 1, 1, 1), 3),
    ((2, 1, 1, 1), 3),
    ((1, 1, 1, 1, 1), 2),
    ((2, 2, 1, 1, 1), 4),
    ((3, 1, 1, 1, 1), 4),
)
_BY_CHANCE = 2_000
_SEED = 7


def row_of(cut: Cut, matrix: Ints, need: Ints) -> tuple[Ints, int]:
    """Coefficients and right-hand side of a cut."""
    kinds, times, divisor = cut
    at, factor = list(kinds), np.array(times, dtype=np.int64)
    total = factor @ matrix[at]
    return -(-total // divisor), -(-int(factor @ need[at]) // divisor)


def violated(matrix: Ints, need: Ints, value: Floats, known: set[Cut]) -> list[Cut]:
    """The cuts that a fractional plan breaks most.

    Parameters
    ----------
    matrix : array, shape (kinds, columns)
        Pieces of each kind; below 0 where a way to joint runs asks for them.
    need : array, shape (kinds,)
    value : array, shape (columns,)
    known
        Cuts that are there already.
    """
    used = np.flatnonzero(value > _EPS)
    kinds = np.flatnonzero(need > 0)
    if not len(used):
        return []
    part, x, d = matrix[np.ix_(kinds, used)], value[used], need[kinds]
    odd = part % 2 == 1
    both = together(odd, x)
    once = both.diagonal()
    few = 1 - 2 * _LEAST
    sets: list[tuple[int, ...]] = [(int(i),) for i in np.flatnonzero((once < few) & (d % 2 == 1))]
    # At least how often columns with an odd sum are used, of two kinds.
    two = once[:, None] + once[None, :] - 2 * both
    i, j = np.nonzero(np.triu((two < few) & ((d[:, None] + d[None, :]) % 2 == 1), 1))
    sets += list(zip(i.tolist(), j.tolist(), strict=True))
    sets += _threes(both, d)
    chosen = [(c, (tuple(int(kinds[i]) for i in c), (1,) * len(c), 2)) for c in sets]
    fresh = [(c, cut) for c, cut in chosen if cut not in known][:_LOOKED]
    found: list[tuple[float, Cut]] = []
    for size in (1, 2, 3):
        of_size = [(c, cut) for c, cut in fresh if len(c) == size]
        if not of_size:
            continue
        at = np.array([c for c, _ in of_size])
        made = (-(-part[at].sum(axis=1) // 2) * x).sum(axis=1)
        short = -(-d[at].sum(axis=1) // 2) - made
        found += [(float(short[t]), of_size[t][1]) for t in np.flatnonzero(short > _LEAST)]
    found.sort(key=lambda e: (-e[0], e[1]))
    return [cut for _, cut in found[:_MOST]]


def richer(matrix: Ints, need: Ints, value: Floats, known: set[Cut]) -> list[Cut]:
    """As `violated`, with other divisors and up to five rows."""
    used = np.flatnonzero(value > _EPS)
    kinds = np.flatnonzero(need > 0)
    if not len(used):
        return []
    part, x, d = matrix[np.ix_(kinds, used)], value[used], need[kinds]
    rng = np.random.default_rng(_SEED)
    sets = {size: _sets(len(kinds), size, rng) for size in range(1, 6)}
    found: list[tuple[float, Cut]] = []
    for times, divisor in _TIMES:
        at = sets[len(times)]
        if not len(at):
            continue
        total = np.zeros((len(at), len(used)), dtype=np.int64)
        asked = np.zeros(len(at), dtype=np.int64)
        for position, factor in enumerate(times):
            total += factor * part[at[:, position]]
            asked += factor * d[at[:, position]]
        short = -(-asked // divisor) - (-(-total // divisor)) @ x
        for t in np.flatnonzero(short > _LEAST).tolist():
            cut = (tuple(kinds[at[t]].tolist()), times, divisor)
            if cut not in known:
                found.append((float(short[t]), cut))
    found.sort(key=lambda e: (-e[0], e[1]))
    return [cut for _, cut in found[:_MOST]]


def _sets(kinds: int, size: int, rng: np.random.Generator) -> Ints:
    """All sets of so many kinds where they are few, else some; shape (sets, size)."""
    if comb(kinds, size) <= _BY_CHANCE:
        all_sets = list(combinations(range(kinds), size))
        return np.array(all_sets, dtype=np.int64).reshape(len(all_sets), size)
    order = rng.random((_BY_CHANCE, kinds)).argpartition(size - 1, axis=1)[:, :size]
    return np.sort(order, axis=1).astype(np.int64)


def together(has: Bools, value: Floats) -> Floats:
    """How often two kinds are in one column, by kinds; on the diagonal how often each is."""
    both: Floats = np.zeros((len(has), len(has)))
    for c, x in enumerate(value.tolist()):
        at = np.flatnonzero(has[:, c])
        both[np.ix_(at, at)] += x
    return both


def _threes(both: Floats, need: Ints) -> list[tuple[int, ...]]:
    """Three kinds of which two pairs at least are cut together, that may be used too rarely."""
    once = both.diagonal()
    near = both > _EPS
    np.fill_diagonal(near, False)
    found: set[tuple[int, ...]] = set()
    for a in range(len(need)):
        at = np.flatnonzero(near[a])
        if len(at) < 2:
            continue
        inner = once[at][:, None] + once[at][None, :] - 2 * both[np.ix_(at, at)]
        least = inner + once[a] - 2 * (both[a, at][:, None] + both[a, at][None, :])
        parity = (need[a] + need[at][:, None] + need[at][None, :]) % 2 == 1
        j, k = np.nonzero(np.triu((least < 1 - 2 * _LEAST) & parity, 1))
        for b, c in zip(at[j].tolist(), at[k].tolist(), strict=True):
            one, other, third = sorted((a, b, c))
            found.add((one, other, third))
    return sorted(found)

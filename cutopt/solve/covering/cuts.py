"""Rows that every whole plan keeps and a fractional one may not: rank-one cuts on few kinds.

Half of up to three rows added up, both sides rounded up (Chvátal and Gomory; on three rows the
subset rows of Jepsen, Petersen, Spoorendonk and Pisinger, Operations Research 56, 2008):
Σ ⌈a/2⌉ x ≥ ⌈d/2⌉ with a and d the sums of the rows. Where d is odd and the rows are just met, it is
broken when patterns with an odd a are used less than once in all.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from cutopt.solve.covering.column import Bools, Floats, Ints

__all__ = ["Cut", "row_of", "together", "violated"]

#: The kinds whose rows are added up.
Cut = tuple[int, ...]

_EPS = 1e-6
#: What a cut must be broken by, and the most that are handed out at once.
_LEAST = 0.03
_MOST = 40
#: Most sets of kinds that are looked at closely.
_LOOKED = 20_000


def row_of(cut: Sequence[int], matrix: Ints, need: Ints) -> tuple[Ints, int]:
    """Coefficients and right-hand side of a cut."""
    at = list(cut)
    return -(-matrix[at].sum(axis=0) // 2), int(-(-int(need[at].sum()) // 2))


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
    sets: list[Cut] = [(int(i),) for i in np.flatnonzero((once < few) & (d % 2 == 1))]
    # At least how often columns with an odd sum are used, of two kinds.
    two = once[:, None] + once[None, :] - 2 * both
    i, j = np.nonzero(np.triu((two < few) & ((d[:, None] + d[None, :]) % 2 == 1), 1))
    sets += list(zip(i.tolist(), j.tolist(), strict=True))
    sets += _threes(both, d)
    chosen = [(c, tuple(int(kinds[i]) for i in c)) for c in sets]
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


def together(has: Bools, value: Floats) -> Floats:
    """How often two kinds are in one column, by kinds; on the diagonal how often each is."""
    both: Floats = np.zeros((len(has), len(has)))
    for c, x in enumerate(value.tolist()):
        at = np.flatnonzero(has[:, c])
        both[np.ix_(at, at)] += x
    return both


def _threes(both: Floats, need: Ints) -> list[Cut]:
    """Three kinds of which two pairs at least are cut together, that may be used too rarely."""
    once = both.diagonal()
    near = both > _EPS
    np.fill_diagonal(near, False)
    found: set[Cut] = set()
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

"""A plan in the making: patterns and ways to joint runs with their counts; tidied to the piece."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Ints, Model, Pattern

__all__ = ["Draft", "available", "greedy", "tidy", "wanted"]


@dataclass(slots=True)
class Draft:
    """Patterns and run columns with how many of each; `short` pieces by kind found no stick.

    `copies_short` counts the copies of each unit of runs that found no way.
    """

    patterns: dict[Pattern, int] = field(default_factory=dict)
    runs: dict[RunColumn, int] = field(default_factory=dict)
    short: dict[int, int] = field(default_factory=dict)
    copies_short: dict[int, int] = field(default_factory=dict)

    @property
    def whole(self) -> bool:
        """Whether nothing is short."""
        return not self.short and not self.copies_short

    @property
    def cost(self) -> Fraction:
        """Sticks less drop credit plus joints, exact dollars."""
        sticks = sum((p.cost * n for p, n in self.patterns.items()), Fraction(0))
        return sticks + sum((c.cost * n for c, n in self.runs.items()), Fraction(0))


def wanted(model: Model, runs: Mapping[RunColumn, int]) -> Ints:
    """Pieces of each kind, those of the runs included."""
    need = model.need.copy()
    for column, n in runs.items():
        for i, q in column.cuts:
            need[i] += q * n
    return need


def available(model: Model, patterns: Mapping[Pattern, int]) -> list[int | None]:
    """What is left of each stock; None where there is no limit."""
    left = [s.available for s in model.stocks]
    for p, n in patterns.items():
        have = left[p.stock]
        if have is not None:
            left[p.stock] = have - n
    return left


def tidy(
    model: Model, need: Ints, patterns: Mapping[Pattern, int]
) -> tuple[dict[Pattern, int], dict[int, int]]:
    """Patterns that cut every piece exactly as often as needed, each from its cheapest stick.

    Pieces beyond the need are left out where that saves most; what a smaller or cheaper stick can
    hold moves to it while there are any. Limits must be kept by what is given.

    Returns
    -------
    tuple
        The patterns, and by kind the pieces that no pattern cuts.
    """
    now = {p: n for p, n in patterns.items() if n > 0 and p.cuts}
    made = np.zeros(len(need), np.int64)
    for p, n in now.items():
        for i, q in p.cuts:
            made[i] += q * n
    excess = {i: int(made[i] - need[i]) for i in np.flatnonzero(made > need).tolist()}
    short = {i: int(need[i] - made[i]) for i in np.flatnonzero(made < need).tolist()}
    left = available(model, now)
    while excess:
        pattern, rest, cut = _most_saved(model, now, excess, left)
        times = min(now[pattern], *(excess[i] // q for i, q in cut.items()))
        _move(now, left, pattern, rest, times)
        for i, q in cut.items():
            excess[i] -= q * times
            if not excess[i]:
                del excess[i]
    for pattern in sorted(now, key=_order):
        better = _cheapest(model, pattern, left)
        if better != pattern:
            have = left[better.stock]
            times = now[pattern] if have is None else min(have, now[pattern])
            _move(now, left, pattern, better, times)
    return dict(sorted(now.items(), key=lambda e: _order(e[0]))), short


def _order(pattern: Pattern) -> tuple[object, ...]:
    return (pattern.stock, pattern.cuts)


def _move(
    now: dict[Pattern, int],
    left: list[int | None],
    pattern: Pattern,
    to: Pattern | None,
    times: int,
) -> None:
    """Cut `times` sticks to another pattern, or not at all."""
    now[pattern] -= times
    if not now[pattern]:
        del now[pattern]
    have = left[pattern.stock]
    if have is not None:
        left[pattern.stock] = have + times
    if to is not None:
        now[to] = now.get(to, 0) + times
        have = left[to.stock]
        if have is not None:
            left[to.stock] = have - times


def _cheapest(model: Model, pattern: Pattern, left: Sequence[int | None]) -> Pattern:
    """The same pieces from the stick that costs least."""
    best = pattern
    for k in range(len(model.stocks)):
        if k != pattern.stock and left[k] != 0 and model.fits(k, pattern.cuts):
            other = model.pattern(k, pattern.cuts)
            if other.cost < best.cost:
                best = other
    return best


def _most_saved(
    model: Model,
    now: Mapping[Pattern, int],
    excess: Mapping[int, int],
    left: Sequence[int | None],
) -> tuple[Pattern, Pattern | None, dict[int, int]]:
    """A pattern, what is left of it without pieces in excess, and those pieces."""
    best: tuple[Fraction, tuple[object, ...]] | None = None
    found: tuple[Pattern, Pattern | None, dict[int, int]] | None = None
    for pattern in now:
        cut = {i: min(q, excess[i]) for i, q in pattern.cuts if i in excess}
        if not cut:
            continue
        kept = [(i, q - cut.get(i, 0)) for i, q in pattern.cuts if q > cut.get(i, 0)]
        rest = None
        saved = pattern.cost
        if kept:
            rest = _cheapest(model, model.pattern(pattern.stock, kept), left)
            saved -= rest.cost
        # Where nothing is saved, fewer pieces over are still fewer cuts.
        key = (-saved, _order(pattern))
        if best is None or key < best:
            best, found = key, (pattern, rest, cut)
    if found is None:
        raise RuntimeError("pieces in excess that no pattern cuts")
    return found


def greedy(
    model: Model, need: Ints, have: Sequence[int | None]
) -> tuple[dict[Pattern, int], dict[int, int]]:
    """Sticks filled one after the other, longest pieces first, each the cheapest for its length.

    Every stick holds the longest piece left; equal sticks are cut together.
    """
    left = need.copy()
    sticks = list(have)
    made: dict[Pattern, int] = {}
    short: dict[int, int] = {}
    for i in range(len(model.kinds)):
        while left[i] > 0:
            best: tuple[Fraction, int, Pattern] | None = None
            for g in range(len(model.grids)):
                if model.weight(g, i) is None:
                    continue
                for k in model.stocks_of[g]:
                    if sticks[k] == 0 or not model.fits(k, ((i, 1),)):
                        continue
                    pattern = _filled(model, g, k, i, left)
                    rate = (pattern.cost / pattern.used, k, pattern)
                    if best is None or rate[:2] < best[:2]:
                        best = rate
            if best is None:
                short[i] = int(left[i])
                break
            _, k, pattern = best
            times = min(int(left[j]) // q for j, q in pattern.cuts)
            some = sticks[k]
            if some is not None:
                times = min(times, some)
                sticks[k] = some - times
            made[pattern] = made.get(pattern, 0) + times
            for j, q in pattern.cuts:
                left[j] -= q * times
    return made, short


def _filled(model: Model, g: int, k: int, first: int, left: Ints) -> Pattern:
    """One stick, from piece `first` on filled with the longest that still fits."""
    grid = model.grids[g]
    room = model.stocks[k].room
    parts = grid.most
    cuts: dict[int, int] = {}
    start = int(np.searchsorted(grid.kinds, first))
    for i, w in zip(grid.kinds[start:].tolist(), grid.weight[start:].tolist(), strict=True):
        if w > room or not left[i]:
            continue
        q = min(int(left[i]), room // w)
        if parts is not None:
            q = min(q, parts)
            parts -= q
        if q:
            cuts[i] = q
            room -= w * q
        if parts == 0:
            break
    return model.pattern(k, cuts)

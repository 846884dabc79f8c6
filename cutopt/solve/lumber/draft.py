"""A plan in the making: patterns and ways to joint runs with their counts; tidied to the piece."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Ints, Model, Pattern

__all__ = ["Draft", "available", "drafted", "greedy", "tidy", "wanted"]

#: How long a way to use a stick to its end is looked for.
_FLUSH_STEPS = 500


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
        saved = _most_saved(model, now, excess, left)
        if saved is None:
            _give_up(now, left, excess, short)
            continue
        pattern, rest, cut = saved
        times = min(now[pattern], *(excess[i] // q for i, q in cut.items()))
        if rest is not None and rest.stock != pattern.stock:
            have = left[rest.stock]
            times = times if have is None else min(have, times)
        _move(now, left, pattern, rest, times)
        for i, q in cut.items():
            excess[i] -= q * times
            if not excess[i]:
                del excess[i]
    for pattern in sorted(now, key=_order):
        better = _cheapest(model, pattern, left)
        if better is not None and better != pattern:
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


def _give_up(
    now: dict[Pattern, int], left: list[int | None], excess: dict[int, int], short: dict[int, int]
) -> None:
    """Cut one stick less, where no piece in excess can be left out of any by itself."""
    pattern = min((p for p in now if any(i in excess for i, _ in p.cuts)), key=_order)
    _move(now, left, pattern, None, 1)
    for i, q in pattern.cuts:
        over = min(q, excess.get(i, 0))
        if over:
            excess[i] -= over
            if not excess[i]:
                del excess[i]
        if q > over:
            short[i] = short.get(i, 0) + q - over


def _cheapest(model: Model, pattern: Pattern, left: Sequence[int | None]) -> Pattern | None:
    """The same pieces from the stick that costs least; None where none may be left as it would."""
    best = pattern if model.allows(pattern.stock, pattern.used) else None
    for k in range(len(model.stocks)):
        if k != pattern.stock and left[k] != 0 and model.fits(k, pattern.cuts):
            other = model.pattern(k, pattern.cuts)
            if best is None or other.cost < best.cost:
                best = other
    return best


def _most_saved(
    model: Model,
    now: Mapping[Pattern, int],
    excess: Mapping[int, int],
    left: Sequence[int | None],
) -> tuple[Pattern, Pattern | None, dict[int, int]] | None:
    """A pattern, what is left of it without pieces in excess, and those pieces.

    None where no stick may be left as it would be without them.
    """
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
            if rest is None:
                continue
            saved -= rest.cost
        # Where nothing is saved, fewer pieces over are still fewer cuts.
        key = (-saved, _order(pattern))
        if best is None or key < best:
            best, found = key, (pattern, rest, cut)
    return found


def drafted(
    model: Model,
    columns: Iterable[Pattern | RunColumn],
    used: Iterable[int],
    runs: Mapping[RunColumn, int] | None = None,
) -> Draft:
    """The tidied plan of columns that are used so often, beside ways of `runs` that are kept."""
    draft = Draft(runs=dict(runs or {}))
    for column, n in zip(columns, used, strict=True):
        if n and isinstance(column, Pattern):
            draft.patterns[column] = n
        elif n and isinstance(column, RunColumn):
            draft.runs[column] = n
    draft.patterns, draft.short = tidy(model, wanted(model, draft.runs), draft.patterns)
    return draft


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
                    if sticks[k] == 0 or not model.holds(k, i):
                        continue
                    pattern = _filled(model, g, k, i, left)
                    if pattern is None:
                        continue
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


def _filled(model: Model, g: int, k: int, first: int, left: Ints) -> Pattern | None:
    """One stick, from piece `first` on filled with the longest that still fits.

    Where that leaves the saw with too little, with less, or to its end; None where neither can be.
    """
    stock = model.stocks[k]
    pattern = _packed(model, g, k, first, left, stock.room)
    if model.allows(k, pattern.used):
        return pattern
    weight = model.weight(g, first)
    if weight is not None and weight <= stock.safe:
        return _packed(model, g, k, first, left, stock.safe)
    return _flush(model, g, k, first, left)


def _flush(model: Model, g: int, k: int, first: int, left: Ints) -> Pattern | None:
    """One stick with piece `first`, used to its end, as far as a short search finds one."""
    stock, grid = model.stocks[k], model.grids[g]
    at = int(np.searchsorted(grid.kinds, first))
    kinds, weights = grid.kinds.tolist(), grid.weight.tolist()
    most = 1 << 40 if grid.most is None else grid.most
    stack: list[tuple[int, int, int, tuple[tuple[int, int], ...]]] = [
        (at + 1, weights[at] * q, most - q, ((first, q),))
        for q in range(1, min(int(left[first]), stock.room // weights[at], most) + 1)
    ]
    for _ in range(_FLUSH_STEPS):
        if not stack:
            return None
        j, used, parts, cuts = stack.pop()
        if stock.full <= used <= stock.room:
            return model.pattern(k, cuts)
        if j == len(kinds):
            continue
        w = weights[j]
        for q in range(min(int(left[kinds[j]]), (stock.room - used) // w, parts) + 1):
            more = (*cuts, (kinds[j], q)) if q else cuts
            stack.append((j + 1, used + w * q, parts - q, more))
    return None


def _packed(model: Model, g: int, k: int, first: int, left: Ints, room: int) -> Pattern:
    """Filled up to so many units."""
    grid = model.grids[g]
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

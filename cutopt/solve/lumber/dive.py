"""Dives: what the master uses often is fixed, the rest priced again, until all is cut."""

from __future__ import annotations

import random
from math import floor

import numpy as np

from cutopt.solve.lumber.columns import Generator, Left
from cutopt.solve.lumber.draft import Draft, greedy, tidy, wanted
from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Pattern

__all__ = ["dive"]

_EPS = 1e-6
#: Run columns used at least so much are fixed together.
_SURE_RUN = 0.75
#: Patterns used at least so much are fixed together.
_SURE = 0.85
#: How far a shaken dive may misjudge a column's use.
_SHAKE = 0.3


def dive(
    generator: Generator,
    rounds: int,
    rng: random.Random | None,
    runs: dict[RunColumn, int] | None = None,
) -> Draft:
    """A plan from the master's columns and those found on the way.

    Parameters
    ----------
    rounds
        Rounds of pricing after each fixing.
    rng
        Shakes the choices; None for the plain dive.
    runs
        Ways to joint the runs that are kept as they are; None to choose them.
    """
    left = generator.all_left()
    draft = Draft()
    if runs is None:
        _fix_runs(generator, left, draft, rounds, rng)
    else:
        draft.runs = dict(runs)
        left.need[:] = wanted(generator.model, runs)
        left.copies[:] = 0
    _fix_patterns(generator, left, draft, rounds, rng)
    model = generator.model
    if left.need.any():
        more, _ = greedy(model, left.need, left.available)
        for pattern, n in more.items():
            draft.patterns[pattern] = draft.patterns.get(pattern, 0) + n
    draft.patterns, draft.short = tidy(model, wanted(model, draft.runs), draft.patterns)
    return draft


def _used(generator: Generator, kind: type) -> list[tuple[int, float]]:
    value = generator.master.value
    columns = generator.master.columns
    return [
        (j, float(value[j]))
        for j in np.flatnonzero(value > _EPS).tolist()
        if isinstance(columns[j], kind)
    ]


def _by_use(used: list[tuple[int, float]], rng: random.Random | None) -> list[tuple[float, int]]:
    """(judged fraction, column) of what is used in part, most first."""
    parts = [(x - floor(x + _EPS), j) for j, x in used]
    judged = [
        (part + (rng.random() * _SHAKE if rng else 0.0), j) for part, j in parts if part > _EPS
    ]
    return sorted(judged, key=lambda e: (-e[0], e[1]))


def _fix_runs(
    generator: Generator, left: Left, draft: Draft, rounds: int, rng: random.Random | None
) -> None:
    columns = generator.master.columns

    def fix(j: int, n: int) -> int:
        column = columns[j]
        if not isinstance(column, RunColumn):
            return 0
        n = min(n, int(left.copies[column.unit]))
        if n > 0:
            draft.runs[column] = draft.runs.get(column, 0) + n
            left.copies[column.unit] -= n
            for i, q in column.cuts:
                left.need[i] += q * n
        return n

    while left.copies.any():
        generator.reprice(left, rounds)
        used = _used(generator, RunColumn)
        fixed = sum(fix(j, floor(x + _EPS)) for j, x in used)
        most = max(1, int(left.copies.sum()) // 4)
        done = 0
        for part, j in _by_use(used, rng):
            if part < _SURE_RUN and (fixed or done >= most):
                break
            done += fix(j, 1)
        if not fixed and not done:
            break
        if generator.watch.stop():
            for j, column in enumerate(columns):
                if isinstance(column, RunColumn):
                    fix(j, int(left.copies[column.unit]))
            break
    draft.copies_short = {u: int(n) for u, n in enumerate(left.copies.tolist()) if n}


def _fix_patterns(
    generator: Generator, left: Left, draft: Draft, rounds: int, rng: random.Random | None
) -> None:
    columns = generator.master.columns
    model = generator.model

    def fix(pattern: Pattern, n: int) -> int:
        """Cut so many sticks to the pattern, none that would cut a piece too many."""
        if not model.allows(pattern.stock, pattern.used):
            return 0
        n = min(n, *(int(left.need[i]) // q for i, q in pattern.cuts))
        have = left.available[pattern.stock]
        if have is not None:
            n = min(n, have)
        if n > 0:
            draft.patterns[pattern] = draft.patterns.get(pattern, 0) + n
            for i, q in pattern.cuts:
                left.need[i] -= q * n
            if have is not None:
                left.available[pattern.stock] = have - n
        return n

    while left.need.any():
        generator.reprice(left, rounds)
        used = _used(generator, Pattern)
        fixed = 0
        for j, x in used:
            column = columns[j]
            if isinstance(column, Pattern) and x >= 1 - _EPS:
                fixed += fix(column, floor(x + _EPS))
        for part, j in _by_use(used, rng):
            if fixed and part < _SURE:
                break
            column = columns[j]
            if isinstance(column, Pattern):
                fixed += fix(column, 1)
        if not fixed:
            # All that is used would cut too much: the most used one without what is too much.
            for _, j in _by_use(used, rng) or [(0.0, j) for j, _ in used]:
                column = columns[j]
                if isinstance(column, Pattern):
                    cuts = {i: min(q, int(left.need[i])) for i, q in column.cuts}
                    if any(cuts.values()) and fix(model.pattern(column.stock, cuts), 1):
                        fixed = 1
                        break
        if not fixed or generator.watch.stop():
            return

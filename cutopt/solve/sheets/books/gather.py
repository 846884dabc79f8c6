"""The waste of the emptiest sheets laid together: one of them filled, the other left with the rest.

Plans of equal cost differ in where their waste lies. Of two sheets that are not full the one is
filled with as much of their parts as it holds; what the other then has over is one larger drop.
"""

from __future__ import annotations

import random

import numpy as np

from cutopt.materials import Rules
from cutopt.solve.sheets.books.fit import Fitter
from cutopt.solve.sheets.books.key import Keys, Plan
from cutopt.solve.sheets.layout import lay
from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints

__all__ = ["gathered"]

#: Sheets beside the emptiest that are tried with it, and how often each.
_PARTNERS = 4
_TRIES = 2


def gathered(keys: Keys, plan: Plan, fitter: Fitter, rules: Rules, rng: random.Random) -> Plan:
    """The plan with more kept of its emptiest sheets, no dearer and with no more set-ups."""
    areas: Ints = np.array(keys.model.areas, dtype=np.int64)
    now = dict(plan)
    for sheet, stock in enumerate(keys.model.sheets):
        least = rules.for_sheets(stock.material).keep_drop
        room = stock.length * stock.width

        def over(pattern: Pattern, room: int = room) -> int:
            return room - int(keys.column(pattern).cuts @ areas)

        single = sorted((p for p, n in now.items() if n == 1 and p.sheet == sheet), key=over)
        if len(single) < 2:
            continue
        first = single.pop()
        for other in reversed(single[-_PARTNERS:]):
            if over(first) + over(other) < least[0] * least[1]:
                break
            made = _pair(keys, fitter, rules, first, other, rng)
            if made is None:
                continue
            trial = {p: n for p, n in now.items() if p not in (first, other)}
            for pattern in made:
                trial[pattern] = trial.get(pattern, 0) + 1
            if keys.measure(trial) <= keys.measure(now):
                now, first = trial, max(made, key=over)
    return now


def _pair(
    keys: Keys, fitter: Fitter, rules: Rules, first: Pattern, other: Pattern, rng: random.Random
) -> tuple[Pattern, Pattern] | None:
    """Two patterns of the same parts of which more is kept; None where none were found."""
    model = keys.model
    parts = keys.column(first).cuts + keys.column(other).cuts
    cost = keys.column(first).cost + keys.column(other).cost
    areas = np.maximum(np.array(model.areas, dtype=np.int64), 1)
    kept = _kept(first, keys, rules) + _kept(other, keys, rules)
    best: tuple[int, tuple[Pattern, Pattern]] | None = None
    for _ in range(_TRIES):
        full = fitter.fill(areas, parts, first.sheet, rng)
        if full is None:
            continue
        left = parts - keys.column(full).cuts
        rest = fitter.all_of(left, first.sheet) if left.any() else None
        if rest is None or keys.column(full).cost + keys.column(rest).cost > cost:
            continue
        new = _kept(full, keys, rules) + _kept(rest, keys, rules)
        if new > kept and (best is None or new > best[0]):
            best = (new, (full, rest))
    return None if best is None else best[1]


def _kept(pattern: Pattern, keys: Keys, rules: Rules) -> int:
    """Area of the kept drops."""
    _, drops = lay(pattern, keys.model, rules)
    return sum(d.length * (d.width or 0) for d in drops if d.kept)

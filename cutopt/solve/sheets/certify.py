"""The bound where drops earn credit: worths at which no pattern is worth more than its sheet."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from fractions import Fraction

import numpy as np

from cutopt.solve.search import LateError
from cutopt.solve.sheets.bound import Certificate
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.credit import CreditPricer
from cutopt.solve.sheets.limit import Priced, Pricer
from cutopt.solve.sheets.pattern import counts, dearest, trimmed
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.pricing import StackPricer, StripPricer

__all__ = ["certify"]

#: Rounds of pricing, and tries to scale the worths of one of them.
_ROUNDS = 300
_SCALINGS = 3
#: Work of all of them together, in table entries.
_WORK = 4_000_000_000


def certify(generator: Generator) -> None:
    """Improve the bound of a model whose drops earn credit, and add the patterns that come up.

    At the duals of the master the dearest patterns are priced with their drops. Where one exceeds
    its sheet's cost, all worths are scaled down until none does (drops earn what they earn, so
    that dividing the worths alone does not do). A limited sheet takes its greatest gain off as
    often as it can be had. Full patterns, which leave no drop, are generated first.
    """
    with suppress(LateError), generator.looking():
        _certify(generator)


def _certify(g: Generator) -> None:
    model = g.model
    pricers: list[CreditPricer | StripPricer | StackPricer] = []
    for bench in model.benches:
        for axis in bench.axes if bench.credit else ():
            g.look()
            keep = g.rules.for_sheets(bench.material).keep_drop
            pricer = CreditPricer(model, bench, axis, g.scale, keep)
            pricer.look = g.look
            pricers.append(pricer)
    pricers += [p for p in g.proving() if not p.bench.credit]
    most = np.array(model.most, dtype=np.int64)
    open_sheets = [True] * len(model.sheets)
    center: Ints | None = None
    best = Fraction(0)
    work = 0
    for _ in range(_ROUNDS):
        if g.late() or work > _WORK:
            return
        g.master.solve()
        exact = g.worths(g.master.duals.part)
        if _full(g, g.strips, exact, most, open_sheets) or _full(
            g, g.stacks, exact, most, open_sheets
        ):
            continue
        added = 0
        for worth in (exact,) if center is None else ((exact + center) // 2, exact):
            if added:
                break
            found: list[Priced] = []
            for _ in range(_SCALINGS):
                found = [priced for p in pricers for priced in p.price(worth, most, open_sheets)]
                work += sum(p.effort for p in pricers)
                added += _add(g, found, worth)
                share = _share(g, found, worth)
                if share >= 1:
                    break
                worth = _scaled(worth, share)
            else:
                worth = _scaled(worth, _safe_share(g, found))
            bound = _note(g, found, worth)
            if bound > best:
                best, center = bound, worth
        if not added:
            return


def _full(
    g: Generator, pricers: Sequence[Pricer], worth: Ints, most: Ints, open_sheets: Sequence[bool]
) -> int:
    """Add the dearest patterns by their parts alone; how many were new."""
    return g.improving([priced for p in pricers for priced in p.price(worth, most, open_sheets)])


def _scaled(worth: Ints, share: Fraction) -> Ints:
    return np.array(
        [w * share.numerator // share.denominator for w in worth.tolist()], dtype=np.int64
    )


def _values(found: list[Priced]) -> dict[int, int]:
    values: dict[int, int] = {}
    for priced in found:
        q = priced.pattern.sheet
        values[q] = max(values.get(q, 0), priced.value)
    return values


def _share(g: Generator, found: list[Priced], worth: Ints) -> Fraction:
    """By what the worths must be multiplied so that none of these patterns passes its cost."""
    share = Fraction(1)
    for priced in found:
        sheet = g.model.sheets[priced.pattern.sheet]
        over = priced.value - sheet.cost * g.scale
        parts = int(counts(priced.pattern, len(worth)) @ worth)
        if sheet.available is None and over > 0 and parts > 0:
            share = min(share, max(Fraction(0), 1 - over / parts))
    return share


def _safe_share(g: Generator, found: list[Priced]) -> Fraction:
    """As `_share`, for every pattern: a value is convex in the share, at 0 all drop at most."""
    share = Fraction(1)
    for q, value in _values(found).items():
        sheet = g.model.sheets[q]
        cost, most = sheet.cost * g.scale, (sheet.cost - sheet.base) * g.scale
        if sheet.available is None and value > cost:
            share = min(
                share, (cost - most) / (value - most) if value > most < cost else Fraction(0)
            )
    return share


def _add(g: Generator, found: list[Priced], worth: Ints) -> int:
    """Add the parts of these patterns as columns, where the last duals say that they help."""
    patterns = []
    for priced in found:
        pattern = trimmed(priced.pattern, g.model.most)
        bench = g.model.bench_of[pattern.sheet]
        if bench.max_parts:
            pattern = dearest(pattern, worth.tolist(), bench.max_parts)
        # The table stacks parts whatever the stages: what needs a third is no column of two.
        flat = bench.stages >= 3 or all(len(k) == 1 for strip in pattern.strips for k in strip)
        if not g.model.edged and flat and pattern.strips:
            patterns.append(Priced(priced.value, pattern))
    return g.improving(patterns)


def _note(g: Generator, found: list[Priced], worth: Ints) -> Fraction:
    """What these worths prove; kept where it is the best so far."""
    model, scale = g.model, g.scale
    runs = g.runs_worth(worth)
    bound = Fraction(runs + int(model.need @ worth), scale)
    gains = [Fraction(0)] * len(model.sheets)
    for q, value in _values(found).items():
        sheet = model.sheets[q]
        if sheet.available is not None:
            gains[q] = max(Fraction(0), Fraction(value, scale) - sheet.cost)
            bound -= sheet.available * gains[q]
    bound = max(Fraction(0), bound - g.jointed.uncounted)
    if bound > g.bound:
        g.bound = bound
        g.certificate = Certificate(bound, tuple(worth.tolist()), Fraction(scale), tuple(gains))
    return bound

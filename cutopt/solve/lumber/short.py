"""Where limits leave too few sticks: what is left out, and what finds a place after all.

Runs are given up before parts, since a run given up frees the sticks of all its pieces; then
what could still be cut from sticks that are left comes back.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from cutopt.solve.lumber.draft import Draft, available, greedy, tidy, wanted
from cutopt.solve.lumber.model import Ints, Model
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.runs import Unit

__all__ = ["Demand", "lessened", "parted", "restored"]


@dataclass(frozen=True, slots=True)
class Demand:
    """Ordinary pieces by kind, copies by unit of runs."""

    need: Ints
    copies: Ints


def lessened(model: Model, demand: Demand, draft: Draft) -> tuple[Demand, Draft | None]:
    """Less than a plan that is short was to hold, and what is left of it where that is whole."""
    need, copies = demand.need.copy(), demand.copies.copy()
    runs = dict(draft.runs)
    for u, n in draft.copies_short.items():
        copies[u] -= n
    lacking = dict(draft.short)
    for column in sorted(runs, key=lambda c: (c.unit, c.joints)):
        while runs[column] and any(lacking.get(i, 0) > 0 for i, _ in column.cuts):
            runs[column] -= 1
            copies[column.unit] -= 1
            for i, q in column.cuts:
                lacking[i] = lacking.get(i, 0) - q
    runs = {c: n for c, n in runs.items() if n}
    if (copies == demand.copies).all():
        for i, n in draft.short.items():
            need[i] -= n
    now = model.wanting(need)
    patterns, short = tidy(now, wanted(now, runs), draft.patterns)
    start = Draft(patterns, runs)
    return Demand(need, copies), None if short else start


def parted(units: list[Unit], demand: Demand) -> list[Unit]:
    """Runs of mates that were given up, each alone, so that one may still find its sticks.

    Only the shortest may be jointed: the others, where they come back beside it, come in one
    piece, which has no joint to keep clear. The copies are taken out of `units`.
    """
    single: list[Unit] = []
    for u, unit in enumerate(units):
        kept = int(demand.copies[u])
        if len(unit.runs) == 1 or kept == unit.copies:
            continue
        order = sorted(range(len(unit.runs)), key=lambda r: (unit.runs[r].length, r))
        for place, r in enumerate(order):
            run = unit.runs[r]
            members = tuple((copy[r],) for copy in unit.members[kept:])
            alone = replace(run, first=run.length) if place else run
            single.append(Unit((alone,), (), members))
        units[u] = replace(unit, members=unit.members[:kept])
    return single


def restored(
    model: Model, whole: RunPricer, demand: Demand, draft: Draft
) -> tuple[Demand, Draft] | None:
    """What was left out and can be cut from sticks that are left; None where nothing can."""
    missing = model.need - demand.need
    gone = whole.copies - demand.copies
    if not missing.any() and not gone.any():
        return None
    left = available(model, draft.patterns)
    patterns, runs = dict(draft.patterns), dict(draft.runs)
    need, copies = demand.need.copy(), demand.copies.copy()

    def place(pieces: Ints) -> Ints:
        """Cut as many of these as can be; how many."""
        made, short = greedy(model, pieces, left)
        for pattern, n in made.items():
            patterns[pattern] = patterns.get(pattern, 0) + n
            have = left[pattern.stock]
            if have is not None:
                left[pattern.stock] = have - n
        placed = pieces.copy()
        for i, n in short.items():
            placed[i] -= n
        return placed

    need += place(missing)
    for column in whole.starts():
        for _ in range(int(whole.copies[column.unit] - copies[column.unit])):
            pieces = np.zeros(len(need), np.int64)
            for i, q in column.cuts:
                pieces[i] += q
            if greedy(model, pieces, left)[1]:
                break
            place(pieces)
            runs[column] = runs.get(column, 0) + 1
            copies[column.unit] += 1
    if (need == demand.need).all() and (copies == demand.copies).all():
        return None
    return Demand(need, copies), Draft(patterns, runs)

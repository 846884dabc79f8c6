"""Whole numbers of the columns at hand: a covering model over the pool."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil, gcd, lcm

import numpy as np

from cutopt.solve.milp import Model as IntegerModel
from cutopt.solve.milp import Row, solve_integer
from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.dive import Chosen, Draft, take
from cutopt.solve.sheets.pattern import Pattern

__all__ = ["cover", "together", "whole_costs"]

#: Columns in the model, least reduced cost first: so many numbers, but between these.
_CELLS = 60_000
_COLUMNS = (200, 1_500)
#: A column of a larger value than this is in use.
_USED = 1e-9


def whole_costs(costs: Sequence[Fraction]) -> tuple[list[int], Fraction]:
    """Costs as whole numbers of a common unit, and that unit in dollars."""
    scale = lcm(*(c.denominator for c in costs))
    whole = [int(c * scale) for c in costs]
    unit = gcd(*whole) or 1
    return [w // unit for w in whole], Fraction(unit, scale)


def cover(
    generator: Generator,
    room: Room,
    bound: Fraction,
    below: Fraction | None,
    nodes: int,
    extra: Draft | None = None,
    seed: int = 0,
    reach: float | None = None,
) -> Draft | None:
    """The best plan over the pool's columns below a cost; None where none was found.

    Parameters
    ----------
    room
        What is to be cut and can be had; not changed.
    below
        Only plans that cost less are of interest; None where no plan is known.
    bound
        A proved lower bound of this problem, dollars.
    nodes
        Most nodes of the search.
    extra
        A known plan whose patterns the pool may lack.
    seed
        Sends the search another way.
    reach
        Only columns that cost at most so much beyond their worth; None where that is the gap.
    """
    master, model = generator.master, generator.model
    own = [master.column(c.pattern, c.cost) for c in (extra.chosen if extra else ())]
    for column in own:
        master.add(column)
    cuts, costs, of = master.arrays()
    most = np.array(model.most) if room.copies.any() else room.need
    useful = np.minimum(cuts, most)
    open_sheets = np.array(room.open_sheets())
    some = np.flatnonzero(useful.any(axis=1) & open_sheets[of])
    if not len(some):
        return None
    duals = master.duals
    reduced = costs[some] - useful[some] @ duals.part - duals.sheet[of[some]]
    order = some[np.argsort(reduced, kind="stable")]
    if below is not None:
        gap = float(below - bound) if reach is None else reach
        order = order[np.sort(reduced, kind="stable") <= gap * (1 + 1e-6) + 1e-6]
    fewest, most_columns = _COLUMNS
    columns = min(most_columns, max(fewest, _CELLS // len(model.kinds)))
    # What the known plan and the programme cut comes first: where many columns cost nothing beyond
    # their worth, those at hand would else leave some kind out.
    used = np.zeros(len(costs), dtype=bool)
    used[: len(master.value)] = master.value > _USED
    used[[master.index(column) for column in own]] = True
    order = np.concatenate((order[used[order]], order[~used[order]]))
    chosen_columns = order[:columns].tolist()
    if not chosen_columns:
        return None
    ways = [w for w in master.ways if room.copies[w.unit]]
    exact, unit = whole_costs(
        [*(master.columns[j].cost for j in chosen_columns), *(w.cost for w in ways)]
    )
    behind = len(chosen_columns)
    rows = []
    for i in range(len(model.kinds)):
        terms = {n: int(cuts[j, i]) for n, j in enumerate(chosen_columns) if cuts[j, i]}
        terms |= {behind + n: -int(w.cuts[i]) for n, w in enumerate(ways) if w.cuts[i]}
        if not room.need[i] and all(a > 0 for a in terms.values()):
            continue
        if not terms:
            return None
        rows.append(Row(terms, lower=int(room.need[i])))
    for u in np.flatnonzero(room.copies).tolist():
        terms = {behind + n: 1 for n, w in enumerate(ways) if w.unit == u}
        rows.append(Row(terms, lower=int(room.copies[u]), upper=int(room.copies[u])))
    for q in range(len(model.sheets)):
        limit = room.available[q]
        terms = {n: 1 for n, j in enumerate(chosen_columns) if of[j] == q}
        if limit is not None and terms:
            rows.append(Row(terms, upper=limit))
    cutoff = None if below is None else ceil(below / unit)
    answer = solve_integer(
        IntegerModel(exact, rows), generator.watch.left(), nodes=nodes, cutoff=cutoff, seed=seed
    )
    if answer.values is None:
        return None
    room = room.copy()
    draft = Draft()
    for n, w in enumerate(ways):
        count = answer.values[behind + n]
        if count:
            room.copies[w.unit] -= count
            room.need += w.cuts * count
            draft.ways.append((w, count))
    for n, j in enumerate(chosen_columns):
        for _ in range(answer.values[n]):
            chosen = take(generator, room, master.columns[j].pattern, 1)
            if chosen.cuts.any():
                draft.chosen.append(chosen)
    draft.chosen = together(draft.chosen)
    return draft


def together(plan: Sequence[Chosen]) -> list[Chosen]:
    """Equal patterns as one."""
    counted: dict[Pattern, Chosen] = {}
    for c in plan:
        known = counted.get(c.pattern)
        n = c.count + (known.count if known else 0)
        counted[c.pattern] = Chosen(c.pattern, c.cuts, c.cost, n)
    return list(counted.values())

"""Whole numbers of the columns at hand: a covering model over the pool."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from math import ceil, gcd, lcm

import numpy as np

from cutopt.solve.milp import Model as IntegerModel
from cutopt.solve.milp import Row, solve_integer
from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.dive import Chosen, take

__all__ = ["cover"]

#: Columns in the model, least reduced cost first.
_COLUMNS = 1500


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
    extra: Sequence[Chosen] = (),
) -> list[Chosen] | None:
    """The best plan over the pool's columns that costs less than `below`; None where none was found.

    Parameters
    ----------
    room
        What is to be cut and can be had; not changed.
    bound
        A proved lower bound of this problem, dollars.
    nodes
        Most nodes of the search.
    extra
        Patterns of known plans that the pool may lack.
    """
    master, model = generator.master, generator.model
    for chosen in extra:
        master.add(master.column(chosen.pattern, chosen.cost))
    cuts, costs, of = master.arrays()
    useful = np.minimum(cuts, room.need)
    open_sheets = np.array(room.open_sheets())
    some = np.flatnonzero(useful.any(axis=1) & open_sheets[of])
    if not len(some):
        return None
    duals = master.duals
    reduced = costs[some] - useful[some] @ duals.part - duals.sheet[of[some]]
    order = some[np.argsort(reduced, kind="stable")]
    if below is not None:
        gap = float(below - bound)
        order = order[np.sort(reduced, kind="stable") <= gap * (1 + 1e-6) + 1e-6]
    chosen_columns = order[:_COLUMNS].tolist()
    if not chosen_columns:
        return None
    exact, unit = whole_costs([master.columns[j].cost for j in chosen_columns])
    rows = []
    for i in np.flatnonzero(room.need).tolist():
        terms = {n: int(cuts[j, i]) for n, j in enumerate(chosen_columns) if cuts[j, i]}
        if not terms:
            return None
        rows.append(Row(terms, lower=int(room.need[i])))
    for q in range(len(model.sheets)):
        limit = room.available[q]
        terms = {n: 1 for n, j in enumerate(chosen_columns) if of[j] == q}
        if limit is not None and terms:
            rows.append(Row(terms, upper=limit))
    # The proved bound is worth a row: the search may end where it is reached.
    rows.append(Row(dict(enumerate(exact)), lower=ceil(bound / unit)))
    cutoff = None if below is None else ceil(below / unit)
    answer = solve_integer(
        IntegerModel(exact, rows), generator.watch.left(), nodes=nodes, cutoff=cutoff
    )
    if answer.values is None:
        return None
    room = room.copy()
    plan = []
    for n, j in enumerate(chosen_columns):
        for _ in range(answer.values[n]):
            chosen = take(generator, room, master.columns[j].pattern, 1)
            if chosen.cuts.any():
                plan.append(chosen)
    return together(plan)


def together(plan: Sequence[Chosen]) -> list[Chosen]:
    """Equal patterns as one."""
    counted: dict[tuple[object, ...], Chosen] = {}
    for c in plan:
        key = (c.pattern,)
        known = counted.get(key)
        n = c.count + (known.count if known else 0)
        counted[key] = Chosen(c.pattern, c.cuts, c.cost, n)
    return list(counted.values())

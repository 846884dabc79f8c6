"""Whole numbers of the columns at hand: a covering model over the pool."""

from __future__ import annotations

from fractions import Fraction

from cutopt.solve.lumber.columns import Generator
from cutopt.solve.lumber.draft import Draft, drafted, wanted
from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Pattern
from cutopt.solve.milp import Model as IntegerModel
from cutopt.solve.milp import Row, solve_integer

__all__ = ["MOST_COLUMNS", "cover"]

#: Columns in the model, least reduced cost first.
MOST_COLUMNS = 800
#: Whole numbers that a dollar counts in the model. Drafts are costed exactly afterwards.
_PER_DOLLAR = 10**6
_STEPS = 4


def cover(
    generator: Generator,
    reduced: list[float],
    slack: float,
    below: Fraction,
    nodes: int,
    gap: float,
    runs: dict[RunColumn, int] | None,
) -> Draft | None:
    """A plan over the pool's columns that costs less than a known one; None where none was found.

    Parameters
    ----------
    reduced
        The columns' reduced costs at good worths.
    slack
        Columns that cost more than this beyond their worth can be part of no better plan.
    below
        The cost of the known plan.
    nodes, gap
        The search ends after so many nodes, or at this relative gap.
    runs
        Ways to joint the runs that are kept as they are; None to choose them too.
    """
    master, model = generator.master, generator.model
    chosen = [
        j
        for j in sorted(range(len(reduced)), key=lambda j: (reduced[j], j))
        if reduced[j] <= slack and (runs is None or isinstance(master.columns[j], Pattern))
    ][:MOST_COLUMNS]
    need = model.need if runs is None else wanted(model, runs)
    fixed = sum((c.cost * n for c, n in (runs or {}).items()), Fraction(0))
    costs = [round(master.columns[j].cost * _PER_DOLLAR) for j in chosen]
    pieces: list[dict[int, int]] = [{} for _ in model.kinds]
    stocks: list[dict[int, int]] = [{} for _ in model.stocks]
    units: list[dict[int, int]] = [{} for _ in generator.runs.lengths]
    for v, j in enumerate(chosen):
        column = master.columns[j]
        if isinstance(column, Pattern):
            stocks[column.stock][v] = 1
        else:
            units[column.unit][v] = 1
        sign = 1 if isinstance(column, Pattern) else -1
        for i, q in column.cuts:
            pieces[i][v] = sign * q
    rows = []
    for i, row in enumerate(pieces):
        if need[i] or any(a < 0 for a in row.values()):
            if not row:
                return None
            rows.append(Row(row, int(need[i]), int(need[i]) if model.tight[i] else None))
    for k, row in enumerate(stocks):
        if row and model.stocks[k].available is not None:
            rows.append(Row(row, upper=model.stocks[k].available))
    if runs is None:
        for u, row in enumerate(units):
            if not row:
                return None
            n = int(generator.runs.copies[u])
            rows.append(Row(row, lower=n, upper=n))
    answer = solve_integer(
        IntegerModel(costs, rows),
        min(generator.watch.left(), 10.0),
        nodes=nodes,
        cutoff=round((below - fixed) * _PER_DOLLAR),
        gap=gap,
    )
    # Cuts and heuristics take as long as the steps that are told, several times over.
    generator.master.steps += _STEPS * answer.steps
    if answer.values is None:
        return None
    columns = [master.columns[j] for j in chosen]
    return drafted(model, columns, answer.values, runs)

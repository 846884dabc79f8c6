"""Small integer models: the one place that talks to PuLP, with HiGHS behind it.

What comes back is rounded, and its rows and objective are recomputed in integers; nothing that the
solver says of its own bound is proof of anything here, except that a model is solved to the end,
which is told apart by `solved`. A node limit ends a search the same way every time; the clock is a
guard only.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import pulp

__all__ = ["Answer", "Model", "Row", "solve_integer"]

_NODES = 2_000
_LARGEST_COST = 10_000.0
#: What HiGHS says of a point that keeps its rows.
_FEASIBLE = 2


@dataclass(frozen=True, slots=True)
class Row:
    """`lower` ≤ Σ coefficient × variable ≤ `upper`; None leaves a side open."""

    coefficients: Mapping[int, int]
    lower: int | None = None
    upper: int | None = None


@dataclass(slots=True)
class Model:
    """Minimise Σ cost × variable over whole variables from 0 to `upper` (None: open)."""

    costs: Sequence[int]
    rows: list[Row] = field(default_factory=list)
    upper: Sequence[int | None] | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """`values` that keep every row, None where none were found.

    `solved` says that the search ended by itself: the values are least, or, with None, that there
    are none below the cutoff (in the solver's arithmetic). `steps` of the simplex method were
    taken: a measure of the work.
    """

    values: tuple[int, ...] | None
    objective: int | None
    solved: bool
    steps: int = 0


def solve_integer(
    model: Model,
    seconds: float,
    *,
    nodes: int = _NODES,
    cutoff: int | None = None,
    gap: float = 0.0,
    seed: int = 0,
) -> Answer:
    """Solve a model with one thread.

    Parameters
    ----------
    seconds
        A guard; HiGHS may overshoot it a little.
    nodes
        Most branch-and-bound nodes: the limit that repeats.
    cutoff
        Only objectives below it are of interest.
    gap
        Relative gap at which the search may end.
    seed
        Of the solver's own choices by chance.
    """
    if seconds <= 0:
        return Answer(None, None, False)
    problem = pulp.LpProblem("cut", pulp.LpMinimize)
    upper = model.upper or [None] * len(model.costs)
    variables = [
        problem.add_variable(f"x{j}", 0, bound, cat=pulp.LpInteger) for j, bound in enumerate(upper)
    ]
    # Costs in millionths of a dollar are far from the tolerances of a solver in floats.
    scale = max(1.0, max(map(abs, model.costs), default=0) / _LARGEST_COST)
    problem.setObjective(
        pulp.LpAffineExpression([(variables[j], c / scale) for j, c in enumerate(model.costs)])
    )
    for row in model.rows:
        terms = pulp.LpAffineExpression([(variables[j], a) for j, a in row.coefficients.items()])
        if row.lower is not None and row.lower == row.upper:
            problem.addConstraint(terms == row.lower)
            continue
        if row.lower is not None:
            problem.addConstraint(terms >= row.lower)
        if row.upper is not None:
            problem.addConstraint(terms <= row.upper)
    options: dict[str, object] = {
        "mip_max_nodes": nodes,
        "mip_abs_gap": 0.5 / scale,
        "random_seed": seed,
    }
    if cutoff is not None:
        options["objective_bound"] = cutoff / scale
    solver = pulp.HiGHS(
        msg=False, threads=1, timeLimit=seconds, gapRel=gap if gap > 0 else 1e-9, **options
    )
    with contextlib.suppress(KeyError):
        # PuLP has no word for HiGHS's node limit and raises it, after it has read the values.
        problem.solve(solver)
    solved = _ended(problem)
    info = problem.solverModel.getInfo()
    steps = max(0, int(info.simplex_iteration_count))
    if info.primal_solution_status != _FEASIBLE:
        return Answer(None, None, solved, steps)
    values = tuple(round(v.varValue or 0.0) for v in variables)
    if not _keeps_rows(model, upper, values):
        return Answer(None, None, False, steps)
    objective = sum(c * x for c, x in zip(model.costs, values, strict=True))
    return Answer(values, objective, solved, steps)


def _ended(problem: pulp.LpProblem) -> bool:
    """Whether HiGHS was not cut short: PuLP calls a timed-out solve optimal."""
    status = problem.solverModel.getModelStatus().name
    return status in ("kOptimal", "kInfeasible")


def _keeps_rows(model: Model, upper: Sequence[int | None], values: Sequence[int]) -> bool:
    if any(x < 0 or (u is not None and x > u) for x, u in zip(values, upper, strict=True)):
        return False
    for row in model.rows:
        total = sum(a * values[j] for j, a in row.coefficients.items())
        if row.lower is not None and total < row.lower:
            return False
        if row.upper is not None and total > row.upper:
            return False
    return True

"""A plain assignment model of a material through PuLP: which part lies on which stick.

Every stick is a set of variables of its own: of which size it is, how many of each part it holds,
whether its drop is kept and how long that is. As many sticks are offered as the greedy needs, and a
quarter more; fewer variables than with sticks of every size apart.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence

from tests.bench.lumber.heuristics import greedy
from tests.bench.lumber.task import Filled, Task

__all__ = ["MOST_VARIABLES", "plan_with_pulp", "sticks_offered", "variables_of"]

#: A model with more variables than this is not built: it would not be read in the time given.
MOST_VARIABLES = 400_000


def sticks_offered(task: Task) -> int:
    """Sticks in the model."""
    plan = greedy(task)
    if plan is None:
        return task.pieces
    return min(task.pieces, -(-5 * sum(f.count for f in plan) // 4))


def variables_of(task: Task) -> int:
    """How large the model is."""
    each = len(task.parts) + len(task.sticks) * (3 if task.share else 1)
    return sticks_offered(task) * each


def plan_with_pulp(task: Task, solver: str, seconds: float) -> list[Filled] | None:
    """The best plan that `cbc` or `highs` finds; None where it finds none."""
    import pulp

    warnings.simplefilter("ignore")
    model = pulp.LpProblem("sticks", pulp.LpMinimize)
    n = sticks_offered(task)
    inch = 40640  # numbers near one keep the solvers' tolerances apart from the lengths
    weights = [(length + task.kerf) / inch for length, _ in task.parts]
    cost = []
    size = []
    holds = []
    for s in range(n):
        is_size = [pulp.LpVariable(f"z{s}_{k}", 0, 1, "Binary") for k in range(len(task.sticks))]
        has = [
            pulp.LpVariable(f"x{s}_{i}", 0, qty, "Integer") for i, (_, qty) in enumerate(task.parts)
        ]
        cost += [(z, float(k.cost)) for z, k in zip(is_size, task.sticks, strict=True)]
        fill = [*zip(has, weights, strict=True)]
        fill += [
            (z, -(k.usable + task.kerf) / inch) for z, k in zip(is_size, task.sticks, strict=True)
        ]
        if task.share:
            for k, (z, stick) in enumerate(zip(is_size, task.sticks, strict=True)):
                kept = pulp.LpVariable(f"w{s}_{k}", 0, 1, "Binary")
                drop = pulp.LpVariable(f"r{s}_{k}", 0, stick.usable / inch)
                model += kept <= z
                model += drop <= stick.usable / inch * kept
                model += drop >= task.keep / inch * kept
                cost.append((drop, -float(task.share * stick.cost / stick.length) * inch))
                fill += [(drop, 1.0), (kept, task.kerf / inch)]
        model += pulp.LpAffineExpression(fill) <= 0
        model += pulp.lpSum(is_size) <= 1
        if task.most:
            model += pulp.lpSum(has) <= task.most
        size.append(is_size)
        holds.append(has)
    for i, (_, qty) in enumerate(task.parts):
        model += pulp.lpSum(has[i] for has in holds) == qty
    for k, stick in enumerate(task.sticks):
        if stick.available is not None:
            model += pulp.lpSum(is_size[k] for is_size in size) <= stick.available
    model.setObjective(pulp.LpAffineExpression(cost))
    if solver == "cbc":
        model.solve(pulp.PULP_CBC_CMD(msg=False, timeLimit=seconds, threads=1))
    else:
        model.solve(pulp.HiGHS(msg=False, timeLimit=seconds, threads=1))
    # PuLP calls a solve that ran out of time optimal: only values that can be cut count.
    return filled(
        task,
        [[_whole(z) for z in is_size] for is_size in size],
        [[_whole(x) for x in has] for has in holds],
    )


def _whole(variable: object) -> int:
    value = getattr(variable, "varValue", None)
    return round(value) if value is not None else 0


def filled(
    task: Task, size: Sequence[Sequence[int]], holds: Sequence[Sequence[int]]
) -> list[Filled] | None:
    """A plan from what the variables say; None where not every part is cut."""
    plan: dict[tuple[int, tuple[tuple[int, int], ...]], int] = {}
    left = [qty for _, qty in task.parts]
    for is_size, has in zip(size, holds, strict=True):
        cuts = tuple((i, q) for i, q in enumerate(has) if q > 0)
        if not cuts:
            continue
        if 1 not in is_size:
            return None
        for i, q in cuts:
            left[i] -= q
        key = (list(is_size).index(1), cuts)
        plan[key] = plan.get(key, 0) + 1
    if any(left):
        return None
    return [Filled(k, cuts, n) for (k, cuts), n in plan.items()]

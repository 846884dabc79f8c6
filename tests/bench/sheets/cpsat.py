"""The same models for CP-SAT, in whole numbers throughout.

Only ever imported in a process of its own: OR-tools and highspy do not live together.
"""

from __future__ import annotations

from math import lcm
from typing import Any

from tests.bench.sheets.level import Levels, laid
from tests.bench.sheets.task import Filled, Laid, Task

__all__ = ["plan_with_cpsat"]


def plan_with_cpsat(task: Task, seconds: float, workers: int = 2) -> list[Filled | Laid] | None:
    """The best plan found; None where none is."""
    plan: list[Filled | Laid] = []
    for wanted, model in ((task.parts, _levels), (task.fields, _rows)):
        if wanted:
            found = model(task, seconds, workers)
            if found is None:
                return None
            plan += found
    return plan


def _scale(task: Task) -> int:
    """Makes every cost whole, or near enough for a search: plans are costed exactly afterwards."""
    return min(10**6, lcm(*(s.cost.denominator for s in task.sheets)))


def _solved(model: Any, seconds: float, workers: int) -> Any:
    from ortools.sat.python import cp_model

    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 1
    status = solver.solve(model)
    return solver if status in (cp_model.OPTIMAL, cp_model.FEASIBLE) else None


def _levels(task: Task, seconds: float, workers: int) -> list[Filled] | None:
    from ortools.sat.python import cp_model

    own = Levels(task)
    pieces, room, n, sizes = own.pieces, own.room, task.pieces, range(len(task.sheets))
    model = cp_model.CpModel()
    y = [[model.new_bool_var(f"y{i}_{t}") for t in sizes] for i in range(n)]
    q = [[model.new_bool_var(f"q{i}_{t}") for t in sizes] for i in range(n)]
    x = {(i, j): model.new_bool_var(f"x{i}_{j}") for i in range(n) for j in range(i + 1, n)}
    z = {(k, i): model.new_bool_var(f"z{k}_{i}") for k in range(n) for i in range(k + 1, n)}
    for i, (_, _, along, across) in enumerate(pieces):
        starts = sum(y[i])
        model.add(starts + sum(x[h, i] for h in range(i)) == 1)
        beside = sum(pieces[j][2] * x[i, j] for j in range(i + 1, n))
        model.add(beside <= sum((room[t][0] - along) * y[i][t] for t in sizes))
        model.add(sum(q[i]) + sum(z[k, i] for k in range(i)) == starts)
        above = sum(pieces[j][3] * z[i, j] for j in range(i + 1, n))
        model.add(above <= sum((room[t][1] - across) * q[i][t] for t in sizes))
        for t in sizes:
            model.add_implication(q[i][t], y[i][t])
            if along > room[t][0] or across > room[t][1]:
                model.add(y[i][t] == 0)
            if len(task.sheets) > 1:
                for j in range(i + 1, n):
                    model.add_bool_or(~z[i, j], ~q[i][t], y[j][t])
    for t, sheet in enumerate(task.sheets):
        if sheet.available is not None:
            model.add(sum(q[k][t] for k in range(n)) <= sheet.available)
    scale = _scale(task)
    model.minimize(
        sum(round(task.sheets[t].cost * scale) * q[k][t] for k in range(n) for t in sizes)
    )
    solver = _solved(model, seconds, workers)
    if solver is None:
        return None
    starting = [i for i in range(n) if any(solver.value(v) for v in y[i])]
    member = [
        i if i in starting else next((h for h in range(i) if solver.value(x[h, i])), -1)
        for i in range(n)
    ]
    size = [next((t for t in sizes if solver.value(q[k][t])), -1) for k in range(n)]
    on = [
        k if size[k] >= 0 else next((h for h in range(k) if solver.value(z[h, k])), -1)
        for k in range(n)
    ]
    return own.plan(starting, member, on, size)


def _rows(task: Task, seconds: float, workers: int) -> list[Laid] | None:
    from ortools.sat.python import cp_model

    sizes = range(len(task.sheets))
    most = max(-(-run // s.board[1]) for _, run in task.fields for s in task.sheets)
    model = cp_model.CpModel()
    rows = [
        [
            model.new_int_var(0, most if task.sheets[t].board[0] >= span else 0, f"b{f}_{t}")
            for t in sizes
        ]
        for f, (span, _) in enumerate(task.fields)
    ]
    has = {n: model.new_bool_var(f"l{n}") for n in {s.board[0] for s in task.sheets}}
    for own, (_, run) in zip(rows, task.fields, strict=True):
        model.add(sum(s.board[1] * v for s, v in zip(task.sheets, own, strict=True)) >= run)
        for t in sizes if task.lengths else ():
            if not task.sheets[t].on_hand:
                model.add(own[t] <= most * has[task.sheets[t].board[0]])
    for t, s in enumerate(task.sheets):
        used = sum(own[t] for own in rows)
        if s.available is not None:
            model.add(used <= s.available)
        if task.lengths and s.on_hand:
            model.add(used <= s.on_hand + most * len(rows) * has[s.board[0]])
    if task.lengths:
        model.add(sum(has.values()) <= task.lengths)
    scale = _scale(task)
    model.minimize(sum(round(task.sheets[t].cost * scale) * own[t] for own in rows for t in sizes))
    solver = _solved(model, seconds, workers)
    if solver is None:
        return None
    return laid(task, [[solver.value(v) for v in own] for own in rows])

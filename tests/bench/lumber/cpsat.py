"""The same assignment model for CP-SAT, in whole numbers throughout.

Only ever imported in a process of its own: OR-tools and highspy do not live together.
"""

from __future__ import annotations

from math import gcd, lcm

from tests.bench.lumber.assignment import filled, sticks_offered
from tests.bench.lumber.task import Filled, Task

__all__ = ["plan_with_cpsat"]


def plan_with_cpsat(task: Task, seconds: float, workers: int = 2) -> list[Filled] | None:
    """The best plan found; None where none is."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    n = sticks_offered(task)
    lengths = [length for length, _ in task.parts]
    unit = gcd(*lengths, *(s.usable for s in task.sticks), task.kerf, task.keep)
    # The objective in whole numbers: dollars times the denominators of all costs and credits.
    slope = [task.share * s.cost / s.length * unit for s in task.sticks]
    scale = lcm(*(s.cost.denominator for s in task.sticks), *(x.denominator for x in slope))
    if scale > 10**9:  # near enough for a search; the plan is costed exactly afterwards
        scale = 10**9
    cost = []
    sizes = []
    holds = []
    for s in range(n):
        is_size = [model.new_bool_var(f"z{s}_{k}") for k in range(len(task.sticks))]
        has = [model.new_int_var(0, qty, f"x{s}_{i}") for i, (_, qty) in enumerate(task.parts)]
        used = sum((length + task.kerf) // unit * x for length, x in zip(lengths, has, strict=True))
        room = sum(
            (k.usable + task.kerf) // unit * z for z, k in zip(is_size, task.sticks, strict=True)
        )
        if task.share:
            for k, stick in enumerate(task.sticks):
                kept = model.new_bool_var(f"w{s}_{k}")
                drop = model.new_int_var(0, max(0, stick.usable // unit), f"r{s}_{k}")
                model.add(kept <= is_size[k])
                model.add(drop <= stick.usable // unit * kept)
                model.add(drop >= task.keep // unit * kept)
                cost.append(-round(slope[k] * scale) * drop)
                used += drop + task.kerf // unit * kept
        model.add(used <= room)
        model.add(sum(is_size) <= 1)
        if task.most:
            model.add(sum(has) <= task.most)
        cost += [round(k.cost * scale) * z for z, k in zip(is_size, task.sticks, strict=True)]
        sizes.append(is_size)
        holds.append(has)
    for i, (_, qty) in enumerate(task.parts):
        model.add(sum(has[i] for has in holds) == qty)
    for k, stick in enumerate(task.sticks):
        if stick.available is not None:
            model.add(sum(is_size[k] for is_size in sizes) <= stick.available)
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = 1
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return None
    return filled(
        task,
        [[solver.value(z) for z in is_size] for is_size in sizes],
        [[solver.value(x) for x in has] for has in holds],
    )

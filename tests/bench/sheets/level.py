"""The level model of Lodi, Martello and Monaci, through PuLP; and rows of boards for ceilings.

Lodi, Martello, Monaci: Two-dimensional packing problems: a survey, European Journal of Operational
Research 141 (2002); Lodi, Martello, Vigo: Models and bounds for two-dimensional level packing
problems, Journal of Combinatorial Optimization 8 (2004); both from memory. Pieces by falling
height: a piece may start a level, lower ones lie beside it; a level may start a sheet, lower ones
lie on top of it. Two stages with trimming, rips first where they may be. Extended here to kerfs and
to many sizes of sheet (each level and each sheet has one); parts are turned only where they fit no
other way.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from tests.bench.sheets.task import Filled, Laid, Task

__all__ = ["MOST_VARIABLES", "Levels", "laid", "plan_with_pulp", "variables_of"]

#: A model with more variables than this is not built: it would not be read in the time given.
MOST_VARIABLES = 400_000
INCH = 40640  # numbers near one keep the solvers' tolerances apart from the lengths


@dataclass(frozen=True)
class Levels:
    """A task's pieces one by one, the highest first: (part, turned, along, across)."""

    task: Task

    @cached_property
    def rip(self) -> bool:
        """Whether levels run along the sheet."""
        return self.task.rips[0]

    @cached_property
    def room(self) -> list[tuple[int, int]]:
        """Along and across each sheet, the last cut's kerf added."""
        kerf = self.task.kerf
        sizes = [(s.length + kerf, s.width + kerf) for s in self.task.sheets]
        return sizes if self.rip else [(b, a) for a, b in sizes]

    @cached_property
    def pieces(self) -> list[tuple[int, bool, int, int]]:
        """Kerf added."""
        found = []
        kerf = self.task.kerf
        for i, p in enumerate(self.task.parts):
            a, b = (p.length, p.width) if self.rip else (p.width, p.length)
            a, b = a + kerf, b + kerf
            turned = p.turn and not any(a <= x and b <= y for x, y in self.room)
            if turned:
                a, b = b, a
            found += [(i, turned, a, b)] * p.qty
        return sorted(found, key=lambda f: (-f[3], -f[2], f[0]))

    def plan(
        self, starts: Sequence[int], member: Sequence[int], on: Sequence[int], size: Sequence[int]
    ) -> list[Filled] | None:
        """A plan from what the variables say.

        `member[j]` is the piece that starts j's level, `on[i]` the level that starts level i's
        sheet, `size[k]` the sheet that level k starts; -1 where there is none. `starts` are the
        levels in order.
        """
        if -1 in member:
            return None
        shelves: dict[int, list[int]] = {i: [] for i in starts}
        for j, i in enumerate(member):
            if i not in shelves:
                return None
            shelves[i].append(j)
        sheets: dict[int, list[int]] = {}
        for i in starts:
            if on[i] == -1 or size[on[i]] == -1:
                return None
            sheets.setdefault(on[i], []).append(i)
        kerf = self.task.kerf
        return [
            Filled(
                size[k],
                self.rip,
                tuple(
                    (
                        max(self.pieces[j][3] for j in shelves[i]) - kerf,
                        tuple(self.pieces[j][:2] for j in shelves[i]),
                    )
                    for i in levels
                ),
            )
            for k, levels in sheets.items()
        ]


def variables_of(task: Task) -> int:
    """How large the model is."""
    n, sizes = task.pieces, len(task.sheets)
    return n * (n - 1) + 2 * n * sizes + len(task.fields) * sizes


def plan_with_pulp(task: Task, solver: str, seconds: float) -> list[Filled | Laid] | None:
    """The best plan that `cbc` or `highs` finds; None where it finds none."""
    import pulp

    warnings.simplefilter("ignore")

    def solved(model: Any) -> None:
        # PuLP calls a solve that ran out of time optimal: only values that can be cut count.
        if solver == "cbc":
            model.solve(pulp.PULP_CBC_CMD(msg=False, timeLimit=seconds, threads=1))
        else:
            model.solve(pulp.HiGHS(msg=False, timeLimit=seconds, threads=1))

    plan: list[Filled | Laid] = []
    if task.parts:
        levels = _levels(task, solved)
        if levels is None:
            return None
        plan += levels
    if task.fields:
        rows = _rows(task, solved)
        if rows is None:
            return None
        plan += rows
    return plan


def _levels(task: Task, solved: Callable[[Any], None]) -> list[Filled] | None:
    import pulp

    own = Levels(task)
    pieces, room, n, sizes = own.pieces, own.room, task.pieces, range(len(task.sheets))
    model = pulp.LpProblem("levels", pulp.LpMinimize)

    def binary(name: str) -> Any:
        return pulp.LpVariable(name, 0, 1, "Binary")

    # y: piece i starts a level, cut from size t; q: level k starts a sheet of size t.
    y = [[binary(f"y{i}_{t}") for t in sizes] for i in range(n)]
    q = [[binary(f"q{i}_{t}") for t in sizes] for i in range(n)]
    x = {(i, j): binary(f"x{i}_{j}") for i in range(n) for j in range(i + 1, n)}
    z = {(k, i): binary(f"z{k}_{i}") for k in range(n) for i in range(k + 1, n)}
    model += pulp.LpAffineExpression(
        [(q[k][t], float(task.sheets[t].cost)) for k in range(n) for t in sizes]
    )
    for i, (_, _, along, across) in enumerate(pieces):
        model += pulp.lpSum(y[i]) + pulp.lpSum(x[h, i] for h in range(i)) == 1
        fill = [(x[i, j], pieces[j][2] / INCH) for j in range(i + 1, n)]
        fill += [(y[i][t], (along - room[t][0]) / INCH) for t in sizes]
        model += pulp.LpAffineExpression(fill) <= 0
        model += pulp.lpSum(q[i]) + pulp.lpSum(z[k, i] for k in range(i)) == pulp.lpSum(y[i])
        fill = [(z[i, j], pieces[j][3] / INCH) for j in range(i + 1, n)]
        fill += [(q[i][t], (across - room[t][1]) / INCH) for t in sizes]
        model += pulp.LpAffineExpression(fill) <= 0
        for t in sizes:
            model += q[i][t] <= y[i][t]
            if along > room[t][0] or across > room[t][1]:
                model += y[i][t] <= 0
            if len(task.sheets) > 1:  # a level on top is cut from the sheet's own size
                for j in range(i + 1, n):
                    model += z[i, j] + q[i][t] - y[j][t] <= 1
    for t, sheet in enumerate(task.sheets):
        if sheet.available is not None:
            model += pulp.lpSum(q[k][t] for k in range(n)) <= sheet.available
    solved(model)
    starts = [i for i in range(n) if any(_whole(v) for v in y[i])]
    member = [
        i if i in starts else next((h for h in range(i) if _whole(x[h, i])), -1) for i in range(n)
    ]
    size = [next((t for t in sizes if _whole(q[k][t])), -1) for k in range(n)]
    on = [
        k if size[k] >= 0 else next((h for h in range(k) if _whole(z[h, k])), -1) for k in range(n)
    ]
    return own.plan(starts, member, on, size)


def _rows(task: Task, solved: Callable[[Any], None]) -> list[Laid] | None:
    import pulp

    sizes = range(len(task.sheets))
    model = pulp.LpProblem("rows", pulp.LpMinimize)
    most = max(-(-run // s.board[1]) for _, run in task.fields for s in task.sheets)
    rows = [
        [
            pulp.LpVariable(
                f"b{f}_{t}", 0, most if task.sheets[t].board[0] >= span else 0, "Integer"
            )
            for t in sizes
        ]
        for f, (span, _) in enumerate(task.fields)
    ]
    lengths = sorted({s.board[0] for s in task.sheets})
    has = {n: pulp.LpVariable(f"l{n}", 0, 1, "Binary") for n in lengths}
    model += pulp.LpAffineExpression(
        [(own[t], float(task.sheets[t].cost)) for own in rows for t in sizes]
    )
    for own, (_, run) in zip(rows, task.fields, strict=True):
        covered = [(own[t], task.sheets[t].board[1] / INCH) for t in sizes]
        model += pulp.LpAffineExpression(covered) >= run / INCH
        if task.lengths:
            for t in sizes:
                if not task.sheets[t].on_hand:
                    model += own[t] <= most * has[task.sheets[t].board[0]]
    for t, s in enumerate(task.sheets):
        used = pulp.lpSum(own[t] for own in rows)
        if s.available is not None:
            model += used <= s.available
        if task.lengths and s.on_hand:
            model += used <= s.on_hand + most * len(rows) * has[s.board[0]]
    if task.lengths:
        model += pulp.lpSum(has.values()) <= task.lengths
    solved(model)
    return laid(task, [[_whole(v) for v in own] for own in rows])


def laid(task: Task, rows: Sequence[Sequence[int]]) -> list[Laid] | None:
    """Rows from what the variables say, boards to spare taken off; None where a run is open."""
    plan = []
    for f, (own, (_, run)) in enumerate(zip(rows, task.fields, strict=True)):
        counts = list(own)
        spare = sum(n * s.board[1] for n, s in zip(counts, task.sheets, strict=True)) - run
        if spare < 0:
            return None
        for t in sorted(range(len(counts)), key=lambda t: task.sheets[t].board[1]):
            less = min(counts[t], spare // task.sheets[t].board[1])
            counts[t] -= less
            spare -= less * task.sheets[t].board[1]
        plan += [Laid(f, t, n) for t, n in enumerate(counts) if n]
    return plan


def _whole(variable: object) -> int:
    value = getattr(variable, "varValue", None)
    return round(value) if value is not None else 0

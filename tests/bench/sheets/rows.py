"""What a shop does for ceilings without a planner: one board size for all, or the mix first."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

from tests.bench.sheets.task import Laid, Task

__all__ = ["mix_first", "mixes", "one_size"]


def one_size(task: Task) -> list[Laid] | None:
    """Every field from the one size without limit that costs least and covers every span."""
    longest = max(span for span, _ in task.fields)
    plans = []
    for k, s in enumerate(task.sheets):
        if s.board[0] >= longest and s.available is None:
            rows = [-(-run // s.board[1]) for _, run in task.fields]
            plans.append((sum(rows) * s.cost, k, rows))
    if not plans:
        return None
    _, k, rows = min(plans)
    return [Laid(f, k, n) for f, n in enumerate(rows)]


def mixes(run: int, widths: tuple[int, ...]) -> list[dict[int, int]]:
    """Rows by width that cover a run, none of them to spare, for one or two widths."""
    narrow, wide = min(widths), max(widths)
    if narrow == wide:
        return [{wide: -(-run // wide)}]
    found = []
    for n in range(-(-run // wide) + 1):
        rest = max(0, -(-(run - n * wide) // narrow))
        rows = {wide: n, narrow: rest}
        if n * wide + rest * narrow - run < min(w for w, k in rows.items() if k):
            found.append({w: k for w, k in rows.items() if k})
    return found


def mix_first(task: Task) -> list[Laid] | None:
    """The cheapest mix of widths for each run first, then the best lengths for what that asks.

    A program over falling spans, exact for the mix it is given: at most so many lengths, each
    counting once however many widths are bought of it.
    """
    sizes = {s.board: k for k, s in enumerate(task.sheets) if s.available is None}
    widths = tuple(sorted({w for _, w in sizes}))
    lengths = sorted({n for n, _ in sizes if all((n, w) in sizes for w in widths)})
    if not lengths or lengths[-1] < max(span for span, _ in task.fields):
        return None
    last = lengths[-1]
    chosen = []
    for _, run in task.fields:
        price = {w: task.sheets[sizes[last, w]].cost for w in widths}
        found = [
            (sum((price[w] * n for w, n in m.items()), Fraction(0)), i, m)
            for i, m in enumerate(mixes(run, widths))
        ]
        chosen.append(min(found, key=lambda f: f[:2])[2])
    order = sorted(range(len(task.fields)), key=lambda f: task.fields[f][0])
    spans = [task.fields[f][0] for f in order]
    wanted = [dict.fromkeys(widths, 0)]
    for f in order:
        wanted.append({w: wanted[-1][w] + chosen[f].get(w, 0) for w in widths})

    def cost(i: int, j: int, n: int) -> Fraction:
        rows = {w: wanted[j][w] - wanted[i][w] for w in widths}
        return sum((rows[w] * task.sheets[sizes[n, w]].cost for w in widths), Fraction(0))

    most = task.lengths or len(lengths)
    ends = [j for j in range(1, len(spans) + 1) if j == len(spans) or spans[j] > spans[j - 1]]
    fitting = {j: next(n for n in lengths if n >= spans[j - 1]) for j in ends}

    @cache
    def best(j: int, k: int) -> tuple[Fraction, int] | None:
        """Least cost of the first j fields from k lengths, and where the last length begins."""
        if j == 0:
            return Fraction(0), 0
        if k == 0:
            return None
        found = [
            (before[0] + cost(i, j, fitting[j]), i)
            for i in [0, *(e for e in ends if e < j)]
            if (before := best(i, k - 1)) is not None
        ]
        return min(found, default=None)

    if best(len(spans), most) is None:
        return None
    plan = []
    j, k = len(spans), most
    while j:
        step = best(j, k)
        assert step is not None
        i = step[1]
        for f in order[i:j]:
            plan += [Laid(f, sizes[fitting[j], w], n) for w, n in chosen[f].items()]
        j, k = i, k - 1
    return plan

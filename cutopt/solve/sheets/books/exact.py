"""The fewest set-ups and books from a short list of layouts: an integer model that counts them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutopt.solve.milp import Model as IntegerModel
from cutopt.solve.milp import Row, solve_integer
from cutopt.solve.sheets.books.key import Key, Keys, Plan
from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints

__all__ = ["fewest"]

#: Whole numbers that a dollar counts in the model. What is found is costed exactly afterwards.
_PER_DOLLAR = 10**5
#: Seconds: a guard, far beyond what the nodes take.
_SECONDS = 10.0


def fewest(
    keys: Keys,
    patterns: Sequence[Pattern],
    need: Ints,
    allowed: Fraction,
    now: Plan,
    nodes: int,
    seconds: float = _SECONDS,
) -> Plan | None:
    """The fewest set-ups, then books, with which these patterns cut exactly the parts needed.

    The fixed-charge model of Vanderbeck (2000, "Exact algorithm for minimising the number of
    setups in the one-dimensional cutting stock problem", Operations Research 48) over given
    patterns: each set-up is paid for once, each of its books once.

    Parameters
    ----------
    need : array, shape (kinds,)
    allowed
        Dollars.
    now
        A plan; only a better one is of interest.
    nodes
        The search ends after so many.
    seconds
        A guard.

    Returns
    -------
    dict or None
        None where none was found.
    """
    columns = [keys.column(p) for p in patterns]
    most = [int((need[c.cuts > 0] // c.cuts[c.cuts > 0]).min()) for c in columns]
    chosen = [j for j, n in enumerate(most) if n > 0]
    setup: dict[Key, int] = {}
    for j in chosen:
        setup.setdefault(keys.of(patterns[j]), len(chosen) + len(setup))
    books = {key: at + len(setup) for key, at in setup.items()}
    rows = []
    for i, n in enumerate(need.tolist()):
        terms = {v: int(columns[j].cuts[i]) for v, j in enumerate(chosen) if columns[j].cuts[i]}
        if terms:
            rows.append(Row(terms, lower=n, upper=n))
    for q, sheet in enumerate(keys.model.sheets):
        terms = {v: 1 for v, j in enumerate(chosen) if patterns[j].sheet == q}
        if sheet.available is not None and terms:
            rows.append(Row(terms, upper=sheet.available))
    for v, j in enumerate(chosen):
        rows.append(Row({v: 1, setup[keys.of(patterns[j])]: -most[j]}, upper=0))
    stacks = {keys.of(p): keys.stack(p) for p in patterns}
    for key, at in books.items():
        terms = {v: 1 for v, j in enumerate(chosen) if keys.of(patterns[j]) == key}
        rows.append(Row({**terms, at: -stacks[key]}, upper=0))
    costs = {v: round(columns[j].cost * _PER_DOLLAR) for v, j in enumerate(chosen)}
    rows.append(Row(costs, upper=int(allowed * _PER_DOLLAR) + 1))
    setups, laid = keys.measure(now)
    # Whole sheets in all at most: no number of books weighs as much as a set-up.
    weight = laid + 1
    single = keys.single
    answer = solve_integer(
        IntegerModel(
            [0] * len(chosen) + [weight] * len(setup) + [0 if single else 1] * len(books),
            rows,
            [most[j] for j in chosen] + [1] * len(setup) + [laid] * len(books),
        ),
        min(seconds, _SECONDS),
        nodes=nodes,
        cutoff=weight * setups + (0 if single else laid),
    )
    if answer.values is None:
        return None
    return {patterns[j]: n for j, n in zip(chosen, answer.values, strict=False) if n}

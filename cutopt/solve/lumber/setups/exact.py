"""The fewest set-ups from a short list of layouts: an integer model that counts them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from cutopt.solve.lumber.model import Ints, Model, Pattern
from cutopt.solve.lumber.setups.key import Key, Keys
from cutopt.solve.milp import Model as IntegerModel
from cutopt.solve.milp import Row, solve_integer

__all__ = ["fewest"]

#: Whole numbers that a dollar counts in the model. What is found is costed exactly afterwards.
_PER_DOLLAR = 10**5
#: Seconds: a guard, far beyond what the nodes take.
_SECONDS = 10.0


def fewest(
    model: Model,
    keys: Keys,
    patterns: Sequence[Pattern],
    need: Ints,
    allowed: Fraction,
    below: int,
    nodes: int,
) -> tuple[dict[Pattern, int] | None, bool]:
    """The fewest set-ups with which these patterns cut exactly the pieces needed.

    The fixed-charge model of Vanderbeck (2000, "Exact algorithm for minimising the number of
    setups in the one-dimensional cutting stock problem", Operations Research 48) over given
    patterns: each set-up is paid for once, however many sticks are cut to it.

    Parameters
    ----------
    allowed
        Dollars.
    below
        Only plans with fewer set-ups are of interest.
    nodes
        The search ends after so many.

    Returns
    -------
    tuple
        The plan, None where none was found; whether there is none better in the list, as far as a
        solver in floats can tell.
    """
    most = [min(int(need[i]) // q for i, q in p.cuts) for p in patterns]
    chosen = [j for j, n in enumerate(most) if n > 0]
    column: dict[Key, int] = {}
    for j in chosen:
        column.setdefault(keys.of(patterns[j]), len(chosen) + len(column))
    pieces: dict[int, dict[int, int]] = {}
    stocks: dict[int, dict[int, int]] = {}
    rows = []
    for v, j in enumerate(chosen):
        pattern = patterns[j]
        for i, q in pattern.cuts:
            pieces.setdefault(i, {})[v] = q
        if model.stocks[pattern.stock].available is not None:
            stocks.setdefault(pattern.stock, {})[v] = 1
        rows.append(Row({v: 1, column[keys.of(pattern)]: -most[j]}, upper=0))
    rows += [Row(row, lower=int(need[i]), upper=int(need[i])) for i, row in pieces.items()]
    rows += [Row(row, upper=model.stocks[k].available) for k, row in stocks.items()]
    costs = {v: round(patterns[j].cost * _PER_DOLLAR) for v, j in enumerate(chosen)}
    rows.append(Row(costs, upper=int(allowed * _PER_DOLLAR) + 1))
    answer = solve_integer(
        IntegerModel(
            [0] * len(chosen) + [1] * len(column),
            rows,
            [most[j] for j in chosen] + [1] * len(column),
        ),
        _SECONDS,
        nodes=nodes,
        cutoff=below,
    )
    if answer.values is None:
        return None, answer.solved
    made = {patterns[j]: n for j, n in zip(chosen, answer.values, strict=False) if n}
    return made, answer.solved

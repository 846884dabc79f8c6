"""A whole plan where dives found none: everything that can be cut is listed and searched.

Sticks so few, or a least piece at the saw so long, that only a handful of plans exist: then no
column may be missing. On small days the list is short enough; it is not tried on others.
"""

from __future__ import annotations

from fractions import Fraction

from cutopt.solve.covering import branch, step_of
from cutopt.solve.lumber.covering import covering_of
from cutopt.solve.lumber.draft import Draft, drafted
from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Pattern
from cutopt.solve.lumber.search import Search
from cutopt.solve.lumber.tail import TooManyError, list_patterns, list_ways

__all__ = ["completed"]

#: The most patterns, and ways of a run, that are listed; how long their search may take.
_LISTED = 1_500
_WORK = 1.0


def completed(search: Search) -> Draft | None:
    """A plan with nothing short, the cheapest that was found; None where none was."""
    model, runs, worths = search.model, search.runs, search.worths
    pieces = int(model.need.sum()) + sum(
        int(n) * sum(run.count + 1 for run in unit.runs)
        for n, unit in zip(runs.copies, runs.units, strict=True)
    )
    dearest = max((s.cost for s in model.stocks), default=Fraction(0))
    # No plan has more sticks than pieces, or more joints.
    below = pieces * (dearest + max(runs.joint_prices, default=Fraction(0))) + 1
    slack = int(below * worths.scale) - worths.total + 1
    try:
        columns: list[Pattern | RunColumn] = [
            *list_patterns(search.generator.pricer, worths, slack, _LISTED),
            *list_ways(runs, worths, slack, _LISTED),
        ]
    except TooManyError:
        return None
    if not columns:
        return None
    covering = covering_of(model, columns, runs.copies)
    ended = branch(covering, below, step_of(covering.columns), _WORK, search.watch)
    if ended.used is None:
        return None
    draft = drafted(model, columns, ended.used)
    return draft if draft.whole else None

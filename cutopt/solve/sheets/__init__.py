"""Sheets: two- and three-stage guillotine cutting at least cost, with a proved bound."""

from __future__ import annotations

from cutopt.plan import Group
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.outcome import Outcome
from cutopt.solve.search import Report, Watch, no_report
from cutopt.solve.sheets.refuse import fits, misfits
from cutopt.solve.sheets.solver import cutting_rule, plan_parts

__all__ = ["solve_sheets"]


def solve_sheets(group: Group, watch: Watch, seed: int, report: Report = no_report) -> Outcome:
    """Plan a group of sheet materials.

    Parameters
    ----------
    group
        Parts of one or several sheet materials, linked by alternates.
    watch
        A guard on time; the search ends by its own work first.
    seed
        Same input, same seed: same plan.
    report
        Told of every phase.

    Returns
    -------
    Outcome
        `bound` holds for the cutting rule that `cutting_rule` says in words.
    """
    items = items_of([Piece(p, p.length, p.width, p.qty, p.materials) for p in group.parts])
    unplanned = []
    chosen = []
    for i, item in enumerate(items):
        if any(fits(item, offer, group.rules) for offer in group.offers):
            chosen.append(i)
        else:
            unplanned += misfits(group, item)
    planned = plan_parts(group, items, chosen, watch, seed, report)
    return Outcome(
        items=planned.items,
        uses=planned.uses,
        bound=planned.bound,
        stop=planned.stop,
        seconds=watch.elapsed(),
        unplanned=(*unplanned, *planned.unplanned),
        cutting_rule=cutting_rule(group),
    )

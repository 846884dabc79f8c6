"""A group of lumber materials: what fits no stick is named, the rest planned and proved."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache

import numpy as np

from cutopt.cutlist import Rule
from cutopt.plan import Group, Stop
from cutopt.solve.demand import Item, Piece, items_of
from cutopt.solve.lumber.bound import Worths
from cutopt.solve.lumber.change import change_words, smallest_changes
from cutopt.solve.lumber.draft import Draft
from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Kind, Model, model_of
from cutopt.solve.lumber.reasons import reasons
from cutopt.solve.lumber.refuse import (
    Refused,
    fits_some,
    impossible,
    longest_piece,
    misfits,
    too_few,
    too_few_for_runs,
)
from cutopt.solve.lumber.runs import RunPricer, run_kinds
from cutopt.solve.lumber.search import Search
from cutopt.solve.lumber.setups import fewer_setups, stacks_of, tolerance_of
from cutopt.solve.lumber.short import Demand, lessened, parted, restored
from cutopt.solve.lumber.uses import uses_of
from cutopt.solve.lumber.whole import completed
from cutopt.solve.outcome import Outcome
from cutopt.solve.runs import Pricer, Unit, pieces_of, units_of
from cutopt.solve.search import Report, Watch, no_report

__all__ = ["Settle", "outcomes_of", "solve_sticks"]

#: How often a search may be repeated with less, or more, because of limits.
_MOST_SHORT = 12

#: Makes plans of a least-cost one: given the model, the plan, and the worths that prove its bound.
Settle = Callable[[Model, Draft, Worths], Sequence[Draft]]


def solve_sticks(group: Group, watch: Watch, seed: int, report: Report = no_report) -> Outcome:
    """Plan a group of lumber materials at least cost.

    Parameters
    ----------
    group
        One material, or several whose parts may change places.
    watch
        A guard; the search ends by its own work on a usual day.
    seed
        Same input and seed, same plan, as long as the guard does not end it.
    report
        Told of every step.

    Returns
    -------
    Outcome
        The uses cut every item exactly as often as wanted. Its bound is proved in integers, over
        all ways to joint the runs. What no stick can hold, or the limits leave no stick for, is
        named in `unplanned` with the reason; the bound is then that of the rest.
    """

    def settle(model: Model, draft: Draft, worths: Worths) -> Sequence[Draft]:
        stack, tolerance = stacks_of(group, model), tolerance_of(group)
        return (fewer_setups(model, draft, worths, tolerance, stack, watch, seed),)

    return outcomes_of(group, watch, seed, report, settle)[0]


def outcomes_of(
    group: Group,
    watch: Watch,
    seed: int,
    report: Report = no_report,
    settle: Settle = lambda model, draft, worths: (draft,),
) -> list[Outcome]:
    """The outcomes of the plans that `settle` makes of the least-cost one.

    Where the search ended before a whole plan was found, there is one outcome: the best so far. The
    bound is always that of the least cost.
    """
    ordinary = [
        Piece(p, p.length, None, p.qty, p.materials)
        for p in group.parts
        if p.rule is not Rule.JOINTED and p.qty > 0
    ]
    units: list[Unit] = []
    refused: list[Refused] = []
    for unit in units_of(group.parts, group.rules, lambda p: longest_piece(group, p.materials)):
        possible, why = _possible(unit)
        units += possible
        refused += why
    items = items_of(ordinary)
    change = cache(lambda: change_words(smallest_changes(group, watch, seed)))
    for item in items:
        if not fits_some(group, item):
            lacks = longest_piece(group, item.materials) == 0
            refused += misfits(group, item, change() if lacks else "")
    items = tuple(i for i in items if fits_some(group, i))
    return _planned(group, items, units, watch, seed, report, refused, settle, change)


def _possible(unit: Unit) -> tuple[list[Unit], list[Refused]]:
    """What of a unit can be made, and why the rest can't."""
    hopeless = [r for r, run in enumerate(unit.runs) if not run.piece_lengths]
    if hopeless and not unit.missing:
        bad = [refused for r in hopeless for refused in impossible(_only(unit, [r]))]
        kept = [r for r in range(len(unit.runs)) if r not in hopeless]
        possible, why = _possible(_only(unit, kept)) if kept else ([], [])
        return possible, bad + why
    why = impossible(unit)
    if not why:
        return [unit], []
    # Only those that can't keep clear of each other are left out, or all that must be joined.
    runs = range(len(unit.runs))
    pairs = {r for i, j, _ in unit.clear if impossible(_only(unit, (i, j))) for r in (i, j)}
    caught = [r for r in pairs or runs if unit.runs[r].length > unit.runs[r].longest]
    if unit.missing or not 0 < len(caught) < len(runs):
        return [], why
    rest, more = _possible(_only(unit, [r for r in runs if r not in caught]))
    return rest, impossible(_only(unit, sorted(caught))) + more


def _only(unit: Unit, chosen: Sequence[int]) -> Unit:
    """A unit of some of its runs."""
    at = {r: k for k, r in enumerate(chosen)}
    return replace(
        unit,
        runs=tuple(unit.runs[r] for r in chosen),
        clear=tuple((at[i], at[j], gap) for i, j, gap in unit.clear if i in at and j in at),
        members=tuple(tuple(copy[r] for r in chosen) for copy in unit.members),
    )


def _planned(
    group: Group,
    items: tuple[Item, ...],
    units: Sequence[Unit],
    watch: Watch,
    seed: int,
    report: Report,
    refused: list[Refused],
    settle: Settle,
    change: Callable[[], str],
) -> list[Outcome]:
    """Plan what fits; where limits leave too few sticks, as much as was found to be possible."""
    if not items and not units:
        stop = Stop.NOTHING_TO_CUT
        return [Outcome((), (), Fraction(0), stop, watch.elapsed(), tuple(refused))]
    pricer = Pricer(units)
    model = model_of(group, items, run_kinds(group, pricer))
    whole = RunPricer(group, pricer, model)
    units = list(units)
    demand = Demand(model.need, whole.copies)
    lost: list[Unit] = []
    start: Draft | None = None
    for tries in range(_MOST_SHORT):
        runs = whole.wanting(demand.copies)
        search = Search(group, model.wanting(demand.need), runs, watch, seed, report)
        search.run(start)
        if not search.best.whole and tries == 0 and watch.stop() is None:
            start = completed(search)
            if start is not None:
                search = Search(group, search.model, runs, watch, seed, report)
                search.run(start)
        if search.best.whole:
            more = restored(model, whole, demand, search.best)
            if more is None:
                break
            demand, start = more
        else:
            demand, start = lessened(model, demand, search.best)
            single = parted(units, demand)
            lost += [u for u in single if not u.runs[0].piece_lengths]
            single = [u for u in single if u.runs[0].piece_lengths]
            if single:
                # The kinds stay the same: a pair is cut into the pieces of its runs.
                units += single
                whole = RunPricer(group, Pricer(units), model)
                copies = [*demand.copies.tolist(), *(u.copies for u in single)]
                demand, start = Demand(demand.need, np.array(copies, np.int64)), None
    why, kept, left = _left_out(group, items, units, model, demand, change)
    for unit in lost:
        why += too_few_for_runs(group, unit, range(unit.copies), change())
    drafts: Sequence[Draft] = (search.best,)
    if search.best.whole:
        drafts = settle(search.model, search.best, search.worths)
    return [_outcome(group, search, d, kept, left, (*refused, *why)) for d in drafts]


def _outcome(
    group: Group,
    search: Search,
    draft: Draft,
    kept: list[Piece],
    units: Sequence[Unit],
    unplanned: tuple[Refused, ...],
) -> Outcome:
    """One plan of what was searched, its pieces handed out."""
    final = items_of(kept + _run_pieces(search.model, units, draft.runs))
    uses = uses_of(group, search.model, draft.patterns, final)
    return Outcome(
        final,
        uses,
        search.bound,
        search.stopped(),
        search.watch.elapsed(),
        unplanned,
        shortages=reasons(group, search.model, search.runs, search.worths, final),
    )


def _run_pieces(model: Model, units: Sequence[Unit], runs: dict[RunColumn, int]) -> list[Piece]:
    """The pieces of every copy of every unit."""
    pieces: list[Piece] = []
    at = [0] * len(units)
    for column, n in sorted(runs.items(), key=lambda e: (e[0].unit, e[0].joints, e[0].made)):
        unit = units[column.unit]
        chosen = [[model.kinds[i].materials for i in made] for made in column.made]
        for _ in range(n):
            pieces += pieces_of(unit, column.joints, unit.members[at[column.unit]], chosen)
            at[column.unit] += 1
    return pieces


def _left_out(
    group: Group,
    items: Sequence[Item],
    units: Sequence[Unit],
    model: Model,
    demand: Demand,
    change: Callable[[], str],
) -> tuple[list[Refused], list[Piece], list[Unit]]:
    """What is left out, the parts wanted last first; the pieces and the units that are planned."""
    index = {kind: i for i, kind in enumerate(model.kinds)}
    why: list[Refused] = []
    kept: list[Piece] = []
    for item in items:
        planned = int(demand.need[index[Kind(item.length, item.materials)]])
        for piece in item.pieces:
            n = min(piece.qty, planned)
            planned -= n
            if n:
                kept.append(replace(piece, qty=n))
            if n < piece.qty:
                why.append(too_few(group, piece, piece.qty - n, change()))
    left: list[Unit] = []
    for unit, n in zip(units, demand.copies.tolist(), strict=True):
        left.append(replace(unit, members=unit.members[:n]))
        if n < unit.copies:
            why += too_few_for_runs(group, unit, range(n, unit.copies), change())
    return why, kept, left

"""A plan with fewer set-ups for the same pieces, within a share of its cost."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from cutopt.plan import Group
from cutopt.solve.lumber.bound import Worths
from cutopt.solve.lumber.draft import Draft, available, wanted
from cutopt.solve.lumber.model import Model, Pattern
from cutopt.solve.lumber.setups.build import Work
from cutopt.solve.lumber.setups.key import Keys
from cutopt.solve.lumber.setups.least import least_setups
from cutopt.solve.lumber.setups.search import Reducer
from cutopt.solve.search import Watch

__all__ = ["fewer_setups", "reduced", "stacks_of", "tolerance_of"]

#: Rows looked at, for each set-up and at most: where the plan may be no dearer, and where it may.
_EACH, _MOST = 1_200, 160_000
_WIDE_EACH, _WIDE_MOST = 60_000, 1_500_000


def fewer_setups(
    model: Model,
    draft: Draft,
    worths: Worths,
    tolerance: Fraction,
    stack: Sequence[int],
    watch: Watch,
    seed: int,
    work: int | None = None,
) -> Draft:
    """The same pieces from fewer different layouts, then from fewer stacks, then for less.

    Parameters
    ----------
    draft
        A whole plan. Its ways to joint the runs are kept.
    worths
        What proved its bound.
    tolerance
        The share of the draft's cost by which the plan may be dearer; 0 for not one cent.
    stack
        Per grid, how many sticks are cut at once.
    work
        Rows of candidates that may be looked at; None for the usual.

    Returns
    -------
    Draft
        Never more set-ups than before, and the given one where none fewer were found.

    Raises
    ------
    RuntimeError
        What was found does not keep the pieces, the sticks or the money: a defect.
    """
    if work is None:
        each, most = (_WIDE_EACH, _WIDE_MOST) if tolerance > 0 else (_EACH, _MOST)
        work = min(most, each * len(draft.patterns))
    allowed = draft.cost * (1 + tolerance)
    return reduced(model, draft, worths, draft.cost, allowed, stack, watch, seed, work)


def reduced(
    model: Model,
    draft: Draft,
    worths: Worths,
    least: Fraction,
    allowed: Fraction,
    stack: Sequence[int],
    watch: Watch,
    seed: int,
    work: int,
) -> Draft:
    """As `fewer_setups`, from any plan; `least` is what the least-cost plan costs."""
    if not draft.whole or len(draft.patterns) < 2 or watch.stop():
        return draft
    worth = np.array([float(Fraction(v) / worths.scale) for v in worths.piece.tolist()])
    keys = Keys(model, stack)
    joints = sum((c.cost * n for c, n in draft.runs.items()), Fraction(0))
    fewest = least_setups(model, wanted(model, draft.runs))
    now: dict[Pattern, int] = dict(draft.patterns)
    for limit, rows in _phases(draft.cost, least, allowed, len(now), work):
        reducer = Reducer(
            model, now, keys, worth, least - joints, limit - joints, seed, Work(rows), watch
        )
        reducer.run(fewest)
        now = reducer.now
    order = sorted(now.items(), key=lambda e: (e[0].stock, e[0].cuts))
    found = Draft(dict(order), dict(draft.runs))
    _verify(model, draft, found, allowed)
    return found


def _phases(
    cost: Fraction, least: Fraction, allowed: Fraction, patterns: int, work: int
) -> list[tuple[Fraction, int]]:
    """(what may be spent, rows): for no more than the least cost first, while nothing more is."""
    if allowed <= least or cost > least:
        return [(allowed, work)]
    first = min(work // 4, _MOST, _EACH * patterns)
    return [(least, first), (allowed, work - first)]


def _verify(model: Model, draft: Draft, found: Draft, allowed: Fraction) -> None:
    """In whole numbers and fractions alone."""
    need = wanted(model, draft.runs)
    for p, n in found.patterns.items():
        if n <= 0 or not model.fits(p.stock, p.cuts) or p != model.pattern(p.stock, p.cuts):
            raise RuntimeError(f"a layout with fewer set-ups can't be cut: {p}")
        for i, q in p.cuts:
            need[i] -= q * n
    if need.any():
        raise RuntimeError("a plan with fewer set-ups cuts other pieces")
    if any(n is not None and n < 0 for n in available(model, found.patterns)):
        raise RuntimeError("a plan with fewer set-ups takes more sticks than there are")
    if found.cost > allowed:
        raise RuntimeError(f"a plan with fewer set-ups costs {found.cost}, allowed {allowed}")


def tolerance_of(group: Group) -> Fraction:
    """The least `setup_tolerance` of the group's materials."""
    return min(Fraction(group.rules.for_lumber(m).setup_tolerance) for m in group.materials)


def stacks_of(group: Group, model: Model) -> list[int]:
    """Per grid, how many sticks of its material are cut at once."""
    return [max(1, group.rules.for_lumber(g.material).stack) for g in model.grids]

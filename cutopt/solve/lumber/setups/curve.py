"""Cost against number of set-ups."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

from cutopt.plan import Group
from cutopt.solve.curve import CurvePoint
from cutopt.solve.lumber.bound import Worths
from cutopt.solve.lumber.draft import Draft, wanted
from cutopt.solve.lumber.model import Model
from cutopt.solve.lumber.setups.key import Keys
from cutopt.solve.lumber.setups.least import least_setups
from cutopt.solve.lumber.setups.reduce import reduced, stacks_of
from cutopt.solve.outcome import material_plans
from cutopt.solve.search import Watch

__all__ = ["TOLERANCES", "setups_curve", "setups_points"]

#: How much dearer a plan may be.
TOLERANCES = tuple(
    Fraction(Decimal(t)) for t in ("0", "0.0005", "0.001", "0.0025", "0.005", "0.01", "0.02")
)
#: More than a plan at tolerance 0 takes: this is what a person chooses by.
_WORK = 1_500_000


def setups_curve(
    model: Model,
    draft: Draft,
    worths: Worths,
    stack: Sequence[int],
    watch: Watch,
    seed: int,
    tolerances: Sequence[Fraction] = TOLERANCES,
) -> list[tuple[Fraction, Draft]]:
    """Plans at rising tolerances, each with fewer set-ups than the one before.

    Parameters
    ----------
    draft
        The least-cost plan.
    tolerances
        Rising shares of its cost.

    Returns
    -------
    list
        (tolerance, plan): tolerance and cost rise and the set-ups fall from each to the next.
        Tolerances that give no fewer set-ups are left out.
    """
    keys = Keys(model, stack)
    least, best = draft.cost, draft
    points: list[tuple[Fraction, Draft]] = []
    for tolerance in tolerances:
        if points and watch.stop() is not None:
            break
        allowed = least * (1 + tolerance)
        made = reduced(model, best, worths, least, allowed, stack, watch, seed, _WORK)
        if points and keys.measure(made.patterns)[0] >= keys.measure(best.patterns)[0]:
            continue
        best = made
        # It may be cheaper than was allowed.
        enough = min(t for t in tolerances if made.cost <= least * (1 + t))
        while points and points[-1][0] >= enough:
            points.pop()
        points.append((enough, made))
    return points


def setups_points(group: Group, watch: Watch, seed: int) -> tuple[CurvePoint, ...]:
    """The curve of a group of lumber materials; no points where nothing can be cut.

    Parameters
    ----------
    group
        Planned at its least cost first; its own `setup_tolerance` plays no part.
    """
    # The solver imports this room.
    from cutopt.solve.lumber.solver import outcomes_of

    tolerances: list[Fraction] = []
    needed: list[int] = []

    def settle(model: Model, draft: Draft, worths: Worths) -> list[Draft]:
        made = setups_curve(model, draft, worths, stacks_of(group, model), watch, seed)
        tolerances.extend(tolerance for tolerance, _ in made)
        needed.append(least_setups(model, wanted(model, draft.runs)))
        return [d for _, d in made]

    outcomes = outcomes_of(group, watch, seed, settle=settle)
    if not needed:
        return ()
    points = []
    counted = f"{needed[0]} set-up{'s' * (needed[0] != 1)}"
    for tolerance, outcome in zip(tolerances, outcomes, strict=False):
        plans = material_plans(group, outcome)
        share = f"{Decimal(tolerance.numerator * 100) / tolerance.denominator:f}"
        words = "no dearer" if not tolerance else f"{share} % dearer allowed"
        points.append(
            CurvePoint(
                setting=f"{words}; no plan has fewer than {counted}",
                objective=sum((p.objective for p in plans), Fraction(0)),
                cost=sum((p.cost for p in plans), Fraction(0)),
                setups=sum(len({lay.pattern for lay in p.layouts}) for p in plans),
                joints=sum(p.joints for p in plans),
                sticks=sum(lay.count for p in plans for lay in p.layouts),
                bound=outcome.bound,
            )
        )
    return tuple(points)

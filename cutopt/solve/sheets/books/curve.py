"""Cost against number of set-ups, for sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

from cutopt.cutlist import Rule
from cutopt.materials import Rules
from cutopt.plan import Group
from cutopt.solve.curve import CurvePoint
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.outcome import Outcome, material_plans
from cutopt.solve.search import Watch, no_report
from cutopt.solve.sheets.assign import uses_of
from cutopt.solve.sheets.books.reduce import fewer_setups
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.dive import Draft
from cutopt.solve.sheets.jointed import jointed_units
from cutopt.solve.sheets.refuse import fits

__all__ = ["TOLERANCES", "setups_points"]

#: How much dearer a plan may be.
TOLERANCES = tuple(Decimal(t) for t in ("0", "0.001", "0.0025", "0.005", "0.01", "0.02"))


def setups_points(
    group: Group, watch: Watch, seed: int, tolerances: Sequence[Decimal] = TOLERANCES
) -> tuple[CurvePoint, ...]:
    """The curve of a group of sheet materials; no points where nothing can be cut.

    Parameters
    ----------
    group
        Planned at its least cost first; its own `setup_tolerance` plays no part. Ceiling fields
        are left aside: their rows are what they are.
    tolerances
        Rising shares of the least cost. Those that give no fewer set-ups are left out.
    """
    # The solver imports this room.
    from cutopt.solve.sheets.solver import plan_parts

    found: list[tuple[Generator, Draft]] = []

    def note(generator: Generator, draft: Draft, rules: Rules, watch: Watch, seed: int) -> Draft:
        found.append((generator, draft))
        return draft

    parts = [p for p in group.parts if p.rule is not Rule.FULL_SPAN]
    units, _ = jointed_units(group, parts)
    pieces = [
        piece
        for item in items_of(
            Piece(p, p.length, p.width, p.qty, p.materials)
            for p in parts
            if p.rule is not Rule.JOINTED
        )
        if any(fits(item, offer, group.rules) for offer in group.offers)
        for piece in item.pieces
    ]
    planned = plan_parts(group, pieces, units, watch, seed, no_report, note)
    points: list[CurvePoint] = []
    for tolerance in tolerances if found else ():
        if points and watch.stop() is not None:
            break
        generator, draft = found[-1]
        made = fewer_setups(generator, draft, _dearer(group.rules, tolerance), watch, seed)
        uses = uses_of(made.chosen, generator.model, planned.items, group.rules)
        outcome = Outcome(planned.items, uses, planned.bound, planned.stop, watch.elapsed())
        plans = material_plans(group, outcome)
        setups = sum(len({lay.pattern for lay in p.layouts}) for p in plans)
        if points and setups >= points[-1].setups:
            continue
        share = f"{tolerance * 100:f}".rstrip("0").rstrip(".")
        points.append(
            CurvePoint(
                setting=f"{share} % dearer allowed" if tolerance else "no dearer",
                objective=sum((p.objective for p in plans), Fraction(0)),
                cost=sum((p.cost for p in plans), Fraction(0)),
                setups=setups,
                joints=sum(p.joints for p in plans),
                sticks=sum(lay.count for p in plans for lay in p.layouts),
                bound=planned.bound,
            )
        )
    return tuple(points)


def _dearer(rules: Rules, tolerance: Decimal) -> Rules:
    """The rules with one tolerance for all sheets."""
    return replace(
        rules,
        sheets=replace(rules.sheets, setup_tolerance=tolerance),
        sheets_of={m: replace(r, setup_tolerance=tolerance) for m, r in rules.sheets_of.items()},
    )

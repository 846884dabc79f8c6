"""Curves for a person to choose by: what fewer joints, set-ups or board lengths would cost."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from functools import partial

from cutopt.cutlist import Rule
from cutopt.materials import Kind
from cutopt.plan import Group, Problem
from cutopt.solve.curve import CurvePoint
from cutopt.solve.pool import each_group
from cutopt.solve.search import Progress, Report, Watch, no_report

__all__ = ["Against", "Curve", "curve_groups", "curve_of_group", "curves"]


class Against(StrEnum):
    """What cost is set against.

    Of lumber joints in the runs; of lumber and sheets set-ups (different layouts); of ceilings the
    board lengths that are bought.
    """

    JOINTS = "joints"
    SETUPS = "setups"
    LENGTHS = "lengths"

    @property
    def words(self) -> str:
        """In words."""
        return {"joints": "joints", "setups": "set-ups", "lengths": "board lengths"}[self.value]


@dataclass(frozen=True, slots=True)
class Curve:
    """The points of one group of materials.

    Parameters
    ----------
    materials
        Planned together, since parts may be cut from one or another or runs mate.
    against
        What cost is set against.
    points
        In the order in which they were set; none where `note` says why.
    note
        What a person should know of all points, or why there are none: "has no jointed runs".
    """

    materials: tuple[str, ...]
    against: Against
    points: tuple[CurvePoint, ...]
    note: str = ""

    def count(self, point: CurvePoint) -> int:
        """The joints, set-ups or board lengths of a point."""
        if self.against is Against.LENGTHS:
            return point.lengths
        return point.joints if self.against is Against.JOINTS else point.setups

    def money(self, point: CurvePoint) -> Fraction:
        """What is drawn against that, in dollars.

        Against joints the cost of the stock, since what a joint costs is what differs; against
        set-ups the objective, which the tolerance is a share of; against board lengths too.
        """
        return point.cost if self.against is Against.JOINTS else point.objective

    @property
    def choices(self) -> tuple[CurvePoint, ...]:
        """The points that no other one beats in both, fewest joints, set-ups or lengths first.

        Of points that are alike the first is taken.
        """
        best: list[CurvePoint] = []
        for point in sorted(self.points, key=lambda p: (self.count(p), self.money(p))):
            if not best or self.money(point) < self.money(best[-1]):
                best.append(point)
        return tuple(best)


def _never() -> bool:
    return False


def curves(
    problem: Problem,
    against: Against,
    *,
    seconds: float = 60.0,
    seed: int = 1,
    workers: int = 0,
    report: Report = no_report,
    cancelled: Callable[[], bool] = _never,
) -> tuple[Curve, ...]:
    """Cost against joints of lumber, set-ups of lumber and sheets, or lengths of ceilings.

    Parameters
    ----------
    problem
        Days planned together.
    against
        What cost is set against.
    seconds
        A guard on all curves together; where it ends a search, its points are fewer.
    seed, workers
        As for a plan.
    report
        Told of every step, in this process.
    cancelled
        Asked while the search runs; True ends it with the points so far.
    """
    groups = curve_groups(problem, against)
    count = workers or os.cpu_count() or 1
    one = partial(curve_of_group, against)
    return tuple(each_group(one, groups, seconds, seed, count, report, cancelled))


def curve_groups(problem: Problem, against: Against) -> list[Group]:
    """The groups that have such a curve: of lumber, of what is cut, or with ceiling fields."""
    if against is Against.LENGTHS:
        return [g for g in problem.groups if any(p.rule is Rule.FULL_SPAN for p in g.parts)]
    if against is Against.SETUPS:
        return [g for g in problem.groups if any(p.rule is not Rule.FULL_SPAN for p in g.parts)]
    return [g for g in problem.groups if g.kind is Kind.LUMBER]


def curve_of_group(
    against: Against,
    group: Group,
    seconds: float,
    seed: int,
    cancelled: Callable[[], bool],
    report: Report,
) -> Curve:
    """One group's curve, found in this process."""
    report(Progress(group.materials, "started"))
    if against is Against.JOINTS and not any(p.joints for p in group.parts):
        curve = Curve(group.materials, against, (), "has no jointed runs: there is nothing to set")
    else:
        watch = Watch(seconds, cancelled)
        points = _points(against, group.kind)(group, watch, seed)
        curve = (
            _curve_of(group, against, points)
            if points
            else Curve(group.materials, against, (), _none(watch))
        )
    report(Progress(group.materials, "done", done=True))
    return curve


def _curve_of(group: Group, against: Against, points: Sequence[CurvePoint]) -> Curve:
    """What all settings say alike behind a semicolon is said once."""
    if against is Against.LENGTHS:
        aside = any(p.rule is not Rule.FULL_SPAN for p in group.parts)
        note = "other parts of the material are left aside" if aside else ""
        return Curve(group.materials, against, tuple(points), note)
    parted = [p.setting.partition("; ") for p in points]
    tails = {tail for _, _, tail in parted}
    aside = against is Against.SETUPS and any(p.rule is Rule.FULL_SPAN for p in group.parts)
    note = "ceiling fields are left aside" if aside else ""
    if len(tails) > 1 or tails == {""}:
        return Curve(group.materials, against, tuple(points), note)
    note = "; ".join(word for word in (tails.pop(), note) if word)
    short = (replace(p, setting=head) for p, (head, _, _) in zip(points, parted, strict=True))
    return Curve(group.materials, against, tuple(short), note)


def _none(watch: Watch) -> str:
    """Why there is no point."""
    if watch.stop() is not None:
        return "was ended before its first point was found"
    return "has nothing that can be cut from the stock offered"


def _points(against: Against, kind: Kind) -> Callable[[Group, Watch, int], tuple[CurvePoint, ...]]:
    """The room's own function: a worker loads only what it needs."""
    if against is Against.LENGTHS:
        from cutopt.solve.ceiling.curves import lengths_points

        return lengths_points
    if against is Against.JOINTS:
        from cutopt.solve.lumber.curves import joints_points

        return joints_points
    if kind is Kind.SHEET:
        from cutopt.solve.sheets.books.curve import setups_points as points_of_sheets

        return points_of_sheets
    from cutopt.solve.lumber.setups import setups_points

    return setups_points

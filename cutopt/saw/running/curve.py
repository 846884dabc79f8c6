"""Cost against carts: what smaller windows cost in material and spare in open carts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.plan import Plan, Problem
from cutopt.saw.running.order import running_order
from cutopt.saw.running.search import Effort
from cutopt.saw.running.windows import plan_by_windows
from cutopt.saw.saws import Saw
from cutopt.solve import Report, Settings, no_report, solve

__all__ = ["USUAL_WINDOWS", "WindowCurve", "WindowPoint", "window_curve"]

#: Carts planned together, 0 for all: the points of a curve where none are named.
USUAL_WINDOWS = (0, 16, 12, 10, 8, 6)


@dataclass(frozen=True, slots=True)
class WindowPoint:
    """One setting of the window: money of the whole plan, and the floor by its running orders.

    Parameters
    ----------
    window
        Carts planned together at each saw; 0 for all.
    objective, cost
        Dollars of all materials.
    patterns
        Different layouts to be set up for, all materials together.
    carts
        By saw, most carts open at once in the order found.
    setup_time, end, late
        Milliseconds: all saws' set-ups together, when the last saw is done, lateness in sum.
    """

    window: int
    objective: Fraction
    cost: Fraction
    patterns: int
    carts: tuple[tuple[str, int], ...]
    setup_time: int
    end: int
    late: int

    @property
    def most(self) -> int:
        """Most carts open at any saw."""
        return max((n for _, n in self.carts), default=0)


@dataclass(frozen=True)
class WindowCurve:
    """Points in the order in which they were set; `bound` holds for every one of them, dollars."""

    points: tuple[WindowPoint, ...]
    bound: Fraction

    @property
    def choices(self) -> tuple[WindowPoint, ...]:
        """The points that no other one beats in cost and carts both, fewest carts first."""
        best: list[WindowPoint] = []
        for point in sorted(self.points, key=lambda p: (p.most, p.objective)):
            if not best or point.objective < best[-1].objective:
                best.append(point)
        return tuple(best)


def _never() -> bool:
    return False


def window_curve(
    problem: Problem,
    saws: Sequence[Saw],
    windows: Sequence[int] = USUAL_WINDOWS,
    *,
    settings: Settings | None = None,
    effort: Effort | None = None,
    whole: Plan | None = None,
    report: Report = no_report,
    cancelled: Callable[[], bool] = _never,
) -> WindowCurve:
    """Plan and order the problem once for each window.

    Parameters
    ----------
    problem
        Days planned together.
    saws
        The plant's saws, each with `window` set to every value in turn.
    windows
        Carts planned together; 0 for all.
    settings, effort
        Of every plan and of every order.
    whole
        The plan made at once, where there is one.
    report
        Told of every step of planning.
    cancelled
        Asked while the search runs; True ends it with the points so far.
    """
    whole = whole or solve(problem, settings, report, cancelled)
    points = []
    for window in windows:
        if cancelled():
            break
        set_to = tuple(replace(saw, window=window) for saw in saws)
        plan = plan_by_windows(problem, set_to, settings, whole, report, cancelled).plan
        ordered = running_order(plan, set_to, effort, cancelled=cancelled)
        figures = [(o.saw.name, o.figures) for o in ordered.orders]
        points.append(
            WindowPoint(
                window=window,
                objective=sum((m.objective for m in plan.materials), Fraction(0)),
                cost=sum((m.cost for m in plan.materials), Fraction(0)),
                patterns=sum(len({lay.pattern for lay in m.layouts}) for m in plan.materials),
                carts=tuple((name, f.peak) for name, f in figures),
                setup_time=sum(f.setup_time for _, f in figures),
                end=max((f.end for _, f in figures), default=0),
                late=sum(f.late for _, f in figures),
            )
        )
    bound = sum((m.bound for m in whole.materials), Fraction(0))
    return WindowCurve(tuple(points), bound)

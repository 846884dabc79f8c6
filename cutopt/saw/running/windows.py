"""Planning by windows: carts in the order in which they are wanted, so many at a time.

What is planned together is cut together: of carts that are planned apart none waits for a piece
that lies in another's stick. So no more carts than a window holds need stand open, for a little
more material. Stock in the yard and limits are used up window by window.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.cutlist import Part, Rule
from cutopt.materials import Offer
from cutopt.plan import Group, Layout, MaterialPlan, Plan, Problem, Source, Status, Stop
from cutopt.saw.running.work import Cart
from cutopt.saw.saws import Saw, materials_of
from cutopt.solve import Report, Settings, no_report, solve

__all__ = ["Windowed", "plan_by_windows", "windows_of"]


@dataclass(frozen=True)
class Windowed:
    """A plan made window by window.

    Parameters
    ----------
    plan
        Of the whole problem; its bounds are those of the plan made at once.
    whole
        The plan made at once, for what windows cost.
    windows
        By saw, the carts of each window, as (section, jig).
    kept_whole
        Materials that were not parted, and why.
    """

    plan: Plan
    whole: Plan
    windows: Mapping[str, tuple[tuple[tuple[str, str], ...], ...]]
    kept_whole: tuple[tuple[str, str], ...]


def _never() -> bool:
    return False


def windows_of(parts: Iterable[Part], window: int) -> tuple[tuple[tuple[str, str], ...], ...]:
    """The carts of parts, in the order wanted, `window` at a time; all together for 0.

    Carts of runs that mate are never parted: the earlier one's window takes the other too.
    """
    rows = list(parts)
    needs: dict[tuple[str, str], int | None] = {}
    runs: dict[tuple[str, str], set[tuple[str, str]]] = {}
    for p in rows:
        key = (p.section, p.jig)
        given = [n for n in (needs.get(key), p.need) if n is not None]
        needs[key] = min(given) if given else None
        if p.joints is not None:
            runs.setdefault((p.section, p.mark), set()).add(key)
    mates: dict[tuple[str, str], set[tuple[str, str]]] = {}
    for p in rows:
        if p.joints is not None and p.joints.mate is not None:
            for other in runs.get((p.section, p.joints.mate), ()):
                mates.setdefault((p.section, p.jig), set()).add(other)
                mates.setdefault(other, set()).add((p.section, p.jig))
    ranked = sorted((Cart(*key, need) for key, need in needs.items()), key=lambda c: c.wanted)
    found: list[list[tuple[str, str]]] = []
    placed: set[tuple[str, str]] = set()
    for cart in ranked:
        key = (cart.section, cart.jig)
        if key in placed:
            continue
        together = _together(key, mates)
        if not found or (window and len(found[-1]) + len(together) > window and found[-1]):
            found.append([])
        found[-1] += together
        placed.update(together)
    return tuple(tuple(w) for w in found)


def _together(
    key: tuple[str, str], mates: Mapping[tuple[str, str], set[tuple[str, str]]]
) -> list[tuple[str, str]]:
    found = [key]
    for one in found:
        found += sorted(mates.get(one, set()) - set(found))
    return found


def plan_by_windows(
    problem: Problem,
    saws: Sequence[Saw],
    settings: Settings | None = None,
    whole: Plan | None = None,
    report: Report = no_report,
    cancelled: Callable[[], bool] = _never,
) -> Windowed:
    """Plan what each saw cuts in windows of its own.

    Parameters
    ----------
    problem
        Days planned together.
    saws
        The plant's saws; one with `window` 0 cuts the plan made at once.
    settings, report, cancelled
        As of `cutopt.solve.solve`, for each window.
    whole
        The plan made at once, where there is one; else it is made.
    """
    whole = whole or solve(problem, settings, report, cancelled)
    kinds = list(dict.fromkeys((o.material, o.kind) for o in problem.offers))
    plans = {m.material: m for m in whole.materials}
    kept: list[tuple[str, str]] = []
    windows: dict[str, tuple[tuple[tuple[str, str], ...], ...]] = {}
    for saw in saws:
        cuts = set(materials_of(saw, saws, kinds))
        groups = []
        for group in problem.groups:
            if not cuts.intersection(group.materials):
                continue
            why = _whole_because(group, cuts)
            if saw.window and why:
                kept += [(m, why) for m in group.materials]
            elif saw.window:
                groups.append(group)
        if not groups:
            continue
        windows[saw.name] = windows_of((p for g in groups for p in g.parts), saw.window)
        if len(windows[saw.name]) < 2:
            continue
        apart = _apart(problem, groups, windows[saw.name], settings, report, cancelled)
        for group in groups:
            names = [m for m in group.materials if m in plans]
            joined = _joined(names, apart, plans)
            if joined is None:
                why = "a later window lacks stock that an earlier one took"
                kept += [(m, why) for m in names]
            else:
                plans |= joined
    made = replace(whole, materials=tuple(plans[m.material] for m in whole.materials))
    return Windowed(made, whole, windows, tuple(kept))


def _whole_because(group: Group, cuts: set[str]) -> str:
    """Why a group can't be parted; blank where it can."""
    if not cuts.issuperset(group.materials):
        return "its parts may be cut at another saw too"
    if any(p.rule is Rule.FULL_SPAN for p in group.parts):
        return "board lengths of ceilings are chosen for the whole day"
    if any(o.min_order for o in group.offers):
        return "the mill's least order holds for the whole day"
    return ""


def _apart(
    problem: Problem,
    groups: Sequence[Group],
    windows: Sequence[Sequence[tuple[str, str]]],
    settings: Settings | None,
    report: Report,
    cancelled: Callable[[], bool],
) -> list[Plan]:
    """The windows' plans, each with the stock that those before it left."""
    parts = {id(p) for g in groups for p in g.parts}
    rows = {o.row: o for g in groups for o in g.offers}
    plans = []
    for carts in windows:
        inside = set(carts)
        offers = tuple(rows.get(o.row, o) for o in problem.offers)
        days = tuple(
            replace(
                day,
                offers=offers if i == 0 else day.offers,
                parts=tuple(
                    p for p in day.parts if id(p) in parts and (p.section, p.jig) in inside
                ),
            )
            for i, day in enumerate(problem.days)
        )
        plan = solve(Problem(days), settings, report, cancelled)
        plans.append(plan)
        taken = Counter[tuple[int, Source]]()
        for m in plan.materials:
            for lay in m.layouts:
                taken[lay.offer.row, lay.source] += lay.count
        rows = {row: _less(o, taken) for row, o in rows.items()}
    return plans


def _less(offer: Offer, taken: Mapping[tuple[int, Source], int]) -> Offer:
    bought = taken.get((offer.row, Source.BUY), 0)
    return replace(
        offer,
        on_hand=offer.on_hand - taken.get((offer.row, Source.ON_HAND), 0),
        limit=None if offer.limit is None else offer.limit - bought,
    )


def _joined(
    names: Sequence[str], apart: Sequence[Plan], whole: Mapping[str, MaterialPlan]
) -> dict[str, MaterialPlan] | None:
    """A group's plans over all windows; None where they leave out more than the plan at once."""
    joined = {}
    for name in names:
        pieces = [m for plan in apart for m in plan.materials if m.material == name]
        if _left_out(pieces) != _left_out([whole[name]]):
            return None
        joined[name] = _sum(pieces, whole[name])
    extra = {m.material for plan in apart for m in plan.materials if m.layouts} & {
        other for n in names for other in whole[n].joint_with
    }
    if not extra.issubset(names):
        return None
    objective = sum((m.objective for m in joined.values()), Fraction(0))
    slack = max(Fraction(0), objective - sum((whole[n].bound for n in names), Fraction(0)))
    return {
        n: _bounded(m, m.objective - (slack * m.objective / objective if objective else 0))
        for n, m in joined.items()
    }


def _left_out(plans: Iterable[MaterialPlan]) -> Counter[tuple[object, ...]]:
    found = Counter[tuple[object, ...]]()
    for m in plans:
        for u in m.unplanned:
            found[u.section, u.mark, u.length, u.width] += u.qty
    return found


def _sum(pieces: Sequence[MaterialPlan], whole: MaterialPlan) -> MaterialPlan:
    return replace(
        whole,
        layouts=_layouts(whole.material, pieces),
        cost=sum((m.cost for m in pieces), Fraction(0)),
        drop_credit=sum((m.drop_credit for m in pieces), Fraction(0)),
        joints=sum(m.joints for m in pieces),
        joint_cost=sum((m.joint_cost for m in pieces), Fraction(0)),
        seconds=sum(m.seconds for m in pieces),
        stop=next(
            (s for s in (Stop.INTERRUPTED, Stop.TIME) if any(m.stop is s for m in pieces)),
            Stop.WORK,
        ),
        surplus=(),
    )


def _bounded(plan: MaterialPlan, bound: Fraction) -> MaterialPlan:
    exact = bound == plan.objective
    if not plan.layouts:
        return replace(plan, bound=bound)
    return replace(
        plan,
        bound=bound,
        status=Status.OPTIMAL if exact else Status.BEST_FOUND,
        stop=Stop.PROVED if exact else plan.stop,
    )


def _layouts(material: str, pieces: Sequence[MaterialPlan]) -> tuple[Layout, ...]:
    """The windows' layouts one behind the other, equal places on equal stock one pattern."""
    patterns: dict[tuple[object, ...], str] = {}
    found: list[Layout] = []
    for m in pieces:
        for lay in m.layouts:
            places = tuple(sorted((p.x, p.y, p.along, p.across) for p in lay.parts))
            key = (lay.offer.length, lay.offer.width, places)
            pattern = patterns.setdefault(key, f"{material}-P{len(patterns) + 1}")
            found.append(replace(lay, id=f"{material}-{len(found) + 1}", pattern=pattern))
    return tuple(found)

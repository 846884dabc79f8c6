"""Money, bound, gap and the words for how good a plan is and why its search stopped."""

from __future__ import annotations

from fractions import Fraction

from cutopt.materials import Kind
from cutopt.plan.check.asked import Shop, piece_cost
from cutopt.plan.check.runs import joints_of
from cutopt.plan.check.seen import SeenMaterial, SeenPlan
from cutopt.plan.check.told import Told, dollars

__all__ = ["check_figures"]

_STATUS = ("optimal", "best-found", "infeasible")
_STOP = ("proved", "gap", "work", "time", "interrupted", "nothing-to-cut")

#: Money is written to six places: half of the last one is lost at most.
_HALF_PLACE = Fraction(1, 2_000_000)
#: Two figures of six places, one of them rounded downwards.
_TWO_FIGURES = Fraction(2, 1_000_000)


def check_figures(plan: SeenPlan, shop: Shop, told: Told) -> None:
    """Every figure of every material, from its layouts and stock.csv alone."""
    for material in plan.materials:
        _money(plan, material, shop, told)
        _quality(material, told)


def _money(plan: SeenPlan, material: SeenMaterial, shop: Shop, told: Told) -> None:
    name = material.material
    joints = joints_of(plan, name)
    if material.joints != joints:
        told(name, f"joints is {material.joints}, its layouts have {joints}")
    lumber = shop.rules.for_lumber(name)
    is_lumber = shop.kinds.get(name) is Kind.LUMBER
    share = Fraction(lumber.drop_value if is_lumber else shop.rules.for_sheets(name).drop_value)
    cost = credit = Fraction(0)
    for layout in material.layouts:
        offer = shop.stock(material, layout)
        if offer is None:
            return
        price = piece_cost(offer)
        cost += price * layout.count
        whole = offer.length * (1 if is_lumber else offer.width or 1)
        for drop in layout.drops:
            if drop.kept:
                kept = drop.length * (1 if is_lumber else drop.width or 0)
                credit += share * price * layout.count * Fraction(kept, whole)
    for row, pieces in material.surplus:
        if row in shop.offers:
            cost += piece_cost(shop.offers[row]) * pieces
    joint_cost = joints * Fraction(lumber.joint_price)
    promised = {
        "cost": (material.cost, cost),
        "drop_credit": (material.drop_credit, credit),
        "joint_cost": (material.joint_cost, joint_cost),
        "objective": (material.objective, cost - credit + joint_cost),
    }
    for key, (found, right) in promised.items():
        if abs(found - right) > _HALF_PLACE:
            told(name, f"{key} is {dollars(found)}, its layouts and stock.csv say {dollars(right)}")


def _quality(material: SeenMaterial, told: Told) -> None:
    name = material.material
    objective, bound = material.objective, material.bound
    if bound > objective:
        told(name, f"bound is {dollars(bound)}, above the objective of {dollars(objective)}")
    gap, slack = Fraction(0), _HALF_PLACE
    if objective > 0:
        gap = (objective - bound) / objective
        slack += _TWO_FIGURES / objective
    if abs(material.gap - gap) > slack:
        found, right = dollars(material.gap), dollars(gap)
        told(name, f"gap is {found}, (objective - bound) / objective is {right}")
    if material.status not in _STATUS:
        told(name, f"status is {material.status!r}, promised one of {', '.join(_STATUS)}")
    if material.stop not in _STOP:
        told(name, f"stop is {material.stop!r}, promised one of {', '.join(_STOP)}")
    open_gap = abs(objective - bound) > _TWO_FIGURES
    if open_gap and material.status == "optimal":
        told(name, f"status is optimal, but bound and objective are {_apart(material)} apart")
    if open_gap and material.stop == "proved":
        told(name, f"stop is proved, but bound and objective are {_apart(material)} apart")
    if material.stop == "nothing-to-cut" and material.layouts:
        told(name, "stop is nothing-to-cut, but it has layouts")
    nothing = bool(material.unplanned) and not material.layouts
    if nothing != (material.status == "infeasible"):
        fact = "nothing could be planned" if nothing else "something is planned or nothing left out"
        told(name, f"status is {material.status}, but {fact}")


def _apart(material: SeenMaterial) -> str:
    return dollars(material.objective - material.bound)

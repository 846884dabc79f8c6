"""The plan as plan.json holds it: plain dicts and lists with exact decimals, ready to be written.

Lengths stand in the plan's own unit. Where one of them could not be written exactly in inches, the
whole document is in mm, where every count of 1/1600 mm ends after five places. Money is rounded to
six places, bounds downwards; whole numbers are ints.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from typing import Any

from cutopt.materials import Edges
from cutopt.measure import Unit, decimal_length, fits_inches, money, money_floor, rounded
from cutopt.plan.books import books, sheets_of
from cutopt.plan.layout import Drop, Layout, MaterialPlan, Placed, Plan, Unplanned
from cutopt.plan.shortage import Shortage

__all__ = ["FORMAT", "plan_document"]

#: The word that opens every plan.json of this shape.
FORMAT = "cutopt-plan-1"

#: Places of a gap. Seven would write 1E-7: no number of the document needs an exponent.
_GAP_PLACES = 6


def plan_document(plan: Plan) -> dict[str, Any]:
    """The whole of plan.json.

    Parameters
    ----------
    plan
        The plan of all materials.

    Returns
    -------
    dict
        Holds dict, list, str, int, bool, None and Decimal alone, keys in the order of the format.
        `unit` is the plan's, or `mm` where a length has no exact decimal in inches. Beside the
        format's own keys stand, only where they say something: `joint_with`, `cutting_rule` and
        `shortages` (why it can't cost less) of a material, `asked` of a part cut from an allowed
        alternate, `edge` of a part that keeps factory edges, `edges` of stock that has not both,
        `stack` and `books` of a material that is cut so many pieces at once,
        `plant` and `days` where the plan knows them; and always `width` and `qty` of what is
        unplanned.
    """
    unit: Unit = plan.unit
    if unit == "in" and not all(fits_inches(n) for n in _lengths(plan)):
        unit = "mm"
    of: dict[str, Any] = {"plant": plan.plant, "days": list(plan.days)} if plan.days else {}
    return {
        "format": FORMAT,
        "unit": unit,
        **of,
        "materials": [_material(m, unit) for m in plan.materials],
    }


def _material(plan: MaterialPlan, unit: Unit) -> dict[str, Any]:
    document: dict[str, Any] = {
        "material": plan.material,
        "kind": plan.kind.value,
        "kerf": _length(plan.kerf, unit),
        "head_trim": _length(plan.head_trim, unit),
        "cost": _plain(money(plan.cost)),
        "drop_credit": _plain(money(plan.drop_credit)),
        "joints": plan.joints,
        "joint_cost": _plain(money(plan.joint_cost)),
        "objective": _plain(money(plan.objective)),
        "bound": _plain(min(money_floor(plan.bound), money(plan.objective))),
        "gap": _plain(rounded(plan.gap, _GAP_PLACES)),
        "status": plan.status.value,
        "stop": plan.stop.value,
        "seconds": _plain(rounded(Fraction(plan.seconds), 3)),
    }
    if plan.joint_with:
        document["joint_with"] = list(plan.joint_with)
    if plan.cutting_rule:
        document["cutting_rule"] = plan.cutting_rule
    if plan.stack > 1:
        document["stack"] = plan.stack
        counts = sheets_of(plan.layouts).values()
        document["books"] = sum(n for count in counts for n, _ in books(count, plan.stack))
    document["layouts"] = [_layout(layout, plan.material, unit) for layout in plan.layouts]
    if plan.surplus:
        document["surplus"] = [{"row": o.row, "pieces": n} for o, n in plan.surplus]
    document["unplanned"] = [_unplanned(missing, unit) for missing in plan.unplanned]
    if plan.shortages:
        document["shortages"] = [_shortage(s, plan.objective, unit) for s in plan.shortages]
    return document


def _layout(layout: Layout, material: str, unit: Unit) -> dict[str, Any]:
    offer = layout.offer
    stock: dict[str, Any] = {
        "row": offer.row,
        "length": _length(offer.length, unit),
        "width": _maybe(offer.width, unit),
        "source": layout.source.value,
        "lot": offer.lot,
    }
    if offer.edges is not Edges.BOTH:
        stock["edges"] = offer.edges.value
    return {
        "id": layout.id,
        "pattern": layout.pattern,
        "count": layout.count,
        "stock": stock,
        "parts": [_part(part, material, unit) for part in layout.parts],
        "drops": [_drop(drop, unit) for drop in layout.drops],
    }


def _part(part: Placed, material: str, unit: Unit) -> dict[str, Any]:
    document: dict[str, Any] = {
        "section": part.section,
        "mark": part.mark,
        "length": _length(part.length, unit),
        "width": _maybe(part.width, unit),
        "x": _length(part.x, unit),
        "y": _length(part.y, unit),
        "turned": part.turned,
        "run": part.run,
        "run_at": _maybe(part.run_at, unit),
    }
    if part.asked != material:
        document["asked"] = part.asked
    if part.edge:
        document["edge"] = part.edge.value
    return document


def _drop(drop: Drop, unit: Unit) -> dict[str, Any]:
    return {
        "x": _length(drop.x, unit),
        "y": _length(drop.y, unit),
        "length": _length(drop.length, unit),
        "width": _maybe(drop.width, unit),
        "kept": drop.kept,
    }


def _unplanned(missing: Unplanned, unit: Unit) -> dict[str, Any]:
    return {
        "section": missing.section,
        "mark": missing.mark,
        "length": _length(missing.length, unit),
        "width": _maybe(missing.width, unit),
        "qty": missing.qty,
        "reason": missing.reason,
    }


def _shortage(shortage: Shortage, objective: Fraction, unit: Unit) -> dict[str, Any]:
    """`length` is null where there is none, or stock that no layout uses has none in inches."""
    known = shortage.length and (unit == "mm" or fits_inches(shortage.length))
    document: dict[str, Any] = {
        "cause": shortage.cause.value,
        "length": _length(shortage.length, unit) if known else None,
        "width": _maybe(shortage.width, unit) if known else None,
        "pieces": shortage.pieces,
        "worth": _plain(money(shortage.worth)),
    }
    if shortage.limits:
        document["rows"] = list(shortage.rows)
    else:
        document["plain"] = _plain(money(shortage.plain))
        document["beyond"] = _plain(money(shortage.money))
        document["marks"] = list(shortage.marks)
        document["more_marks"] = shortage.more
    document["text"] = shortage.text(unit, of=objective)
    return document


def _lengths(plan: Plan) -> Iterator[int]:
    """Every length that the document will hold."""
    for material in plan.materials:
        yield material.kerf
        yield material.head_trim
        for layout in material.layouts:
            yield layout.offer.length
            yield layout.offer.width or 0
            for part in layout.parts:
                yield from (part.length, part.width or 0, part.x, part.y, part.run_at or 0)
            for drop in layout.drops:
                yield from (drop.x, drop.y, drop.length, drop.width or 0)
        for missing in material.unplanned:
            yield from (missing.length, missing.width or 0)


def _length(length: int, unit: Unit) -> int | Decimal:
    value = decimal_length(length, unit)
    if value is None:
        raise ValueError(f"{length} counts have no exact decimal in inches")
    return _plain(value)


def _maybe(length: int | None, unit: Unit) -> int | Decimal | None:
    return None if length is None else _length(length, unit)


def _plain(value: Decimal) -> int | Decimal:
    """A whole number as an int, else the decimal without closing zeros or an exponent."""
    whole = int(value)
    if value == whole:
        return whole
    digits = f"{value:f}".rstrip("0")
    return Decimal(digits)

"""Every promise of a plan, re-derived from the days and the document alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from cutopt.cutlist import Day
from cutopt.materials import Kind
from cutopt.plan.check.asked import Asked, Shop
from cutopt.plan.check.ceilings import check_ceilings
from cutopt.plan.check.figures import check_figures
from cutopt.plan.check.parts import check_left_out, check_parts
from cutopt.plan.check.read import read_plan
from cutopt.plan.check.runs import check_runs
from cutopt.plan.check.seen import SeenPlan
from cutopt.plan.check.sheet_rules import check_sheet_rules
from cutopt.plan.check.sheets import check_sheet
from cutopt.plan.check.sticks import check_stick
from cutopt.plan.check.stock import check_stock
from cutopt.plan.check.tables import TableRow, check_tables
from cutopt.plan.check.told import Told

__all__ = ["check_plan"]


def check_plan(
    days: Sequence[Day],
    document: object,
    tables: Mapping[str, Sequence[TableRow]] | None = None,
) -> list[str]:
    """Check a plan against the days it was made for.

    Nothing of the solver, of the planner's layouts or of its prices is used: geometry, counts,
    joints, limits and money are worked out again, in whole numbers and fractions.

    Parameters
    ----------
    days
        The days planned together, as read; stock and rules are those of the first.
    document
        plan.json as parsed, numbers with a point as `decimal.Decimal`.
    tables
        The tables beside it, if wanted: `stock_order.csv`, `cut_list.csv`, `yield.csv` and
        `rack.csv`, each a list of rows as text by column name.

    Returns
    -------
    list of str
        A line for each promise that is broken, at most `MOST_FAULTS` and a count of the rest;
        empty where all are kept. A malformed document gives lines too, never an exception.

    Raises
    ------
    ValueError
        Where no day is given.
    """
    if not days:
        raise ValueError("no day to check the plan against")
    told = Told(days[0].unit)
    if _of_other_days(days, document, told):
        return told.lines()
    plan = read_plan(document, told)
    if plan is None:
        return told.lines()
    shop = Shop(days[0])
    asked = Asked(days, shop)
    _unit(plan, days[0], told)
    check_stock(plan, shop, told)
    _cutting(plan, asked, shop, told)
    check_parts(plan, asked, told)
    check_ceilings(plan, asked, shop, told)
    check_runs(plan, asked, shop, told)
    check_left_out(plan, asked, shop, told)
    check_figures(plan, shop, told)
    if tables is not None and plan.whole:
        check_tables(plan, asked, shop, tables, told)
    return told.lines()


def _of_other_days(days: Sequence[Day], document: object, told: Told) -> bool:
    """Whether the document says that it is a plan of something else: then nothing more is told."""
    if not isinstance(document, Mapping):
        return False
    plant, dates = days[0].plant, [day.date.isoformat() for day in days]
    if document.get("plant", plant) == plant and document.get("days", dates) == dates:
        return False
    told(
        "plan.json",
        f"is a plan of {document.get('days', '?')} at {document.get('plant', '?')}, checked "
        f"against {dates} at {plant}",
    )
    return True


def _unit(plan: SeenPlan, day: Day, told: Told) -> None:
    """The day's own unit, but for mm where a length has no exact decimal in inches."""
    if plan.unit == day.unit:
        return
    if plan.unit == "in":
        told("plan.json", "unit is 'in', the day's own is 'mm'")
    elif plan.whole and all(n % 127 == 0 for m in plan.materials for n in m.lengths()):
        told("plan.json", "unit is 'mm', the day's own is 'in' and holds every length exactly")


def _cutting(plan: SeenPlan, asked: Asked, shop: Shop, told: Told) -> None:
    for material in plan.materials:
        name = material.material
        kind = shop.kinds.get(name)
        for layout in material.layouts:
            where = f"{name}, layout {layout.id}"
            for part in layout.parts:
                if part.run is None and part.run_at is not None:
                    told(where, f"{part} has run_at {told.show(part.run_at)} and no run")
            offer = shop.stock(material, layout)
            if offer is None:
                continue
            if kind is Kind.LUMBER:
                check_stick(layout, offer, shop.rules.for_lumber(name), where, told)
            elif offer.width is not None:
                rows = [p for p in layout.parts if asked.span_rows(p, name)]
                size = (offer.length, offer.width)
                sheets = shop.rules.for_sheets(name)
                check_sheet(layout, size, sheets, rows, where, told)
                check_sheet_rules(layout, offer, sheets, rows, where, told)

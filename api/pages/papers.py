"""The papers of a plan as pages: what to buy, where the material went."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import groupby
from typing import Annotated

from fastapi import Query, Request, Response

from api.access.caller import needs
from api.access.rights import Right
from api.pages.lists import PlanLine, days_of, plan_lines, weighed
from api.pages.looks import page, pages_router
from api.pages.viewer import ViewerOf
from api.routes.common import PlanId, ServicesOf
from api.services import Services
from cutopt.measure import Unit, percent

__all__ = ["router", "unit_of"]

router = pages_router()

_UNIT = re.compile(rb'"unit":\s*"(in|mm)"')
_AMOUNTS = ("input", "parts", "kerf", "trim", "kept_drop", "waste_drop", "scrap")
#: Days that stand side by side in the table of waste, and that are looked at for it.
_SIDE_BY_SIDE, _LOOKED_AT = 7, 31


@dataclass(frozen=True, slots=True)
class Amounts:
    """Where one material went, or all of its kind: feet or square feet, dollars."""

    material: str
    amounts: dict[str, Decimal]
    cost_in: Decimal
    cost_waste: Decimal

    @property
    def yield_percent(self) -> Decimal | None:
        """Parts / (input − kept drops); None where nothing went in."""
        used = self.amounts["input"] - self.amounts["kept_drop"]
        return percent(Fraction(self.amounts["parts"]), Fraction(used)) if used else None

    @property
    def waste_percent(self) -> Decimal | None:
        """What yield leaves of a hundred."""
        share = self.yield_percent
        return None if share is None else 100 - share


@router.get("/pages/plans/{plan}/order", dependencies=[needs(Right.ORDER_READ)])
def order(request: Request, services: ServicesOf, viewer: ViewerOf, plan: PlanId) -> Response:
    """What to buy, material by material, with totals."""
    line = _line(services, plan)
    rows = _rows(services, plan, "stock_order.csv")
    groups = [
        (material, lines, _sum(lines, "pieces"), _sum(lines, "extension"))
        for material, group in groupby(rows, key=lambda row: row["material"])
        if (lines := list(group))
    ]
    return page(
        request,
        viewer,
        "order.html",
        line=line,
        plan=line.plan,
        unit=unit_of(services, plan),
        groups=groups,
        pieces=int(_sum(rows, "pieces")),
        total=_sum(rows, "extension"),
    )


@router.get("/pages/plans/{plan}/yield", dependencies=[needs(Right.YIELD_READ)])
def plan_yield(request: Request, services: ServicesOf, viewer: ViewerOf, plan: PlanId) -> Response:
    """Where the material of a plan goes: yield, waste, and what the waste costs."""
    line = _line(services, plan)
    kinds = {m.material: m.kind for m in line.plan.materials or ()}
    rows = [_amounts(row) for row in _rows(services, plan, "yield.csv")]
    kinds_of = []
    for kind in ("lumber", "sheet"):
        lines = [row for row in rows if kinds.get(row.material) == kind]
        if lines:
            kinds_of.append((kind, lines, _together(lines)))
    return page(
        request,
        viewer,
        "yield.html",
        line=line,
        plan=line.plan,
        unit=unit_of(services, plan),
        kinds=kinds_of,
        cost_in=sum((row.cost_in for row in rows), Decimal(0)),
        cost_waste=sum((row.cost_waste for row in rows), Decimal(0)),
    )


@router.get("/pages/yields", dependencies=[needs(Right.YIELD_READ)])
def yields(request: Request, services: ServicesOf, viewer: ViewerOf) -> Response:
    """Waste percent by material and day, over the days planned last."""
    lines = weighed(plan_lines(services, None, _LOOKED_AT)[0])[:_SIDE_BY_SIDE]
    tables = [
        {row["material"]: _amounts(row) for row in _rows(services, x.plan.id, "yield.csv")}
        for x in lines
    ]
    materials: dict[str, str] = {}
    for line in lines:
        for m in line.plan.materials or ():
            materials.setdefault(m.material, m.kind)
    sums = []
    for kind in ("lumber", "sheet"):
        named = [m for m, k in materials.items() if k == kind]
        if named:
            of_days = [_together([t[m] for m in named if m in t]) for t in tables]
            sums.append((kind, sorted(named), of_days))
    costs = [sum((row.cost_waste for row in table.values()), Decimal(0)) for table in tables]
    return page(request, viewer, "yields.html", lines=lines, tables=tables, sums=sums, costs=costs)


@router.get("/pages/yields.csv", dependencies=[needs(Right.YIELD_READ)])
def yields_csv(
    services: ServicesOf,
    viewer: ViewerOf,
    limit: Annotated[int, Query(ge=1, le=200)] = _LOOKED_AT,
) -> Response:
    """The same and every amount behind it as a table for a spreadsheet."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    columns = (*_AMOUNTS, "yield_percent", "waste_percent", "cost_in", "cost_waste")
    writer.writerow(("days", "plan", "material", *columns))
    for line in weighed(plan_lines(services, None, limit)[0]):
        days = " ".join(dict.fromkeys(day.date.isoformat() for day in line.days))
        for row in _rows(services, line.plan.id, "yield.csv"):
            writer.writerow(
                (days, line.plan.id, _safe(row["material"]), *(row[c] for c in columns))
            )
    return Response(
        text.getvalue(),
        media_type="text/csv",
        headers={"Content-Disposition": 'attachment; filename="yields.csv"'},
    )


def _safe(text: str) -> str:
    """A word that no spreadsheet takes for a formula."""
    return f"'{text}" if text[:1] in "=+-@\t\r" else text


def _line(services: Services, plan: str) -> PlanLine:
    found = services.plans.get(plan)
    return PlanLine(found, days_of(services, found.days, {}))


def _rows(services: Services, plan: str, name: str) -> list[dict[str, str]]:
    text = services.plans.file(plan, name).decode()
    return list(csv.DictReader(io.StringIO(text, newline="")))


def _sum(rows: Iterable[dict[str, str]], column: str) -> Decimal:
    return sum((Decimal(row[column]) for row in rows), Decimal(0))


def _amounts(row: dict[str, str]) -> Amounts:
    return Amounts(
        row["material"],
        {name: Decimal(row[name]) for name in _AMOUNTS},
        Decimal(row["cost_in"]),
        Decimal(row["cost_waste"]),
    )


def _together(rows: list[Amounts]) -> Amounts:
    return Amounts(
        "",
        {name: sum((r.amounts[name] for r in rows), Decimal(0)) for name in _AMOUNTS},
        sum((r.cost_in for r in rows), Decimal(0)),
        sum((r.cost_waste for r in rows), Decimal(0)),
    )


def unit_of(services: Services, plan: str) -> Unit:
    """The unit that a plan's tables are written in. Raises what `plans.file` does."""
    # It stands in the first lines: the layouts behind them need not be read for it.
    found = _UNIT.search(services.plans.file(plan, "plan.json")[:200])
    return "mm" if found is not None and found[1] == b"mm" else "in"

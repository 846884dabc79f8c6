"""The files of a plan: plan.json, stock order, cut list, yield, report."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response
from starlette.exceptions import HTTPException

from api.access.caller import needs
from api.access.rights import Right
from api.routes.bodies import JSON
from api.routes.common import PlanId, ServicesOf
from api.routes.exchange import KnownTag, send_file, tagged
from api.services import Services
from api.services.tables import rows_json

__all__ = ["accepted", "result", "router"]

router = APIRouter(tags=["results"])

_CSV = "text/csv"
_HTML = "text/html"
#: The report brings its own style and pictures, and nothing else.
_REPORT_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; "
    "base-uri 'none'; form-action 'none'"
)


def result(description: str, content: dict[str, Any]) -> dict[int | str, dict[str, Any]]:
    """The answers of an operation that reads a file of what was queued."""
    return tagged(description, content, "not-found", "not-finished", "no-result", "not-acceptable")


def _table(description: str, text: str, shape: str, rows: str) -> Any:
    return result(
        description,
        {
            _CSV: {"schema": {"type": "string"}, "example": text},
            JSON: {"schema": {"$ref": f"#/components/schemas/{shape}"}, "example": rows},
        },
    )


@router.get(
    "/plans/{plan}/plan.json",
    operation_id="readPlanDocument",
    dependencies=[needs(Right.PLANS_READ)],
    summary="Read plan.json",
    response_class=Response,
    responses=result(
        "The whole plan, exact, byte for byte as the command writes it.",
        {
            JSON: {
                "schema": {"$ref": "#/components/schemas/PlanDocument"},
                "example": "examples.PLAN_DOCUMENT",
            }
        },
    ),
)
def read_plan_document(
    request: Request, services: ServicesOf, plan: PlanId, known: KnownTag = None
) -> Response:
    """The whole plan."""
    accepted(request, JSON)
    return send_file(known, services.plans.file(plan, "plan.json"), JSON)


@router.get(
    "/plans/{plan}/stock-order",
    operation_id="readStockOrder",
    dependencies=[needs(Right.ORDER_READ)],
    summary="Read the stock order",
    response_class=Response,
    responses=_table(
        "What must be bought.",
        "material,length,width,pieces,bundles,board_feet,square_feet,price,per,extension\n"
        "2x4-SPF-2,192,,2,,21.333,,493,MBF,10.52\n",
        "OrderRows",
        "examples.ORDER_ROWS",
    ),
)
def read_stock_order(
    request: Request, services: ServicesOf, plan: PlanId, known: KnownTag = None
) -> Response:
    """What must be bought, as CSV or, where asked for, as JSON."""
    return _read_table(request, known, services, plan, "stock_order.csv")


@router.get(
    "/plans/{plan}/cut-list",
    operation_id="readCutList",
    dependencies=[needs(Right.CUTS_READ)],
    summary="Read the cut list",
    response_class=Response,
    responses=_table(
        "A row per part of a layout, in cutting order.",
        "material,layout,pattern,count,stock_length,stock_width,source,stop,length,width,"
        "section,jig,mark,turned\n"
        "2x4-SPF-2,2x4-SPF-2-1,2x4-SPF-2-A,2,192,,buy,92.625,92.625,,Alder Cabin,Wall table 1,"
        "W1-STUD,no\n",
        "CutRows",
        "examples.CUT_ROWS",
    ),
)
def read_cut_list(
    request: Request, services: ServicesOf, plan: PlanId, known: KnownTag = None
) -> Response:
    """What the saw cuts, as CSV or, where asked for, as JSON."""
    return _read_table(request, known, services, plan, "cut_list.csv")


@router.get(
    "/plans/{plan}/cuts",
    operation_id="readCuts",
    dependencies=[needs(Right.CUTS_READ)],
    summary="Read the saw cuts of the sheets",
    response_class=Response,
    responses=_table(
        "A row per saw cut of a sheet, in the order to be made.",
        "material,layout,pattern,count,cut,stage,direction,piece,measure,from,fence,yields,marks\n"
        "OSB-7/16,OSB-7/16-1,OSB-7/16-P1,4,1,1,rip,sheet,23.875,factory edge,23.875,"
        "strip A; waste,\n",
        "SheetCutRows",
        "examples.SHEET_CUT_ROWS",
    ),
)
def read_cuts(
    request: Request, services: ServicesOf, plan: PlanId, known: KnownTag = None
) -> Response:
    """How each sheet is cut, as CSV or, where asked for, as JSON."""
    return _read_table(request, known, services, plan, "cuts.csv")


@router.get(
    "/plans/{plan}/yield",
    operation_id="readYield",
    dependencies=[needs(Right.YIELD_READ)],
    summary="Read the yield",
    response_class=Response,
    responses=_table(
        "Where the material goes: feet of lumber, square feet of sheets.",
        "material,input,parts,kerf,trim,kept_drop,waste_drop,scrap,yield_percent,waste_percent,"
        "cost_in,cost_waste\n"
        "2x4-SPF-2,32,30.875,0.041666,0,0,1.083334,0,96.48,3.52,10.52,0.37\n",
        "YieldRows",
        "examples.YIELD_ROWS",
    ),
)
def read_yield(
    request: Request, services: ServicesOf, plan: PlanId, known: KnownTag = None
) -> Response:
    """Where the material goes, as CSV or, where asked for, as JSON."""
    return _read_table(request, known, services, plan, "yield.csv")


@router.get(
    "/plans/{plan}/rack",
    operation_id="readRack",
    dependencies=[needs(Right.CUTS_READ)],
    summary="Read the rack",
    response_class=Response,
    responses=_table(
        "Kept drops of sticks and sheets as rows of stock.csv, for the next day's.",
        "material,kind,nominal,length,width,price,per,on_hand,limit,bundle,lot,edges\n"
        "OSB-7/16,sheet,,36.5,47.875,4.701695,each,2,0,,,both\n",
        "RackRows",
        "examples.RACK_ROWS",
    ),
)
def read_rack(
    request: Request, services: ServicesOf, plan: PlanId, known: KnownTag = None
) -> Response:
    """What goes to the rack, as CSV or, where asked for, as JSON."""
    return _read_table(request, known, services, plan, "rack.csv")


@router.get(
    "/plans/{plan}/report",
    operation_id="readReport",
    dependencies=[needs(Right.PLANS_READ)],
    summary="Read the report",
    response_class=Response,
    responses=result(
        "Figures and every layout drawn to scale, in one page without outside links.",
        {_HTML: {"schema": {"type": "string"}, "example": "<!doctype html><title>Plan</title>"}},
    ),
)
def read_report(
    request: Request, services: ServicesOf, plan: PlanId, known: KnownTag = None
) -> Response:
    """The report as a page."""
    accepted(request, _HTML)
    content = services.plans.file(plan, "report.html")
    return send_file(known, content, _HTML, {"Content-Security-Policy": _REPORT_POLICY})


def _read_table(
    request: Request, known: str | None, services: Services, plan: str, name: str
) -> Response:
    kind = accepted(request, _CSV, JSON)
    content = services.plans.file(plan, name)
    headers = {"Vary": "Accept"}
    if kind == JSON:
        return send_file(known, rows_json(content), JSON, headers)
    headers["Content-Disposition"] = f'inline; filename="{name}"'
    return send_file(known, content, _CSV, headers)


def accepted(request: Request, *offered: str) -> str:
    """The offered type that the caller likes best, the first among equals.

    Raises HTTPException 406 where it likes none.
    """
    wanted = ",".join(request.headers.getlist("accept")) or "*/*"
    liked = [(_liking(wanted, kind), kind) for kind in offered]
    best = max(weight for weight, _ in liked)
    if best <= 0:
        raise HTTPException(406, f"it is kept as {' and '.join(offered)}")
    return next(kind for weight, kind in liked if weight == best)


def _liking(accept: str, kind: str) -> float:
    """What an Accept header gives a type: the weight of the closest range (RFC 9110, 12.5.1)."""
    group = kind.split("/")[0]
    closest, weight = -1, 0.0
    for entry in accept.split(","):
        name, *parameters = (word.strip() for word in entry.casefold().split(";"))
        nearness = {"*/*": 0, f"{group}/*": 1, kind: 2}.get(name, -1)
        if nearness > closest:
            closest, weight = nearness, _weight(parameters)
    return weight


def _weight(parameters: list[str]) -> float:
    for parameter in parameters:
        if parameter.startswith("q="):
            try:
                return min(max(float(parameter[2:]), 0.0), 1.0)
            except ValueError:
                return 0.0
    return 1.0

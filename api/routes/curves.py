"""Curves: what fewer joints, set-ups or board lengths would cost."""

from __future__ import annotations

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Path, Request, Response

from api.access.caller import needs
from api.access.rights import Right
from api.curve_shapes import Curve, CurvePage, NewCurve
from api.routes.bodies import json_body, json_document, read_shape
from api.routes.common import After, Limit, ServicesOf
from api.routes.exchange import (
    KnownTag,
    RequestKey,
    SeenTag,
    SeenTagOrNone,
    kept,
    once,
    send_file,
    send_view,
)
from api.routes.queued import cancelling, listing, of_day, reading, removing, starting
from api.routes.results import accepted, result

__all__ = ["router"]

router = APIRouter(tags=["curves"])

_CSV, _SVG = "text/csv", "image/svg+xml"
#: The drawing brings its own style, and nothing else.
_DRAWING_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"
CurveId = Annotated[
    str,
    Path(
        alias="curve", description="The curve's id.", examples=["c4ca4238a0b923820dcc509a6f75849b"]
    ),
]


@router.post(
    "/curves",
    response_model=Curve,
    **starting(
        "curve",
        {
            "read": "readCurve",
            "cancel": "cancelCurve",
            "points": "readCurvePoints",
            "drawing": "readCurveDrawing",
        },
    ),
)
def start_curve(
    request: Request,
    services: ServicesOf,
    body: Annotated[bytes, Depends(json_body)],
    key: RequestKey = None,
) -> Response:
    """Find what fewer joints, set-ups or board lengths would cost, material by material.

    Read the curve at Location until its status is done, stopped or failed.
    """
    wanted = read_shape(NewCurve, json_document(body, exact=False))
    start = partial(services.curves.start, wanted)
    return once(request, services, key, start, kept(202, "/curves"), body)


@router.get("/curves", **listing("curve"))
def list_curves(
    services: ServicesOf,
    limit: Limit = 50,
    after: After = None,
    day: Annotated[str | None, of_day("curve")] = None,
) -> CurvePage:
    """List curves, the newest first."""
    return services.curves.page(after, limit, day)


@router.get("/curves/{curve}", response_model=Curve, **reading("curve"))
def read_curve(services: ServicesOf, curve: CurveId, known: KnownTag = None) -> Response:
    """How far a curve is, and its points once it has ended."""
    return send_view(known, services.curves.get(curve))


@router.delete("/curves/{curve}", **removing("curve"))
def remove_curve(
    request: Request, services: ServicesOf, curve: CurveId, seen: SeenTag, key: RequestKey = None
) -> Response:
    """Remove a curve that has ended."""
    return once(request, services, key, lambda: services.curves.remove(curve, seen), kept(204))


@router.post(
    "/curves/{curve}/cancel", response_model=Curve, **cancelling("curve", "the points that it has")
)
def cancel_curve(
    request: Request,
    services: ServicesOf,
    curve: CurveId,
    seen: SeenTagOrNone = None,
    key: RequestKey = None,
) -> Response:
    """End a curve. The points so far are kept; asking twice changes nothing."""
    cancel = partial(services.curves.cancel, curve, seen)
    return once(request, services, key, cancel, kept(202))


@router.get(
    "/curves/{curve}/points",
    operation_id="readCurvePoints",
    dependencies=[needs(Right.PLANS_READ)],
    summary="Read the points",
    response_class=Response,
    responses=result(
        "A row per point, exact, byte for byte as the command writes it.",
        {
            _CSV: {
                "schema": {"type": "string"},
                "example": "material,of,setting,joints,setups,sticks,cost,objective,bound,choice,"
                "lengths\n"
                '2x6-SPF-2,joints,"joint price $0.50, no piece under 32 in",31,24,84,'
                "812.400000,827.900000,827.880000,yes,\n",
            }
        },
    ),
)
def read_points(
    request: Request, services: ServicesOf, curve: CurveId, known: KnownTag = None
) -> Response:
    """The points as CSV."""
    accepted(request, _CSV)
    headers = {"Content-Disposition": 'inline; filename="curve.csv"'}
    content = services.curves.file(curve, "curve.csv")
    return send_file(known, content, _CSV, headers)


@router.get(
    "/curves/{curve}/drawing",
    operation_id="readCurveDrawing",
    dependencies=[needs(Right.PLANS_READ)],
    summary="Read the drawing",
    response_class=Response,
    responses=result(
        "The curves drawn one under the other, a table under each, without outside links.",
        {_SVG: {"schema": {"type": "string"}, "example": "<svg></svg>"}},
    ),
)
def read_drawing(
    request: Request, services: ServicesOf, curve: CurveId, known: KnownTag = None
) -> Response:
    """The curves as an SVG drawing."""
    accepted(request, _SVG)
    content = services.curves.file(curve, "curve.svg")
    return send_file(known, content, _SVG, {"Content-Security-Policy": _DRAWING_POLICY})

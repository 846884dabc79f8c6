"""One plant's day as it goes over the wire: the examples in the description of the service.

The tests hold each against its schema, and post the day for real.
"""

from __future__ import annotations

from typing import Any

__all__ = [
    "CHECK",
    "CHECK_RESULT",
    "CURVE",
    "CURVE_CANCELLED",
    "CURVE_ID",
    "CURVE_PAGE",
    "CURVE_STARTED",
    "CUT_ROWS",
    "DAY",
    "DAY_DOCUMENT",
    "DAY_ID",
    "DAY_PAGE",
    "EVENTS",
    "NEW_CURVE",
    "NEW_PLAN",
    "ORDER_ROWS",
    "PLAN",
    "PLAN_DOCUMENT",
    "PLAN_ID",
    "PLAN_PAGE",
    "RACK_ROWS",
    "SHEET_CUT_ROWS",
    "YIELD_ROWS",
]

DAY_ID = "8f14e45fceea467a9d0c1f2b3a4c5d6e"
PLAN_ID = "3c59dc048e8850243be8079a5c74d079"

DAY_DOCUMENT: dict[str, Any] = {
    "day": {"plant": "Hask Lake Section Works", "date": "2026-03-02", "unit": "in"},
    "stock": [
        {
            "material": "2x4-SPF-2",
            "kind": "lumber",
            "nominal": "2x4",
            "length": 192,
            "price": 493,
            "per": "MBF",
            "on_hand": 0,
        }
    ],
    "cuts": [
        {
            "file": "walls",
            "section": "Alder Cabin",
            "jig": "Wall table 1",
            "mark": "W1-STUD",
            "material": "2x4-SPF-2",
            "length": "92-5/8",
            "qty": 4,
        }
    ],
}

_DAY_SUMMARY = {
    "id": DAY_ID,
    "name": "2026-03-02",
    "plant": "Hask Lake Section Works",
    "date": "2026-03-02",
    "unit": "in",
    "rows": 1,
    "pieces": 4,
    "created": "2026-03-01T21:14:05.120Z",
}
DAY: dict[str, Any] = {
    **_DAY_SUMMARY,
    "sections": ["Alder Cabin"],
    "materials": ["2x4-SPF-2"],
    "files": ["day.json"],
    "digest": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
    "warnings": [],
}
DAY_PAGE: dict[str, Any] = {"items": [_DAY_SUMMARY], "next": None}

NEW_PLAN: dict[str, Any] = {"days": [DAY_ID], "seconds": 60, "seed": 1}
_PLAN_SUMMARY = {
    "id": PLAN_ID,
    "status": "done",
    "outcome": "planned",
    "days": [DAY_ID],
    "seconds": 60,
    "seed": 1,
    "cancel_asked": False,
    "created": "2026-03-01T21:15:00.000Z",
    "started": "2026-03-01T21:15:00.250Z",
    "ended": "2026-03-01T21:15:03.917Z",
}
PLAN: dict[str, Any] = {
    **_PLAN_SUMMARY,
    "progress": [
        {
            "materials": ["2x4-SPF-2"],
            "phase": "done",
            "objective": 10.5174,
            "bound": 10.5174,
            "gap": 0,
            "done": True,
        }
    ],
    "materials": [
        {
            "material": "2x4-SPF-2",
            "kind": "lumber",
            "pieces": 4,
            "bought": 2,
            "on_hand": 0,
            "layouts": 1,
            "patterns": 1,
            "joints": 0,
            "cost": 10.5173,
            "drop_credit": 0,
            "joint_cost": 0,
            "objective": 10.5173,
            "bound": 10.5173,
            "gap": 0,
            "joint_with": [],
            "status": "optimal",
            "stop": "proved",
            "yield_percent": 96.48,
            "waste_percent": 3.52,
            "seconds": 0.01,
            "unplanned": [],
        }
    ],
    "objective": 10.5173,
    "bound": 10.5173,
    "failure": None,
    "files": {
        "plan.json": f"/plans/{PLAN_ID}/plan.json",
        "stock_order.csv": f"/plans/{PLAN_ID}/stock-order",
        "cut_list.csv": f"/plans/{PLAN_ID}/cut-list",
        "cuts.csv": f"/plans/{PLAN_ID}/cuts",
        "yield.csv": f"/plans/{PLAN_ID}/yield",
        "rack.csv": f"/plans/{PLAN_ID}/rack",
        "report.html": f"/plans/{PLAN_ID}/report",
    },
}
PLAN_STARTED: dict[str, Any] = {
    **PLAN,
    "status": "queued",
    "outcome": None,
    "started": None,
    "ended": None,
    "progress": [],
    "materials": None,
    "objective": None,
    "bound": None,
    "files": {},
}
PLAN_CANCELLED: dict[str, Any] = {
    **PLAN_STARTED,
    "status": "running",
    "cancel_asked": True,
    "started": "2026-03-01T21:15:00.250Z",
}
PLAN_PAGE: dict[str, Any] = {"items": [_PLAN_SUMMARY], "next": None}

CURVE_ID = "c4ca4238a0b923820dcc509a6f75849b"
NEW_CURVE: dict[str, Any] = {"days": [DAY_ID], "of": "joints", "seconds": 60, "seed": 1}
_CURVE_SUMMARY = {**_PLAN_SUMMARY, "id": CURVE_ID, "of": "joints"}
CURVE: dict[str, Any] = {
    **_CURVE_SUMMARY,
    "progress": [
        {
            "materials": ["2x6-SPF-2"],
            "phase": "done",
            "objective": None,
            "bound": None,
            "gap": None,
            "done": True,
        }
    ],
    "curves": [
        {
            "materials": ["2x6-SPF-2"],
            "points": [
                {
                    "setting": "joint price $0.50, no piece under 32 in",
                    "joints": 31,
                    "setups": 24,
                    "sticks": 84,
                    "cost": 812.4,
                    "objective": 827.9,
                    "bound": 827.88,
                    "choice": True,
                }
            ],
            "note": "",
        }
    ],
    "failure": None,
    "files": {
        "curve.csv": f"/curves/{CURVE_ID}/points",
        "curve.svg": f"/curves/{CURVE_ID}/drawing",
    },
}
CURVE_STARTED: dict[str, Any] = {
    **CURVE,
    "status": "queued",
    "outcome": None,
    "started": None,
    "ended": None,
    "progress": [],
    "curves": None,
    "files": {},
}
CURVE_CANCELLED: dict[str, Any] = {
    **CURVE_STARTED,
    "status": "running",
    "cancel_asked": True,
    "started": "2026-03-01T21:15:00.250Z",
}
CURVE_PAGE: dict[str, Any] = {"items": [_CURVE_SUMMARY], "next": None}

EVENTS = """retry: 2000

id: 1
event: status
data: {"status": "queued"}

id: 2
event: status
data: {"status": "running"}

id: 3
event: progress
data: {"materials": ["2x4-SPF-2"], "phase": "done", "objective": 10.5, "bound": 10.5, "done": true}

id: 4
event: ended
data: {"status": "done", "outcome": "planned"}

"""

PLAN_DOCUMENT: dict[str, Any] = {
    "format": "cutopt-plan-1",
    "unit": "in",
    "materials": [],
}
CHECK: dict[str, Any] = {"days": [DAY_ID], "plan": PLAN_DOCUMENT}
CHECK_RESULT: dict[str, Any] = {
    "checks": False,
    "faults": ["2x4-SPF-2: 4 of W1-STUD for Alder Cabin are asked for, 0 are cut"],
}

ORDER_ROWS: dict[str, Any] = {
    "rows": [
        {
            "material": "2x4-SPF-2",
            "length": 192,
            "width": None,
            "pieces": 2,
            "bundles": None,
            "board_feet": 21.333,
            "square_feet": None,
            "price": 493,
            "per": "MBF",
            "extension": 10.52,
        }
    ]
}
CUT_ROWS: dict[str, Any] = {
    "rows": [
        {
            "material": "2x4-SPF-2",
            "layout": "2x4-SPF-2-1",
            "pattern": "2x4-SPF-2-A",
            "count": 2,
            "stock_length": 192,
            "stock_width": None,
            "source": "buy",
            "stop": 92.625,
            "length": 92.625,
            "width": None,
            "section": "Alder Cabin",
            "jig": "Wall table 1",
            "mark": "W1-STUD",
            "turned": "no",
        }
    ]
}
SHEET_CUT_ROWS: dict[str, Any] = {
    "rows": [
        {
            "material": "OSB-7/16",
            "layout": "OSB-7/16-1",
            "pattern": "OSB-7/16-P1",
            "count": 4,
            "cut": 1,
            "stage": 1,
            "direction": "rip",
            "piece": "sheet",
            "measure": 23.875,
            "from": "factory edge",
            "fence": 23.875,
            "yields": "strip A; waste",
            "marks": "",
        }
    ]
}
YIELD_ROWS: dict[str, Any] = {
    "rows": [
        {
            "material": "2x4-SPF-2",
            "input": 32,
            "parts": 30.875,
            "kerf": 0.041666,
            "trim": 0,
            "kept_drop": 0,
            "waste_drop": 1.083334,
            "scrap": 0,
            "yield_percent": 96.48,
            "waste_percent": 3.52,
            "cost_in": 10.52,
            "cost_waste": 0.37,
        }
    ]
}
RACK_ROWS: dict[str, Any] = {
    "rows": [
        {
            "material": "OSB-7/16",
            "kind": "sheet",
            "nominal": None,
            "length": 36.5,
            "width": 47.875,
            "price": 4.701695,
            "per": "each",
            "on_hand": 2,
            "limit": 0,
            "bundle": None,
            "lot": None,
            "edges": "both",
        }
    ]
}

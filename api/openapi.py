"""The description of the service at `/openapi.json`."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic.json_schema import models_json_schema

from api import examples
from api.curve_shapes import NewCurve
from api.shapes import (
    Check,
    CutRows,
    DayDocument,
    NewPlan,
    OrderRows,
    PlanDocument,
    Problem,
    RackRows,
    SheetCutRows,
    YieldRows,
)
from cutopt import __version__

__all__ = ["describe"]

#: Shapes that routes name by reference: bodies that they read themselves, files, problems.
_BY_REFERENCE = (
    Check,
    CutRows,
    DayDocument,
    NewCurve,
    NewPlan,
    OrderRows,
    PlanDocument,
    Problem,
    RackRows,
    SheetCutRows,
    YieldRows,
)
_TAGS = [
    {"name": "days", "description": "A day's cut lists, stock and rules."},
    {"name": "plans", "description": "Planning one day, or several together."},
    {"name": "results", "description": "What purchasing, the saw and the accountant read."},
    {"name": "curves", "description": "What fewer joints, set-ups or board lengths would cost."},
    {"name": "checks", "description": "Deriving a plan's promises again, from the days alone."},
    {"name": "state", "description": "Whether the service is well, and what its problems mean."},
]


def _put_examples(value: Any) -> None:
    """Replace `examples.NAME` by what it names: the framework drops every null from an example."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if key in ("example", "value") and isinstance(inner, str):
                module, _, name = inner.partition("examples.")
                value[key] = inner if module or not name else getattr(examples, name)
            else:
                _put_examples(inner)
    elif isinstance(value, list):
        for inner in value:
            _put_examples(inner)


def describe(app: FastAPI) -> dict[str, Any]:
    """The OpenAPI 3.1 document, made once."""
    if app.openapi_schema is None:
        document = get_openapi(
            title="cutopt",
            version=__version__,
            summary="What to buy and how to cut it, with proof of how good the plan is.",
            description="Post a day, start a plan, follow it, read its files. The service cuts to "
            "approved drawings: it chooses no size, grade, spacing, header or joint. Every error "
            "is a problem (RFC 9457) whose `type` is described at that address.",
            license_info={"name": "MIT", "identifier": "MIT"},
            tags=_TAGS,
            routes=app.routes,
        )
        _, schemas = models_json_schema(
            [(shape, "validation") for shape in _BY_REFERENCE],
            ref_template="#/components/schemas/{model}",
        )
        known = document["components"]["schemas"]
        for name, schema in schemas["$defs"].items():
            known.setdefault(name, schema)
        for unused in ("HTTPValidationError", "ValidationError"):
            known.pop(unused, None)
        _put_examples(document)
        document["servers"] = [{"url": "/", "description": "This service."}]
        app.openapi_schema = document
    return app.openapi_schema

"""The description of the service at `/openapi.json`."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic.json_schema import models_json_schema

from api import examples
from api.access.caller import needs_of, routes_of
from api.access_shapes import (
    ChosenPassword,
    NewPerson,
    NewStation,
    Pairing,
    PersonChange,
    PlantChange,
    SetUp,
    SignIn,
)
from api.curve_shapes import NewCurve
from api.routes.common import errors
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
    ChosenPassword,
    CutRows,
    DayDocument,
    NewCurve,
    NewPerson,
    NewPlan,
    NewStation,
    OrderRows,
    Pairing,
    PersonChange,
    PlanDocument,
    PlantChange,
    Problem,
    RackRows,
    SetUp,
    SheetCutRows,
    SignIn,
    YieldRows,
)
_TAGS = [
    {"name": "days", "description": "A day's cut lists, stock and rules."},
    {"name": "plans", "description": "Planning one day, or several together."},
    {"name": "results", "description": "What purchasing, the saw and the accountant read."},
    {"name": "curves", "description": "What fewer joints, set-ups or board lengths would cost."},
    {"name": "checks", "description": "Deriving a plan's promises again, from the days alone."},
    {"name": "access", "description": "Who may do what: sessions, people, stations, plants."},
    {"name": "state", "description": "Whether the service is well, and what its problems mean."},
]


_SCHEMES = {
    "key": {
        "type": "http",
        "scheme": "bearer",
        "description": "The key of a station or a program, as pairing told it.",
    },
    "session": {
        "type": "apiKey",
        "in": "cookie",
        "name": "__Host-cutopt",
        "description": "A person's session, as signing in set it (`cutopt` over http on this "
        "machine). Whatever changes something sends X-CSRF-Token too.",
    },
}
_SECURITY: list[dict[str, list[str]]] = [{"key": []}, {"session": []}]


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


def _tell_access(app: FastAPI, document: dict[str, Any]) -> None:
    """What each operation asks of its caller, and how it refuses."""
    refusals = errors("not-signed-in", "not-allowed", "too-many")
    for route in routes_of(app):
        for needed in needs_of(route):
            if needed is None:
                continue
            for method in route.methods:
                operation = document["paths"].get(route.path, {}).get(method.lower())
                if operation is None:
                    continue
                operation["security"] = _SECURITY
                operation["x-rights"] = [right.value for right in needed]
                for status in (401, 403, 429):
                    operation["responses"].setdefault(str(status), refusals[status])


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
        document["components"]["securitySchemes"] = _SCHEMES
        _tell_access(app, document)
        _put_examples(document)
        document["servers"] = [{"url": "/", "description": "This service."}]
        app.openapi_schema = document
    return app.openapi_schema

"""How plans and curves are described: both are started, listed, read, cancelled and removed alike.

Each function gives what a route's decorator takes. `kind` is "plan" or "curve": addresses,
operations, examples and words follow from it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fastapi import Query, Response

from api.access.caller import needs
from api.access.rights import Right
from api.routes.bodies import READING, posted
from api.routes.common import answers, example
from api.routes.exchange import IF_MATCH, changed, gone, tagged

__all__ = ["cancelling", "listing", "of_day", "reading", "removing", "starting"]


def starting(kind: str, links: Mapping[str, str]) -> dict[str, Any]:
    """`links` by name: operations that take the new one's id."""
    named = kind.capitalize()
    takes = {kind: "$response.body#/id"}
    return {
        "dependencies": [needs(Right.PLANS_START)],
        "operation_id": f"start{named}",
        "summary": f"Start a {kind}",
        "status_code": 202,
        "openapi_extra": {"requestBody": posted(f"New{named}", f"examples.NEW_{kind.upper()}")},
        "responses": changed(
            202,
            f"The {kind} is queued.",
            example(f"examples.{kind.upper()}_STARTED"),
            *READING,
            "busy",
            headers={"Location": {"description": f"The {kind}.", "schema": {"type": "string"}}},
            links={
                name: {"operationId": operation, "parameters": takes}
                for name, operation in links.items()
            },
        ),
    }


def listing(kind: str) -> dict[str, Any]:
    """A page of all."""
    return {
        "dependencies": [needs(Right.PLANS_READ)],
        "operation_id": f"list{kind.capitalize()}s",
        "summary": f"List {kind}s",
        "responses": answers(
            200,
            f"{kind.capitalize()}s, the newest first.",
            example(f"examples.{kind.upper()}_PAGE"),
        ),
    }


def of_day(kind: str) -> Any:
    """The parameter of a list that asks for those of one day."""
    return Query(max_length=64, description=f"Only {kind}s that use the day of this id.")


def reading(kind: str) -> dict[str, Any]:
    """One, with what came of it."""
    return {
        "dependencies": [needs(Right.PLANS_READ)],
        "operation_id": f"read{kind.capitalize()}",
        "summary": f"Read a {kind}",
        "responses": tagged(f"The {kind}.", example(f"examples.{kind.upper()}"), "not-found"),
    }


def removing(kind: str) -> dict[str, Any]:
    """One that has ended."""
    return {
        "dependencies": [needs(Right.PLANS_START)],
        "operation_id": f"remove{kind.capitalize()}",
        "summary": f"Remove a {kind}",
        "status_code": 204,
        "response_class": Response,
        "openapi_extra": {"parameters": [IF_MATCH]},
        "responses": gone(f"The {kind} is gone.", "not-found", "not-finished"),
    }


def cancelling(kind: str, kept: str) -> dict[str, Any]:
    """One that has not ended; `kept` is what it ends with."""
    return {
        "dependencies": [needs(Right.PLANS_START)],
        "operation_id": f"cancel{kind.capitalize()}",
        "summary": f"Cancel a {kind}",
        "status_code": 202,
        "responses": changed(
            202,
            f"The {kind} ends with {kept}; its status tells when.",
            example(f"examples.{kind.upper()}_CANCELLED"),
            "not-found",
            "finished",
            "changed-meanwhile",
        ),
    }

"""The description may not break what is in use, unless the version rises."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from api.client.__main__ import BASELINE, CALLS, described, kept, text_of
from api.client.gate import breaks, may_break
from api.client.generate import make

Document = dict[str, Any]
RENEW = "renew api/openapi.json and the client by: python -m api.client"


def test_nothing_in_use_is_broken() -> None:
    before, now = kept(), described()
    broken = breaks(before, now)
    told = "\n".join(broken)
    assert not broken or may_break(before, now), (
        f"The description breaks what is in use:\n{told}\n"
        f"Mend it, or raise the version in pyproject.toml and {RENEW}"
    )


def test_the_kept_description_is_in_its_form() -> None:
    assert BASELINE.read_text(encoding="utf-8") == text_of(kept())


def test_the_client_is_made_from_the_kept_description() -> None:
    assert CALLS.read_text(encoding="utf-8") == make(kept()), RENEW


SMALL: Document = {
    "info": {"version": "1.2.0"},
    "paths": {
        "/racks": {
            "get": {
                "operationId": "listRacks",
                "parameters": [
                    {"in": "query", "name": "limit", "schema": {"type": "integer", "maximum": 200}}
                ],
                "responses": {
                    "200": {
                        "headers": {"ETag": {}},
                        "content": {
                            "application/json": {"schema": {"$ref": "#/components/schemas/Rack"}}
                        },
                    }
                },
            },
            "post": {
                "operationId": "addRack",
                "requestBody": {
                    "content": {
                        "application/json": {"schema": {"$ref": "#/components/schemas/NewRack"}}
                    }
                },
                "responses": {"201": {"content": {}}, "409": {"content": {}}},
            },
        }
    },
    "components": {
        "schemas": {
            "Rack": {
                "type": "object",
                "required": ["name", "bays"],
                "properties": {
                    "name": {"type": "string"},
                    "note": {"type": "string"},
                    "bays": {"type": "array", "items": {"type": "integer"}},
                    "state": {"enum": ["free", "full"], "type": "string"},
                    "limit": {"anyOf": [{"type": "integer"}, {"type": "null"}]},
                },
            },
            "NewRack": {
                "type": "object",
                "additionalProperties": False,
                "required": ["name"],
                "properties": {
                    "name": {"type": "string", "maxLength": 80},
                    "side": {"type": "string", "enum": ["left", "right"]},
                    "width": {"type": "number"},
                },
            },
        }
    },
}


def get(document: Document) -> Document:
    return document["paths"]["/racks"]["get"]


def rack(document: Document) -> Document:
    return document["components"]["schemas"]["Rack"]


def new(document: Document) -> Document:
    return document["components"]["schemas"]["NewRack"]


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda d: d["paths"].clear(), "GET /racks: the operation is gone"),
        (lambda d: get(d).update(operationId="racks"), "its name listRacks is racks now"),
        (lambda d: get(d)["parameters"].clear(), "query.limit: the parameter is gone"),
        (lambda d: get(d)["parameters"][0].update(required=True), "query.limit: it must be given"),
        (lambda d: get(d)["parameters"][0]["schema"].update(maximum=50), "maximum 200 is 50 now"),
        (lambda d: get(d)["parameters"][0]["schema"].update(minimum=1), "minimum None is 1 now"),
        (lambda d: get(d)["responses"].pop("200"), "200: the answer is gone"),
        (lambda d: get(d)["responses"]["200"]["headers"].clear(), "the header ETag is gone"),
        (lambda d: get(d)["responses"]["200"]["content"].clear(), "application/json is not answer"),
        (
            lambda d: d["paths"]["/racks"]["post"]["requestBody"].update(required=1),
            "body: it mu",
        ),
        (lambda d: d["paths"]["/racks"]["post"]["responses"].pop("409"), "409: the answer is gone"),
        (lambda d: rack(d)["properties"].pop("note"), "200.note: the field is gone"),
        (lambda d: rack(d)["required"].remove("bays"), "200.bays: it may be absent now"),
        (lambda d: rack(d)["properties"]["name"].update(type="integer"), "string is integer now"),
        (
            lambda d: rack(d)["properties"]["bays"]["items"].update(type="string"),
            "200.bays[]: its type",
        ),
        (lambda d: rack(d)["properties"]["state"]["enum"].append("gone"), "are free|full|gone now"),
        (lambda d: rack(d)["properties"].update(name={"type": ["string", "null"]}), "200.name:"),
        (lambda d: new(d)["required"].append("width"), "body.width: it must be given now"),
        (lambda d: new(d)["properties"].pop("side"), "body.side: it is not taken now"),
        (lambda d: new(d)["properties"]["side"]["enum"].pop(), "body.side: its values left|right"),
        (lambda d: new(d)["properties"]["name"].update(maxLength=8), "maxLength 80 is 8 now"),
        (lambda d: new(d)["properties"]["name"].update(pattern="^A"), "pattern None is ^A now"),
        (lambda d: new(d)["properties"]["width"].update(type="integer"), "integer|number is integ"),
    ],
)
def test_what_is_gone_or_stricter_is_told(change: Callable[[Document], Any], told: str) -> None:
    after = copy.deepcopy(SMALL)
    change(after)
    found = breaks(SMALL, after)
    assert any(told in line for line in found), found


@pytest.mark.parametrize(
    "change",
    [
        lambda d: None,
        lambda d: d["paths"].update({"/bays": {}}),
        lambda d: get(d)["parameters"].append({"in": "query", "name": "x", "schema": {}}),
        lambda d: get(d)["parameters"][0]["schema"].update(maximum=500),
        lambda d: get(d)["responses"].update({"503": {}}),
        lambda d: rack(d)["properties"].update(more={"type": "string"}),
        lambda d: rack(d)["required"].append("note"),
        lambda d: rack(d)["properties"].update(limit={"type": "integer"}),
        lambda d: rack(d)["properties"]["state"]["enum"].pop(),
        lambda d: new(d)["properties"].update(more={"type": "string"}),
        lambda d: new(d)["properties"]["side"]["enum"].append("top"),
        lambda d: new(d)["required"].clear(),
        lambda d: new(d).pop("additionalProperties"),
        lambda d: new(d)["properties"].update(width={"anyOf": [{"type": "number"}, {}]}),
    ],
)
def test_what_grows_breaks_nothing(change: Callable[[Document], Any]) -> None:
    after = copy.deepcopy(SMALL)
    change(after)
    assert breaks(SMALL, after) == []


def test_lists_are_alike() -> None:
    """Every list has pages: `limit` and `after` in, `items` and `next` out; nothing else is one."""
    document = described()
    schemas = document["components"]["schemas"]
    lists = 0
    for path, item in document["paths"].items():
        operation = item.get("get")
        if operation is None:
            continue
        content = operation["responses"]["200"]["content"].get("application/json", {})
        schema = content.get("schema", {})
        assert schema.get("type") != "array", f"{path} answers a bare list"
        fields = schemas.get(schema.get("$ref", "").rpartition("/")[2], {}).get("properties", {})
        named = operation["operationId"].startswith("list")
        assert named == ("items" in fields), path
        if named:
            assert {"items", "next"} == set(fields), path
            names = {parameter["name"] for parameter in operation["parameters"]}
            assert {"limit", "after"} <= names, path
            lists += 1
    assert lists >= 4


@pytest.mark.parametrize(
    ("before", "after", "may"),
    [
        ("0.1.0", "0.1.9", False),
        ("0.1.0", "0.2.0", True),
        ("0.9.0", "1.0.0", True),
        ("1.2.0", "1.3.0", False),
        ("1.2.0", "2.0.0", True),
        ("1.2.0", "1.2.0", False),
    ],
)
def test_when_the_version_rose(before: str, after: str, may: bool) -> None:
    documents = ({"info": {"version": version}} for version in (before, after))
    assert may_break(*documents) is may

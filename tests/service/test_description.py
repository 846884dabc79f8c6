"""The description of the service: valid OpenAPI 3.1, with an example of everything that holds."""

from __future__ import annotations

import json
import warnings
from collections.abc import Iterator
from typing import Any

import jsonschema_rs
import pytest
from starlette.testclient import TestClient

from api import examples
from api.problems import MEDIA_TYPE
from tests.service.conftest import post_day, start_curve, wait_for
from tests.service.days import parts

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    # The OpenAPI Initiative's own schema of OpenAPI 3.1, as the fuzzer brings it.
    from schemathesis.specs.openapi.definitions import OPENAPI_31_VALIDATOR


@pytest.fixture
def description(client: TestClient) -> dict[str, Any]:
    return dict(client.get("/openapi.json").json())


def operations(description: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path, item in description["paths"].items():
        for method, operation in item.items():
            yield path, method, operation


def contents(description: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every body of every request and answer: where, its type, its content."""
    for path, method, operation in operations(description):
        bodies = {"request": operation.get("requestBody", {}), **operation["responses"]}
        for status, body in bodies.items():
            for kind, content in body.get("content", {}).items():
                yield f"{method} {path} {status}", kind, content


def examples_of(content: dict[str, Any]) -> list[Any]:
    if "example" in content:
        return [content["example"]]
    return [example["value"] for example in content.get("examples", {}).values()]


def validator(description: dict[str, Any], schema: dict[str, Any]) -> Any:
    whole = {**schema, "components": description["components"]}
    return jsonschema_rs.Draft202012Validator(whole, validate_formats=True)


def test_it_is_valid_openapi(description: dict[str, Any]) -> None:
    assert description["openapi"].startswith("3.1.")
    assert [str(error) for error in OPENAPI_31_VALIDATOR.iter_errors(description)] == []


def test_every_reference_leads_somewhere(description: dict[str, Any]) -> None:
    known = {f"#/components/schemas/{name}" for name in description["components"]["schemas"]}
    used = set()

    def walk(value: Any) -> None:
        if isinstance(value, dict):
            if isinstance(value.get("$ref"), str):
                used.add(value["$ref"])
            for inner in value.values():
                walk(inner)
        elif isinstance(value, list):
            for inner in value:
                walk(inner)

    walk(description)
    assert used <= known
    links = [
        link["operationId"]
        for _, _, operation in operations(description)
        for answer in operation["responses"].values()
        for link in answer.get("links", {}).values()
    ]
    names = [operation["operationId"] for _, _, operation in operations(description)]
    assert len(names) == len(set(names))
    assert set(links) <= set(names)


def test_every_operation_has_a_name_a_room_and_words(description: dict[str, Any]) -> None:
    rooms = {tag["name"] for tag in description["tags"]}
    for path, method, operation in operations(description):
        where = f"{method} {path}"
        assert operation["summary"], where
        assert operation["description"], where
        assert set(operation["tags"]) <= rooms, where
        assert {"422", "500", "503"} <= set(operation["responses"]), where


def test_every_error_is_described_as_a_problem(description: dict[str, Any]) -> None:
    for path, method, operation in operations(description):
        for status, answer in operation["responses"].items():
            if int(status) >= 400:
                assert list(answer["content"]) == [MEDIA_TYPE], f"{method} {path} {status}"


def test_every_body_has_an_example_that_holds(description: dict[str, Any]) -> None:
    count = 0
    for where, kind, content in contents(description):
        found = examples_of(content)
        assert found, f"{where} {kind} has no example"
        for example in found:
            errors = validator(description, content.get("schema", {})).iter_errors(example)
            assert [str(error) for error in errors] == [], where
            count += 1
    assert count > 100


def test_every_parameter_has_words_and_examples_that_hold(description: dict[str, Any]) -> None:
    for path, method, operation in operations(description):
        for parameter in operation.get("parameters", []):
            where = f"{method} {path} {parameter['name']}"
            schema = parameter["schema"]
            assert parameter.get("description") or schema.get("description"), where
            for example in schema.get("examples", []):
                assert validator(description, schema).is_valid(example), where


def test_the_example_day_is_one(client: TestClient) -> None:
    answer = client.post("/days", json=examples.DAY_DOCUMENT)
    assert answer.status_code == 201
    changing = {"id", "created", "digest"}
    assert {k: v for k, v in answer.json().items() if k not in changing} == {
        k: v for k, v in examples.DAY.items() if k not in changing
    }


def test_what_really_comes_holds(planned: tuple[TestClient, str]) -> None:
    """Every GET of a service with a day and a plan in it, against its own description."""
    client, plan = planned
    description = client.get("/openapi.json").json()
    day = client.get(f"/plans/{plan}").json()["days"][0]
    curve = start_curve(client, day)
    wait_for(client, curve, at="/curves")
    post_day(client)
    person = client.post("/people", json={"name": "Ivo Lath", "role": "planner"}).json()
    person = person["person"]["id"]
    station = client.post("/stations", json={"name": "Saw 1"}).json()["id"]
    plant = client.get("/session").json()["plant"]
    for path, method, operation in operations(description):
        if method != "get" or path.endswith("/events") or path == "/metrics":
            continue
        address = path.format(
            day=day,
            plan=plan,
            curve=curve,
            name="in-use",
            person=person,
            station=station,
            plant=plant,
        )
        for kind, content in operation["responses"]["200"]["content"].items():
            answer = client.get(address, headers={"Accept": kind})
            assert answer.status_code == 200, address
            assert answer.headers["content-type"].split(";")[0] == kind, address
            value = answer.json() if kind == "application/json" else answer.text
            errors = validator(description, content["schema"]).iter_errors(value)
            assert [str(error) for error in errors] == [], address


def test_refused_days_hold_too(client: TestClient) -> None:
    description = client.get("/openapi.json").json()
    answer = client.post("/days", files=parts({"day.toml": b"plant = 3\nkerrf = 1\n"}))
    assert answer.status_code == 422
    problem = description["components"]["schemas"]["Problem"]
    assert validator(description, problem).is_valid(json.loads(answer.text))

"""Curves over HTTP: started, followed to their end, cancelled, read; old databases as they were."""

from __future__ import annotations

import csv
import io
import xml.etree.ElementTree as ET
from collections.abc import Callable
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.settings import Settings
from tests.service.conftest import post_day, start_curve, start_plan, wait_for
from tests.service.days import small_document
from tests.service.exchange import ANY


def jointed_document() -> dict[str, Any]:
    """A small day with a run that may be jointed every 16 in."""
    document = small_document()
    run = {
        "file": "walls",
        "section": "Alder Cabin",
        "jig": "Wall table 1",
        "mark": "W1-TOP",
        "material": "2x4-SPF-2",
        "length": "400",
        "qty": 2,
        "rule": "jointed",
        "joint_first": "48",
        "joint_step": "16",
    }
    return {**document, "cuts": [*document["cuts"], run]}


@pytest.fixture
def planning(settings: Settings, client_of: Callable[[Settings], TestClient]) -> TestClient:
    """A client of a service that plans."""
    return client_of(Settings(database=settings.database, workers=1))


def test_a_curve_is_queued_and_told_where_it_is(client: TestClient) -> None:
    day = post_day(client)
    answer = client.post("/curves", json={"days": [day], "of": "setups", "seconds": 5, "seed": 7})
    assert answer.status_code == 202
    view = answer.json()
    assert answer.headers["location"] == f"/curves/{view['id']}"
    assert client.get(answer.headers["location"]).json() == view
    assert (view["status"], view["of"], view["seconds"], view["seed"]) == ("queued", "setups", 5, 7)
    assert (view["curves"], view["files"]) == (None, {})
    for name in ("points", "drawing"):
        assert client.get(f"/curves/{view['id']}/{name}").json()["type"] == "/problems/not-finished"


@pytest.mark.parametrize(
    ("more", "place"),
    [
        ({"of": "cost"}, "body.of"),
        ({}, "body.of"),
        ({"of": "joints", "days": []}, "body.days"),
        ({"of": "joints", "days": ["x"]}, "body.days[0]"),
        ({"of": "joints", "seconds": 0}, "body.seconds"),
        ({"of": "joints", "scheduler": "x"}, "body.scheduler"),
    ],
)
def test_a_wrong_wish_is_told(client: TestClient, more: dict[str, Any], place: str) -> None:
    answer = client.post("/curves", json={"days": [post_day(client)], **more})
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["place"] == place


def test_plans_and_curves_are_told_apart(client: TestClient) -> None:
    day = post_day(client)
    plan, curve = start_plan(client, day), start_curve(client, day)
    assert [p["id"] for p in client.get("/plans").json()["items"]] == [plan]
    assert [c["id"] for c in client.get("/curves").json()["items"]] == [curve]
    assert [c["id"] for c in client.get("/curves", params={"day": day}).json()["items"]] == [curve]
    assert client.get("/curves", params={"day": "0" * 32}).json()["items"] == []
    for path in (f"/plans/{curve}", f"/curves/{plan}", f"/curves/{'0' * 32}", "/curves/x"):
        assert client.get(path).status_code == 404
    assert client.post(f"/curves/{plan}/cancel").status_code == 404
    assert client.delete(f"/plans/{curve}", headers=ANY).status_code == 404
    assert client.get(f"/plans/{curve}/events").status_code == 404


def test_a_curve_is_cancelled_and_removed(client: TestClient) -> None:
    day = post_day(client)
    curve = start_curve(client, day)
    assert client.delete(f"/curves/{curve}", headers=ANY).json()["type"] == "/problems/not-finished"
    assert client.delete(f"/days/{day}", headers=ANY).json()["type"] == "/problems/in-use"
    assert client.post(f"/curves/{curve}/cancel").json()["status"] == "stopped"
    assert client.get(f"/curves/{curve}/points").json()["type"] == "/problems/no-result"
    assert client.delete(f"/curves/{curve}", headers=ANY).status_code == 204
    assert client.get(f"/curves/{curve}").status_code == 404
    assert client.delete(f"/days/{day}", headers=ANY).status_code == 204


def test_where_nothing_is_jointed_it_says_so(planning: TestClient) -> None:
    curve = start_curve(planning, post_day(planning))
    view = wait_for(planning, curve, at="/curves")
    assert (view["status"], view["outcome"]) == ("done", "planned")
    (found,) = view["curves"]
    assert found["points"] == []
    assert "no jointed runs" in found["note"]
    assert planning.get(view["files"]["curve.csv"]).text.count("\n") == 1
    assert "no jointed runs" in planning.get(view["files"]["curve.svg"]).text
    page = planning.get("/pages/plans").text
    assert f'href="/curves/{curve}/drawing"' in page
    assert planning.post(f"/curves/{curve}/cancel").json()["type"] == "/problems/finished"


@pytest.mark.parametrize("of", ["joints", "setups"])
def test_the_points_come_as_json_csv_and_svg(planning: TestClient, of: str) -> None:
    curve = start_curve(planning, post_day(planning, jointed_document()), of=of)
    view = wait_for(planning, curve, at="/curves")
    assert view["status"] == "done", view
    # The day has lumber and a sheet material; joints have lumber alone.
    assert len(view["curves"]) == (2 if of == "setups" else 1)
    assert all(found["points"] for found in view["curves"])
    assert all(any(p["choice"] for p in found["points"]) for found in view["curves"])
    answer = planning.get(view["files"]["curve.csv"], headers={"Accept": "text/csv"})
    assert answer.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    assert [(r["setting"], int(r["joints"]), int(r["setups"])) for r in rows] == [
        (p["setting"], p["joints"], p["setups"]) for c in view["curves"] for p in c["points"]
    ]
    drawing = planning.get(view["files"]["curve.svg"])
    assert drawing.headers["content-type"].startswith("image/svg+xml")
    assert "default-src 'none'" in drawing.headers["content-security-policy"]
    assert ET.fromstring(drawing.text).tag == "{http://www.w3.org/2000/svg}svg"
    wrong = planning.get(view["files"]["curve.svg"], headers={"Accept": "text/csv"})
    assert wrong.json()["type"] == "/problems/not-acceptable"

"""The first page tells what there is, and nothing that it is told runs in it."""

from __future__ import annotations

from starlette.testclient import TestClient

from tests.service.conftest import post_day, start_plan
from tests.service.days import small_document


def test_an_empty_service_says_what_to_do(client: TestClient) -> None:
    answer = client.get("/")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert "No plan yet" in answer.text
    assert "No day yet" in answer.text
    assert "refresh" not in answer.text


def test_plans_and_days_are_linked(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    text = client.get("/").text
    assert "Hask Lake Section Works" in text
    for path in ("report", "stock-order", "cut-list", "yield"):
        assert f'href="/plans/{plan}/{path}"' in text


def test_it_comes_anew_while_a_plan_is_under_way(client: TestClient) -> None:
    plan = start_plan(client, post_day(client))
    assert 'http-equiv="refresh"' in client.get("/").text
    client.post(f"/plans/{plan}/cancel")
    assert 'http-equiv="refresh"' not in client.get("/").text


def test_names_are_shown_as_they_are(client: TestClient) -> None:
    document = small_document()
    document["day"] = {**document["day"], "plant": "<script>alert(1)</script>"}
    client.post("/days", params={"name": '"><b>'}, json=document)
    answer = client.get("/")
    assert "<script" not in answer.text
    assert "<b>" not in answer.text
    assert "&lt;script&gt;" in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_a_curve_says_what_cost_is_set_against(client: TestClient) -> None:
    day = post_day(client)
    for of, words in (("joints", "joints"), ("setups", "set-ups"), ("lengths", "board lengths")):
        assert client.post("/curves", json={"days": [day], "of": of}).status_code == 202
        assert f"<td>{words}</td>" in client.get("/").text

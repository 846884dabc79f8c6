"""Plans over HTTP: started, followed to their end, cancelled, read in every form."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
import simplejson
from starlette.testclient import TestClient

from api.settings import Settings
from cutopt.cutlist import read_raw_days
from cutopt.files import outputs, raw_day_from_files
from cutopt.plan import Problem
from cutopt.solve import Settings as SolveSettings
from cutopt.solve import solve
from tests.service.conftest import post_day, start_plan, wait_for
from tests.service.days import (
    STOCK,
    demo_files,
    parts,
    second_document,
    small_document,
    small_files,
    table,
)
from tests.service.exchange import ANY

JSON = {"Content-Type": "application/json"}
TABLES = ("stock_order.csv", "cut_list.csv", "cuts.csv", "yield.csv", "rack.csv")
FILES = {
    "plan.json": "plan.json",
    "stock_order.csv": "stock-order",
    "cut_list.csv": "cut-list",
    "cuts.csv": "cuts",
    "yield.csv": "yield",
    "rack.csv": "rack",
    "report.html": "report",
}


def timeless(content: bytes) -> bytes:
    """A file without its seconds: the only thing in which two runs may differ."""
    content = re.sub(rb'("seconds": )[0-9.eE+-]+', rb"\1 0", content)
    return re.sub(rb"[0-9.]+ s\b", b"0 s", content)


def test_a_plan_is_queued_and_told_where_it_is(client: TestClient) -> None:
    day = post_day(client)
    answer = client.post("/plans", json={"days": [day], "seconds": 5, "seed": 7})
    assert answer.status_code == 202
    view = answer.json()
    assert answer.headers["location"] == f"/plans/{view['id']}"
    assert client.get(answer.headers["location"]).json() == view
    assert (view["status"], view["days"], view["seconds"], view["seed"]) == ("queued", [day], 5, 7)
    assert view["materials"] is None
    assert view["files"] == {}


@pytest.mark.parametrize(
    ("body", "place"),
    [
        ({}, "body.days"),
        ({"days": []}, "body.days"),
        ({"days": "x"}, "body.days"),
        ({"days": ["x"]}, "body.days[0]"),
        ({"days": ["x"] * 32}, "body.days"),
        ({"days": ["x"], "seconds": 0}, "body.seconds"),
        ({"days": ["x"], "seconds": 3601}, "body.seconds"),
        ({"days": ["x"], "seconds": "60"}, "body.seconds"),
        ({"days": ["x"], "seed": -1}, "body.seed"),
        ({"days": ["x"], "seed": 2**31}, "body.seed"),
        ({"days": ["x"], "seed": 1.5}, "body.seed"),
        ({"days": ["x"], "sead": 1}, "body.sead"),
        ([], "body"),
        (None, "body"),
    ],
)
def test_what_cannot_be_planned_is_refused(client: TestClient, body: Any, place: str) -> None:
    answer = client.post("/plans", content=json.dumps(body), headers=JSON)
    assert answer.status_code == 422
    assert answer.json()["type"] == "/problems/request-invalid"
    assert place in [fault["place"] for fault in answer.json()["faults"]]


def test_days_that_do_not_go_together_are_refused_at_once(client: TestClient) -> None:
    first = post_day(client)
    later = small_document(stock=[*STOCK, {**STOCK[0], "length": 240}])
    second = post_day(client, {**later, "day": {**later["day"], "date": "2026-03-03"}})
    answer = client.post("/plans", json={"days": [first, second]})
    assert (answer.status_code, answer.json()["type"]) == (422, "/problems/input-refused")
    assert "first day's stock does not" in answer.json()["faults"][0]["text"]


def test_a_full_queue_says_when_to_come_back(
    settings: Settings, client_of: Callable[[Settings], TestClient]
) -> None:
    client = client_of(Settings(database=settings.database, plans_at_once=0, most_waiting=2))
    day = post_day(client)
    for _ in range(2):
        start_plan(client, day)
    answer = client.post("/plans", json={"days": [day]})
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/busy")
    assert int(answer.headers["retry-after"]) > 0


def test_a_queued_plan_is_cancelled_at_once(client: TestClient) -> None:
    plan = start_plan(client, post_day(client))
    for _ in range(2):
        answer = client.post(f"/plans/{plan}/cancel")
        assert (answer.status_code, answer.json()["status"]) == (202, "stopped")
    answer = client.get(f"/plans/{plan}/plan.json")
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/no-result")


def test_plans_are_listed_by_day(client: TestClient) -> None:
    first, second = post_day(client), post_day(client)
    plans = [start_plan(client, first), start_plan(client, second), start_plan(client, first)]
    listed = client.get("/plans", params={"day": first, "limit": 1}).json()
    assert [plan["id"] for plan in listed["items"]] == [plans[2]]
    listed = client.get(listed["next"]).json()
    assert [plan["id"] for plan in listed["items"]] == [plans[0]]
    assert listed["next"] is None
    assert client.get("/plans", params={"day": "none"}).json()["items"] == []


def test_a_result_is_not_there_before_the_plan_has_ended(client: TestClient) -> None:
    plan = start_plan(client, post_day(client))
    for path in FILES.values():
        answer = client.get(f"/plans/{plan}/{path}")
        assert (answer.status_code, answer.json()["type"]) == (409, "/problems/not-finished")
    answer = client.delete(f"/plans/{plan}", headers=ANY)
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/not-finished")


def test_a_plan_tells_what_came_of_it(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    view = client.get(f"/plans/{plan}").json()
    assert (view["status"], view["outcome"], view["failure"]) == ("done", "planned", None)
    assert view["created"] <= view["started"] <= view["ended"]
    assert view["files"] == {name: f"/plans/{plan}/{path}" for name, path in FILES.items()}
    assert [m["material"] for m in view["materials"]] == ["2x4-SPF-2", "OSB-7/16"]
    assert [m["pieces"] for m in view["materials"]] == [28, 9]
    assert all(step["done"] for step in view["progress"])
    for material in view["materials"]:
        assert 0 < material["bound"] <= material["objective"]
        assert material["unplanned"] == []
    assert view["bound"] <= view["objective"]
    answer = client.post(f"/plans/{plan}/cancel")
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/finished")


def test_the_service_gives_what_the_library_gives(planned: tuple[TestClient, str]) -> None:
    """To the byte, but for the seconds; the example of every output."""
    client, plan = planned
    problem = Problem(read_raw_days([raw_day_from_files("2026-03-02", small_files())]).days)
    wanted = outputs(problem, solve(problem, SolveSettings(seed=1, workers=1)))
    assert set(wanted) == set(FILES)
    for name, path in FILES.items():
        answer = client.get(f"/plans/{plan}/{path}")
        assert answer.status_code == 200
        assert timeless(answer.content) == timeless(wanted[name]), name


@pytest.mark.parametrize("path", ["stock-order", "cut-list", "yield"])
def test_tables_come_as_csv_or_json(planned: tuple[TestClient, str], path: str) -> None:
    client, plan = planned
    plain = client.get(f"/plans/{plan}/{path}")
    assert plain.headers["content-type"] == "text/csv; charset=utf-8"
    lines = list(csv.DictReader(io.StringIO(plain.text)))
    for accept in ("application/json", "text/html;q=0.5, application/json", "text/*;q=0, */*"):
        answer = client.get(f"/plans/{plan}/{path}", headers={"Accept": accept})
        assert answer.headers["content-type"] == "application/json", accept
        assert answer.headers["vary"] == "Accept"
        rows = simplejson.loads(answer.content, use_decimal=True)["rows"]
        assert len(rows) == len(lines) > 0
        for row, line in zip(rows, lines, strict=True):
            assert list(row) == list(line)
            for column, text in line.items():
                value = row[column]
                shown = (
                    "" if value is None else f"{value:f}" if isinstance(value, Decimal) else value
                )
                assert str(shown) == text, column
    for accept in ("*/*", "text/csv", "text/*", "text/csv, application/json;q=0.9", ""):
        answer = client.get(f"/plans/{plan}/{path}", headers={"Accept": accept})
        assert answer.headers["content-type"].startswith("text/csv"), accept
    answer = client.get(f"/plans/{plan}/{path}", headers={"Accept": "image/png"})
    assert (answer.status_code, answer.json()["type"]) == (406, "/problems/not-acceptable")


def test_the_report_is_a_page_that_may_fetch_nothing(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    answer = client.get(f"/plans/{plan}/report")
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "<script" not in answer.text.lower()


def test_a_plan_can_be_checked_as_the_command_does(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    day = client.get(f"/plans/{plan}").json()["days"][0]
    text = client.get(f"/plans/{plan}/plan.json").text
    body = f'{{"days": ["{day}"], "plan": {text}}}'
    answer = client.post("/check", content=body, headers=JSON)
    assert answer.json() == {"checks": True, "faults": []}
    document = json.loads(text)
    document["materials"][0]["layouts"][0]["count"] += 1
    answer = client.post("/check", json={"days": [day], "plan": document})
    assert answer.status_code == 200
    assert answer.json()["checks"] is False
    assert answer.json()["faults"]
    tables = {name: client.get(f"/plans/{plan}/{FILES[name]}").text for name in TABLES}
    right = {"days": [day], "plan": json.loads(text), "tables": tables}
    assert client.post("/check", json=right).json()["checks"] is True
    tables["yield.csv"] = tables["yield.csv"].replace("2x4-SPF-2", "2x4-SPF-3")
    assert client.post("/check", json=right).json()["checks"] is False
    tables["yield.csv"] = '"' + "x" * 200_000
    answer = client.post("/check", json=right)
    assert answer.json()["faults"][0]["place"] == "body.tables.yield.csv"
    answer = client.post("/check", json={"days": ["x"], "plan": document})
    assert (answer.status_code, answer.json()["faults"][0]["place"]) == (422, "body.days[0]")
    for other in ([], 1, None, "plan"):
        answer = client.post("/check", json={"days": [day], "plan": other})
        assert answer.status_code == 422
    answer = client.post("/check", json={"days": [day], "plan": {}})
    assert (answer.status_code, answer.json()["checks"]) == (200, False)


def test_two_days_are_planned_together(planned: tuple[TestClient, str]) -> None:
    client, _ = planned
    first = post_day(client)
    second = client.post("/days", params={"first": first}, json=second_document()).json()["id"]
    plan = start_plan(client, first, second)
    view = wait_for(client, plan)
    assert (view["status"], view["days"]) == ("done", [first, second]), view
    assert [m["pieces"] for m in view["materials"]] == [28 + 9, 9 + 6]
    sections = {
        row["section"]
        for row in client.get(
            f"/plans/{plan}/cut-list", headers={"Accept": "application/json"}
        ).json()["rows"]
    }
    assert sections == {"Alder Cabin", "Birch Cabin", "Cedar Cabin"}


def test_what_cannot_be_cut_is_named_and_the_rest_is_planned(
    planned: tuple[TestClient, str],
) -> None:
    """One stick can be bought, two parts need one each: one part is left over (exit code 3)."""
    client, _ = planned
    stock = [{**STOCK[0], "on_hand": 1, "limit": 0}]
    row = {
        "section": "Alder Cabin",
        "jig": "Wall table 1",
        "mark": "W1-STUD",
        "material": "2x4-SPF-2",
        "length": 90,
        "qty": 2,
    }
    files = small_files(stock=table(stock), walls=table([row]))
    day = client.post("/days", files=parts(files)).json()["id"]
    view = wait_for(client, start_plan(client, day))
    assert (view["status"], view["outcome"]) == ("done", "not-cuttable"), view
    (unplanned,) = view["materials"][0]["unplanned"]
    assert (unplanned["mark"], unplanned["qty"], unplanned["length"]) == ("W1-STUD", 1, '90"')
    assert unplanned["reason"]
    assert client.get(f"/plans/{view['id']}/plan.json").status_code == 200


def test_a_running_plan_is_cancelled_and_keeps_its_best(planned: tuple[TestClient, str]) -> None:
    client, _ = planned
    day = client.post("/days", files=parts(demo_files())).json()["id"]
    plan = start_plan(client, day, seconds=600)
    wait_for(client, plan, "running")
    while not client.get(f"/plans/{plan}").json()["progress"]:
        pass
    answer = client.post(f"/plans/{plan}/cancel")
    assert (answer.status_code, answer.json()["cancel_asked"]) == (202, True)
    view = wait_for(client, plan, seconds=60)
    assert view["status"] in ("stopped", "done"), view  # done where it was quicker
    assert view["materials"]
    assert client.get(f"/plans/{plan}/plan.json").status_code == 200
    assert view["status"] == "stopped" or all(m["stop"] != "interrupted" for m in view["materials"])


def test_a_plan_is_removed_with_its_files(planned: tuple[TestClient, str]) -> None:
    client, _ = planned
    plan = start_plan(client, post_day(client))
    wait_for(client, plan)
    assert client.delete(f"/plans/{plan}", headers=ANY).status_code == 204
    for path in ("", "/plan.json", "/events"):
        answer = client.get(f"/plans/{plan}{path}")
        assert (answer.status_code, answer.json()["type"]) == (404, "/problems/not-found")

"""Days over HTTP: files, a workbook or a document; what is wrong with them."""

from __future__ import annotations

import io
import json
from typing import Any

import openpyxl
import pytest
from starlette.testclient import TestClient

from cutopt.cutlist import raw_day_from_json, read_raw_days
from cutopt.files import raw_day_from_files
from tests.service.conftest import post_day, start_plan
from tests.service.days import (
    CUTS,
    STOCK,
    demo_files,
    parts,
    second_document,
    small_document,
    small_files,
)
from tests.service.exchange import ANY

JSON = {"Content-Type": "application/json"}


def test_a_day_is_posted_as_files(client: TestClient) -> None:
    answer = client.post("/days", files=parts(small_files()))
    assert answer.status_code == 201
    day = answer.json()
    assert answer.headers["location"] == f"/days/{day['id']}"
    assert client.get(answer.headers["location"]).json() == day
    assert day["name"] == "2026-03-02"
    assert day["sections"] == ["Alder Cabin", "Birch Cabin"]
    assert day["materials"] == ["2x4-SPF-2", "OSB-7/16"]
    assert (day["rows"], day["pieces"], day["unit"]) == (5, 37, "in")


def test_files_and_document_make_the_same_day(client: TestClient) -> None:
    """But for the places that rows are told by, which name files here and lists there."""
    posted = client.post("/days", files=parts(small_files())).json()
    document = client.post("/days", json=small_document()).json()
    kept_apart = {"id", "created", "files", "digest"}
    assert {k: v for k, v in posted.items() if k not in kept_apart} == {
        k: v for k, v in document.items() if k not in kept_apart
    }
    (from_files,) = read_raw_days([raw_day_from_files("d", small_files())]).days
    (from_document,) = read_raw_days([raw_day_from_json("d", small_document())]).days
    assert from_files.offers == from_document.offers
    assert from_files.rules == from_document.rules
    assert [(p.mark, p.length, p.width, p.qty) for p in from_files.parts] == [
        (p.mark, p.length, p.width, p.qty) for p in from_document.parts
    ]


def test_a_folder_before_all_names_gives_the_day_its_name(client: TestClient) -> None:
    files = {f"monday/{name}": content for name, content in small_files().items()}
    assert client.post("/days", files=parts(files)).json()["name"] == "monday"


def test_a_csv_without_its_folder_is_a_cut_list(client: TestClient) -> None:
    """Clients that send the last name of a file only lose `cuts/`."""
    files = {name.removeprefix("cuts/"): content for name, content in small_files().items()}
    answer = client.post("/days", files=parts(files))
    assert answer.status_code == 201
    assert answer.json()["files"] == ["cuts/walls.csv", "day.toml", "stock.csv"]


def test_a_day_is_posted_as_a_workbook(client: TestClient) -> None:
    book = openpyxl.Workbook()
    del book["Sheet"]
    for title, rows in (("stock", STOCK), ("cuts", CUTS)):
        sheet = book.create_sheet(title)
        sheet.append(list(rows[0]))
        for row in rows:
            sheet.append(list(row.values()))
    content = io.BytesIO()
    book.save(content)
    files = {"monday.xlsx": content.getvalue(), "day.toml": small_files()["day.toml"]}
    answer = client.post("/days", files=parts(files))
    assert answer.status_code == 201, answer.text
    assert (answer.json()["name"], answer.json()["pieces"]) == ("monday", 37)


@pytest.mark.parametrize("form", ["files", "document"])
def test_a_day_can_be_named(client: TestClient, form: str) -> None:
    body: dict[str, Any] = (
        {"files": parts(small_files())} if form == "files" else {"json": small_document()}
    )
    answer = client.post("/days", params={"name": "Montag früh"}, **body)
    assert answer.json()["name"] == "Montag früh"


def test_every_fault_is_told_at_once(client: TestClient) -> None:
    walls = small_files()["cuts/walls.csv"].replace(b"2x4-SPF-2", b"2x4-SFP-2", 1)
    walls = walls.replace(b"14-1/2", b"fourteen")
    stock = small_files()["stock.csv"].replace(b"lumber", b"lumbr", 1)
    answer = client.post("/days", files=parts(small_files(walls=walls, stock=stock)))
    assert answer.status_code == 422
    problem = answer.json()
    assert problem["type"] == "/problems/input-refused"
    told = {(fault["file"], fault["row"], fault["column"]) for fault in problem["faults"]}
    assert {
        ("cuts/walls.csv", 2, "material"),
        ("cuts/walls.csv", 3, "length"),
        ("stock.csv", 2, "kind"),
    } <= told
    fault = next(f for f in problem["faults"] if f["column"] == "material")
    assert "2x4-SPF-2" in fault["right"]
    assert fault["text"].startswith("cuts/walls.csv:2:material: ")
    assert client.get("/days").json()["items"] == []


def test_a_document_that_holds_something_else_is_refused(client: TestClient) -> None:
    for document in ({}, [], "day", 3, None, {"day": 1, "stock": 2, "cuts": 3, "more": 4}):
        answer = client.post("/days", content=json.dumps(document), headers=JSON)
        assert answer.status_code == 422, document
        assert answer.json()["faults"]


@pytest.mark.parametrize(
    "name", ["../day.toml", "/day.toml", "a/../day.toml", "cuts//walls.csv", "cuts/\x07.csv"]
)
def test_names_outside_the_folder_are_refused(client: TestClient, name: str) -> None:
    head = f'Content-Disposition: form-data; name="files"; filename="{name}"'
    body = f"--b\r\n{head}\r\n\r\nx\r\n--b--\r\n"
    answer = client.post(
        "/days",
        content=body.encode(),
        headers={"Content-Type": "multipart/form-data; boundary=b"},
    )
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["place"] == "body.files"


def test_other_parts_are_refused(client: TestClient) -> None:
    answer = client.post("/days", data={"name": "monday"}, files=parts(small_files()))
    assert answer.status_code == 422
    assert answer.json()["faults"][0]["place"] == "body.name"
    answer = client.post("/days", files=[("file", ("day.toml", b""))])
    assert answer.status_code == 422
    double = parts(small_files()) + parts({"day.toml": b""})
    assert client.post("/days", files=double).json()["faults"][0]["wrong"] == "sent twice"


def test_days_are_listed_the_newest_first_in_pages(client: TestClient) -> None:
    ids = [post_day(client) for _ in range(5)]
    seen = []
    address: str | None = "/days?limit=2"
    while address is not None:
        page = client.get(address).json()
        assert len(page["items"]) <= 2
        seen += [day["id"] for day in page["items"]]
        address = page["next"]
    assert seen == ids[::-1]


def test_a_day_is_removed_unless_a_plan_uses_it(client: TestClient) -> None:
    day = post_day(client)
    plan = start_plan(client, day)
    answer = client.delete(f"/days/{day}", headers=ANY)
    assert (answer.status_code, answer.json()["type"]) == (409, "/problems/in-use")
    client.post(f"/plans/{plan}/cancel")
    client.delete(f"/plans/{plan}", headers=ANY)
    answer = client.delete(f"/days/{day}", headers=ANY)
    assert (answer.status_code, answer.content) == (204, b"")
    assert client.get(f"/days/{day}").status_code == 404


def test_a_later_day_may_leave_its_stock_to_the_first(client: TestClient) -> None:
    alone = client.post("/days", json=second_document())
    assert alone.status_code == 422
    assert "stock" in alone.json()["faults"][0]["text"]
    first = post_day(client)
    later = client.post("/days", params={"first": first}, json=second_document())
    assert later.status_code == 201, later.text
    assert (later.json()["date"], later.json()["pieces"]) == ("2026-03-03", 15)
    start_plan(client, first, later.json()["id"])
    for days in ([later.json()["id"]], [later.json()["id"], first]):
        answer = client.post("/plans", json={"days": days})
        assert (answer.status_code, answer.json()["type"]) == (422, "/problems/input-refused")
    answer = client.post("/days", params={"first": "monday"}, json=second_document())
    assert (answer.status_code, answer.json()["faults"][0]["place"]) == (422, "query.first")


def test_the_demo_days_are_taken(client: TestClient) -> None:
    answer = client.post("/days", files=parts(demo_files()))
    assert answer.status_code == 201, answer.text
    assert answer.json()["pieces"] > 3000

"""Small bodies that would grow large or take long: answered at once, and never with a 500."""

from __future__ import annotations

import io
import json
import re
import time
import zipfile
from collections.abc import Iterator
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.service.conftest import post_day
from tests.service.days import parts, small_document, small_files

JSON = {"Content-Type": "application/json"}
WITHIN = 5.0

#: Numbers whose exact value would fill the memory, were it written out.
NUMBERS = ("1e999999999", "-1E+99999999", "1e-999999999", "0.1e999999999", "9" * 4000)


@pytest.fixture(autouse=True)
def soon() -> Iterator[None]:
    began = time.monotonic()
    yield
    assert time.monotonic() - began < WITHIN


@pytest.mark.parametrize("number", NUMBERS, ids=lambda text: text[:12])
@pytest.mark.parametrize(
    "at", ["length", "qty", "width", "joint_step", "price", "on_hand", "nominal", "kerf", "date"]
)
def test_large_numbers_in_a_day(client: TestClient, at: str, number: str) -> None:
    day = small_document()
    stock = [{**day["stock"][0]}]
    cut = {**day["cuts"][0], "rule": "jointed"}
    config: dict[str, Any] = {**day["day"], "lumber": {}}
    if at in ("price", "on_hand", "nominal"):
        stock[0][at] = "BOMB"
    elif at == "kerf":
        config["lumber"][at] = "BOMB"
    elif at == "date":
        config[at] = "BOMB"
    else:
        cut[at] = "BOMB"
    text = json.dumps({"day": config, "stock": stock, "cuts": [cut]}).replace('"BOMB"', number)
    answer = client.post("/days", content=text, headers=JSON)
    assert answer.status_code in (400, 422), answer.text


@pytest.mark.parametrize("number", NUMBERS, ids=lambda text: text[:12])
@pytest.mark.parametrize("at", ["count", "cost", "bound", "kerf", "x", "length", "row", "qty"])
def test_large_numbers_in_a_plan(planned: tuple[TestClient, str], at: str, number: str) -> None:
    client, plan = planned
    day = client.get(f"/plans/{plan}").json()["days"][0]
    text = client.get(f"/plans/{plan}/plan.json").text
    bomb = re.sub(rf'"{at}": [0-9.]+', f'"{at}": {number}', text, count=1)
    assert bomb != text or at == "qty"
    body = f'{{"days": ["{day}"], "plan": {bomb}}}'
    answer = client.post("/check", content=body, headers=JSON)
    assert answer.status_code in (200, 400), answer.text
    if answer.status_code == 200 and bomb != text:
        assert answer.json()["checks"] is False


def test_large_numbers_in_a_table(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    day = client.get(f"/plans/{plan}").json()["days"][0]
    document = client.get(f"/plans/{plan}/plan.json").json()
    for path, name in (("yield", "yield.csv"), ("stock-order", "stock_order.csv")):
        head, first, *rest = client.get(f"/plans/{plan}/{path}").text.splitlines()
        for column in range(1, first.count(",") + 1):
            cells = first.split(",")
            cells[column] = "1e999999999"
            text = "\n".join([head, ",".join(cells), *rest])
            body = {"days": [day], "plan": document, "tables": {name: text}}
            answer = client.post("/check", json=body)
            assert answer.status_code == 200, answer.text
            assert answer.json()["checks"] is False


def zipped(name: str, content: bytes, repeat: int = 1) -> bytes:
    """A workbook's container that holds much more than its size."""
    file = io.BytesIO()
    with (
        zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as book,
        book.open(name, "w", force_zip64=True) as entry,
    ):
        for _ in range(repeat):
            entry.write(content)
    return file.getvalue()


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"PK\x03\x04",
        zipped("xl/workbook.xml", b"<x>" + b" " * 1_000_000, 300),
        zipped("[Content_Types].xml", b"<!DOCTYPE x [<!ENTITY a 'aaaa'>]><x>&a;</x>"),
        zipped("../../x", b"x"),
    ],
    ids=["empty", "head", "zip bomb", "entities", "path"],
)
def test_workbooks_that_are_none(client: TestClient, content: bytes) -> None:
    files = {"monday.xlsx": content, "day.toml": small_files()["day.toml"]}
    answer = client.post("/days", files=parts(files))
    assert answer.status_code == 422, answer.text


@pytest.mark.parametrize(
    "walls",
    [
        b"\xff\xfe\x00",
        b"section" + b"," * 500_000,
        b'section,jig\n"' + b"x" * 2_000_000,
        b"\n" * 1_000_000,
        b"section,section,section\na,b,c\n",
        bytes(range(256)) * 1000,
    ],
    ids=["bytes", "columns", "cell", "lines", "twice", "noise"],
)
def test_cut_lists_that_are_none(client: TestClient, walls: bytes) -> None:
    answer = client.post("/days", files=parts(small_files(walls=walls)))
    assert answer.status_code == 422
    assert len(answer.content) < 1_000_000


@pytest.mark.parametrize(
    "config",
    [
        b"a = " + b"[" * 100_000,
        b"a." * 50_000 + b"b = 1",
        b"kerf = 1e999999999",
        b"\0",
        b"x = 1\n" * 9,
    ],
    ids=["deep", "dotted", "number", "nul", "twice"],
)
def test_configs_that_are_none(client: TestClient, config: bytes) -> None:
    answer = client.post("/days", files=parts(small_files(config=config)))
    assert answer.status_code == 422, answer.text


def test_many_days_of_one_plan(client: TestClient) -> None:
    day = post_day(client)
    answer = client.post("/plans", json={"days": [day] * 31})
    assert answer.status_code == 422
    assert len(answer.json()["faults"]) == 30

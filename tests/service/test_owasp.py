"""The OWASP API Security Top 10, edition of 2023, point by point.

The points are those of the published list (owasp.org/API-Security/editions/2023); each test names
the one that it holds. What other files hold in full is asked here once more in short, so that this
file alone shows every point.
"""

from __future__ import annotations

import io
import logging
import re
import socket
import time
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from api.access.caller import needs_of, routes_of
from api.access.rights import Right, Role
from api.access.secrets import read_code
from api.services import Services
from api.settings import Settings
from cutopt.records import CutoptError
from tests.service.conftest import post_day, signed_in, start_plan
from tests.service.days import parts, small_document
from tests.service.signing import NAME, PASSWORD, enter

ANY = {"If-Match": "*"}


@pytest.fixture
def app(client: TestClient) -> Any:
    return client.app


def client_as(app: Any, role: Role | None, plant: str | None = "First", **more: Any) -> TestClient:
    """A client in a role, of a plant; nobody where it is None."""
    client = TestClient(app, raise_server_exceptions=False, follow_redirects=False, **more)
    if role is not None:
        client.headers.update(signed_in(app, role, plant))
    return client


def test_api1_2023_broken_object_level_authorization(app: Any) -> None:
    """Ids of another plant are as good as ids of nothing: the very same answer."""
    mine, other = client_as(app, Role.PLANNER), client_as(app, Role.PLANNER, "Second")
    day = post_day(mine)
    plan = start_plan(mine, day)
    nothing = "0" * 32
    for path in ("/days/{}", "/plans/{}", "/plans/{}/plan.json", "/plans/{}/events"):
        id = day if "days" in path else plan
        answers = [other.get(path.format(which)) for which in (id, nothing)]
        assert [answer.status_code for answer in answers] == [404, 404], path
        told = [answer.json()["detail"].replace(id, nothing) for answer in answers]
        assert told[0] == told[1]
    assert other.post(f"/plans/{plan}/cancel").status_code == 404
    assert mine.get(f"/plans/{plan}").json()["status"] == "queued"


def test_api1_2023_lists_hold_what_is_ones_own(app: Any) -> None:
    mine, other = client_as(app, Role.PLANNER), client_as(app, Role.PLANNER, "Second")
    day = post_day(mine)
    start_plan(mine, day)
    for path in ("/days", "/plans", "/curves", f"/plans?day={day}"):
        assert other.get(path).json()["items"] == []


def test_api2_2023_broken_authentication(app: Any) -> None:
    """Wrong, foreign, ended or misshapen proofs of who one is are all refused alike."""
    nobody = client_as(app, None)
    key = signed_in(app, Role.STATION)["Authorization"].removeprefix("Bearer ")
    for proof in (
        {},
        {"Authorization": "Bearer"},
        {"Authorization": "Bearer "},
        {"Authorization": f"Basic {key}"},
        {"Authorization": f"Bearer {key}x"},
        {"Authorization": f"Bearer {key.swapcase()}"},
        {"Authorization": "Bearer ' OR '1'='1"},
        {"Cookie": f"__Host-cutopt={key}"},
        {"Cookie": "__Host-cutopt="},
        {"Cookie": "__Host-cutopt=%00"},
    ):
        answer = nobody.get("/plans", headers=proof)
        assert (answer.status_code, answer.json()["type"]) == (401, "/problems/not-signed-in")
        assert answer.headers["www-authenticate"] == "Bearer"
    assert nobody.get("/plans", headers={"Authorization": f"Bearer {key}"}).status_code == 200
    # a key in the address would stand in logs and histories: it is not looked for there
    assert nobody.get("/plans", params={"key": key}).status_code in (401, 422)


def test_api2_2023_guessing_is_shut_out(app: Any) -> None:
    nobody = client_as(app, None)
    told = {"name": "Ada Rind", "password": "wrong and wrong again"}
    codes = [nobody.post("/session", json=told).status_code for _ in range(6)]
    assert codes == [401] * 5 + [429]


def test_api2_2023_weak_passwords_are_refused(app: Any) -> None:
    admin = client_as(app, Role.ADMIN)
    link = admin.post("/people", json={"name": "Ivo Lath", "role": "planner"}).json()["path"]
    token = link.rsplit("/", 1)[1]
    for weak in ("short", "a" * 20, "Ivo Lath Ivo Lath Ivo", "x" * 201, "12 12 12 12 12 12 12"):
        told = {"link": token, "password": weak}
        assert client_as(app, None).post("/password", json=told).status_code == 422, weak
    told = {"link": token, "password": PASSWORD}
    assert client_as(app, None).post("/password", json=told).status_code == 201


def test_api3_2023_broken_object_property_level_authorization(app: Any) -> None:
    """Nothing is set that is not offered, and nothing is shown that is kept to be secret."""
    admin = client_as(app, Role.ADMIN)
    made = admin.post("/people", json={"name": "Ivo Lath", "role": "planner"}).json()
    id = made["person"]["id"]
    for more in ({"plant_number": 1}, {"password": "x" * 20}, {"id": "1"}, {"active": 1}):
        assert admin.patch(f"/people/{id}", json=more, headers=ANY).status_code == 422
        told = {"name": "Eve Sash", "role": "planner", **more}
        assert admin.post("/people", json=told).status_code == 422
    assert admin.post("/people", json={"name": "Eve Sash", "role": "station"}).status_code == 422
    assert admin.post("/stations", json={"name": "Saw", "role": "admin"}).status_code == 422
    shown = {"id", "name", "role", "plant", "active", "password_set", "created"}
    assert set(admin.get(f"/people/{id}").json()) == shown
    document = {**small_document(), "plant_number": 2}
    assert admin.post("/days", json=document).status_code == 422
    wanted = {"days": [post_day(admin)], "status": "done"}
    assert admin.post("/plans", json=wanted).status_code == 422


def test_api3_2023_an_admin_of_a_plant_lets_nobody_into_the_group(app: Any) -> None:
    admin, other = client_as(app, Role.ADMIN), client_as(app, Role.ADMIN, "Second")
    told = {"name": "Eve Sash", "role": "admin"}
    assert admin.post("/people", json={**told, "group": True}).status_code == 403
    plant = other.get("/session").json()["plant"]
    assert admin.post("/people", json={**told, "plant": plant}).status_code == 422
    assert admin.post("/stations", json={"name": "Saw", "plant": plant}).status_code == 422


def test_api4_2023_unrestricted_resource_consumption(
    settings: Settings, client_of: Callable[[Settings], TestClient]
) -> None:
    """Bodies, files, pages, waiting plans, seconds and streams all have an end."""
    client = client_of(
        Settings(database=settings.database, plans_at_once=0, body_mib=1, most_waiting=1)
    )
    kind = {"Content-Type": "application/json"}
    assert client.post("/days", content=b" " * (2**20 + 1), headers=kind).status_code == 413
    assert client.get("/days?limit=201").status_code == 422
    day = post_day(client)
    assert client.post("/plans", json={"days": [day], "seconds": 3601}).status_code == 422
    start_plan(client, day)
    answer = client.post("/plans", json={"days": [day]})
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/busy")
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as book:
        for name in ("[Content_Types].xml", "xl/workbook.xml"):
            book.writestr(name, b" " * 300_000_000)
    answer = client.post("/days", files=parts({"day.xlsx": bomb.getvalue()}))
    assert answer.status_code == 422


def test_api4_2023_changes_have_a_rate(app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.services.signing._MOST_WRITES", 3)
    first, other = client_as(app, Role.PLANNER), client_as(app, Role.PLANNER)
    codes = [first.post("/plans", json={"days": []}).status_code for _ in range(5)]
    assert codes == [422, 422, 422, 429, 429]
    assert other.post("/plans", json={"days": []}).status_code == 422
    assert first.get("/plans").status_code == 200


def test_api5_2023_broken_function_level_authorization(app: Any) -> None:
    """What only some roles may do, asked by each of the others; in full in test_rights.py."""
    for role in (Role.PLANNER, Role.PURCHASING, Role.ACCOUNTANT, Role.STATION):
        client = client_as(app, role)
        for method, path in (
            ("GET", "/people"),
            ("POST", "/people"),
            ("POST", "/stations"),
            ("GET", "/audit"),
            ("POST", "/plants"),
        ):
            assert client.request(method, path).status_code == 403, f"{role} {method} {path}"
    for role in (Role.PURCHASING, Role.ACCOUNTANT, Role.STATION):
        assert client_as(app, role).post("/days", json=small_document()).status_code == 403
        assert client_as(app, role).post("/plans", json={"days": []}).status_code == 403
    admin = client_as(app, Role.ADMIN)  # of one plant: no plants are made by them
    told = {"name": "Third", "zone": "UTC", "unit": "in"}
    assert admin.post("/plants", json=told).status_code == 403
    assert client_as(app, Role.ADMIN, None).post("/plants", json=told).status_code == 201


def test_api6_2023_unrestricted_access_to_sensitive_business_flows(app: Any) -> None:
    """Starting plans, and letting people and stations in, are for few, counted, and in the trail.

    A plan is asked for by people who may, each change counts towards their rate, no more wait than
    may, and a flow that gives access (set up, password, pairing) works once.
    """
    for route in routes_of(app):
        starts = route.path in ("/plans", "/curves", "/days") and "POST" in (route.methods or ())
        if starts:
            (needed,) = needs_of(route)
            assert needed in ((Right.PLANS_START,), (Right.DAYS_WRITE,))
    planner, admin = client_as(app, Role.PLANNER), client_as(app, Role.ADMIN)
    plan = start_plan(planner, post_day(planner))
    acts = admin.get("/audit").json()["items"]
    assert [(act["act"], act["target"]) for act in acts[:1]] == [("plan.start", plan)]
    id = admin.post("/stations", json={"name": "Saw 1"}).json()["id"]
    code = admin.post(f"/stations/{id}/code").json()["code"]
    nobody = client_as(app, None)
    assert [nobody.post("/pair", json={"code": code}).status_code for _ in range(2)] == [201, 401]
    # the same wish twice, as a nervous click sends it, is carried out once
    key = {"Idempotency-Key": "click-1"}
    wanted = {"days": [post_day(planner)]}
    ids = {planner.post("/plans", json=wanted, headers=key).json()["id"] for _ in range(3)}
    assert len(ids) == 1


def test_api7_2023_server_side_request_forgery(app: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """The service fetches nothing: whatever address it is handed, no socket is opened for it."""
    asked: list[Any] = []
    monkeypatch.setattr(socket, "getaddrinfo", lambda *a, **_: asked.append(a))
    monkeypatch.setattr(socket.socket, "connect", lambda *a: asked.append(a))
    client = client_as(app, Role.ADMIN)
    address = "http://169.254.169.254/latest/meta-data/"
    document = small_document()
    document["day"] = {**document["day"], "plant": address}
    assert client.post("/days", params={"name": address}, json=document).status_code == 201
    book = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b SYSTEM "%s">]><a>&b;</a>'
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as file:
        file.writestr("xl/workbook.xml", book % address.encode())
    client.post("/days", files=parts({"day.xlsx": packed.getvalue()}))
    client.post("/people", json={"name": address, "role": "planner"})
    assert asked == []


def test_api7_2023_nobody_is_led_elsewhere(app: Any) -> None:
    for path in ("https://elsewhere.example", "//elsewhere.example", "/\\elsewhere.example"):
        page = client_as(app, None).get("/sign-in", params={"next": path})
        assert "elsewhere" not in page.text


def test_api8_2023_security_misconfiguration(app: Any) -> None:
    """Safe headers on every answer, no insides in errors, no methods and origins left open."""
    client = client_as(app, Role.ADMIN)
    for path in ("/days", "/", "/none", "/sign-in", "/people"):
        headers = client.get(path, headers={"Origin": "https://elsewhere.example"}).headers
        assert headers["x-content-type-options"] == "nosniff"
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-frame-options"] == "DENY"
        assert "access-control-allow-origin" not in headers
        assert "server" not in headers
    assert client.get("/session").headers["cache-control"] == "no-store"
    for method in ("TRACE", "CONNECT", "OPTIONS"):
        assert client.request(method, "/days").status_code == 405
    for path in ("/docs", "/redoc", "/.env", "/.git/config", "/admin", "/debug"):
        assert client.get(path).status_code == 404


def test_api8_2023_the_demo_is_not_for_others(tmp_path: Path) -> None:
    from api.serve import run

    with pytest.raises(CutoptError, match="this machine only"):
        run("0.0.0.0", 0, demo=True)


def test_api8_2023_secrets_are_never_in_logs(
    settings: Settings,
    client_of: Callable[[Settings], TestClient],
    caplog: pytest.LogCaptureFixture,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Everything that any part logs at its most talkative, while every secret goes through."""
    caplog.set_level(logging.DEBUG)
    for name in ("sqlalchemy.engine", "sqlalchemy.pool", "cutopt", "uvicorn", "multipart"):
        caplog.set_level(logging.DEBUG, logger=name)
    app: Any = client_of(settings).app
    services: Services = app.state.services
    link = services.access.set_up_link()
    here = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)
    here.get(f"/set-up/{link}")
    enter(here, f"/set-up/{link}")
    wrong = "a wrong one of my own"
    here.post("/session", json={"name": NAME, "password": wrong})
    here.post("/sign-in", data={"name": NAME, "password": wrong})
    here.post("/session", json={"name": 7, "password": wrong})
    person = here.post("/people", json={"name": "Ivo Lath", "role": "planner"}).json()["path"]
    here.get(person)
    id = here.post("/stations", json={"name": "Saw 1"}).json()["id"]
    code = read_code(here.post(f"/stations/{id}/code").json()["code"])
    here.get(f"/pair/{code}")
    key = here.post("/pair", json={"code": code}).json()["key"]
    here.get("/plans", headers={"Authorization": f"Bearer {key}"})
    here.get("/plans", headers={"Authorization": f"Bearer {key}x"})
    secrets = [link, PASSWORD, wrong, person.rsplit("/", 1)[1], code, key]
    secrets += [here.cookies["cutopt"], here.headers["X-CSRF-Token"]]
    printed = capsys.readouterr()
    ours = [r for r in caplog.records if not r.name.startswith("http")]  # the test's own client
    whole = "\n".join(
        [printed.out, printed.err]
        + [f"{r.getMessage()} {sorted(map(str, vars(r).values()))}" for r in ours]
    )
    assert len(ours) > 100
    for secret in secrets:
        assert secret
        assert secret not in whole


def test_api8_2023_a_secret_is_not_sent_back_by_an_error(app: Any) -> None:
    nobody, wrong = client_as(app, None), "a wrong one of my own"
    for told in (
        {"name": 7, "password": wrong},
        {"name": "Ada", "password": wrong * 20},
        {"name": "Ada", "password": wrong, "more": 1},
        {"name": "Ada", "password": [wrong]},
        {"name": "Ada", "password": wrong},
    ):
        answer = nobody.post("/session", json=told)
        assert 400 <= answer.status_code < 500
        assert wrong not in answer.text


def test_api9_2023_improper_inventory_management(app: Any) -> None:
    """Every route is in the description or is a page; each says what it asks; no twin of old."""
    described = app.openapi()
    for route in routes_of(app):
        if route.path == "/openapi.json":
            continue
        (needed,) = needs_of(route)
        if not route.include_in_schema:
            page = re.match(
                r"/$|/(pages|static)/|/(sign-in|sign-out|set-up|password|pair)(/|$)", route.path
            )
            assert page, route.path
            continue
        for method in route.methods:
            operation = described["paths"][route.path][method.lower()]
            assert ("security" in operation) is (needed is not None)
            if needed is not None:
                assert operation["x-rights"] == [right.value for right in needed]
    assert not [path for path in described["paths"] if re.search(r"/v\d|old|test|debug", path)]


def test_api10_2023_unsafe_consumption_of_apis(app: Any) -> None:
    """What comes from others' programs is read as strictly as what people send.

    The service asks no other service; it reads files that other programs made (workbooks, tables,
    plan.json), and none of it is believed, run, or followed.
    """
    client = client_as(app, Role.PLANNER)
    day = post_day(client)
    began = time.monotonic()
    for plan in ({}, {"format": "cutopt-plan-1", "unit": "in", "materials": [{"material": {}}]}):
        answer = client.post("/check", json={"days": [day], "plan": plan})
        assert answer.status_code in (200, 422)
        if answer.status_code == 200:
            assert answer.json()["checks"] is False
    for files in (
        {"../../etc/passwd": b"x"},
        {"day.toml": b"\xff\xfe", "stock.csv": b"\x00" * 100},
        {"day.xlsx": b"PK\x03\x04 not a workbook"},
        {"day.toml": b'plant = "x"\ndate = 2026-03-02\n', "stock.csv": b"=cmd|' /C calc'!A0,1\n"},
    ):
        assert client.post("/days", files=parts(files)).status_code in (400, 422)
    document = small_document()
    document["day"] = {**document["day"], "plant": "<script>alert(1)</script>"}
    assert client.post("/days", json=document).status_code == 201
    for page in ("/", "/pages/days"):
        assert "<script>alert" not in client.get(page).text
    assert time.monotonic() - began < 20

"""Every error of the service has one shape: RFC 9457 problem details, of a kind described here."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.exc import OperationalError
from starlette.testclient import TestClient

from api.app import create_app
from api.edge import BodyGuard
from api.problems import KINDS
from api.settings import Settings
from tests.service.conftest import post_day, signed_in, start_plan
from tests.service.days import small_document


def hold_shape(answer: Any, status: int, kind: str) -> dict[str, Any]:
    """The problem, once its shape is what RFC 9457 and `/problems` say."""
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    problem: dict[str, Any] = answer.json()
    assert problem["status"] == status
    assert problem["type"] == f"/problems/{kind}"
    assert problem["title"] == KINDS[kind].title
    assert problem["detail"]
    assert problem["instance"].startswith("/")
    more = {"faults", "request", "parts"}
    assert set(problem) <= {"type", "title", "status", "detail", "instance", *more}
    if "x-request-id" in answer.headers:
        assert problem["request"] == answer.headers["x-request-id"]
    for fault in problem.get("faults", []):
        assert fault["wrong"]
        assert "place" in fault or {"file", "row", "column", "text"} <= set(fault)
    return problem


def test_every_kind_is_described_at_its_type(client: TestClient) -> None:
    listed = client.get("/problems", params={"limit": 200}).json()["items"]
    assert {kind["type"] for kind in listed} == {f"/problems/{name}" for name in KINDS}
    for kind in listed:
        assert client.get(kind["type"]).json() == kind
    hold_shape(client.get("/problems/none"), 404, "not-found")
    pages, place = [], "/problems?limit=7"
    while place:
        page = client.get(place).json()
        pages += page["items"]
        place = page["next"]
    assert pages == listed


def test_a_browser_reads_what_a_problem_means_on_a_page(client: TestClient) -> None:
    """With the Accept header that browsers send; common practice, no source."""
    likes = {"Accept": "text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8"}
    led = client.get("/problems/in-use", headers=likes, follow_redirects=False)
    assert (led.status_code, led.headers["location"]) == (303, "/pages/problems#in-use")
    page = client.get("/problems", headers=likes)
    assert page.headers["content-type"].startswith("text/html")
    for kind in KINDS.values():
        assert f'id="{kind.name}"' in page.text
    assert client.get("/problems/in-use", headers={"Accept": "*/*"}).json()["status"] == 409


@pytest.mark.parametrize(
    "path", ["/none", "/days/none", "/days/%00", "/days/", "/plans/none/report", "/days/../plans/x"]
)
def test_what_is_not_there(client: TestClient, path: str) -> None:
    hold_shape(client.get(path), 404, "not-found")


@pytest.mark.parametrize(
    ("method", "path", "allowed"),
    [
        ("PUT", "/days", "GET, HEAD, POST"),
        ("POST", "/days/x", "DELETE, GET, HEAD"),
        ("GET", "/check", "POST"),
        ("DELETE", "/plans/x/report", "GET, HEAD"),
        ("TRACE", "/livez", "GET, HEAD"),
        ("OPTIONS", "/plans", "GET, HEAD, POST"),
        ("BREW", "/plans", "GET, HEAD, POST"),
    ],
)
def test_what_cannot_be_done_there(
    client: TestClient, method: str, path: str, allowed: str
) -> None:
    answer = client.request(method, path)
    hold_shape(answer, 405, "method-not-allowed")
    assert answer.headers["allow"] == allowed


@pytest.mark.parametrize("path", ["/days", "/plans", "/check"])
def test_forms_that_cannot_be_read(client: TestClient, path: str) -> None:
    for kind in ("text/plain", "application/xml", "", "application/json-patch+json"):
        answer = client.post(path, content=b"{}", headers={"Content-Type": kind})
        hold_shape(answer, 415, "unsupported-media-type")
    hold_shape(client.post(path), 415, "unsupported-media-type")


@pytest.mark.parametrize("path", ["/days", "/plans", "/check"])
@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"\xff\xfe",
        b'{"a": NaN}',
        b'{"a": Infinity}',
        b"[" * 100_000,
        b'{"a":' * 40 + b"1" + b"}" * 40,
        b'{"a": "\\ud800"}',
        b'{"a": ' + b"9" * 5000 + b"}",
    ],
    ids=["empty", "open", "bytes", "nan", "infinity", "deep", "nested", "half", "digits"],
)
def test_json_that_is_none(client: TestClient, path: str, body: bytes) -> None:
    answer = client.post(path, content=body, headers={"Content-Type": "application/json"})
    hold_shape(answer, 400, "malformed")


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("multipart/form-data", b"x"),
        ("multipart/form-data; boundary=b", b"x"),
        (
            "multipart/form-data; boundary=b",
            b'--b\r\nContent-Disposition: form-data; name="files"; filename="a"\r\n\r\n' * 300,
        ),
        (
            "multipart/form-data; boundary=b",
            b"--b\r\nContent-Disposition: form-data\r\n\r\nx\r\n--b--\r\n",
        ),
    ],
    ids=["no boundary", "no part", "open", "no name"],
)
def test_multipart_that_is_none(client: TestClient, kind: str, body: bytes) -> None:
    answer = client.post("/days", content=body, headers={"Content-Type": kind})
    hold_shape(answer, 400, "malformed")


def test_an_empty_upload(client: TestClient) -> None:
    answer = client.post(
        "/days", content=b"--b--\r\n", headers={"Content-Type": "multipart/form-data; boundary=b"}
    )
    hold_shape(answer, 422, "request-invalid")


def test_more_files_than_may_come(client: TestClient) -> None:
    files = [("files", (f"cuts/{n}.csv", b"")) for n in range(201)]
    hold_shape(client.post("/days", files=files), 400, "malformed")


@pytest.mark.parametrize("path", ["/days", "/plans", "/check"])
@pytest.mark.parametrize("told", [True, False], ids=["told", "streamed"])
def test_bodies_that_are_too_large(
    settings: Settings, client_of: Callable[[Settings], TestClient], path: str, told: bool
) -> None:
    """Refused by their header, or once so much has come, whatever the header says."""
    client = client_of(Settings(database=settings.database, plans_at_once=0, body_mib=1))
    sent = 0

    def stream() -> Iterator[bytes]:
        nonlocal sent
        for _ in range(64):
            sent += 1
            yield b" " * 65_536

    body: Any = b" " * (2**20 + 1) if told else stream()
    answer = client.post(path, content=body, headers={"Content-Type": "application/json"})
    hold_shape(answer, 413, "too-large")
    if not told and path == "/days":
        answer = client.post(
            path,
            content=stream(),
            headers={"Content-Type": "multipart/form-data; boundary=b"},
        )
        assert answer.status_code in (400, 413)


def test_a_body_that_does_not_come(settings: Settings) -> None:
    app = create_app(Settings(database=settings.database, plans_at_once=0, body_seconds=0.05))
    app.state.services.database.make_tables()
    sent = [(k.lower().encode(), v.encode()) for k, v in signed_in(app).items()]
    answered: list[dict[str, Any]] = []

    async def never() -> Any:
        await asyncio.sleep(60)

    async def send(message: Any) -> None:
        answered.append(message)

    scope = {
        "type": "http",
        "method": "POST",
        "path": "/plans",
        "raw_path": b"/plans",
        "query_string": b"",
        "headers": [(b"content-type", b"application/json"), *sent],
        "http_version": "1.1",
        "scheme": "http",
        "server": ("testserver", 80),
        "client": ("localhost", 1),
    }
    asyncio.run(app(scope, never, send))
    assert answered[0]["status"] == 408
    assert b"/problems/timeout" in answered[1]["body"]


def test_unknown_parameters_are_named_with_the_nearest(client: TestClient) -> None:
    problem = hold_shape(client.get("/days?limt=3&x=1"), 422, "request-invalid")
    assert [fault["place"] for fault in problem["faults"]] == ["query.limt", "query.x"]
    assert problem["faults"][0]["right"] == "did you mean 'limit'?"
    hold_shape(client.get("/livez?x=1"), 422, "request-invalid")
    hold_shape(client.post("/days?nam=x", json=small_document()), 422, "request-invalid")


@pytest.mark.parametrize(
    "query", ["limit=0", "limit=201", "limit=x", "after=0", "after=x", "after=9007199254740993"]
)
def test_parameters_out_of_range(client: TestClient, query: str) -> None:
    problem = hold_shape(client.get(f"/plans?{query}"), 422, "request-invalid")
    assert problem["faults"][0]["place"] == f"query.{query.split('=')[0]}"


def test_a_fault_of_our_own_tells_nothing_of_our_insides(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    app: Any = client.app

    def fail(*_: object) -> None:
        raise RuntimeError("secret")

    monkeypatch.setattr(type(app.state.services.days), "page", fail)
    answer = client.get("/days")
    hold_shape(answer, 500, "internal")
    assert "secret" not in answer.text


def test_a_database_that_does_not_answer(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    app: Any = client.app
    assert client.get("/readyz").json()["status"] == "ok"

    def fail(*_: object) -> None:
        raise OperationalError("SELECT 1", {}, Exception("gone"))

    monkeypatch.setattr(type(app.state.services.database), "answers", fail)
    answer = client.get("/readyz")
    hold_shape(answer, 503, "not-ready")
    assert answer.headers["retry-after"] == "5"
    assert client.get("/livez").json() == {"status": "ok"}


def test_answers_carry_headers_that_keep_browsers_safe(client: TestClient) -> None:
    for answer in (client.get("/days"), client.get("/none"), client.post("/days")):
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["cache-control"] == "no-store"
        assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_head_is_get_without_its_body(client: TestClient) -> None:
    plan = start_plan(client, post_day(client))
    for path in ("/days", "/openapi.json", f"/plans/{plan}"):
        head, get = client.head(path), client.get(path)
        assert (head.status_code, head.content) == (200, b"")
        assert head.headers["content-length"] == str(len(get.content))
    assert client.head(f"/plans/{plan}/events").status_code == 200  # and does not wait for its end
    assert client.head("/none").status_code == 404


def test_the_guard_leaves_other_scopes_alone(tmp_path: Path) -> None:
    seen = []

    async def inner(scope: Any, receive: Any, send: Any) -> None:
        seen.append(scope["type"])

    guard = BodyGuard(inner, 1, 1)
    asyncio.run(guard({"type": "lifespan"}, None, None))  # type: ignore[arg-type]
    assert seen == ["lifespan"]

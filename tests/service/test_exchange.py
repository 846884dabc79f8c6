"""Tags of what is read, conditions on what is removed, keys of what is asked (RFC 9110, 13.1)."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from sqlalchemy import text
from starlette.testclient import TestClient

from api.services import days as day_service
from api.services.keys import KeyService
from api.settings import Settings
from api.tags import is_among, is_known
from tests.service.conftest import post_day, signed_in, start_curve, start_plan
from tests.service.days import parts, small_document, small_files
from tests.service.exchange import ANY
from tests.service.test_errors import hold_shape

UNSAFE = {"DELETE", "PATCH", "POST", "PUT"}


@pytest.fixture(params=["sqlite", pytest.param("postgres", marks=pytest.mark.postgres)])
def address(request: pytest.FixtureRequest, new_database: Callable[[str], str]) -> str:
    return new_database(request.param)


def service(address: str) -> Settings:
    return Settings(database=address, plans_at_once=0, workers=1)


def days_of(client: TestClient) -> list[str]:
    return [day["id"] for day in client.get("/days").json()["items"]]


# Tags


def test_whatever_is_read_alone_has_a_tag(planned: tuple[TestClient, str]) -> None:
    """Every GET of one thing by its id: a tag, then nothing while it still holds."""
    client, plan = planned
    day = client.get(f"/plans/{plan}").json()["days"][0]
    curve = start_curve(client, day, seconds=1)
    client.post(f"/curves/{curve}/cancel")
    person = client.post("/people", json={"name": "Tag Reader", "role": "planner"}).json()
    ids = {
        "day": day,
        "plan": plan,
        "curve": curve,
        "person": person["person"]["id"],
        "station": client.post("/stations", json={"name": "Saw 9"}).json()["id"],
        "plant": client.get("/session").json()["plant"],
    }
    count = 0
    for path, item in client.get("/openapi.json").json()["paths"].items():
        if "get" not in item or "{" not in path or path.endswith("/events"):
            continue
        if path == "/problems/{name}":  # the same for every release
            continue
        address = path.format(**ids)
        described = item["get"]["responses"]
        assert "304" in described, path
        assert "ETag" in described["200"]["headers"], path
        for kind in described["200"]["content"]:
            answer = client.get(address, headers={"Accept": kind})
            if answer.status_code == 409:  # a curve that was cancelled before it had a point
                continue
            tag = answer.headers["etag"]
            assert answer.headers["cache-control"] == "private, no-cache"
            for known in (tag, f"W/{tag}", f'"other", {tag}', "*"):
                again = client.get(address, headers={"Accept": kind, "If-None-Match": known})
                assert (again.status_code, again.content) == (304, b""), (address, known)
                assert again.headers["etag"] == tag
            other = client.get(address, headers={"Accept": kind, "If-None-Match": '"other"'})
            assert (other.status_code, other.content) == (200, answer.content)
            count += 1
    assert count >= 16


def test_a_table_has_another_tag_in_each_form(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    tags = {
        client.get(f"/plans/{plan}/cut-list", headers={"Accept": kind}).headers["etag"]
        for kind in ("text/csv", "application/json")
    }
    assert len(tags) == 2


def test_a_tag_changes_with_what_it_is_of(client: TestClient) -> None:
    day = client.post("/days", json=small_document())
    place = day.headers["location"]
    assert client.get(place).headers["etag"] == day.headers["etag"]
    started = client.post("/plans", json={"days": [day.json()["id"]]})
    place = started.headers["location"]
    assert client.get(place).headers["etag"] == started.headers["etag"]
    ended = client.post(f"{place}/cancel", headers={"If-Match": started.headers["etag"]})
    assert ended.status_code == 202
    assert ended.headers["etag"] != started.headers["etag"]
    assert client.get(place).headers["etag"] == ended.headers["etag"]
    stale = {"If-Match": started.headers["etag"]}
    hold_shape(client.post(f"{place}/cancel", headers=stale), 412, "changed-meanwhile")


def test_what_is_removed_must_be_as_it_was_seen(client: TestClient) -> None:
    day = post_day(client)
    plan, curve = start_plan(client, day), start_curve(client, day)
    for place in (f"/plans/{plan}", f"/curves/{curve}"):
        assert client.post(f"{place}/cancel").status_code == 202
    for place in (f"/plans/{plan}", f"/curves/{curve}", f"/days/{day}"):
        tag = client.get(place).headers["etag"]
        hold_shape(client.delete(place), 428, "precondition-required")
        hold_shape(client.delete(place, headers={"If-Match": ""}), 428, "precondition-required")
        for wrong in ('"other"', f"W/{tag}", tag.strip('"')):
            answer = client.delete(place, headers={"If-Match": wrong})
            hold_shape(answer, 412, "changed-meanwhile")
        seen = {"If-Match": f'"other", {tag}'}
        assert client.delete(place, headers=seen).status_code == 204
        hold_shape(client.delete(place, headers=seen), 404, "not-found")


def test_what_is_changed_must_be_as_it_was_seen(client: TestClient) -> None:
    person = client.post("/people", json={"name": "Ivo Lath", "role": "planner"}).json()
    plant = client.get("/session").json()["plant"]
    changes: list[tuple[str, str, dict[str, Any], dict[str, Any]]] = [
        (
            "PATCH",
            f"/people/{person['person']['id']}",
            {"role": "accountant"},
            {"role": "purchasing"},
        ),
        (
            "PUT",
            f"/plants/{plant}",
            {"name": "Here", "zone": "UTC", "unit": "mm"},
            {"name": "There", "zone": "UTC", "unit": "in"},
        ),
    ]
    for method, place, one, other in changes:
        tag = client.get(place).headers["etag"]
        hold_shape(client.request(method, place, json=one), 428, "precondition-required")
        changed = client.request(method, place, json=one, headers={"If-Match": tag})
        assert changed.status_code == 200, changed.text
        assert changed.headers["etag"] == client.get(place).headers["etag"] != tag
        late = client.request(method, place, json=other, headers={"If-Match": tag})
        hold_shape(late, 412, "changed-meanwhile")
        assert client.get(place).json() == changed.json()


def test_tags_are_read_as_the_standard_has_them() -> None:
    """RFC 9110: strong comparison for If-Match, weak for If-None-Match (13.1.1, 13.1.2)."""
    assert is_among('"a"', '"b", "a"')
    assert is_among('"a"', " * ")
    assert not is_among('"a"', 'W/"a"')
    assert not is_among('"a"', "a")
    assert is_known('"a"', 'W/"a"')
    assert is_known('"a,b"', '"x","a,b"')
    assert not is_known('"a"', '"a,b"')


# Keys


def unsafe(client: TestClient) -> Iterator[tuple[str, Callable[[dict[str, str]], Any], bool]]:
    """A request for each operation that may change something: its name, the request."""
    day = post_day(client)
    other = post_day(client)
    plan, curve = start_plan(client, day), start_curve(client, day)
    wanted = {"days": [day], "of": "joints"}
    let_in = client.post("/people", json={"name": "Ivo Lath", "role": "planner"}).json()
    person, plant = let_in["person"]["id"], client.get("/session").json()["plant"]
    station = client.post("/stations", json={"name": "Saw 1"}).json()["id"]
    named = {"name": "Here", "zone": "UTC", "unit": "in"}
    posted: list[tuple[str, str, str, dict[str, Any]]] = [
        ("postDay", "POST", "/days", {"json": small_document()}),
        ("postDay", "POST", "/days", {"files": parts(small_files())}),
        ("startPlan", "POST", "/plans", {"json": {"days": [day]}}),
        ("startCurve", "POST", "/curves", {"json": wanted}),
        ("checkPlan", "POST", "/check", {"json": {"days": [day], "plan": {}}}),
        ("cancelPlan", "POST", f"/plans/{plan}/cancel", {}),
        ("cancelCurve", "POST", f"/curves/{curve}/cancel", {}),
        ("removePlan", "DELETE", f"/plans/{plan}", {}),
        ("removeCurve", "DELETE", f"/curves/{curve}", {}),
        ("removeDay", "DELETE", f"/days/{other}", {}),
        ("addStation", "POST", "/stations", {"json": {"name": "Saw 2"}}),
        ("endStation", "POST", f"/stations/{station}/end", {}),
        ("changePerson", "PATCH", f"/people/{person}", {"json": {"role": "accountant"}}),
        ("changePlant", "PUT", f"/plants/{plant}", {"json": named}),
    ]
    for name, method, path, body in posted:
        yield (
            name,
            lambda more, method=method, path=path, body=body: client.request(
                method, path, **body, headers={**({} if method == "POST" else ANY), **more}
            ),
            method == "DELETE",
        )


def test_every_unsafe_call_under_a_key_is_carried_out_once(client: TestClient) -> None:
    seen = set()
    for number, (name, ask, _) in enumerate(unsafe(client)):
        key = {"Idempotency-Key": f"key-{number}"}
        first, again = ask(key), ask(key)
        assert first.is_success, (name, first.text)
        assert "idempotent-replay" not in first.headers
        assert again.headers["idempotent-replay"] == "true", name
        assert (again.status_code, again.content) == (first.status_code, first.content)
        for header in ("location", "etag", "content-type"):
            assert again.headers.get(header) == first.headers.get(header), (name, header)
        seen.add(name)
    keyed, others = set(), set()
    for item in client.get("/openapi.json").json()["paths"].values():
        for method, operation in item.items():
            names = {parameter["name"] for parameter in operation.get("parameters", [])}
            if method.upper() in UNSAFE:
                (keyed if "Idempotency-Key" in names else others).add(operation["operationId"])
    assert seen == keyed - {"addPlant"}  # which is for the group, and tested with it
    assert others == WITHOUT_KEYS


#: What answers with a secret, or is good once.
WITHOUT_KEYS = {
    "addPerson",
    "choosePassword",
    "linkPerson",
    "pairStation",
    "pairingCode",
    "setUp",
    "signIn",
    "signOut",
}


def test_a_plant_is_added_once(client: TestClient) -> None:
    headers = {**signed_in(client.app, plant=None), "Idempotency-Key": "k"}
    named = {"name": "Birch Works", "zone": "UTC", "unit": "mm"}
    first = client.post("/plants", json=named, headers=headers)
    again = client.post("/plants", json=named, headers=headers)
    assert (first.status_code, again.content) == (201, first.content)
    assert again.headers["idempotent-replay"] == "true"
    assert client.get(first.headers["location"], headers=headers).json() == first.json()


def test_a_key_belongs_to_one_request(client: TestClient) -> None:
    key = {"Idempotency-Key": "monday"}
    assert client.post("/days", json=small_document(), headers=key).status_code == 201
    other = small_document(cuts=small_document()["cuts"][:2])
    for answer in (
        client.post("/days", json=other, headers=key),
        client.post("/days", params={"name": "x"}, json=small_document(), headers=key),
        client.post("/days", files=parts(small_files()), headers=key),
        client.post("/plans", json={"days": days_of(client)}, headers=key),
    ):
        hold_shape(answer, 422, "key-used-otherwise")
    assert len(days_of(client)) == 1


def test_each_caller_has_keys_of_their_own(client: TestClient) -> None:
    key = {"Idempotency-Key": "k"}
    one = client.post("/days", json=small_document(), headers=key)
    two = client.post("/days", json=small_document(), headers=signed_in(client.app) | key)
    assert two.status_code == 201
    assert "idempotent-replay" not in two.headers
    assert one.json()["id"] != two.json()["id"]


def test_files_are_the_same_request_whatever_parts_them(client: TestClient) -> None:
    """A repeated upload is cut by another boundary."""
    key = {"Idempotency-Key": "monday"}
    for _ in range(2):
        answer = client.post("/days", files=parts(small_files()), headers=key)
        assert answer.status_code == 201
    assert answer.headers["idempotent-replay"] == "true"
    assert len(days_of(client)) == 1


@pytest.mark.parametrize("key", ["", "x" * 101, "a b", "ä".encode("latin-1")])
def test_keys_that_are_none(client: TestClient, key: Any) -> None:
    answer = client.post("/days", json=small_document(), headers={"Idempotency-Key": key})
    problem = hold_shape(answer, 422, "request-invalid")
    assert problem["faults"][0]["place"] == "header.Idempotency-Key"
    assert days_of(client) == []


def test_a_problem_is_not_kept(client: TestClient) -> None:
    """Nothing was changed: the same request may come again, and be carried out then."""
    key = {"Idempotency-Key": "k"}
    day = post_day(client)
    plan = start_plan(client, day)
    place = f"/plans/{plan}"
    hold_shape(client.delete(place, headers=ANY | key), 409, "not-finished")
    client.post(f"{place}/cancel")
    assert client.delete(place, headers=ANY | key).status_code == 204


def test_a_key_is_forgotten_after_a_day(
    address: str, client_of: Callable[[Settings], TestClient]
) -> None:
    client = client_of(service(address))
    first = client.post("/days", json=small_document(), headers={"Idempotency-Key": "k"}).json()
    app: Any = client.app
    with app.state.services.database.write() as session:
        session.execute(text("UPDATE request_keys SET created = created - 86401"))
    again = client.post("/days", json=small_document(), headers={"Idempotency-Key": "k"})
    assert again.json()["id"] != first["id"]
    client.post("/days", json=small_document(), headers={"Idempotency-Key": "other"})
    with app.state.services.database.write() as session:
        session.execute(text("UPDATE request_keys SET created = created - 86401"))
    client.post("/days", json=small_document(), headers={"Idempotency-Key": "third"})
    with app.state.services.database.read() as session:
        assert session.execute(text("SELECT key FROM request_keys")).scalars().all() == ["third"]


def test_the_same_request_while_it_is_carried_out(
    client: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    reached, go_on = threading.Event(), threading.Event()
    read = day_service.read_sources

    def slowly(*sources: Any) -> Any:
        reached.set()
        assert go_on.wait(20)
        return read(*sources)

    monkeypatch.setattr(day_service, "read_sources", slowly)
    key = {"Idempotency-Key": "k"}
    answers: list[Any] = []

    def post() -> None:
        answers.append(client.post("/days", json=small_document(), headers=key))

    first = threading.Thread(target=post)
    first.start()
    assert reached.wait(20)
    second = client.post("/days", json=small_document(), headers=key)
    go_on.set()
    first.join()
    hold_shape(second, 409, "key-in-flight")
    assert second.headers["retry-after"] == "1"
    assert answers[0].status_code == 201
    assert client.post("/days", json=small_document(), headers=key).json() == answers[0].json()


def test_two_processes_that_carry_out_the_same_request(
    address: str, client_of: Callable[[Settings], TestClient], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second looks before the first has written: what it does is undone, and answered alike."""
    one, two = client_of(service(address)), client_of(service(address))
    headers = signed_in(one.app)
    one.headers.update(headers)
    two.headers.update(headers)
    key = {"Idempotency-Key": "k"}
    answers: list[Any] = []
    known = KeyService._known

    def late(self: KeyService, name: Any) -> Any:
        found = known(self, name)
        app: Any = two.app
        if self is app.state.services.keys and not answers:
            answers.append(one.post("/days", json=small_document(), headers=key))
        return found

    monkeypatch.setattr(KeyService, "_known", late)
    second = two.post("/days", json=small_document(), headers=key)
    assert answers[0].status_code == second.status_code == 201
    assert second.json() == answers[0].json()
    assert second.headers["idempotent-replay"] == "true"
    assert days_of(one) == [second.json()["id"]]


_DYING = """
import json, os, signal, sys
from starlette.testclient import TestClient
from api.app import create_app
from api.services import days
from api.services.keys import KeyService
from api.settings import Settings
from tests.service.days import small_document

address, when, headers = sys.argv[1:]
keep, once = days.keep, KeyService.once

def killed(function):
    def run(*words):
        function(*words)
        os.kill(os.getpid(), signal.SIGKILL)
    return run

with TestClient(create_app(Settings(database=address, plans_at_once=0, workers=1))) as client:
    if when == "before":
        days.keep = killed(keep)
    else:
        KeyService.once = killed(once)
    client.headers.update(json.loads(headers))
    client.post("/days", json=small_document(), headers={"Idempotency-Key": "k"})
"""


@pytest.mark.parametrize("when", ["before", "after"])
def test_killed_beside_the_act(
    address: str, when: str, client_of: Callable[[Settings], TestClient]
) -> None:
    """Killed before the act is kept, or after it and before the answer: never twice, never lost."""
    client = client_of(service(address))
    headers = signed_in(client.app)
    client.headers.update(headers)
    words = [sys.executable, "-c", _DYING, address, when, json.dumps(headers)]
    assert subprocess.run(words, check=False).returncode == -signal.SIGKILL
    assert len(days_of(client)) == (when == "after")
    answer = client.post("/days", json=small_document(), headers={"Idempotency-Key": "k"})
    assert answer.status_code == 201
    assert ("idempotent-replay" in answer.headers) == (when == "after")
    assert days_of(client) == [answer.json()["id"]]

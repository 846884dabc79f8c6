"""Server-sent events: in order, resumed, ended, alive in between."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from starlette.testclient import TestClient

from api.settings import Settings
from tests.service.conftest import post_day, start_plan


def events_of(lines: Iterable[str]) -> list[dict[str, Any]]:
    """Read an event stream as the HTML standard has it, as far as ours goes."""
    events, event = [], {}
    for line in lines:
        if not line:
            if "data" in event:
                events.append({**event, "data": json.loads(event["data"])})
            event = {}
        elif not line.startswith(":"):
            field, _, value = line.partition(":")
            event[field] = value.removeprefix(" ")
    return events


def test_a_plan_is_followed_to_its_end(planned: tuple[TestClient, str]) -> None:
    client, _ = planned
    plan = start_plan(client, post_day(client))
    with client.stream("GET", f"/plans/{plan}/events") as answer:
        assert answer.headers["content-type"] == "text/event-stream; charset=utf-8"
        events = events_of(answer.iter_lines())
    assert [int(event["id"]) for event in events] == list(range(1, len(events) + 1))
    assert [event["event"] for event in events[:2]] == ["status", "status"]
    assert [event["data"]["status"] for event in events[:2]] == ["queued", "running"]
    progress = [event["data"] for event in events if event["event"] == "progress"]
    done = {name for step in progress if step["done"] for name in step["materials"]}
    assert done == {"2x4-SPF-2", "OSB-7/16"}
    assert events[-1]["event"] == "ended"
    assert events[-1]["data"] == {"status": "done", "outcome": "planned"}


def test_a_stream_is_resumed_where_it_was_lost(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    address = f"/plans/{plan}/events"
    whole = events_of(client.get(address).text.splitlines())
    for last in (1, len(whole) - 1):
        answer = client.get(address, headers={"Last-Event-ID": str(last)})
        assert events_of(answer.text.splitlines()) == whole[last:]
    answer = client.get(address, headers={"Last-Event-ID": whole[-1]["id"]})
    assert (answer.status_code, answer.content) == (204, b"")  # tells a browser not to come back


def test_what_is_no_event_number_is_refused(planned: tuple[TestClient, str]) -> None:
    client, plan = planned
    for wrong in ("-1", "x", "1.5", "9" * 20):
        answer = client.get(f"/plans/{plan}/events", headers={"Last-Event-ID": wrong})
        assert (answer.status_code, answer.json()["type"]) == (422, "/problems/request-invalid")
    assert client.get("/plans/none/events").status_code == 404


def test_a_silent_stream_shows_that_it_is_alive_and_streams_are_counted(
    tmp_path: Path, client_of: Callable[[Settings], TestClient]
) -> None:
    """Cancelled while it is followed, so that the stream ends: the test client reads it whole."""
    client = client_of(
        Settings(
            database=f"sqlite:///{tmp_path}/cutopt.sqlite3",
            plans_at_once=0,
            heartbeat_seconds=0.1,
            most_streams=1,
        )
    )
    plan = start_plan(client, post_day(client))
    app: Any = client.app
    app.state.streams.add(object())
    answer = client.get(f"/plans/{plan}/events")
    assert (answer.status_code, answer.json()["type"]) == (503, "/problems/busy")
    assert int(answer.headers["retry-after"]) > 0
    app.state.streams.clear()

    import threading

    threading.Timer(1.2, lambda: client.post(f"/plans/{plan}/cancel")).start()
    text = client.get(f"/plans/{plan}/events").text
    assert ": nothing new" in text
    assert events_of(text.splitlines())[-1]["data"]["status"] == "stopped"
    assert app.state.streams == set()

"""The real service: its start, its end, and what becomes of plans when something dies."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import psutil
import pytest

from cutopt.cutlist import read_raw_days
from cutopt.files import outputs, raw_day_from_files
from cutopt.plan import Problem
from cutopt.solve import Settings, solve
from tests.service.conftest import post_day, start_plan, wait_for
from tests.service.days import demo_files, parts
from tests.service.live import Live
from tests.service.test_events import events_of
from tests.service.test_plans import timeless

#: Lists of the demo day that take some seconds to plan, most of them after the first progress.
SOME_SECONDS = ("floors", "roofs", "walls")


@pytest.fixture
def live(tmp_path: Path) -> Iterator[Live]:
    with Live(tmp_path, CUTOPT_WORKERS="2", CUTOPT_LEASE_SECONDS="2") as live:
        yield live


def start_long(live: Live) -> str:
    """A plan that is under way, with some progress made."""
    answer = live.client.post("/days", files=parts(demo_files(lists=SOME_SECONDS)))
    assert answer.status_code == 201, answer.text
    plan = start_plan(live.client, answer.json()["id"])
    wait_for(live.client, plan, "running")
    for _ in range(300):
        if live.client.get(f"/plans/{plan}").json()["progress"]:
            return plan
        time.sleep(0.02)
    raise AssertionError("no progress in 6 s")


def gone(processes: list[psutil.Process]) -> bool:
    _, alive = psutil.wait_procs(processes, timeout=5)
    return not [p for p in alive if p.status() != psutil.STATUS_ZOMBIE]


def test_a_plan_outlives_the_death_of_the_service(live: Live) -> None:
    """Killed in the middle of a plan, started again: the plan is made, as if nothing had been."""
    plan = start_long(live)
    assert live.process is not None
    below = psutil.Process(live.process.pid).children(recursive=True)
    assert live.planning()
    live.kill()
    assert gone(below), "solvers were left behind"
    live.start()
    assert live.client.get(f"/plans/{plan}").json()["status"] in ("running", "queued")
    view = wait_for(live.client, plan)
    assert (view["status"], view["outcome"]) == ("done", "planned"), view
    events = events_of(live.client.get(f"/plans/{plan}/events").text.splitlines())
    told = [event["data"]["status"] for event in events if event["event"] != "progress"]
    assert told == ["queued", "running", "running", "done"]

    files = demo_files(lists=SOME_SECONDS)
    problem = Problem(read_raw_days([raw_day_from_files("2026-03-02", files)]).days)
    wanted = outputs(problem, solve(problem, Settings(workers=2)))
    got = live.client.get(f"/plans/{plan}/plan.json").content
    assert timeless(got) == timeless(wanted["plan.json"])


def test_a_plan_is_handed_back_by_a_service_that_stops(live: Live) -> None:
    plan = start_long(live)
    assert live.process is not None
    below = psutil.Process(live.process.pid).children(recursive=True)
    with live.client.stream("GET", f"/plans/{plan}/events") as stream:  # does not hold it up
        next(stream.iter_lines())
        began = time.monotonic()
        assert live.stop() == 0
        assert time.monotonic() - began < 5
    assert gone(below)
    assert "handed back" in live.log()
    live.start()
    assert wait_for(live.client, plan)["status"] == "done"


def test_a_plan_whose_workers_die_is_made_again(live: Live) -> None:
    plan = start_long(live)
    workers = live.planning()
    assert workers
    for worker in workers:
        os.kill(worker.pid, signal.SIGKILL)
    assert gone(workers)
    assert live.client.get("/livez").status_code == 200
    view = wait_for(live.client, plan)
    assert view["status"] == "done", view
    assert "ended by SIGKILL" in live.log()


def test_a_plan_whose_worker_keeps_dying_is_given_up(tmp_path: Path) -> None:
    with Live(tmp_path, CUTOPT_WORKERS="1", CUTOPT_MOST_CRASHES="1") as live:
        plan = start_long(live)
        (process,) = live.planning()
        os.kill(process.pid, signal.SIGKILL)
        view = wait_for(live.client, plan)
        assert (view["status"], view["outcome"]) == ("failed", None)
        detail = view["failure"]["detail"]
        assert detail.endswith(": the planning process was ended by SIGKILL"), detail
        answer = live.client.get(f"/plans/{plan}/plan.json")
        assert (answer.status_code, answer.json()["type"]) == (409, "/problems/no-result")
        after = start_plan(live.client, post_day(live.client))
        assert wait_for(live.client, after)["status"] == "done"


def test_two_services_share_one_database(tmp_path: Path) -> None:
    """Plans are started at one and made by both, each once."""
    with Live(tmp_path, CUTOPT_WORKERS="1") as first, Live(tmp_path, CUTOPT_WORKERS="1") as second:
        day = post_day(first.client)
        plans = [start_plan(first.client, day, seed=seed) for seed in range(4)]
        for plan in plans:
            assert wait_for(second.client, plan)["status"] == "done"
            events = events_of(second.client.get(f"/plans/{plan}/events").text.splitlines())
            told = [e["data"]["status"] for e in events if e["event"] != "progress"]
            assert told == ["queued", "running", "done"]


def test_the_demo_has_something_to_see(tmp_path: Path) -> None:
    """Started twice, it holds each demo day once and has planned the first."""
    with Live(tmp_path, "--demo") as live:
        days = live.client.get("/days").json()["items"]
        assert [day["name"] for day in days] == ["2026-03-04", "2026-03-03", "2026-03-02"]
        (plan,) = live.client.get("/plans").json()["items"]
        assert plan["days"] == [days[-1]["id"]]
        live.stop()
        live.start()
        assert live.client.get("/days").json()["items"] == days
        assert [p["id"] for p in live.client.get("/plans").json()["items"]] == [plan["id"]]
        live.client.post(f"/plans/{plan['id']}/cancel")


@pytest.mark.parametrize(("known", "status"), [(True, b"413"), (False, b"401")])
def test_a_body_without_end_is_cut_off(tmp_path: Path, known: bool, status: bytes) -> None:
    """On the wire: chunked, against a limit of 1 MiB; the connection is closed, not waited for.

    Whoever is not signed in is cut off before any of it is read.
    """
    with Live(tmp_path, CUTOPT_BODY_MIB="1", CUTOPT_PLANS_AT_ONCE="0") as live:
        host, port = live.client.base_url.host, live.client.base_url.port
        chunk = b"10000\r\n" + b" " * 65_536 + b"\r\n"
        answer = proof = b""
        if known:
            told = (live.client.cookies["cutopt"], live.client.headers["X-CSRF-Token"])
            proof = "Cookie: cutopt={}\r\nX-CSRF-Token: {}\r\n".format(*told).encode()
        with socket.create_connection((host, port), timeout=10) as wire:
            wire.sendall(
                b"POST /days HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
                b"Transfer-Encoding: chunked\r\n" + proof + b"\r\n"
            )
            with pytest.raises(ConnectionError):
                wire.sendall(chunk * 2000)
            with contextlib.suppress(ConnectionError):
                answer = wire.recv(65_536)
        # A client that still sends when the connection closes may lose the answer.
        assert answer == b"" or answer.startswith(b"HTTP/1.1 " + status)
        assert live.client.get("/livez").status_code == 200

"""The service stops in good order: what is under way ends, nothing new begins, plans are kept."""

from __future__ import annotations

import asyncio
import gc
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import httpx2
import psutil
import pytest
import uvicorn
from fastapi import FastAPI

from api.serve import _Server
from tests.service.conftest import wait_for
from tests.service.days import small_document
from tests.service.live import Live
from tests.service.test_live import gone, start_long

BODY = json.dumps(small_document()).encode()


@contextmanager
def half_a_request(live: Live) -> Iterator[socket.socket]:
    """A day that is posted: the first half of it has arrived."""
    url = live.client.base_url
    cookies = "; ".join(f"{name}={value}" for name, value in live.client.cookies.items())
    head = (
        f"POST /days HTTP/1.1\r\nHost: {url.host}:{url.port}\r\nContent-Type: application/json\r\n"
        f"Cookie: {cookies}\r\nX-CSRF-Token: {live.client.headers['x-csrf-token']}\r\n"
        f"Content-Length: {len(BODY)}\r\n\r\n"
    )
    with socket.create_connection((url.host, url.port), timeout=20) as wire:
        wire.sendall(head.encode() + BODY[: len(BODY) // 2])
        time.sleep(0.3)
        yield wire


def told_to_stop(live: Live) -> None:
    """Once it has heard that it is to stop."""
    assert live.process is not None
    live.process.send_signal(signal.SIGTERM)
    for _ in range(200):
        if "stopping: no new requests" in live.log():
            return
        time.sleep(0.02)
    raise AssertionError(live.log())


@pytest.mark.parametrize("told", [signal.SIGTERM, signal.SIGINT])
def test_it_ends_with_0_whichever_way_it_is_told(tmp_path: Path, told: signal.Signals) -> None:
    with Live(tmp_path, CUTOPT_PLANS_AT_ONCE="0") as live:
        assert live.process is not None
        live.process.send_signal(told)
        assert live.process.wait(20) == 0
        assert "stopped in good order" in live.log()
        assert "Traceback" not in live.log()


def test_a_port_that_is_taken(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        environment = {k: v for k, v in os.environ.items() if not k.startswith("CUTOPT_")}
        told = subprocess.run(
            [
                Path(sys.executable).parent / "cutopt",
                "serve",
                "--port",
                str(taken.getsockname()[1]),
            ],
            cwd=tmp_path,
            env=environment,
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    assert told.returncode == 1
    assert "address already in use" in told.stderr


def test_what_is_under_way_is_answered_and_nothing_new_begins(tmp_path: Path) -> None:
    with Live(tmp_path, CUTOPT_PLANS_AT_ONCE="0") as live:
        assert live.process is not None
        with half_a_request(live) as wire:
            told_to_stop(live)
            time.sleep(0.2)
            with pytest.raises(httpx2.TransportError):
                httpx2.get(f"{live.client.base_url}/livez", timeout=2)
            wire.sendall(BODY[len(BODY) // 2 :])
            answer = wire.recv(65_536)
        assert answer.startswith(b"HTTP/1.1 201 "), answer
        assert live.process.wait(20) == 0
        live.start()
        assert len(live.client.get("/days").json()["items"]) == 1


def test_what_does_not_end_is_broken_off(tmp_path: Path) -> None:
    with Live(tmp_path, CUTOPT_PLANS_AT_ONCE="0", CUTOPT_STOP_SECONDS="1") as live:
        assert live.process is not None
        with half_a_request(live):
            began = time.monotonic()
            assert live.stop() == 0
            assert 1 <= time.monotonic() - began < 10


def test_told_twice_it_ends_at_once(tmp_path: Path) -> None:
    """Its workers end with it, and the plan is made after the next start."""
    with Live(tmp_path, CUTOPT_WORKERS="1", CUTOPT_LEASE_SECONDS="2") as live:
        assert live.process is not None
        plan = start_long(live)
        below = psutil.Process(live.process.pid).children(recursive=True)
        with half_a_request(live):
            told_to_stop(live)
            assert live.process.poll() is None
            live.process.send_signal(signal.SIGTERM)
            assert live.process.wait(5) == 128 + signal.SIGTERM
        assert gone(below)
        live.start()
        assert wait_for(live.client, plan)["status"] == "done"


def test_what_is_there_for_good_is_no_garbage_to_look_through() -> None:
    server = _Server(uvicorn.Config(FastAPI(), port=0, log_config=None), FastAPI())
    before = gc.get_freeze_count()
    try:
        asyncio.run(_begin(server))
        assert gc.get_freeze_count() > before + 10_000
    finally:
        gc.unfreeze()


async def _begin(server: _Server) -> None:
    server.config.load()
    server.lifespan = server.config.lifespan_class(server.config)
    await server.startup()
    for listening in server.servers:
        listening.close()

"""A day planned through the service, as a station's program would do it."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import httpx2

from api.client import Client
from tests.service.signing import enter

__all__ = ["plan_through_service"]


def plan_through_service(day: Path, seconds: float = 60.0) -> bytes:
    """Start the installed service, post the day's files, plan it and fetch plan.json."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with (
        tempfile.TemporaryDirectory() as folder,
        (Path(folder) / "printed").open("wb") as printed,
    ):
        environment = {k: v for k, v in os.environ.items() if k != "CUTOPT_DATABASE"}
        service = subprocess.Popen(
            [Path(sys.executable).parent / "cutopt", "serve", "--port", str(port)],
            cwd=folder,
            env=environment,
            stdout=printed,
            stderr=subprocess.DEVNULL,
        )
        try:
            with httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=30) as client:
                _wait_ready(client)
                enter(client, (Path(folder) / "printed").read_text())
                return _plan(Client(http=client), day, seconds)
        finally:
            service.terminate()
            service.wait(20)


def _wait_ready(client: httpx2.Client) -> None:
    for _ in range(150):
        try:
            if client.get("/readyz").status_code == 200:
                return
        except httpx2.TransportError:
            pass
        time.sleep(0.2)
    raise RuntimeError("the service did not get ready in 30 s")


def _plan(service: Client, day: Path, seconds: float) -> bytes:
    files = [
        (path.relative_to(day).as_posix(), path.read_bytes())
        for path in sorted(day.rglob("*"))
        if path.is_file()
    ]
    posted = service.post_day_files(files).value
    plan = service.start_plan({"days": [posted["id"]], "seconds": seconds}).value["id"]
    for _ in range(int(seconds * 10) + 300):
        if service.read_plan(plan).value["status"] not in ("queued", "running"):
            break
        time.sleep(0.1)
    return service.read_plan_document(plan).content

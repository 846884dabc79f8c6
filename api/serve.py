"""`cutopt serve`: the service on a port."""

from __future__ import annotations

import contextlib
import gc
import ipaddress
import logging
import os
import signal
import socket
import sys
import threading
from collections.abc import Iterator
from math import ceil
from pathlib import Path
from types import FrameType

import uvicorn
from fastapi import FastAPI

from api.app import create_app
from api.operation import set_up_logs
from api.services import Services
from api.settings import in_force, secrets_of, settings_from
from api.shapes import NewPlan
from cutopt.records import CutoptError

__all__ = ["run", "tell_set_up"]

_LOG = logging.getLogger("cutopt.serve")
_PLAN_SECONDS = 60.0
_STOP = (signal.SIGINT, signal.SIGTERM)
#: What a shell adds to the number of the signal that a process was ended by.
_ENDED_BY = 128
#: A thread that waits for data waits so long again for its next turn beside one that reckons.
_SWITCH_SECONDS = 0.001


def run(host: str, port: int, demo: bool, check: bool = False) -> int:
    """Serve until told to stop; 0 when it stopped in good order.

    With `check` the settings in force are printed, secrets masked, and nothing is started.

    Raises
    ------
    CutoptError
        Where a setting is wrong, or `demo` is asked for on an address that others can reach.
    """
    settings = settings_from(os.environ)
    if demo and not _is_loopback(host):
        raise CutoptError(
            f"--demo is for this machine only, read --host {host}, would be right: 127.0.0.1"
        )
    if check:
        print("\n".join(f"{name}={value}" for name, value in in_force(settings).items()))
        return 0
    days = _demo_days() if demo else []
    app = create_app(settings, demo)
    services: Services = app.state.services
    services.database.make_tables()
    if demo:
        _load_demo(services, days)
    else:
        tell_set_up(services, host, port)
    set_up_logs(settings.log_form, settings.log_level, secrets_of(settings))
    config = uvicorn.Config(
        app,
        host=host,
        port=port,
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=ceil(settings.stop_seconds),
    )
    server = _Server(config, app)
    with contextlib.suppress(SystemExit):  # where the port is taken; its code means another thing
        server.run()
    if not server.started:
        return 1
    _LOG.info("stopped in good order")
    return 0


class _Server(uvicorn.Server):
    """Stops in good order when it is told to, at once when it is told again."""

    def __init__(self, config: uvicorn.Config, app: FastAPI) -> None:
        super().__init__(config)
        self._app = app

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Listen to signals while it serves.

        The server would send itself the signal again at its end, and so end by it: to whoever
        started the service that looks as if it had not stopped in good order.
        """
        if threading.current_thread() is not threading.main_thread():
            yield
            return
        before = {told: signal.signal(told, self.handle_exit) for told in _STOP}
        try:
            yield
        finally:
            for told, handler in before.items():
                signal.signal(told, handler)

    def handle_exit(self, sig: int, frame: FrameType | None) -> None:
        """Stop; at once where it was told to before.

        Plans under way end with this process and are taken up again once their leases run out.
        """
        if self.should_exit:
            os._exit(_ENDED_BY + sig)
        self.should_exit = True

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then set apart what is there for good.

        A full collection of garbage holds every request up. Over modules, routes and schemas it
        took 75 to 100 ms, several times a minute while a plan was followed.
        """
        await super().startup(sockets)
        gc.collect()
        gc.freeze()
        sys.setswitchinterval(_SWITCH_SECONDS)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End event streams before open connections are waited for."""
        _LOG.info("stopping: no new requests are taken, plans under way are handed back")
        self._app.state.stopping.set()
        await super().shutdown(sockets)


def tell_set_up(services: Services, host: str, port: int) -> None:
    """Print the link that makes the first person, where there is nobody: only here, never again."""
    token = services.access.set_up_link()
    if token is None:
        return
    shown = f"[{host}]" if ":" in host else host
    print(
        f"Nobody can sign in yet. Set the service up at\n\n"
        f"    http://{shown}:{port}/set-up/{token}\n\n"
        "within 24 hours. The link is good once and is kept nowhere.",
        flush=True,
    )


def _is_loopback(host: str) -> bool:
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def _demo_days() -> list[Path]:
    beside = Path(__file__).resolve().parents[1] / "demo_orders"
    for home in (beside, Path.cwd() / "demo_orders"):
        days = sorted(day.parent for day in home.glob("*/day.toml"))
        if days:
            return days
    raise CutoptError(
        "no demo days were found: start the service in the project's folder, which holds "
        "demo_orders"
    )


def _load_demo(services: Services, days: list[Path]) -> None:
    """Days that are not there yet, and a plan of the first where there is no plan at all.

    Beside them a person of each role, who signs in without a password.
    """
    kept = [
        services.days.add_once(
            day.name,
            {
                file.relative_to(day).as_posix(): file.read_bytes()
                for file in (day / "day.toml", day / "stock.csv", *sorted(day.glob("cuts/*.csv")))
                if file.is_file()
            },
        )
        for day in days
    ]
    services.access.people_of_demo()
    if not services.plans.page(None, 1, None).items:
        services.plans.start(NewPlan(days=[kept[0].id], seconds=_PLAN_SECONDS))

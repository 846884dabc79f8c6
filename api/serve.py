"""`cutopt serve`: the service on a port."""

from __future__ import annotations

import copy
import ipaddress
import os
import socket
from math import ceil
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI

from api.app import create_app
from api.services import Services
from api.settings import in_force, settings_from
from api.shapes import NewPlan
from cutopt.records import CutoptError

__all__ = ["run"]

_PLAN_SECONDS = 60.0


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
    app = create_app(settings)
    if demo:
        services: Services = app.state.services
        services.database.make_tables()
        _load_demo(services, days)
    config = uvicorn.Config(
        app,
        host=host,
        port=port,
        log_config=_log_config(),
        server_header=False,
        timeout_graceful_shutdown=ceil(settings.stop_seconds),
    )
    server = _Server(config, app)
    server.run()
    return 0 if server.started else 1


def _log_config() -> dict[str, Any]:
    """The server's own log, and ours beside it."""
    config: dict[str, Any] = copy.deepcopy(uvicorn.config.LOGGING_CONFIG)
    config["loggers"]["cutopt"] = {"handlers": ["default"], "level": "INFO", "propagate": False}
    return config


class _Server(uvicorn.Server):
    """Ends event streams before it waits for open connections."""

    def __init__(self, config: uvicorn.Config, app: FastAPI) -> None:
        super().__init__(config)
        self._app = app

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        self._app.state.stopping.set()
        await super().shutdown(sockets)


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
    """Days that are not there yet, and a plan of the first where there is no plan at all."""
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
    if not services.plans.page(None, 1, None).items:
        services.plans.start(NewPlan(days=[kept[0].id], seconds=_PLAN_SECONDS))

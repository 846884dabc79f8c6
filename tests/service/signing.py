"""Signing in to a service that runs: set up with the link that it printed, or by name."""

from __future__ import annotations

import re
from typing import Any

__all__ = ["NAME", "PASSWORD", "enter", "enter_demo"]

NAME = "Ada Rind"
PASSWORD = "four quiet blue planers"
PLANT = "Hask Lake Section Works"


def enter(client: Any, printed: str) -> None:
    """Sign a client in as an admin; `printed` is what the service has printed so far."""
    links = re.findall(r"/set-up/([\w-]+)", printed)
    answer = client.post("/session", json={"name": NAME, "password": PASSWORD})
    if answer.status_code != 201:
        told = {"link": links[-1], "name": NAME, "password": PASSWORD, "plant": PLANT}
        answer = client.post("/set-up", json=told)
    assert answer.status_code == 201, answer.text
    client.headers["X-CSRF-Token"] = answer.json()["csrf"]


def enter_demo(client: Any, role: str = "admin") -> None:
    """Sign a client in to a demo, without a password."""
    answer = client.post("/sign-in", data={"role": role})
    assert answer.status_code == 303, answer.text
    client.headers["X-CSRF-Token"] = client.get("/session").json()["csrf"]

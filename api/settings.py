"""What can be set, read from the environment once and checked at the start."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

from cutopt.records import CutoptError, known_or_nearest

__all__ = ["Settings", "settings_from"]

_PREFIX = "CUTOPT_"
MIB = 1024 * 1024


@dataclass(frozen=True, slots=True)
class Settings:
    """The limits and places of one service process.

    Each is set by an environment variable: `CUTOPT_` and its name in capitals, such as
    `CUTOPT_DATABASE`.

    Parameters
    ----------
    database
        An SQLite file (`sqlite:///cutopt.sqlite3`) or a PostgreSQL
        (`postgresql+psycopg://user@host/name`).
    workers
        Processes that solve one plan's materials side by side; 0 for as many as there are cores.
    plans_at_once
        Plans that this process runs at the same time; 0: none, others on the same database do.
    most_waiting
        Plans that may wait; one more is refused with 503 until there is room.
    grace_seconds
        How long a plan's process may take beyond its search before it is ended: reading, checking
        and drawing a large plan.
    lease_seconds
        A plan whose process has not been heard of for so long is taken up again.
    most_crashes
        A plan whose process died so often is given up.
    body_mib
        The largest body of a request.
    body_seconds
        The longest wait for the next part of a body.
    most_files
        Files in one posted day.
    most_streams
        Open event streams.
    heartbeat_seconds
        A comment is sent on a silent event stream this often.
    """

    database: str = "sqlite:///cutopt.sqlite3"
    workers: int = 0
    plans_at_once: int = 1
    most_waiting: int = 100
    grace_seconds: float = 120.0
    lease_seconds: float = 10.0
    most_crashes: int = 3
    body_mib: int = 32
    body_seconds: float = 30.0
    most_files: int = 200
    most_streams: int = 64
    heartbeat_seconds: float = 15.0

    @property
    def body_bytes(self) -> int:
        """The largest body in bytes."""
        return self.body_mib * MIB


_MAY_BE_ZERO = {"workers", "plans_at_once"}


def settings_from(environment: Mapping[str, str]) -> Settings:
    """Read the settings.

    Raises
    ------
    CutoptError
        Naming every variable that can't be read, and every unknown one that begins like ours.
    """
    kinds = {f"{_PREFIX}{f.name.upper()}": f for f in fields(Settings)}
    changes: dict[str, str | int | float] = {}
    faults = []
    for name, text in sorted(environment.items()):
        if not name.startswith(_PREFIX) or not text:
            continue
        field = kinds.get(name)
        if field is None:
            faults.append(f"{name}: no such setting; {known_or_nearest(name, kinds)}")
            continue
        if field.type == "str":
            changes[field.name] = text
            continue
        try:
            value = int(text) if field.type == "int" else float(text)
        except ValueError:
            value = -1
        if not (0 < value <= 1e9 or (value == 0 and field.name in _MAY_BE_ZERO)):
            faults.append(f"{name}: read '{text}', would be right: a number above 0")
            continue
        changes[field.name] = value
    if faults:
        raise CutoptError("\n".join(faults))
    return replace(Settings(), **changes)  # type: ignore[arg-type]

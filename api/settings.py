"""What can be set, read from the environment once and checked at the start."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from sqlalchemy import make_url
from sqlalchemy.exc import ArgumentError

from cutopt.records import CutoptError, known_or_nearest

__all__ = ["Settings", "Spec", "in_force", "secrets_of", "settings_from", "specs"]

_PREFIX = "CUTOPT_"
_FROM_FILE = "_FILE"
_MOST_FILE_BYTES = 16_384
_MASK = "********"
_LEAST_KEY = 16
MIB = 1024 * 1024

Value = str | int | float


def _set(
    default: Any,
    least: float = 0,
    most: float = 1e9,
    words: tuple[str, ...] = (),
    secret: bool = False,
) -> Any:
    """A setting with its default, the range of a number or the words that it may be."""
    more = {"least": least, "most": most, "words": words, "secret": secret}
    return field(default=default, repr=False, metadata=more)


@dataclass(frozen=True, slots=True)
class Settings:
    """The limits and places of one service process.

    Each is set by an environment variable: `CUTOPT_` and its name in capitals, such as
    `CUTOPT_DATABASE`; with `_FILE` behind it (`CUTOPT_DATABASE_PASSWORD_FILE`) the variable names
    a file that holds the value.

    Parameters
    ----------
    database
        An SQLite file (`sqlite:///cutopt.sqlite3`) or a PostgreSQL
        (`postgresql+psycopg://user@host/name`).
    database_password
        The database's password, where its address holds none.
    workers
        Processes that plan the materials of all plans side by side; 0 for as many as there are
        cores.
    scheduler
        A Dask scheduler, such as `tcp://mill-1:8786`: its workers plan instead of `workers`.
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
    stop_seconds
        How long requests under way may take to end once the service was told to stop.
    least_free_mib
        The service is not ready where the disk below an SQLite has less room than this; 0: not
        looked at.
    log_form
        `plain`, or `json`: one JSON object a line.
    log_level
        The least that is logged: `debug`, `info`, `warning` or `error`.
    metrics_key
        A program that reads `/metrics` sends it as `Authorization: Bearer KEY`; at least 16
        characters. Where it is blank, programs of this machine may read them. So may whoever is
        signed in and has the right to the service's state.
    """

    database: str = _set("sqlite:///cutopt.sqlite3")
    database_password: str = _set("", secret=True)
    workers: int = _set(0, most=1024)
    scheduler: str = _set("")
    plans_at_once: int = _set(1, most=1024)
    most_waiting: int = _set(100, least=1)
    grace_seconds: float = _set(120.0, least=0.1)
    lease_seconds: float = _set(10.0, least=0.1)
    most_crashes: int = _set(3, least=1)
    body_mib: int = _set(32, least=1, most=1024)
    body_seconds: float = _set(30.0, least=0.01)
    most_files: int = _set(200, least=1)
    most_streams: int = _set(64, least=1)
    heartbeat_seconds: float = _set(15.0, least=0.01)
    stop_seconds: float = _set(10.0, least=0.1)
    least_free_mib: int = _set(256)
    log_form: str = _set("plain", words=("plain", "json"))
    log_level: str = _set("info", words=("debug", "info", "warning", "error"))
    metrics_key: str = _set("", secret=True)

    @property
    def body_bytes(self) -> int:
        """The largest body in bytes."""
        return self.body_mib * MIB

    @property
    def address(self) -> str:
        """The database's address with its password, for the engine alone."""
        if not self.database_password:
            return self.database
        url = make_url(self.database).set(password=self.database_password)
        return url.render_as_string(hide_password=False)

    def __repr__(self) -> str:
        told = ", ".join(f"{name}={value}" for name, value in in_force(self).items())
        return f"Settings({told})"


@dataclass(frozen=True, slots=True)
class Spec:
    """What there is to say of one setting: its variable, default and meaning in words."""

    variable: str
    default: str
    meaning: str


def specs() -> list[Spec]:
    """Every setting, as the docstring of `Settings` tells it, in its order."""
    _, _, told = (Settings.__doc__ or "").partition("----------\n")
    blocks = re.findall(r"^    (\w+)\n((?:        .+\n?)+)", told, re.MULTILINE)
    meanings = {name: " ".join(text.split()) for name, text in blocks}
    defaults = Settings()
    return [
        Spec(_variable(f), _shown(getattr(defaults, f.name)), meanings[f.name])
        for f in fields(Settings)
    ]


def in_force(settings: Settings) -> dict[str, str]:
    """Every variable with its value in words; secrets are masked."""
    told = {}
    for known in fields(Settings):
        value = getattr(settings, known.name)
        if known.metadata.get("secret") and value:
            value = _MASK
        elif known.name == "database":
            value = _without_password(value)
        told[_variable(known)] = _shown(value)
    return told


def secrets_of(settings: Settings) -> list[str]:
    """Every secret that is set: no log line may hold one."""
    found = [getattr(settings, f.name) for f in fields(Settings) if f.metadata["secret"]]
    with contextlib.suppress(ArgumentError):
        found.append(make_url(settings.database).password or "")
    return [secret for secret in found if secret]


def settings_from(environment: Mapping[str, str]) -> Settings:
    """Read the settings.

    Raises
    ------
    CutoptError
        Naming every variable that can't be read, every file that can't, and every unknown variable
        that begins like ours.
    """
    kinds = {_variable(f): f for f in fields(Settings)}
    changes: dict[str, Value] = {}
    faults: list[str] = []
    for name, text in sorted(environment.items()):
        if not name.startswith(_PREFIX) or not text:
            continue
        variable = name
        if name not in kinds and name.removesuffix(_FROM_FILE) in kinds:
            variable = name.removesuffix(_FROM_FILE)
            if environment.get(variable):
                faults.append(f"{name}: {variable} is set too, would be right: one of the two")
                continue
            text = _read(name, text, faults)
            if not text:
                continue
        known = kinds.get(variable)
        if known is None:
            faults.append(f"{name}: no such setting; {known_or_nearest(name, kinds)}")
            continue
        value = _value(known, text)
        if isinstance(value, _Fault):
            read = _MASK if known.metadata["secret"] else f"'{_brief(known, text)}'"
            faults.append(f"{name}: read {read}, would be right: {value.right}")
            continue
        changes[known.name] = value
    if changes.get("database_password") and "postgresql" not in str(changes.get("database", "")):
        faults.append(
            "CUTOPT_DATABASE_PASSWORD: an SQLite has none, would be right: a PostgreSQL in "
            "CUTOPT_DATABASE"
        )
    if faults:
        raise CutoptError("\n".join(faults))
    return replace(Settings(), **changes)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class _Fault:
    right: str


def _value(known: Field[Any], text: str) -> Value | _Fault:
    """A setting's value from its text."""
    if known.type == "str":
        return _text(known, text)
    least, most = known.metadata["least"], known.metadata["most"]
    whole = known.type == "int"
    right = f"a {'whole ' * whole}number from {least:g} to {most:,.0f}"
    try:
        value = int(text) if whole else float(text)
    except ValueError:
        return _Fault(right)
    return value if least <= value <= most else _Fault(right)


def _text(known: Field[Any], text: str) -> str | _Fault:
    words = known.metadata["words"]
    if words:
        return text if text in words else _Fault(" or ".join(words))
    if known.metadata["secret"]:
        if not text.isprintable() or " " in text:
            return _Fault("printable characters without spaces")
        if known.name == "metrics_key" and len(text) < _LEAST_KEY:
            return _Fault(f"at least {_LEAST_KEY} characters")
    if known.name == "scheduler" and not re.fullmatch(r"(tcp|tls)://[^\s/:]+:\d{1,5}", text):
        return _Fault("a scheduler's address, such as tcp://mill-1:8786")
    if known.name == "database":
        try:
            url = make_url(text)
        except ArgumentError:
            url = None
        kept = url is not None and (url.database or "") not in ("", ":memory:")
        if url is None or not kept or url.get_backend_name() not in ("sqlite", "postgresql"):
            return _Fault("sqlite:///cutopt.sqlite3 or postgresql+psycopg://user@host/name")
    return text


def _read(name: str, place: str, faults: list[str]) -> str:
    """What a file holds, without the line's end; blank and a fault where it can't be read."""
    try:
        with Path(place).open("rb") as file:
            content = file.read(_MOST_FILE_BYTES + 1)
        text = content.decode().strip("\r\n")
    except (OSError, UnicodeDecodeError) as error:
        why = error.strerror if isinstance(error, OSError) else "it is not UTF-8"
        faults.append(f"{name}: '{place}' can't be read: {why}")
        return ""
    if not text or len(content) > _MOST_FILE_BYTES:
        faults.append(f"{name}: '{place}' holds {len(content)} bytes, would be right: one value")
        return ""
    return text


def _variable(known: Field[Any]) -> str:
    return f"{_PREFIX}{known.name.upper()}"


def _shown(value: Value) -> str:
    return f"{value:g}" if isinstance(value, float) else str(value)


def _brief(known: Field[Any], text: str) -> str:
    text = _without_password(text) if known.name == "database" else text
    return text if len(text) <= 80 else text[:77] + "..."


def _without_password(address: str) -> str:
    """An address with its password masked, also where it can't be read as one."""
    address = re.sub(r"(?i)(password=)[^&]*", rf"\g<1>{_MASK}", address)
    return re.sub(r"^([^:/]*://)?([^:]*):.*@", rf"\g<1>\g<2>:{_MASK}@", address)

"""Logs: one line a happening, plain or as JSON, with the request's id and without secrets.

Code logs through the standard library under `cutopt.…`, with what belongs to a line in `extra`.
Handlers are set up here alone, when the service is started; importing anything sets up none.

What is never in a line: bodies, headers, cookies, query strings and paths as they came (a path may
hold a one-time link); values of fields with a secret's name; the secrets that the settings hold,
wherever they turn up.
"""

from __future__ import annotations

import logging
import re
import sys
from collections.abc import Iterable, MutableMapping
from typing import Any, TextIO

import structlog
from structlog.typing import EventDict, Processor

from api.operation.ids import current_request

__all__ = ["adopt", "set_up_logs"]

_MASK = "********"
_SECRET_NAME = re.compile(
    r"(?i)(^|_)(password|passwd|secret|token|key|authorization|cookie|csrf|session)s?($|_)"
)
#: What looks like a secret in a text: a password in an address, a bearer's key, NAME=VALUE.
_SECRET_TEXT = (
    (re.compile(r"(?i)(\b[a-z][a-z0-9+.-]*://[^\s:/@]*:)[^\s]+(?=@)"), rf"\g<1>{_MASK}"),
    (re.compile(r"(?i)(\b(?:bearer|basic)\s+)[A-Za-z0-9._~+/=-]+"), rf"\g<1>{_MASK}"),
    (
        re.compile(r"(?i)(\b\w*(?:password|secret|token|csrf|cookie)\w*[\"']?\s*[=:]\s*)[^\s,;)]+"),
        rf"\g<1>{_MASK}",
    ),
)
_MOST_LINE = 400
_MOST_TEXT = 16_000
_LEAST_SECRET = 4
#: What the server adds for terminals that show colours, and other formatters leave behind.
_NOT_OURS = ("color_message", "message", "asctime", "taskName")
_FIRST = ("time", "level", "logger", "event", "request")


def set_up_logs(
    form: str, level: str, secrets: Iterable[str] = (), to: TextIO | None = None
) -> None:
    """Log in one form from now on: `plain`, or `json` with an object a line.

    Parameters
    ----------
    form
        `plain` or `json`.
    level
        The least that is logged of our own: `debug`, `info`, `warning`, `error`. Of libraries,
        warnings and worse.
    secrets
        Texts that no line may hold.
    to
        Where to; standard error where nothing is named.
    """
    pre: list[Processor] = [
        structlog.stdlib.add_log_level,
        structlog.stdlib.add_logger_name,
        structlog.stdlib.ExtraAdder(),
        structlog.processors.TimeStamper(fmt="iso", utc=True, key="time"),
        _with_request,
    ]
    render: Processor = _plain if form == "plain" else _json()
    formatter = structlog.stdlib.ProcessorFormatter(
        foreign_pre_chain=pre,
        processors=[
            structlog.stdlib.ProcessorFormatter.remove_processors_meta,
            # No frame's variables: they would hold bodies.
            structlog.processors.format_exc_info,
            _Masked(secrets),
            render,
        ],
    )
    handler = logging.StreamHandler(to or sys.stderr)
    handler.setFormatter(formatter)
    root = logging.getLogger()
    for old in root.handlers[:]:
        if isinstance(old.formatter, structlog.stdlib.ProcessorFormatter):
            root.removeHandler(old)
    root.addHandler(handler)
    root.setLevel(logging.WARNING)
    ours = level.upper()
    for name in ("cutopt", "uvicorn"):
        logging.getLogger(name).setLevel(ours)
    # The server's own line for a request holds the path as it came; ours does not.
    logging.getLogger("uvicorn.access").disabled = True
    logging.captureWarnings(True)


def adopt(library: str) -> None:
    """Let a library's lines go where all lines go, whatever it set up for itself at its import."""
    for name in list(logging.root.manager.loggerDict):
        if name == library or name.startswith(f"{library}."):
            logger = logging.getLogger(name)
            logger.handlers.clear()
            logger.propagate = True


def _with_request(logger: Any, method: str, line: EventDict) -> EventDict:
    request = current_request()
    if request:
        line.setdefault("request", request)
    for name in _NOT_OURS:
        line.pop(name, None)
    return line


class _Masked:
    """Masks what is secret, by a field's name, by its look, or because the settings hold it."""

    def __init__(self, secrets: Iterable[str]) -> None:
        self._secrets = sorted({s for s in secrets if len(s) >= _LEAST_SECRET}, key=len)[::-1]

    def __call__(self, logger: Any, method: str, line: EventDict) -> EventDict:
        return self._mapping(line)

    def _mapping(self, value: MutableMapping[str, Any]) -> dict[str, Any]:
        return {
            name: _MASK if inner and _SECRET_NAME.search(str(name)) else self._value(inner)
            for name, inner in value.items()
        }

    def _value(self, value: Any) -> Any:
        if isinstance(value, bool | int | float | None):
            return value
        if isinstance(value, dict):
            return self._mapping(value)
        if isinstance(value, list | tuple):
            return [self._value(inner) for inner in value]
        return self._text(str(value))

    def _text(self, text: str) -> str:
        text = "\n".join(_short(line) for line in text[:_MOST_TEXT].split("\n"))
        for secret in self._secrets:
            text = text.replace(secret, _MASK)
        for look, masked in _SECRET_TEXT:
            text = look.sub(masked, text)
        return text


def _short(line: str) -> str:
    return line if len(line) <= _MOST_LINE else f"{line[:_MOST_LINE]}..."


def _ordered(line: EventDict) -> dict[str, Any]:
    first = {name: line.pop(name) for name in _FIRST if name in line}
    return first | dict(line)


def _json() -> Processor:
    render = structlog.processors.JSONRenderer(ensure_ascii=False)

    def one_line(logger: Any, method: str, line: EventDict) -> str:
        text = render(logger, method, _ordered(line))
        return text if isinstance(text, str) else text.decode()

    return one_line


def _plain(logger: Any, method: str, line: EventDict) -> str:
    """`time level event name=value … (logger)`, then the trace where there is one."""
    words = _ordered(line)
    trace = words.pop("exception", "")
    head = [words.pop("time", ""), f"{words.pop('level', ''):7}", _visible(words.pop("event", ""))]
    name = words.pop("logger", "")
    tail = [f"{key}={_visible(value)}" for key, value in words.items()]
    text = " ".join([*head, *tail, f"({name})"])
    return f"{text}\n{trace}" if trace else text


def _visible(value: Any) -> str:
    """A value on one line, whatever it holds."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in str(value))

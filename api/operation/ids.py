"""The id of the request that is being answered: in every log line, every problem and the answer."""

from __future__ import annotations

import re
import uuid
from contextvars import ContextVar

__all__ = ["REQUEST_HEADER", "current_request", "request_id_from", "take_request"]

#: Where a caller may send an id of its own, and where every answer tells the one in use.
REQUEST_HEADER = "X-Request-ID"
_SANE = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{7,63}")
_CURRENT: ContextVar[str] = ContextVar("cutopt_request", default="")


def request_id_from(told: str | None) -> str:
    """The caller's own id where it is sane, else a new one.

    Sane are 8 to 64 letters, digits, `.`, `_`, `-`.
    """
    if told is not None and _SANE.fullmatch(told):
        return told
    return uuid.uuid4().hex


def take_request(id: str) -> None:
    """Answer this request from here on, in this task and the threads that it starts.

    It is not put back: every request has a task of its own, and what goes wrong at its very end
    is told with its id too.
    """
    _CURRENT.set(id)


def current_request() -> str:
    """The id of the request that is being answered; blank outside of one."""
    return _CURRENT.get()

"""Operations that will go away: told in the description, and in every answer until then.

`Deprecation` says since when (RFC 9745), `Sunset` until when they are there (RFC 8594), `Link` what
to use instead. DEVELOPERS.md says when an operation may go.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from email.utils import format_datetime
from typing import Any

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["LEAST_DAYS", "Deprecations", "deprecated"]

#: Between the day on which an operation is told to go away and the last on which it is there.
LEAST_DAYS = 180
_SINCE, _SUNSET, _INSTEAD = "x-deprecated-since", "x-sunset", "x-instead"


def deprecated(
    since: date, sunset: date, instead: str, openapi_extra: dict[str, Any] | None = None
) -> dict[str, Any]:
    """The mark of a route, as more words of its decorator.

    Parameters
    ----------
    since
        The day of the release that tells it first.
    sunset
        The last day on which it is there, at least `LEAST_DAYS` later.
    instead
        The path of what to use instead.
    openapi_extra
        What the route adds to its description besides.

    Raises
    ------
    ValueError
        Where the time between is too short.
    """
    if (sunset - since).days < LEAST_DAYS:
        raise ValueError(f"{since} to {sunset} is less than {LEAST_DAYS} days")
    marks = {_SINCE: since.isoformat(), _SUNSET: sunset.isoformat(), _INSTEAD: instead}
    return {"deprecated": True, "openapi_extra": {**(openapi_extra or {}), **marks}}


class Deprecations:
    """Adds the headers to the answers of routes that bear the mark."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on; the route that it met is known when its answer starts."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return

        async def told(message: Message) -> None:
            marks = getattr(scope.get("route"), "openapi_extra", None) or {}
            if message["type"] == "http.response.start" and _SUNSET in marks:
                headers = MutableHeaders(scope=message)
                since, sunset = (_midnight(marks[name]) for name in (_SINCE, _SUNSET))
                headers["Deprecation"] = f"@{int(since.timestamp())}"
                headers["Sunset"] = format_datetime(sunset, usegmt=True)
                headers.append("Link", f'<{marks[_INSTEAD]}>; rel="successor-version"')
            await send(message)

        await self.app(scope, receive, told)


def _midnight(day: str) -> datetime:
    return datetime.combine(date.fromisoformat(day), time(), UTC)

"""What happens to every request before the routes see it, and to every answer after them."""

from __future__ import annotations

import asyncio
import logging
import time
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.operation import Metrics, request_id_from, take_request
from api.operation.ids import REQUEST_HEADER
from api.problems import problem_response

__all__ = ["BodyGuard", "HeadAsGet", "Requests", "SafeAnswers", "too_large"]

_LOG = logging.getLogger("cutopt.request")
#: Asked every few seconds by whoever watches the service: logged only where all is logged.
_WATCHED = {"/livez", "/readyz", "/metrics"}
_NO_ROUTE = "none"


def too_large(most: int) -> str:
    """What to say of a body above `most` bytes."""
    return f"a request's body may hold {most} bytes at most"


class BodyGuard:
    """No body above so many bytes, and none that comes too slowly, whatever its headers say."""

    def __init__(self, app: ASGIApp, most: int, seconds: float) -> None:
        self.app = app
        self.most = most
        self.seconds = seconds

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, its body counted while it arrives."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        told = Headers(scope=scope).get("content-length", "")
        if told.isdecimal() and int(told[:20]) > self.most:
            answer = problem_response("too-large", too_large(self.most), scope["path"])
            await answer(scope, receive, send)
            return
        count = 0
        whole = False

        async def counted() -> Message:
            nonlocal count, whole
            if whole:
                return await receive()
            try:
                message = await asyncio.wait_for(receive(), self.seconds)
            except TimeoutError as error:
                raise HTTPException(
                    408, f"no part of the body came for {self.seconds:g} s"
                ) from error
            if message["type"] == "http.request":
                count += len(message.get("body", b""))
                whole = not message.get("more_body", False)
                if count > self.most:
                    raise HTTPException(413, too_large(self.most))
            return message

        await self.app(scope, counted, send)


class HeadAsGet:
    """Answers HEAD as GET, without the body."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, HEAD as GET."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self.app(scope, receive, send)
            return
        answered = asyncio.Event()
        asked = False

        async def until_answered() -> Message:
            nonlocal asked
            if asked:  # an event stream ends once its head is sent
                await answered.wait()
                return {"type": "http.disconnect"}
            asked = True
            return await receive()

        async def head_only(message: Message) -> None:
            if message["type"] == "http.response.start":
                await send(message)
            elif not answered.is_set():
                answered.set()
                await send({"type": "http.response.body", "body": b"", "more_body": False})

        asked_as_get = {**scope, "method": "GET"}
        try:
            await self.app(asked_as_get, until_answered, head_only)
        finally:
            scope["route"] = asked_as_get.get("route")


class Requests:
    """Gives every request its id, measures it, logs it, and answers what failed unforeseen.

    What is logged and measured is the template of the route, never the path: paths may hold
    one-time links, and callers could make names without end.
    """

    def __init__(self, app: ASGIApp, metrics: Metrics) -> None:
        self.app = app
        self.metrics = metrics

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on under its id."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        id = request_id_from(Headers(scope=scope).get(REQUEST_HEADER))
        take_request(id)
        scope.setdefault("state", {})  # shared with the copies that others make of the scope
        began = time.perf_counter()
        status = 0
        seconds: float | None = None

        async def watched(message: Message) -> None:
            nonlocal status, seconds
            if message["type"] == "http.response.start":
                status = message["status"]
                headers = MutableHeaders(scope=message)
                headers[REQUEST_HEADER] = id
                if headers.get("content-type", "").startswith("text/event-stream"):
                    seconds = time.perf_counter() - began
            await send(message)

        try:
            await self.app(scope, receive, watched)
        except Exception:
            _LOG.exception("a request failed", extra={"route": _route(scope)})
            if status:  # its head is gone: the server breaks off the connection
                raise
            detail = "the service failed; the fault is in its log"
            await problem_response("internal", detail, scope["path"])(scope, receive, watched)
        finally:
            self._ended(scope, status, seconds, time.perf_counter() - began)

    def _ended(self, scope: Scope, status: int, head: float | None, whole: float) -> None:
        route = _route(scope)
        self.metrics.request(scope["method"], route, status, whole if head is None else head)
        level = logging.DEBUG if route in _WATCHED and 0 < status < 500 else logging.INFO
        client = scope.get("client")
        caller = scope["state"].get("caller")
        _LOG.log(
            level,
            "answered" if status else "not answered",
            extra={
                "method": scope["method"][:16],
                "route": route,
                "status": status,
                "ms": round(whole * 1000, 1),
                "client": client[0] if client else None,
                # By number: names are kept where people are, not in logs.
                "caller": f"{caller.kind} {caller.number}" if caller else None,
            },
        )


def _route(scope: Scope) -> str:
    """The template of the route that a request met, such as `/plans/{plan}`."""
    path = getattr(scope.get("route"), "path", None)
    return path if isinstance(path, str) else _NO_ROUTE


class SafeAnswers:
    """Headers that keep a browser from making more of an answer than it is."""

    _HEADERS = (
        ("X-Content-Type-Options", "nosniff"),
        ("Referrer-Policy", "no-referrer"),
        ("X-Frame-Options", "DENY"),
        ("Cache-Control", "no-store"),
        (
            "Content-Security-Policy",
            "default-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'",
        ),
    )

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on; headers that a route sets itself stay as they are."""

        async def with_headers(message: Any) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in self._HEADERS:
                    headers.setdefault(name, value)
            await send(message)

        await self.app(scope, receive, with_headers)

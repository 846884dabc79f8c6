"""What happens to every request before the routes see it, and to every answer after them."""

from __future__ import annotations

import asyncio
from typing import Any

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.problems import problem_response

__all__ = ["BodyGuard", "HeadAsGet", "SafeAnswers", "too_large"]


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

        await self.app({**scope, "method": "GET"}, until_answered, head_only)


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

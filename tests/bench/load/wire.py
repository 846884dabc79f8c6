"""A lean HTTP/1.1 client on kept connections: the measuring must not take what is measured."""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

__all__ = ["Answer", "Wire", "WireError"]


class WireError(Exception):
    """The connection broke, or what came is no answer."""


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer's status, headers (names in lower case) and body."""

    status: int
    headers: Mapping[str, str]
    body: bytes


class Wire:
    """One connection, opened when it is needed and again after it broke."""

    def __init__(self, port: int) -> None:
        self._port = port
        self._streams: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def ask(
        self, method: str, path: str, headers: Mapping[str, str], body: bytes = b""
    ) -> Answer:
        """Send a request and wait for its whole answer. Raises WireError."""
        kept = self._streams is not None
        try:
            return await self._ask(method, path, headers, body)
        except (OSError, EOFError, ValueError) as error:
            self.close()
            if kept and isinstance(error, asyncio.IncompleteReadError) and not error.partial:
                # The service closed an idle connection at this moment: a browser asks again too.
                return await self._again(method, path, headers, body)
            raise WireError(f"{type(error).__name__}: {error}") from error

    async def _again(
        self, method: str, path: str, headers: Mapping[str, str], body: bytes
    ) -> Answer:
        try:
            return await self._ask(method, path, headers, body)
        except (OSError, EOFError, ValueError) as error:
            self.close()
            raise WireError(f"{type(error).__name__}: {error}") from error

    async def _ask(self, method: str, path: str, headers: Mapping[str, str], body: bytes) -> Answer:
        if self._streams is None:
            self._streams = await asyncio.open_connection("127.0.0.1", self._port, limit=2**24)
        reader, writer = self._streams
        lines = [f"{method} {path} HTTP/1.1", f"Host: 127.0.0.1:{self._port}"]
        lines += [f"{name}: {value}" for name, value in headers.items()]
        if body or method == "POST":
            lines.append(f"Content-Length: {len(body)}")
        writer.write("\r\n".join([*lines, "", ""]).encode() + body)
        await writer.drain()
        head = (await reader.readuntil(b"\r\n\r\n")).decode("latin-1").split("\r\n")
        status = int(head[0].split(" ", 2)[1])
        told = {}
        for line in head[1:-2]:
            name, _, value = line.partition(":")
            told[name.strip().lower()] = value.strip()
        content = await self._content(reader, status, told)
        if told.get("connection", "").lower() == "close":
            self.close()
        return Answer(status, told, content)

    async def _content(
        self, reader: asyncio.StreamReader, status: int, headers: Mapping[str, str]
    ) -> bytes:
        if status in (204, 304):
            return b""
        if headers.get("transfer-encoding", "").lower() != "chunked":
            return await reader.readexactly(int(headers.get("content-length", "0")))
        chunks: list[bytes] = []
        while True:
            size = int((await reader.readuntil(b"\r\n")).split(b";")[0], 16)
            chunk = await reader.readexactly(size + 2)
            if size == 0:
                return b"".join(chunks)
            chunks.append(chunk[:-2])

    async def closed(self) -> None:
        """Let go of the connection, and wait until it is gone."""
        if self._streams is not None:
            writer = self._streams[1]
            self.close()
            with suppress(OSError):
                await writer.wait_closed()

    def close(self) -> None:
        """Let go of the connection."""
        if self._streams is not None:
            self._streams[1].close()
            self._streams = None

"""That the load's figures tell what happened: percentiles, memory's line, a service that stalls."""

from __future__ import annotations

import asyncio
import time
from random import Random

import pytest

from tests.bench.load.figures import fitted, percentile
from tests.bench.load.traffic import Mix, Plant, run
from tests.bench.load.wire import Wire, WireError


def test_percentiles_by_nearest_rank() -> None:
    # The nearest-rank definition, by hand.
    values = [15.0, 20.0, 35.0, 40.0, 50.0]
    assert [percentile(values, s) for s in (0.05, 0.3, 0.4, 0.5, 1.0)] == [15, 20, 20, 35, 50]


def test_growth_is_told_from_noise() -> None:
    random = Random(1)
    noise = [(float(t), 1000 + random.gauss(0, 20)) for t in range(600)]
    grown = [(t, value + 0.5 * t) for t, value in noise]
    assert not fitted(noise).grows(least=24)
    assert fitted(grown).grows(least=24)
    assert fitted(grown).growth == pytest.approx(300, abs=20)
    assert not fitted(grown[:2]).grows(least=0)


async def _service(stall: float) -> asyncio.Server:
    """Answers at once, but for the thirtieth request, during which nobody is answered."""
    count = 0

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        nonlocal count
        while True:
            try:
                head = await reader.readuntil(b"\r\n\r\n")
            except (asyncio.IncompleteReadError, ConnectionError):
                writer.close()
                await writer.wait_closed()
                return
            for line in head.split(b"\r\n"):
                if line.lower().startswith(b"content-length:"):
                    await reader.readexactly(int(line.split(b":")[1]))
            count += 1
            if count == 30:
                time.sleep(stall)
            body = b'{"id": "a"}'
            length = b"Content-Length: %d" % len(body)
            writer.write(b"HTTP/1.1 200 OK\r\n" + length + b"\r\n\r\n" + body)

    return await asyncio.start_server(serve, "127.0.0.1", 0)


def test_a_stall_is_felt_by_all_who_came_in_it() -> None:
    async def measured() -> list[float]:
        async with await _service(stall=0.4) as server:
            port = server.sockets[0].getsockname()[1]
            plant = Plant(port, [{}], {}, ["d"], ["p"], b"{}", "p")
            found, _ = await run(plant, Mix(plant, Random(1)), 100, 1.0, lambda: None)
            await asyncio.sleep(0.1)  # the other ends close too
            assert not any(asked.errors for asked in found.values())
            return [s for asked in found.values() for s in asked.seconds]

    seconds = asyncio.run(measured())
    assert len(seconds) == 100
    # A client that waits for each answer would have seen one slow one.
    assert sum(s > 0.1 for s in seconds) >= 25


def test_who_is_not_there_is_an_error() -> None:
    async def asked() -> None:
        async with await _service(stall=0) as server:
            port = server.sockets[0].getsockname()[1]
        await Wire(port).ask("GET", "/", {})

    with pytest.raises(WireError):
        asyncio.run(asked())

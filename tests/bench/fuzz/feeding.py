"""One reader fed in a process of its own, with a limit on its memory and on each input's time."""

from __future__ import annotations

import multiprocessing
import re
import resource
import signal
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random
from types import FrameType

from tests.bench.fuzz.readers import READERS

__all__ = ["MEMORY", "SECONDS", "Fed", "feed", "feed_alone"]

#: The most memory of a reading process, in bytes.
MEMORY = 512 * 1024 * 1024
#: The longest that one input may take, in CPU seconds.
SECONDS = 2.0
#: A process that is silent for so long hangs where no signal reaches it.
SILENT = 60.0
#: Defects after which a reader is left alone.
MOST_DEFECTS = 20


@dataclass(slots=True)
class Fed:
    """What came of feeding a reader."""

    name: str
    inputs: int = 0
    bytes: int = 0
    taken: int = 0
    slowest: float = 0.0
    peak: int = 0
    defects: list[str] = field(default_factory=list)


class _HangError(Exception):
    """An input took too long."""


def feed(name: str, most: int, seed: int, kept: Path | None = None) -> Fed:
    """Read damaged inputs until `most` bytes have been read; `kept` takes those with a defect."""
    reader = READERS[name]
    fed = Fed(name)
    while fed.bytes < most and len(fed.defects) < MOST_DEFECTS:
        data = reader.input(Random(f"{seed}/{name}/{fed.inputs}"))
        began = time.process_time()
        try:
            with _limited(SECONDS):
                fed.taken += reader.feed(data)
        except Exception as error:
            last = traceback.extract_tb(error.__traceback__)[-1]
            where = f"{Path(last.filename).name}:{last.lineno}"
            what = f"{type(error).__name__} at {where}: {error}"[:300]
            fed.defects.append(f"input {fed.inputs} of seed {seed}: {what}")
            if kept is not None:
                kept.mkdir(parents=True, exist_ok=True)
                (kept / f"{name}-{seed}-{fed.inputs}").write_bytes(data)
        fed.slowest = max(fed.slowest, time.process_time() - began)
        fed.bytes += len(data)
        fed.inputs += 1
    fed.peak = _peak()
    return fed


def _peak() -> int:
    """The most memory of this process, in bytes.

    Linux's usage of resources begins with what the parent had when it started us, a megabyte or a
    gigabyte; the status of the process does not.
    """
    status = Path("/proc/self/status")
    told = re.search(r"VmHWM:\s+(\d+) kB", status.read_text()) if status.exists() else None
    kib = int(told[1]) if told else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return kib * 1024


@contextmanager
def _limited(seconds: float) -> Iterator[None]:
    """Raises where the CPU time of this process goes beyond `seconds`."""

    def late(number: int, frame: FrameType | None) -> None:
        raise _HangError(f"more than {seconds:g} s")

    before = signal.signal(signal.SIGPROF, late)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def feed_alone(name: str, most: int, seed: int, kept: Path | None = None) -> Fed:
    """The same in a process of its own, within `MEMORY`."""
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe(duplex=False)
    process = context.Process(target=_alone, args=(theirs, name, most, seed, kept))
    process.start()
    theirs.close()
    beside = 2 * SECONDS * most / 20_000
    try:
        if ours.poll(SILENT + beside):
            found = ours.recv()
            assert isinstance(found, Fed)
            return found
        why = "no answer"
    except EOFError:
        process.join()
        why = f"the reading process ended with {process.exitcode}"
    finally:
        process.kill()
        process.join()
    return Fed(name, defects=[f"seed {seed}: {why}"])


def _alone(pipe: Connection, name: str, most: int, seed: int, kept: Path | None) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    pipe.send(feed(name, most, seed, kept))

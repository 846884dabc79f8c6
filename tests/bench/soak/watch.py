"""CPU seconds and memory of a tree of processes, by what each is for."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import suppress

import psutil

__all__ = ["Watch"]

_EVERY = 0.5
_MIB = 1024 * 1024


class Watch(threading.Thread):
    """Looks twice a second; a context.

    Parameters
    ----------
    roots
        Process ids that are watched, each with the name of what it is for.
    below
        The same for what is found below each root; blank: not watched.
    """

    def __init__(self, roots: dict[int, str], below: Callable[[str], str]) -> None:
        super().__init__(name="watch", daemon=True)
        self._roots = roots
        self._below = below
        self._end = threading.Event()
        self._first: dict[int, float] = {}
        self._last: dict[int, tuple[str, float]] = {}
        self.peak: dict[str, float] = {}
        self.peak_each: dict[str, float] = {}

    def __enter__(self) -> Watch:
        self._look()
        self.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._end.set()
        self.join()
        self._look()

    @property
    def cpu(self) -> dict[str, float]:
        """CPU seconds since the start, by what they were for."""
        found: dict[str, float] = {}
        for pid, (name, seconds) in self._last.items():
            found[name] = found.get(name, 0.0) + seconds - self._first[pid]
        return found

    def run(self) -> None:
        """Look until told to stop."""
        while not self._end.wait(_EVERY):
            self._look()

    def _look(self) -> None:
        memory: dict[str, float] = {}
        for pid, name in self._roots.items():
            with suppress(psutil.NoSuchProcess):
                root = psutil.Process(pid)
                self._see(root, name, memory)
                for child in root.children(recursive=True):
                    self._see(child, self._below(name), memory)
        for name, size in memory.items():
            self.peak[name] = max(self.peak.get(name, 0.0), size)

    def _see(self, process: psutil.Process, name: str, memory: dict[str, float]) -> None:
        if not name:
            return
        with suppress(psutil.NoSuchProcess, psutil.AccessDenied):
            times = process.cpu_times()
            seconds = times.user + times.system
            # A process that began meanwhile counts from its own start.
            self._first.setdefault(process.pid, 0.0 if self.is_alive() else seconds)
            self._last[process.pid] = (name, seconds)
            size = process.memory_info().rss / _MIB
            memory[name] = memory.get(name, 0.0) + size
            self.peak_each[name] = max(self.peak_each.get(name, 0.0), size)

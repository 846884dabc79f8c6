"""A look at something that may not answer."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from threading import Lock, Thread
from typing import Generic, TypeVar

__all__ = ["Probe"]

Value = TypeVar("Value")


class Probe(Generic[Value]):
    """Calls `look` in a thread of its own, one at a time.

    Where an earlier look is still waiting, the next one waits with it: a database that hangs costs
    one thread, however often it is asked for.
    """

    def __init__(self, look: Callable[[], Value]) -> None:
        self._look = look
        self._lock = Lock()
        self._under_way: Future[Value] | None = None

    def ask(self, seconds: float) -> Value:
        """What the look brought; raises TimeoutError after so long, and what the look raises."""
        with self._lock:
            asked = self._under_way
            if asked is None:
                asked = self._under_way = Future()
                Thread(target=self._run, args=(asked,), name="probe", daemon=True).start()
        return asked.result(seconds)

    def _run(self, asked: Future[Value]) -> None:
        try:
            value = self._look()
        except BaseException as error:  # it is raised where it was asked for
            self._clear()
            asked.set_exception(error)
        else:
            self._clear()
            asked.set_result(value)

    def _clear(self) -> None:
        with self._lock:
            self._under_way = None

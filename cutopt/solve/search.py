"""When a search ends: by proof or by work first, by the clock or a person's word as a guard."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

from cutopt.plan import Stop

__all__ = ["LateError", "Progress", "Report", "Watch", "no_report"]


@dataclass(frozen=True, slots=True)
class Progress:
    """How far one group of materials is. Money in dollars, for showing only."""

    materials: tuple[str, ...]
    phase: str
    objective: float | None = None
    bound: float | None = None
    done: bool = False


Report = Callable[[Progress], None]


def no_report(progress: Progress) -> None:
    """Tell nobody."""


class LateError(Exception):
    """Raised within a long step once its search is to end; the search goes on with what it has."""


def _never() -> bool:
    return False


class Watch:
    """A guard that a search asks between its steps.

    Parameters
    ----------
    seconds
        How long from now the search may take.
    cancelled
        Asked at every look; True ends the search with what it has.
    """

    def __init__(self, seconds: float, cancelled: Callable[[], bool] = _never) -> None:
        self.started = time.monotonic()
        self.seconds = seconds
        self.deadline = self.started + seconds
        self._cancelled = cancelled

    def stop(self, ahead: float = 0.0) -> Stop | None:
        """Why to end now, or None to go on; the time is up `ahead` seconds before the deadline."""
        if self._cancelled():
            return Stop.INTERRUPTED
        if time.monotonic() >= self.deadline - ahead:
            return Stop.TIME
        return None

    def left(self) -> float:
        """Seconds until the deadline, never below zero."""
        return max(0.0, self.deadline - time.monotonic())

    def elapsed(self) -> float:
        """Seconds since the watch was started."""
        return time.monotonic() - self.started

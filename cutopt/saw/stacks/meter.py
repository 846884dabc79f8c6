"""What a search may spend: counted work, and a guard that the caller may give."""

from __future__ import annotations

from collections.abc import Callable

__all__ = ["Meter"]

_ASK_EVERY = 256


class Meter:
    """Counts looked-at states; `spend` says whether the search goes on.

    Parameters
    ----------
    work
        States that may be looked at.
    stopped
        Asked every few hundred states; true ends the search (a clock, a cancelled task). Results
        that it ended can't be repeated; those that work ended can.
    """

    __slots__ = ("_ask_at", "_stopped", "ended", "most", "spent")

    def __init__(self, work: int, stopped: Callable[[], bool] | None = None) -> None:
        self.most = work
        self.spent = 0
        self.ended = False
        self._stopped = stopped
        self._ask_at = _ASK_EVERY

    @property
    def left(self) -> int:
        """States that may still be looked at."""
        return 0 if self.ended else max(0, self.most - self.spent)

    def spend(self, states: int) -> bool:
        """Count states; False once work is used up or the caller's guard says stop."""
        self.spent += states
        if self._stopped is not None and self.spent >= self._ask_at:
            self._ask_at = self.spent + _ASK_EVERY
            self.ended = self.ended or self._stopped()
        return not self.ended and self.spent < self.most

    def part(self, work: int) -> Meter:
        """A meter over a part of what is left, under the same guard; `join` counts it in."""
        return Meter(min(work, self.left), self._stopped)

    def join(self, part: Meter) -> None:
        """Count in what a part has spent."""
        self.spent += part.spent
        self.ended = self.ended or part.ended

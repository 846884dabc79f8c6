"""The faults of a plan, gathered, and how figures are said in them."""

from __future__ import annotations

from fractions import Fraction

from cutopt.measure import Unit, rounded, show_length

__all__ = ["MOST_FAULTS", "Told", "count", "dollars"]

#: So many faults are told one by one; the rest are counted.
MOST_FAULTS = 200


class Told:
    """A list under way. `unit` is the one in which lengths are said."""

    def __init__(self, unit: Unit) -> None:
        self.unit: Unit = unit
        self._faults: dict[str, None] = {}

    def __call__(self, where: str, fault: str) -> None:
        """Record that `fault` was found at `where`; the same words twice count once."""
        self._faults[f"{where}: {fault}" if where else fault] = None

    def __bool__(self) -> bool:
        return bool(self._faults)

    def show(self, length: int) -> str:
        """A length for a person."""
        return show_length(length, self.unit)

    def lines(self) -> list[str]:
        """All faults in the order found, at most `MOST_FAULTS` and a count of the rest."""
        faults = list(self._faults)
        rest = len(faults) - MOST_FAULTS
        return [*faults[:MOST_FAULTS], f"and {count(rest, 'more fault')}"] if rest > 0 else faults


def count(n: int, word: str) -> str:
    """`1 piece`, `2 pieces`."""
    return f"{n} {word}" if n == 1 else f"{n} {word}s"


def dollars(value: Fraction) -> str:
    """Money to the six places that a plan is written to."""
    text = f"{rounded(value, 6):f}"
    whole, _, places = text.partition(".")
    return f"{whole}.{places.rstrip('0').ljust(2, '0')}"

"""A promise, what was measured and whether it is kept; the promises that every bench makes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from tests.bench.common.measure import Ours, Row

__all__ = [
    "Check",
    "Clock",
    "Clocked",
    "by_set",
    "checks_of_clock",
    "named",
    "none",
    "percent",
    "worst_gap",
]

#: How long a plan took: wall seconds, or CPU seconds on a machine on which others work.
Clock = Callable[[Ours], float]
R = TypeVar("R", bound=Row[Any])


@dataclass(frozen=True, slots=True)
class Check:
    """A promise: what was measured, what is required, whether it is kept."""

    name: str
    measured: str
    required: str
    kept: bool


@dataclass(frozen=True, slots=True)
class Clocked:
    """How long a plan took that was given so many seconds."""

    name: str
    given: float
    wall: float
    workers: int

    @property
    def over(self) -> float:
        """Seconds beyond what is allowed: a tenth and half a second."""
        return self.wall - (1.1 * self.given + 0.5)


def percent(value: object) -> str:
    """A share in words."""
    return f"{100 * float(value):.4f} %"  # type: ignore[arg-type]


def named(rows: Sequence[Row[Any]]) -> str:
    """The first names, and how many there are where that is not all."""
    names = [r.instance.name for r in rows]
    more = f" ... ({len(names)})" if len(names) > 8 else ""
    return ", ".join(names[:8]) + more


def none(name: str, rows: Sequence[Row[Any]]) -> Check:
    """The promise that there is no such row."""
    return Check(name, named(rows) or "none", "none", not rows)


def worst_gap(name: str, rows: Sequence[Row[Any]], most: float) -> Check:
    """The promise that no gap is above so much."""
    worst = max(rows, key=lambda r: r.ours.gap)
    said = f"{percent(worst.ours.gap)} ({worst.instance.name})"
    return Check(f"{name}: gap", said, f"at most {percent(most)}", float(worst.ours.gap) <= most)


def by_set(rows: Sequence[R]) -> Mapping[str, list[R]]:
    """Rows by the set that they belong to, in the order of the rows."""
    found: dict[str, list[R]] = {}
    for row in rows:
        found.setdefault(row.family, []).append(row)
    return found


def checks_of_clock(clocked: Sequence[Clocked]) -> list[Check]:
    """Every limit kept to a tenth and half a second."""
    worst = max(clocked, key=lambda c: c.over)
    late = sum(c.over > 0 for c in clocked)
    return [
        Check(
            "time limits of 1, 2, 5 s",
            f"{late} of {len(clocked)} overrun; worst {worst.wall:.2f} s of {worst.given:g}"
            f" ({worst.name})",
            "within 10 % and 0.5 s",
            late == 0,
        )
    ]

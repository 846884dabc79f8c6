"""Words that the report's tables share."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cutopt.draw import mark_of, size_of, stock_size
from cutopt.files.html import Markup, el
from cutopt.materials import Rules
from cutopt.measure import Unit, show_length
from cutopt.plan import Layout, Placed, Source

__all__ = ["Shown", "counted", "goes_to", "names_of", "source_words", "whole"]


@dataclass(frozen=True, slots=True)
class Shown:
    """How the plant reads lengths, and its rules."""

    unit: Unit
    feet: bool
    rules: Rules

    def length(self, length: int) -> str:
        """A length for a person."""
        return show_length(length, self.unit, self.feet)

    def size(self, length: int, width: int | None) -> str:
        """A length, or a length and a width."""
        return size_of(length, width, self.unit, self.feet)

    def stock(self, layout: Layout) -> str:
        """The size of a layout's stock."""
        return stock_size(layout.offer.length, layout.offer.width, self.unit, self.feet)


def counted(count: int, word: str) -> str:
    """`1 stick`, `12 sticks`."""
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"


def source_words(layout: Layout) -> str:
    """Where the stock comes from, with its lot where it has one."""
    if layout.source is Source.BUY:
        return "bought"
    return f"from the yard, lot {layout.offer.lot}" if layout.offer.lot else "from the yard"


def goes_to(part: Placed, layout: Layout, shown: Shown) -> list[str]:
    """Section, jig and mark of a part."""
    mark = mark_of(part, shown.unit, shown.feet)
    if part.asked != layout.offer.material:
        mark += f" (asked for in {part.asked})"
    return [part.section, part.jig, mark]


def whole(measures: Iterable[str], between: str = ", ") -> Markup:
    """Measures in a row, broken between two and never within one."""
    return Markup(between.join(el("span", measure, class_="whole") for measure in measures))


def names_of(indices: Sequence[int], names: Sequence[str]) -> str:
    """The names of parts by their places in the order of names: `A1 to A6, C2`, `A and B`."""
    runs: list[list[int]] = []
    for index in indices:
        if runs and runs[-1][-1] == index - 1:
            runs[-1].append(index)
        else:
            runs.append([index])
    words = [names[r[0]] if len(r) == 1 else f"{names[r[0]]} to {names[r[-1]]}" for r in runs]
    if len(runs) == 1 and len(indices) == 2:
        return f"{names[indices[0]]} and {names[indices[1]]}"
    return ", ".join(words)

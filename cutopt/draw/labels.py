"""What a drawing says of each part: its mark and where it goes, common to all pieces of stock cut
alike or told in the table beside the drawing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.draw.text import letter
from cutopt.measure import FOOT, Unit, show_length
from cutopt.plan import Layout, Placed

__all__ = ["Label", "in_order", "labels_of", "mark_of", "size_of", "stock_size"]


@dataclass(frozen=True, slots=True)
class Label:
    """`name` is the part's letter in the drawing; the others are empty where layouts differ."""

    name: str
    mark: str
    section: str
    jig: str

    @property
    def words(self) -> tuple[str, str, str]:
        """What is written, line by line."""
        return self.mark or f"part {self.name}", self.section, self.jig


def in_order(layout: Layout) -> tuple[Placed, ...]:
    """The parts as they are lettered: along the stick; on a sheet strip by strip."""
    return tuple(sorted(layout.parts, key=lambda p: (p.y, p.x)))


def mark_of(part: Placed, unit: Unit, feet: bool) -> str:
    """The mark; for a piece of a jointed run also where along the run it starts."""
    if part.run is None or part.run_at is None:
        return part.mark
    return f"{part.run} from {show_length(part.run_at, unit, feet)}"


def labels_of(layouts: Sequence[Layout], unit: Unit, feet: bool) -> tuple[Label, ...]:
    """A label for each part of the first layout, true for all of them (they share a pattern)."""
    columns = zip(*(in_order(layout) for layout in layouts), strict=True)
    return tuple(
        Label(
            letter(index),
            _common([mark_of(p, unit, feet) for p in parts]),
            _common([p.section for p in parts]),
            _common([p.jig for p in parts]),
        )
        for index, parts in enumerate(columns)
    )


def _common(words: Sequence[str]) -> str:
    return words[0] if len(set(words)) == 1 else ""


def size_of(length: int, width: int | None, unit: Unit, feet: bool) -> str:
    """A size for a person: the length, and the width behind it for a sheet."""
    shown = show_length(length, unit, feet)
    return shown if width is None else f"{shown} × {show_length(width, unit, feet)}"


def stock_size(length: int, width: int | None, unit: Unit, feet: bool) -> str:
    """A size of stock as it is called: whole feet of lumber in feet, all else as measured."""
    if width is None and unit == "in" and length % FOOT == 0:
        return f"{length // FOOT} ft"
    return size_of(length, width, unit, feet)

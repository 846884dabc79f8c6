"""The rows of a day's cut lists as they are collected, section by section."""

from __future__ import annotations

from dataclasses import dataclass, replace

from .lengths import Inch

__all__ = ["CutList", "Joints", "Row"]

# Which department lists the parts of a jig, and the order in which the line wants the jigs.
JIGS = {
    "Floor table": ("floors", 1),
    "Deck station": ("decks", 2),
    "Wall table 1": ("walls", 3),
    "Wall table 2": ("walls", 3),
    "End wall table": ("walls", 3),
    "Mating wall table": ("walls", 3),
    "Partition table": ("partitions", 4),
    "Truss press": ("trusses", 5),
    "Rafter bench": ("roofs", 5),
    "Ridge bench": ("ridges", 5),
    "Ceiling table": ("ceilings", 5),
    "Board station": ("board", 6),
    "Roof station": ("roofs", 7),
    "Roof deck station": ("decks", 7),
    "Siding station": ("siding", 8),
}


CLEAR = Inch(24)  # between the joints of a run and those of its mate


@dataclass(frozen=True)
class Joints:
    """Where a run may be jointed: at first + k × step, and away from the joints of its mate."""

    first: Inch
    step: Inch
    mate: str = ""
    clear: Inch = CLEAR


@dataclass(frozen=True)
class Row:
    """One row of a cut list; ``file`` is the department that issues it."""

    file: str
    section: str
    jig: str
    mark: str
    material: str
    length: Inch
    qty: int
    need: int
    width: Inch | None = None
    turn: bool = False
    rule: str = ""
    alt: str = ""
    joints: Joints | None = None
    note: str = ""


class CutList:
    """Collects the rows of one day; a mark has one size within a section and material."""

    def __init__(self) -> None:
        self._rows: dict[tuple[str, str, str, str], Row] = {}
        self._sizes: dict[tuple[str, str, str], tuple[Inch, Inch | None]] = {}
        self.section = ""
        self._order = 0

    def open_section(self, section: str) -> None:
        """Start the next section on the line."""
        self.section = section
        self._order += 10

    def add(
        self,
        jig: str,
        mark: str,
        material: str,
        length: Inch,
        qty: int = 1,
        *,
        width: Inch | None = None,
        turn: bool = False,
        rule: str = "",
        alt: str = "",
        joints: Joints | None = None,
        note: str = "",
    ) -> None:
        """Add ``qty`` pieces; a row for the same mark at the same jig grows."""
        if qty == 0:
            return
        where = f"{self.section} {mark}"
        for size in (length, width):
            if size is not None and (size <= 0 or (size * 32).denominator != 1):
                raise ValueError(f"{where}: {size} is no length in 1/32 in")
        if self._sizes.setdefault((self.section, mark, material), (length, width)) != (
            length,
            width,
        ):
            raise ValueError(f"{where}: has two sizes")
        file, station = JIGS[jig]
        need = self._order + station
        rule = "jointed" if joints else rule
        row = Row(
            file, self.section, jig, mark, material, length, qty, need,
            width, turn, rule, alt, joints, note,
        )  # fmt: skip
        key = (self.section, jig, mark, material)
        old = self._rows.get(key)
        if old is not None:
            if replace(old, qty=qty) != row:
                raise ValueError(f"{where}: {old} is not {row}")
            row = replace(row, qty=old.qty + qty)
        self._rows[key] = row

    def rows(self) -> list[Row]:
        """All rows in the order in which they were first added."""
        return list(self._rows.values())

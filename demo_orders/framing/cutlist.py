"""The rows of a day's cut lists as they are collected, section by section."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction as F

__all__ = ["CutList", "Joints", "Row"]


@dataclass(frozen=True)
class Joints:
    """Where a run may be jointed: at first + k × step, and away from the joints of its mate."""

    first: F
    step: F
    clear: F = F(0)
    mate: str = ""


@dataclass(frozen=True)
class Row:
    """One row of a cut list; ``file`` is the department that issues it."""

    file: str
    section: str
    jig: str
    mark: str
    material: str
    length: F
    width: F | None
    qty: int
    turn: bool = False
    rule: str = ""
    alt: tuple[str, ...] = ()
    need: int = 0
    joints: Joints | None = None
    note: str = ""


class CutList:
    """Collects the rows of one day; a mark has one size within a section and material."""

    def __init__(self) -> None:
        self._rows: dict[tuple[str, str, str, str], Row] = {}
        self.section = ""
        self._order = 0

    def open_section(self, section: str) -> None:
        """Start the next section on the line."""
        self.section = section
        self._order += 10

    def add(
        self,
        file: str,
        jig: str,
        mark: str,
        material: str,
        length: F,
        qty: int = 1,
        *,
        width: F | None = None,
        station: int = 0,
        turn: bool = False,
        rule: str = "",
        alt: tuple[str, ...] = (),
        joints: Joints | None = None,
        note: str = "",
    ) -> None:
        """Add ``qty`` pieces; a row for the same mark at the same jig grows instead of being repeated."""
        if qty == 0:
            return
        row = Row(file, self.section, jig, mark, material, length, width, qty, turn, rule, alt,
                  self._order + station, joints, note)  # fmt: skip
        for size in (length, width):
            if size is not None and (size <= 0 or (size * 32).denominator != 1):
                raise ValueError(f"{self.section} {mark}: {size} is no length in 1/32 in")
        key = (self.section, jig, mark, material)
        old = self._rows.get(key)
        if old is not None:
            if replace(old, qty=qty) != row:
                raise ValueError(f"{self.section} {mark}: {old} is not {row}")
            row = replace(row, qty=old.qty + qty)
        self._rows[key] = row

    def rows(self) -> list[Row]:
        """All rows in the order in which they were first added."""
        return list(self._rows.values())

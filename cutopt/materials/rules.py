"""The shop's rules of day.toml, with a default for each, and what they are for one material."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from cutopt.measure import INCH

__all__ = ["CeilingRules", "FirstCut", "LumberRules", "Rules", "SheetRules"]


class FirstCut(StrEnum):
    """The first guillotine stage: rips run along the sheet, crosscuts across it."""

    RIP = "rip"
    CROSS = "cross"
    EITHER = "either"


@dataclass(frozen=True, slots=True)
class LumberRules:
    """How sticks are cut. Lengths in counts; `max_parts` 0 for no limit.

    `stack` sticks lie under the blade at once. A plan with fewer set-ups may be dearer than the
    least cost by the share `setup_tolerance`. What the last cut of a stick leaves is nothing or at
    least `least_left` long.
    """

    kerf: int = INCH // 8
    head_trim: int = 0
    keep_drop: int = 24 * INCH
    drop_value: Decimal = Decimal("0.5")
    joint_price: Decimal = Decimal("0.50")
    joint_min_piece: int = 32 * INCH
    max_parts: int = 0
    stack: int = 1
    setup_tolerance: Decimal = Decimal(0)
    least_left: int = 0


@dataclass(frozen=True, slots=True)
class SheetRules:
    """How sheets are cut. `keep_drop` is the least (length, width) of a drop worth keeping.

    No part is ripped to less than `least_rip` across the sheet, 0 for no such limit; `max_parts`
    0 for no limit on the parts from one sheet. `stack` equal sheets are cut at once, as a book. A
    plan with fewer set-ups may be dearer than the least cost by the share `setup_tolerance`.
    """

    kerf: int = INCH // 8
    edge_trim: int = 0
    stages: int = 3
    first_cut: FirstCut = FirstCut.EITHER
    keep_drop: tuple[int, int] = (24 * INCH, 24 * INCH)
    drop_value: Decimal = Decimal(0)
    least_rip: int = 0
    max_parts: int = 0
    stack: int = 1
    setup_tolerance: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class CeilingRules:
    """How full-span fields are bought: at most so many board lengths, 0 for no limit."""

    order_lengths: int = 3


@dataclass(frozen=True, slots=True)
class Rules:
    """The rules of a day.

    The three mappings hold, by material code, what `[materials."X"]` changes.
    """

    lumber: LumberRules = LumberRules()
    sheets: SheetRules = SheetRules()
    ceiling: CeilingRules = CeilingRules()
    lumber_of: Mapping[str, LumberRules] = field(default_factory=dict)
    sheets_of: Mapping[str, SheetRules] = field(default_factory=dict)
    ceiling_of: Mapping[str, CeilingRules] = field(default_factory=dict)

    def for_lumber(self, material: str) -> LumberRules:
        """The stick rules of one material."""
        return self.lumber_of.get(material, self.lumber)

    def for_sheets(self, material: str) -> SheetRules:
        """The sheet rules of one material."""
        return self.sheets_of.get(material, self.sheets)

    def for_ceiling(self, material: str) -> CeilingRules:
        """The ceiling rules of one material."""
        return self.ceiling_of.get(material, self.ceiling)

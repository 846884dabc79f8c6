"""The saw cuts of a plan's sheets: a line per cut, in the order to be made.

Sticks have none here: every part of a stick is one cut, at its stop in the cut list.
"""

from __future__ import annotations

from dataclasses import dataclass

from cutopt.materials import Kind, Rules
from cutopt.plan import Layout, Plan
from cutopt.plan.sequence import Form, SawCut, cut_sequence

__all__ = ["SheetCutLine", "sheet_cuts"]


@dataclass(frozen=True, slots=True)
class SheetCutLine:
    """One cut of a layout; `marks` are those of the parts that come off with it."""

    material: str
    layout: Layout
    cut: SawCut
    marks: tuple[str, ...]


def sheet_cuts(plan: Plan, rules: Rules) -> tuple[SheetCutLine, ...]:
    """Every cut of every layout of sheets, layouts in the order of the plan."""
    return tuple(
        SheetCutLine(material.material, layout, cut, _marks(layout, cut))
        for material in plan.materials
        if material.kind is Kind.SHEET
        for layout in material.layouts
        if (sequence := cut_sequence(layout, rules.for_sheets(material.material)))
        for cut in sequence.cuts
    )


def _marks(layout: Layout, cut: SawCut) -> tuple[str, ...]:
    parts = (p.index for p in cut.yields if p.form is Form.PART)
    return tuple(layout.parts[i].mark for i in parts if i is not None)

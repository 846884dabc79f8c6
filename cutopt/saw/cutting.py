"""The cut list of a plan: a line per part of a layout, in cutting order.

The layouts come in the order of the plan (longest stock first, like set-ups side by side). Within
a stick the parts run from the squared head; on a sheet by the strip they lie in.
"""

from __future__ import annotations

from dataclasses import dataclass

from cutopt.plan import Layout, Placed, Plan
from cutopt.plan.books import books_text, sheets_of

__all__ = ["CutLine", "cut_list"]


@dataclass(frozen=True, slots=True)
class CutLine:
    """One part of a layout. `stop` is the running measure from the squared head to its far end.

    `books` says how the stock of the layout's pattern is cut at once, such as `2x3+1x1`; blank
    where it is cut piece by piece.
    """

    material: str
    layout: Layout
    part: Placed
    books: str = ""

    @property
    def stop(self) -> int:
        """Counts from the squared head to the far end of the part."""
        return self.part.x + self.part.along


def cut_list(plan: Plan) -> tuple[CutLine, ...]:
    """Every part of every layout, in cutting order."""
    lines: list[CutLine] = []
    for material in plan.materials:
        counts = sheets_of(material.layouts)
        for layout in material.layouts:
            text = books_text(counts[layout.pattern], material.stack) if material.stack > 1 else ""
            lines += [
                CutLine(material.material, layout, part, text)
                for part in sorted(layout.parts, key=lambda p: (p.y, p.x))
            ]
    return tuple(lines)

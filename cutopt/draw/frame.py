"""Where a sheet lies on the paper, and what room is taken there."""

from __future__ import annotations

from dataclasses import dataclass, field

from cutopt.draw.canvas import Box
from cutopt.plan.guillotine import Rect

__all__ = ["EDGE", "Frame"]

#: How far apart the two lines of a factory edge are.
EDGE = 4.0


@dataclass
class Frame:
    """The usable sheet on the paper: `left` and `foot` are its squared corner.

    `taken` is the room of what must not be written over, `lines` that of each cut by its number.
    The words along an edge reach `beyond` the right side of a narrow sheet.
    """

    left: float
    foot: float
    scale: float
    length: int
    width: int
    beyond: float = 0.0
    taken: list[Box] = field(default_factory=list)
    lines: dict[int, Box] = field(default_factory=dict)

    def box(self, rect: Rect) -> Box:
        """A rectangle of the sheet on the paper."""
        return Box(
            self.left + rect.x * self.scale,
            self.foot - (rect.y + rect.width) * self.scale,
            self.left + (rect.x + rect.length) * self.scale,
            self.foot - rect.y * self.scale,
        )

    @property
    def whole(self) -> Box:
        """The usable sheet."""
        return self.box(Rect(0, 0, self.length, self.width))

    def free(self, box: Box, but: int = 0) -> bool:
        """Whether room inside the sheet is neither taken nor crossed by a cut, one left aside."""
        return (
            box.within(self.whole)
            and not any(box.touches(other) for other in self.taken)
            and not any(box.touches(line) for n, line in self.lines.items() if n != but)
        )

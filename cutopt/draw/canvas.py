"""A sheet of paper to draw on: SVG elements in the order they are laid down.

The canvas remembers the room of every text, so that a drawing can be tested for texts that touch
without showing it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from cutopt.draw.style import COLOURS, DRAWING_STYLE
from cutopt.draw.text import number, safe, width

__all__ = ["WIDTH", "Box", "Canvas"]

#: How wide a drawing is made, in its own units: near to pixels on a tablet and on paper.
WIDTH = 800.0

Anchor = Literal["start", "middle", "end"]

_ABOVE, _BELOW = 0.95, 0.25
"""How far a font reaches above and below its baseline, in its size."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle: left, top, right, bottom."""

    left: float
    top: float
    right: float
    bottom: float

    def touches(self, other: Box) -> bool:
        """Whether the two share more than an edge."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def within(self, other: Box) -> bool:
        """Whether this lies inside `other`."""
        return (
            other.left <= self.left
            and self.right <= other.right
            and other.top <= self.top
            and self.bottom <= other.bottom
        )


def text_box(
    x: float, y: float, text: str, size: float, bold: bool, anchor: Anchor, upright: bool
) -> Box:
    """The room of a text whose baseline starts, centres or ends at (x, y).

    `upright` turns it a quarter against the clock, so that it reads from below.
    """
    room = width(text, size, bold)
    before = {"start": 0.0, "middle": room / 2, "end": room}[anchor]
    if upright:
        return Box(x - _ABOVE * size, y - room + before, x + _BELOW * size, y + before)
    return Box(x - before, y - _ABOVE * size, x - before + room, y + _BELOW * size)


class Canvas:
    """Elements of one drawing. `ident` must be the drawing's own on its page: ids start with it.

    `top` is where the paper begins, 0 unless something had to be drawn above that.
    """

    def __init__(self, ident: str) -> None:
        self.ident = ident
        self.top = 0.0
        self.texts: list[tuple[str, Box]] = []
        self._items: list[str] = []

    def line(self, *points: tuple[float, float], kind: str = "") -> None:
        """A line through the points; `kind` is a class of the style."""
        path = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)
        self._items.append(f'<path{_kind(kind)} d="{path}"/>')

    def tape(self, x1: float, y1: float, x2: float, y2: float, step: float, high: float) -> None:
        """Ticks of a tape every `step` from one end to the other, `high` long across it.

        They are the dashes of one thick line, the first centred on its start.
        """
        dash = f"1 {number_fine(step - 1)}"
        self._items.append(
            f'<path class="tick" d="M{number(x1)} {number(y1)}L{number(x2)} {number(y2)}"'
            f' stroke-width="{number(high)}" stroke-dasharray="{dash}" stroke-dashoffset=".5"/>'
        )

    def rect(self, box: Box, kind: str, hatched: bool = False) -> None:
        """A rectangle; `hatched` fills it with slanting lines."""
        fill = f' fill="url(#{self.ident}-h)"' if hatched else ""
        wide, high = number(box.right - box.left), number(box.bottom - box.top)
        self._items.append(
            f'<rect{_kind(kind)} x="{number(box.left)}" y="{number(box.top)}"'
            f' width="{wide}" height="{high}"{fill}/>'
        )

    def teeth(self, left: float, right: float, y: float, high: float) -> None:
        """A toothed line along an edge, `high` away from it; as many whole teeth as there fit."""
        count = max(1, round((right - left) / 12))
        step = (right - left) / count
        points = [(left, y)]
        for k in range(count):
            start = left + k * step
            points += [
                (start + step / 4, y),
                (start + step / 4, y + high),
                (start + 3 * step / 4, y + high),
                (start + 3 * step / 4, y),
            ]
        self.line(*points, (right, y), kind="teeth")

    def dot(self, x: float, y: float) -> None:
        """The end of a line that points at something."""
        self._items.append(f'<circle class="head" cx="{number(x)}" cy="{number(y)}" r="2.6"/>')

    def ring(self, x: float, y: float, radius: float, label: str, size: float) -> None:
        """A number in a ring."""
        self._items.append(
            f'<circle class="ring" cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"/>'
        )
        self.text(x, y + 0.36 * size, label, size, bold=True)

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        bold: bool = False,
        anchor: Anchor = "middle",
        upright: bool = False,
        backed: bool = False,
    ) -> None:
        """Words with their baseline at (x, y); `backed` lays paper under them, over hatching."""
        box = text_box(x, y, text, size, bold, anchor, upright)
        self.texts.append((text, box))
        if backed:
            self.rect(Box(box.left - 3, box.top, box.right + 3, box.bottom), "paper")
        kinds = " ".join(k for k, used in (("b", bold), (anchor[0], anchor != "middle")) if used)
        turn = f' transform="rotate(-90 {number(x)} {number(y)})"' if upright else ""
        self._items.append(
            f'<text{_kind(kinds)} x="{number(x)}" y="{number(y)}" font-size="{number(size)}"{turn}>'
            f"{safe(text)}</text>"
        )

    def lay(self, other: Canvas) -> None:
        """Lay what another canvas holds over what is drawn so far."""
        self._items += other._items
        self.texts += other.texts

    def finished(
        self, size: tuple[float, float], title: str, desc: Sequence[str], style: bool
    ) -> str:
        """The SVG element. `style` puts the style into it, for a drawing that stands alone."""
        wide, high, top = (number(v) for v in (size[0], size[1] - self.top, self.top))
        ident = safe(self.ident)
        hatching = f'fill="url(#{self.ident}-h)"'
        pattern = (
            f'<defs><pattern id="{ident}-h" width="9" height="9" patternUnits="userSpaceOnUse"'
            ' patternTransform="rotate(45)"><path class="hatch" d="M4 0V9"/></pattern></defs>'
        )
        body = "".join(self._items)
        return "".join(
            (
                f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" id="{ident}"',
                f' viewBox="0 {top} {wide} {high}" role="img"',
                f' aria-labelledby="{ident}-t {ident}-d">',
                f'<title id="{ident}-t">{safe(title)}</title>',
                f'<desc id="{ident}-d">{safe(" ".join(desc))}</desc>',
                f"<style>{COLOURS}{DRAWING_STYLE}</style>" if style else "",
                pattern if hatching in body else "",
                body,
                "</svg>",
            )
        )


def number_fine(value: float) -> str:
    """A length that is added up many times, to a hundred-thousandth."""
    return f"{value:.5f}".rstrip("0").rstrip(".")


def _kind(kind: str) -> str:
    return f' class="{kind}"' if kind else ""

"""The cuts of a sheet in the order to be made, their numbers, and what is told beside the sheet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from cutopt.draw.canvas import Box, Canvas
from cutopt.draw.text import spread, width
from cutopt.materials import SheetRules
from cutopt.plan import Layout
from cutopt.plan.guillotine import Axis, Cut, Rect, first_axes, guillotine

__all__ = [
    "EDGE",
    "RING",
    "RING_FONT",
    "Aside",
    "Frame",
    "call_out",
    "edge_trim",
    "rings_of",
    "sheet_cuts",
]

RING, RING_FONT = 11.5, 12.5
EDGE = 4.0
"""How far apart the two lines of a factory edge are."""


@dataclass
class Frame:
    """Where the usable sheet lies on the paper: `left` and `foot` are its squared corner."""

    left: float
    foot: float
    scale: float
    length: int
    width: int
    taken: list[Box] = field(default_factory=list)

    def box(self, x: int, y: int, along: int, across: int) -> Box:
        """A rectangle of the sheet on the paper."""
        return Box(
            self.left + x * self.scale,
            self.foot - (y + across) * self.scale,
            self.left + (x + along) * self.scale,
            self.foot - y * self.scale,
        )

    @property
    def whole(self) -> Box:
        """The usable sheet."""
        return self.box(0, 0, self.length, self.width)


@dataclass(frozen=True, slots=True, order=True)
class Aside:
    """A part's letter, or a cut's number, that is told beside the sheet with a line to (x, y)."""

    y: float
    x: float
    name: str
    cut: bool


def sheet_cuts(layout: Layout, rules: SheetRules) -> tuple[Cut, ...]:
    """The layout's cuts in the order to be made; empty where it can't be cut by these rules.

    Of the first cuts that the rules allow the one that needs fewer cuts is taken.
    """
    edge = edge_trim(layout, rules)
    wide = layout.offer.width or 0
    rects = [Rect(p.x, p.y, p.along, p.across) for p in layout.parts]
    kept = [Rect(d.x, d.y, d.length, d.width or 0) for d in layout.drops if d.kept]
    ways = [
        guillotine(
            rects,
            layout.offer.length - 2 * edge,
            wide - 2 * edge,
            rules.kerf,
            axis,
            rules.stages,
            kept,
        )
        for axis in first_axes(rules.first_cut)
    ]
    found = [w.cuts for w in ways if w is not None]
    return min(found, key=len, default=())


def edge_trim(layout: Layout, rules: SheetRules) -> int:
    """Rows of a ceiling field keep their board's factory edges: nothing is trimmed off them."""
    return 0 if any(p.full_span for p in layout.parts) else rules.edge_trim


def rings_of(
    frame: Frame, cuts: Sequence[Cut]
) -> tuple[list[tuple[float, float, str]], list[Aside]]:
    """A place for the number of each cut on its line: at the edge where the saw enters.

    Where that place is taken the ring slides along its own line until it is free; where the whole
    line is taken its number goes to the side of the drawing.
    """
    rings: list[tuple[float, float, str]] = []
    aside: list[Aside] = []
    for count, cut in enumerate(cuts, start=1):
        reach = RING + 1.0
        way = _way(frame, cut, reach)
        boxes = ((x, y, Box(x - reach, y - reach, x + reach, y + reach)) for x, y in way)
        spot = next((s for s in boxes if not any(s[2].touches(t) for t in frame.taken)), None)
        if spot is None:
            aside.append(Aside(way[0][1], way[0][0], str(count), True))
            continue
        frame.taken.append(spot[2])
        rings.append((spot[0], spot[1], str(count)))
    return rings, aside


def _way(frame: Frame, cut: Cut, reach: float) -> list[tuple[float, float]]:
    """Where a ring may stand on the line of its cut, best first."""
    whole = frame.whole
    region = cut.region
    box = frame.box(region.x, region.y, region.length, region.width)
    if cut.axis is Axis.CROSS:
        x = frame.left + (cut.at + cut.kerf / 2) * frame.scale
        outside = box.top <= whole.top + 0.01
        start = whole.top - EDGE - reach if outside else box.top + reach
        return [(x, start + step) for step in _steps(box.bottom - start - reach)]
    y = frame.foot - (cut.at + cut.kerf / 2) * frame.scale
    outside = box.right >= whole.right - 0.01
    start = whole.right + EDGE + reach if outside else box.right - reach
    return [(start - step, y) for step in _steps(start - reach - box.left)]


def _steps(far: float) -> list[float]:
    return [step * 2.0 for step in range(int(max(0.0, far) // 2) + 1)]


def call_out(canvas: Canvas, frame: Frame, aside: Sequence[Aside]) -> float:
    """Letters and cut numbers that found no room, at the right, each with a line to its place.

    What lies in one line is named in one go, from left to right, a dot for each. Returns how far
    to the right the drawing then reaches.
    """
    if not aside:
        return 0.0
    font, pitch = 14.0, 2 * RING + 2
    # Further right than any ring that stands at its cut.
    x = frame.whole.right + EDGE + 2 * RING + 36
    rows: list[list[Aside]] = []
    for spot in sorted(aside):
        if rows and not spot.cut and not rows[-1][0].cut and spot.y - rows[-1][0].y < 3:
            rows[-1].append(spot)
        else:
            rows.append([spot])
    whole = frame.whole
    # A column longer than the sheet is high grows upward: below lie the running measures.
    low, high = min(whole.top, whole.bottom - pitch * len(rows)), whole.bottom
    canvas.top = min(canvas.top, low - 6)
    wanted = [row[0].y for row in rows]
    centres = spread(wanted, [pitch] * len(rows), low, high) or wanted
    reach = x + 16
    for row, y, centre in zip(rows, wanted, centres, strict=True):
        row.sort(key=lambda s: s.x)
        canvas.line((row[0].x, y), (x - 26, y), (x - 12, centre))
        for spot in row:
            canvas.dot(spot.x, y)
        if row[0].cut:
            canvas.ring(x, centre, RING, row[0].name, RING_FONT)
        else:
            names = ", ".join(s.name for s in row)
            canvas.text(x - 8, centre + 0.36 * font, names, font, bold=True, anchor="start")
            reach = max(reach, x + width(names, font, bold=True) + 4)
    return reach

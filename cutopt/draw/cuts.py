"""The cuts of a sheet on its drawing: a line for each, its number in a ring, its measure.

A cut that reaches an edge of the sheet is told outside it: rips at the left, where they are
measured from the tape, crosscuts under the sheet, and where another piece lies between them and
the tapes at the right and on top. Any other is told on its own line, or beside it, or, where there
is no room, at the side of the drawing with a line to its place.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.draw.canvas import Box, Canvas
from cutopt.draw.frame import EDGE, Frame
from cutopt.draw.text import spread, width
from cutopt.measure import Unit, show_length
from cutopt.plan.guillotine import Axis
from cutopt.plan.sequence import SawCut

__all__ = [
    "MEASURE",
    "RING",
    "Aside",
    "Side",
    "Spot",
    "Told",
    "along_foot",
    "along_side",
    "call_out",
    "column",
    "draw_lines",
    "leader_boxes",
    "line_kind",
    "place_along",
    "place_inside",
    "sides_of",
    "told_cut",
    "write_inside",
    "write_side",
]

RING, _RING_FONT = 12.5, 14.0
MEASURE, _SUFFIX = 18.0, 14.0
_INNER = (15.0, 13.0)
_PITCH = 2 * RING + 2.5
_LEADER = 20.0
_REACH = RING + 1.0


@dataclass(frozen=True, slots=True)
class Told:
    """A cut as it is written: its number, its measure, and what the measure is read from.

    `where` is empty where the tapes show the same.
    """

    cut: SawCut
    number: str
    measure: str
    where: str

    @property
    def wide(self) -> float:
        """The room of the words in a row."""
        room = width(self.measure, MEASURE, bold=True)
        return room + (width(self.where, _SUFFIX) if self.where else 0.0)


@dataclass(frozen=True, slots=True)
class Side:
    """Cuts that are told at one side of the sheet, and how: ascending along it.

    `places` and `centres` are in the drawing's units along the side; `depth` is how far they reach
    away from the sheet.
    """

    told: tuple[Told, ...]
    places: tuple[float, ...]
    centres: tuple[float, ...]
    upright: bool
    depth: float


@dataclass(frozen=True, slots=True, order=True)
class Aside:
    """A part's name, or a cut, that is told beside the sheet with a line to (x, y)."""

    y: float
    x: float
    name: str
    measure: str = ""
    cut: bool = False


def told_cut(cut: SawCut, unit: Unit, feet: bool) -> Told:
    """What is written of a cut."""
    region, where = cut.piece.rect, ""
    if cut.datum.far:
        where = " from far edge" if cut.axis is Axis.RIP else " from tail"
    elif cut.stage and (region.y if cut.axis is Axis.RIP else region.x):
        where = f" on {cut.piece.name}"
    return Told(cut, str(cut.number), show_length(cut.measure, unit, feet), where)


def sides_of(told: Sequence[Told], length: int, across: int) -> dict[str, list[Told]]:
    """The cuts by where they are told: left, foot, right, top or inside."""
    sides: dict[str, list[Told]] = {s: [] for s in ("left", "foot", "right", "top", "inside")}
    for one in told:
        region = one.cut.piece.rect
        if one.cut.axis is Axis.RIP:
            first, last = region.x <= 0, region.x + region.length >= length
            where = "left" if first else "right" if last else "inside"
        else:
            first, last = region.y <= 0, region.y + region.width >= across
            where = "foot" if first else "top" if last else "inside"
        sides[where].append(one)
    for cuts in sides.values():
        cuts.sort(key=lambda t: (_middle(t.cut), t.cut.number))
    return sides


def _middle(cut: SawCut) -> float:
    """The blade's middle; what squares the sheet runs along the edge that it makes."""
    if not cut.stage:
        return cut.at + cut.kerf if cut.datum.far else cut.at
    return cut.at + cut.kerf / 2


def line_kind(cut: SawCut) -> str:
    """The class of a cut's line: by its stage, trimming told apart."""
    return "ct" if cut.trim else f"c{min(cut.stage, 3)}"


def draw_lines(canvas: Canvas, frame: Frame, cuts: Sequence[SawCut]) -> None:
    """Every cut's line over paper, late stages first, so that early ones run through."""
    whole = frame.whole
    for cut in sorted(cuts, key=lambda c: (-c.stage, c.number)):
        box = frame.box(cut.piece.rect)
        if cut.axis is Axis.CROSS:
            x = frame.left + _middle(cut) * frame.scale
            ends = (x, max(box.top, whole.top)), (x, min(box.bottom, whole.bottom))
        else:
            y = frame.foot - _middle(cut) * frame.scale
            ends = (max(box.left, whole.left), y), (min(box.right, whole.right), y)
        if cut.stage:
            canvas.line(*ends, kind="halo")
        canvas.line(*ends, kind=line_kind(cut))
        (x1, y1), (x2, y2) = ends
        frame.lines[cut.number] = Box(x1 - 1.5, y1 - 1.5, x2 + 1.5, y2 + 1.5)


def along_foot(
    told: Sequence[Told], places: Sequence[float], low: float, high: float
) -> tuple[Side, float]:
    """Room for the cuts told in a row under or over the sheet; and where the row then ends.

    The row grows to the right where there is no room.
    """
    while True:
        flat = [max(t.wide, 2 * RING) + 9 for t in told]
        centres = spread(places, flat, low, high)
        if centres is not None and all(
            abs(c - p) <= 90 for c, p in zip(centres, places, strict=True)
        ):
            depth = _LEADER + 2 * RING + 1.35 * MEASURE
            return Side(tuple(told), tuple(places), tuple(centres), False, depth), high
        centres = spread(places, [_PITCH] * len(told), low, high)
        if centres is not None:
            depth = _LEADER + 2 * RING + 8 + max(t.wide for t in told)
            return Side(tuple(told), tuple(places), tuple(centres), True, depth), high
        high += 50


def along_side(
    told: Sequence[Told], places: Sequence[float], low: float, high: float
) -> Side | None:
    """Room for the cuts told in a column at the left or right, from the top down."""
    if not told:
        return None
    ordered = sorted(zip(places, told, strict=True), key=lambda p: (p[0], p[1].cut.number))
    wanted = [place for place, _ in ordered]
    centres = spread(wanted, [_PITCH] * len(wanted), low, high) or wanted
    depth = _LEADER + 2 * RING + 6 + max(t.wide for t in told)
    return Side(tuple(t for _, t in ordered), tuple(wanted), tuple(centres), False, depth)


def column(told: Sequence[Told]) -> float:
    """How high a column of cuts is."""
    return _PITCH * len(told)


def place_along(told: Sequence[Told], frame: Frame) -> list[float]:
    """Where crosscuts are on the paper, from the left; rips from the top."""
    return [
        frame.left + _middle(t.cut) * frame.scale
        if t.cut.axis is Axis.CROSS
        else frame.foot - _middle(t.cut) * frame.scale
        for t in told
    ]


def write_side(canvas: Canvas, side: Side, edge: float, start: float, way: str) -> None:
    """Lines from the sheet's `edge`, bent from `start` on, with ring and measure at their ends.

    `way` is where they go: left, right, down or up. `edge` and `start` are across that way.
    """
    sign = -1.0 if way in ("left", "up") else 1.0
    for told, place, centre in zip(side.told, side.places, side.centres, strict=True):
        end = start + sign * (_LEADER - 4)
        ring = end + sign * RING
        after = ring + sign * (RING + 4)
        if way in ("left", "right"):
            bend = start + sign * 4 if abs(place - centre) >= 0.5 else end
            canvas.line((edge, place), (bend, place), (end, centre))
            canvas.ring(ring, centre, RING, told.number, _RING_FONT)
            _write_row(canvas, told, after, centre, way)
            continue
        bend = start + sign * 2 if abs(place - centre) >= 0.5 else end
        canvas.line((place, edge), (place, bend), (centre, end))
        canvas.ring(centre, ring, RING, told.number, _RING_FONT)
        if side.upright:
            _write_upright(canvas, told, centre, after, way)
        else:
            base = after + (0.95 * MEASURE - 2 if way == "down" else -2.0)
            _write_middle(canvas, told, centre, base)


def _write_row(canvas: Canvas, told: Told, x: float, centre: float, way: str) -> None:
    base = centre + 0.36 * MEASURE
    room = width(told.measure, MEASURE, bold=True)
    start = x - told.wide if way == "left" else x
    canvas.text(start, base, told.measure, MEASURE, bold=True, anchor="start")
    if told.where:
        canvas.text(start + room, base, told.where, _SUFFIX, anchor="start")


def _write_middle(canvas: Canvas, told: Told, centre: float, base: float) -> None:
    start = centre - told.wide / 2
    if not told.where:
        canvas.text(centre, base, told.measure, MEASURE, bold=True)
        return
    room = width(told.measure, MEASURE, bold=True)
    canvas.text(start, base, told.measure, MEASURE, bold=True, anchor="start")
    canvas.text(start + room, base, told.where, _SUFFIX, anchor="start")


def _write_upright(canvas: Canvas, told: Told, centre: float, after: float, way: str) -> None:
    """Read from below: under the sheet the words end at the ring, over it they start there."""
    base = centre + 0.36 * MEASURE
    start = after + told.wide if way == "down" else after
    room = width(told.measure, MEASURE, bold=True)
    canvas.text(base, start, told.measure, MEASURE, bold=True, anchor="start", upright=True)
    if told.where:
        canvas.text(base, start - room, told.where, _SUFFIX, anchor="start", upright=True)


def place_inside(
    frame: Frame, inside: Sequence[Told], bare: frozenset[int]
) -> tuple[list[Spot], list[Aside]]:
    """Where ring and measure of each cut stand, on its line or beside it; and what has no room.

    Where there is room for the ring alone, and for the numbers in `bare`, it stands alone: the
    table tells the measure.
    """
    spots: list[Spot] = []
    aside: list[Aside] = []
    for told in inside:
        sizes = (0.0,) if told.cut.number in bare else (*_INNER, 0.0)
        found = next((s for size in sizes if (s := _spot(frame, told, size))), None)
        if found is None:
            aside.append(_pointed(frame, told))
            continue
        frame.taken.append(_ring_box(found.x, found.y))
        if found.words is not None:
            frame.taken.append(found.words)
        spots.append(found)
    return spots, aside


def write_inside(canvas: Canvas, spots: Sequence[Spot]) -> None:
    """Rings and measures where they were placed."""
    for spot in spots:
        canvas.ring(spot.x, spot.y, RING, spot.told.number, _RING_FONT)
        if spot.words is None:
            continue
        x = (spot.words.left + spot.words.right) / 2
        y = (spot.words.top + spot.words.bottom) / 2
        down = 0.36 * spot.size
        x, y = (x + down, y) if spot.upright else (x, y + down)
        canvas.text(
            x, y, spot.told.measure, spot.size, bold=True, upright=spot.upright, backed=True
        )


def _pointed(frame: Frame, told: Told) -> Aside:
    """What has no room on its line: the place on it that a line is drawn to, clear of others."""
    box, right = frame.box(told.cut.piece.rect), frame.whole.right
    if told.cut.axis is Axis.CROSS:
        x = frame.left + _middle(told.cut) * frame.scale
        middle = (box.top + box.bottom) / 2
        way = sorted(_steps(box.top + 4, box.bottom - 4), key=lambda y: abs(y - middle))
        clear = (
            y for y in way if not any(Box(x, y - 2, right, y + 2).touches(t) for t in frame.taken)
        )
        y = next(clear, middle)
    else:
        x, y = (box.left + 3 * box.right) / 4, frame.foot - _middle(told.cut) * frame.scale
    return Aside(y, x, told.number, told.measure, True)


def _ring_box(x: float, y: float) -> Box:
    return Box(x - _REACH, y - _REACH, x + _REACH, y + _REACH)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a ring stands, and its measure if there is room for that."""

    told: Told
    x: float
    y: float
    size: float
    words: Box | None = None
    upright: bool = False


def _spot(frame: Frame, told: Told, size: float) -> Spot | None:
    """A place for the ring on its line with the measure at this font size; 0 for the ring alone."""
    cut = told.cut
    box = frame.box(cut.piece.rect)
    room, half = width(told.measure, size, bold=True) + 6, 0.66 * size
    apart = RING + 2
    rip = cut.axis is Axis.RIP
    if rip:
        y = frame.foot - _middle(cut) * frame.scale
        way = [(x, y) for x in _steps(box.right - _REACH - 2, box.left + _REACH + 2)]
    else:
        x = frame.left + _middle(cut) * frame.scale
        way = [(x, y) for y in _steps(box.top + _REACH + 2, box.bottom - _REACH - 2)]
    for x, y in way:
        if not frame.free(_ring_box(x, y), cut.number):
            continue
        if not size:
            return Spot(told, x, y, 0.0)
        left = Box(x - apart - room, y - half, x - apart, y + half)
        right = Box(x + apart, y - half, x + apart + room, y + half)
        under = Box(x - room / 2, y + apart, x + room / 2, y + apart + 2 * half)
        over = Box(x - room / 2, y - apart - 2 * half, x + room / 2, y - apart)
        along = Box(x - half, y + apart, x + half, y + apart + room)
        if not rip and frame.free(along, cut.number):
            return Spot(told, x, y, size, along, True)
        for words in (left, under, over) if rip else (under, right, left):
            if frame.free(words, cut.number):
                return Spot(told, x, y, size, words)
    return None


def _steps(start: float, end: float) -> list[float]:
    """From `start` towards `end`, both included where there is any way at all."""
    sign = 1.0 if end >= start else -1.0
    return [start + sign * 3.0 * k for k in range(int(abs(end - start) // 3) + 1)]


def call_out(canvas: Canvas, frame: Frame, aside: Sequence[Aside], start: float) -> float:
    """Parts' names and cuts that found no room, right of `start`, each with a line to its place.

    What lies in one line is named in one go, from left to right, a dot for each. Returns how far
    to the right the drawing then reaches.
    """
    if not aside:
        return 0.0
    font = 15.0
    x = start + 38
    rows = _rows(aside)
    whole = frame.whole
    # A column longer than the sheet is high grows upward: below lie the running measures.
    low, high = min(whole.top, whole.bottom - _PITCH * len(rows)), whole.bottom
    canvas.top = min(canvas.top, low - 6)
    wanted = [row[0].y for row in rows]
    centres = spread(wanted, [_PITCH] * len(rows), low, high) or wanted
    reach = x + 16
    for row, y, centre in zip(rows, wanted, centres, strict=True):
        row.sort(key=lambda s: s.x)
        canvas.line((row[0].x, y), (start, y), (x - RING - 4, centre))
        for spot in row:
            canvas.dot(spot.x, y)
        if row[0].cut:
            canvas.ring(x, centre, RING, row[0].name, _RING_FONT)
            base = centre + 0.36 * font
            canvas.text(x + RING + 4, base, row[0].measure, font, bold=True, anchor="start")
            reach = max(reach, x + RING + 8 + width(row[0].measure, font, bold=True))
        else:
            names = ", ".join(s.name for s in row)
            canvas.text(x - RING, centre + 0.36 * font, names, font, bold=True, anchor="start")
            reach = max(reach, x + width(names, font, bold=True) + 4)
    return reach


def _rows(aside: Sequence[Aside]) -> list[list[Aside]]:
    rows: list[list[Aside]] = []
    for spot in sorted(aside):
        if rows and not spot.cut and not rows[-1][0].cut and spot.y - rows[-1][0].y < 3:
            rows[-1].append(spot)
        else:
            rows.append([spot])
    return rows


def leader_boxes(frame: Frame, aside: Sequence[Aside]) -> list[Box]:
    """The room that the lines of `call_out` take within the sheet."""
    right = frame.whole.right + EDGE
    return [Box(row[0].x - 3, row[0].y - 2, right, row[0].y + 2) for row in _rows(aside)]

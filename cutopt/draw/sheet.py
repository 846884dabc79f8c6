"""A sheet on two tapes, to be cut from the drawing alone.

Parts are to scale with their name, mark, finished size and section. The line of a cut tells its
stage by its style; its number stands in a ring, with the running measure, at the edge from which it
is read. Factory edges are double and say so, tongue and groove are toothed, squared edges solid.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.draw.canvas import WIDTH, Box, Canvas
from cutopt.draw.cuts import (
    Aside,
    Side,
    Spot,
    Told,
    along_foot,
    along_side,
    call_out,
    column,
    draw_lines,
    line_kind,
    place_along,
    place_inside,
    sides_of,
    told_cut,
    write_inside,
    write_side,
)
from cutopt.draw.frame import EDGE, Frame
from cutopt.draw.labels import Label
from cutopt.draw.parts import draw_drop, fit_parts, has_room, write_drop
from cutopt.draw.sheet_words import named, sheet_words
from cutopt.draw.tape import TAPE, lay_tape, strip_beside
from cutopt.draw.text import width
from cutopt.materials import Edge, Edges, SheetRules
from cutopt.measure import Unit
from cutopt.plan import Layout, MaterialPlan, Placed
from cutopt.plan.guillotine import Axis, Rect
from cutopt.plan.sequence import SawCut, cut_sequence, usable_edge

__all__ = ["sheet_canvas", "sheet_drawing"]

_TALLEST = 460.0
_ROW = 22.0
"""How high the rows over and under the sheet are that name its edges."""
_WORD = 14.0
_AXIS, _ARM = "strength axis", 34.0
_AXIS_ROOM = width(_AXIS, _WORD) + 2 * _ARM + 12


def sheet_drawing(
    layout: Layout,
    material: MaterialPlan,
    rules: SheetRules,
    unit: Unit,
    feet: bool = False,
    *,
    ident: str = "drawing",
    alike: Sequence[Layout] = (),
    style: bool = False,
) -> str:
    """Draw a sheet and how it is cut.

    Parameters
    ----------
    layout
        What is cut from the sheet.
    material
        The plan that it belongs to.
    rules
        The material's rules: edge trim, kerf, and what the order of cuts follows.
    unit, feet
        How lengths are shown.
    ident
        The drawing's id, its own on its page: letters, digits and hyphens.
    alike
        Further layouts of the same pattern. Marks, sections and jigs are then written only where
        all of them agree.
    style
        Whether the drawing carries its style, to stand alone.

    Returns
    -------
    str
        An SVG element without outside links, the same bytes for the same input.
    """
    canvas, size = sheet_canvas(layout, rules, unit, feet, ident=ident, alike=alike)
    title, desc = sheet_words(layout, material, rules, unit, feet, alike)
    return canvas.finished(size, title, desc, style)


def sheet_canvas(
    layout: Layout,
    rules: SheetRules,
    unit: Unit,
    feet: bool = False,
    *,
    ident: str = "drawing",
    alike: Sequence[Layout] = (),
) -> tuple[Canvas, tuple[float, float]]:
    """The canvas of `sheet_drawing`, and its size, before it is written."""
    canvas, size, untold = _drawn(layout, rules, unit, feet, ident, alike, 0.0)
    if size[0] > WIDTH:
        # More room at the right side keeps the words as large as elsewhere, on a smaller sheet:
        # taken if no more measures are left to the table.
        narrow = _drawn(layout, rules, unit, feet, ident, alike, size[0] - WIDTH)
        if narrow[2] <= untold:
            return narrow[0], narrow[1]
    return canvas, size


def _drawn(
    layout: Layout,
    rules: SheetRules,
    unit: Unit,
    feet: bool,
    ident: str,
    alike: Sequence[Layout],
    more: float,
) -> tuple[Canvas, tuple[float, float], int]:
    """The drawing with so much `more` room at the right; its size, and how much is told aside."""
    edge = usable_edge(layout, rules)
    length, across = layout.offer.length - 2 * edge, (layout.offer.width or 0) - 2 * edge
    sequence = cut_sequence(layout, rules)
    cuts = sequence.cuts if sequence else ()
    sides = sides_of([told_cut(cut, unit, feet) for cut in cuts], length, across)
    frame, right = _frame(sides, length, across, _edge_words(layout, edge), unit, more)
    canvas = Canvas(ident)
    parts = named((layout, *alike), rules, unit, feet)
    for drop in layout.drops:
        draw_drop(canvas, frame, drop)
    for part, _ in parts:
        canvas.rect(frame.box(_rect(part)), "part")
    draw_lines(canvas, frame, cuts)
    _draw_edges(canvas, frame, layout, edge)
    spots, aside, words = _write_within(canvas.ident, frame, parts, sides["inside"], unit, feet)
    wide, foot, axis = _write_around(canvas, frame, layout, edge, sides, unit)
    reach = call_out(canvas, frame, aside, frame.whole.right + EDGE + right)
    write_inside(canvas, spots)
    canvas.lay(words)
    for drop in layout.drops:
        write_drop(canvas, frame, drop, unit, feet)
    foot = _write_key(canvas, frame, cuts, foot, not axis)
    untold = len(aside) + sum(spot.words is None for spot in spots)
    return canvas, (max(WIDTH, wide, reach), foot), untold


def _write_within(
    ident: str,
    frame: Frame,
    parts: Sequence[tuple[Placed, Label]],
    inside: Sequence[Told],
    unit: Unit,
    feet: bool,
) -> tuple[list[Spot], list[Aside], Canvas]:
    """What stands inside the sheet: cuts, and parts; and what has no room there.

    A part's name comes before a cut's measure, which the table tells as well.
    """
    taken, bare = frame.taken, frozenset[int]()
    best: tuple[int, list[Spot], list[Aside], Canvas, list[Box]] | None = None
    while True:
        frame.taken = list(taken)
        spots, aside = place_inside(frame, inside, bare)
        words, missing = fit_parts(ident, frame, parts, aside, unit, feet)
        if best is None or len(missing) < best[0]:
            every = [*aside, *missing.values()]
            best = len(missing), spots, every, words, frame.taken
        cells = [frame.box(_rect(parts[i][0])) for i in missing if has_room(frame, *parts[i])]
        less = frozenset(
            spot.told.cut.number
            for spot in spots
            if spot.words is not None and any(spot.words.touches(cell) for cell in cells)
        )
        if not less:
            frame.taken = best[4]
            return best[1], best[2], best[3]
        bare |= less


def _rect(part: Placed) -> Rect:
    return Rect(part.x, part.y, part.along, part.across)


def _frame(
    sides: dict[str, list[Told]],
    length: int,
    across: int,
    words: Sequence[str],
    unit: Unit,
    more: float,
) -> tuple[Frame, float]:
    """The sheet on the paper with room around it for what is told; and the room at its right."""
    strip = strip_beside(across, unit)
    left = EDGE + 8 + strip + _beside(sides["left"])
    right = max(18.0, _beside(sides["right"]))
    scale = min((WIDTH - left - EDGE - right - more) / length, _TALLEST / across)
    frame = Frame(left, 0.0, scale, length, across)
    over = EDGE + _ROW + 4
    if sides["top"]:
        over += _along(sides["top"], frame)[0].depth
    tall = max(column(sides["left"]), column(sides["right"]))
    frame.foot = over + max(0.0, tall - across * scale - 12) + across * scale
    frame.beyond = max(0.0, max(width(w, _WORD) for w in words) + 12 - length * scale)
    return frame, right + frame.beyond


def _beside(told: Sequence[Told]) -> float:
    side = along_side(told, [0.0] * len(told), 0, 0)
    return side.depth + 10 if side else 0.0


def _along(told: Sequence[Told], frame: Frame) -> tuple[Side, float]:
    return along_foot(told, place_along(told, frame), frame.left - 30, WIDTH - 4)


def _draw_edges(canvas: Canvas, frame: Frame, layout: Layout, edge: int) -> None:
    """The outline; beyond it a second line for factory edges, teeth for tongue and groove."""
    whole = frame.whole
    canvas.rect(whole, "edge")
    if edge:
        trim = min(max(3.0, edge * frame.scale), EDGE + 2)
        for box in (
            Box(whole.left - trim, whole.top - trim, whole.right + trim, whole.top),
            Box(whole.left - trim, whole.bottom, whole.right + trim, whole.bottom + trim),
            Box(whole.left - trim, whole.top, whole.left, whole.bottom),
            Box(whole.right, whole.top, whole.right + trim, whole.bottom),
        ):
            canvas.rect(box, "head")
        return
    near, far = _edge_words(layout, edge)
    for words, y, sign in ((near, whole.bottom, 1.0), (far, whole.top, -1.0)):
        if words.endswith(("tongue", "groove")):
            canvas.teeth(whole.left, whole.right, y + sign * 1.5, sign * EDGE)
        elif words.startswith("factory"):
            canvas.line((whole.left, y + sign * EDGE), (whole.right, y + sign * EDGE))


def _edge_words(layout: Layout, edge: int) -> tuple[str, str]:
    """What stands at the near long edge and at the far one."""
    if edge:
        return "squared edge", "squared edge"
    edges = layout.offer.edges
    asked = {p.edge for p in layout.parts}
    toothed = edges in (Edges.TONGUE, Edges.GROOVE) or bool(asked & {Edge.TONGUE, Edge.GROOVE})
    near = "sawn edge"
    if edges.squared:
        near = "factory edge, groove" if toothed and edges is not Edges.ONE else "factory edge"
    far = "sawn edge"
    if edges.far:
        far = "factory edge, tongue" if toothed else "factory edge"
    return near, far


def _write_around(
    canvas: Canvas,
    frame: Frame,
    layout: Layout,
    edge: int,
    sides: dict[str, list[Told]],
    unit: Unit,
) -> tuple[float, float, bool]:
    """Tapes, words at the edges, cuts told outside; how far right and down that reaches.

    Last, whether there was room for the strength axis.
    """
    whole, away = frame.whole, EDGE + 4
    near, far = _edge_words(layout, edge)
    foot, wide = _along(sides["foot"], frame)
    top, wider = _along(sides["top"], frame)
    end = _row_word(canvas, far, whole, whole.top - EDGE - 7, top.places)
    arrow = _gap(_AXIS_ROOM, end + 24, whole.right, top.places)
    if arrow is not None:
        _draw_axis(canvas, arrow, whole.top - EDGE - 7)
    base = whole.bottom + EDGE + _ROW - 6
    _row_word(canvas, near, whole, base, foot.places)
    if sides["top"]:
        write_side(canvas, top, whole.top, whole.top - EDGE - _ROW, "up")
    tape = whole.bottom + EDGE + _ROW
    lay_tape(
        canvas,
        (whole.left, tape),
        frame.length,
        frame.scale,
        unit,
        [p - whole.left for p in foot.places],
    )
    write_side(canvas, foot, whole.bottom, tape + TAPE, "down")
    rises = [whole.bottom - y for y in place_along(sides["left"], frame)]
    lay_tape(
        canvas,
        (whole.left - away, whole.bottom),
        frame.width,
        frame.scale,
        unit,
        rises,
        upward=True,
    )
    strip = strip_beside(frame.width, unit)
    for told, way, start in (
        (sides["left"], "left", whole.left - away - strip),
        (sides["right"], "right", whole.right + EDGE + 2 + frame.beyond),
    ):
        tall = column(told)
        side = along_side(
            told,
            place_along(told, frame),
            min(whole.top - 12, whole.bottom + 12 - tall),
            whole.bottom + 12,
        )
        if side is not None:
            edge_at = whole.left if way == "left" else whole.right
            write_side(canvas, side, edge_at, start, way)
    depth = foot.depth if sides["foot"] else 6.0
    return max(wide, wider) + 4, tape + TAPE + depth, arrow is not None


def _row_word(
    canvas: Canvas, word: str, whole: Box, base: float, leaders: Sequence[float]
) -> float:
    """A word in the row along an edge, clear of lines through it where it can be; its end."""
    room = width(word, _WORD)
    clear = _gap(room, whole.left + 2, whole.right, leaders)
    start = whole.left + 2 if clear is None else clear
    canvas.text(start, base, word, _WORD, anchor="start", backed=clear is None)
    return start + room


def _gap(room: float, low: float, high: float, lines: Sequence[float]) -> float | None:
    """Where `room` begins that no line passes through, the first from `low`; None where none is."""
    start = low
    for line in [*sorted(x for x in lines if x >= low - 6), high + 6]:
        if line - 6 - start >= room:
            return start
        start = max(start, line + 6)
    return None


def _draw_axis(canvas: Canvas, start: float, base: float) -> None:
    """An arrow along the sheet: its strength axis, which no part leaves unless it is turned."""
    y, end = base - 0.36 * _WORD, start + _AXIS_ROOM
    for tip, tail in ((start, start + _ARM), (end, end - _ARM)):
        back = 6.0 if tip < tail else -6.0
        canvas.line((tail, y), (tip, y), kind="axis")
        canvas.line((tip + back, y - 4.5), (tip, y), (tip + back, y + 4.5), kind="axis")
    canvas.text(start + _AXIS_ROOM / 2, base, _AXIS, _WORD)


def _write_key(
    canvas: Canvas, frame: Frame, cuts: Sequence[SawCut], foot: float, axis: bool
) -> float:
    """Which line is which stage, and the axis if it stands here; where the drawing ends."""
    kinds: dict[str, str] = {}
    for cut in cuts:
        way = "rips" if cut.axis is Axis.RIP else "crosscuts"
        word = "trimming" if cut.trim else f"stage {cut.stage}, {way}" if cut.stage else "squaring"
        kinds.setdefault(line_kind(cut), word)
    entries = [(kind, word, 56 + width(word, _WORD)) for kind, word in kinds.items()]
    if axis:
        entries.append(("", _AXIS, _AXIS_ROOM))
    if not entries:
        return foot + 4
    x, base = frame.left, foot + 24
    for kind, word, room in entries:
        if x + room > WIDTH and x > frame.left:
            x, base = frame.left, base + 22
        if kind:
            y = base - 0.36 * _WORD
            canvas.line((x, y), (x + 48, y), kind=kind)
            canvas.text(x + 56, base, word, _WORD, anchor="start")
        else:
            _draw_axis(canvas, x, base)
        x += room + 24
    return base + 8

"""A sheet on two tapes: one along its lower edge from the head, one up its squared edge.

Parts are to scale with their letter, mark, finished size and section. Untrimmed edges are factory
edges and drawn double. Each cut has its number in a ring where the saw enters, in the order to be
made: crosscuts from the top, rips from the right, so that the tapes stay free.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.draw.canvas import WIDTH, Box, Canvas
from cutopt.draw.labels import Label, in_order, labels_of, size_of
from cutopt.draw.rings import (
    EDGE,
    RING,
    RING_FONT,
    Aside,
    Frame,
    call_out,
    edge_trim,
    rings_of,
    sheet_cuts,
)
from cutopt.draw.tape import STOP, TAPE, Stops, lay_tape, stops_along, strip_beside, write_stops
from cutopt.draw.text import spread, width
from cutopt.materials import SheetRules
from cutopt.measure import Unit, show_length
from cutopt.plan import Drop, Layout, MaterialPlan, Placed, Source
from cutopt.plan.guillotine import Axis

__all__ = ["sheet_canvas", "sheet_cuts", "sheet_drawing"]

_TALLEST = 460.0
_GAP = 2.4
_LEAST_FONT = 12.0


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
    """Draw a sheet and what is cut from it.

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
    canvas, size = sheet_canvas(layout, material, rules, unit, feet, ident=ident, alike=alike)
    title, desc = _in_words(layout, material, rules, unit, feet, alike)
    return canvas.finished(size, title, desc, style)


def sheet_canvas(
    layout: Layout,
    material: MaterialPlan,
    rules: SheetRules,
    unit: Unit,
    feet: bool = False,
    *,
    ident: str = "drawing",
    alike: Sequence[Layout] = (),
) -> tuple[Canvas, tuple[float, float]]:
    """The canvas of `sheet_drawing`, and its size, before it is written."""
    edge = edge_trim(layout, rules)
    length, across = layout.offer.length - 2 * edge, (layout.offer.width or 0) - 2 * edge
    parts = in_order(layout)
    labels = labels_of((layout, *alike), unit, feet)
    ups = sorted({p.y + p.across for p in parts})
    words = [show_length(u, unit, feet) for u in ups]
    strip = strip_beside(across, unit)
    margin = 46.0 + strip + max((width(w, STOP, bold=True) for w in words), default=0.0)
    right = 2 * RING + 18.0
    room = WIDTH - margin - right
    scale = min(room / length, _TALLEST / across)
    column = 1.25 * STOP * len(ups)
    cuts = sheet_cuts(layout, rules)
    ringed = any(c.axis is Axis.CROSS and c.region.width == across for c in cuts)
    over = (2 * RING + 14.0 if ringed else RING + 6.0) + max(0.0, column - across * scale)
    frame = Frame(margin, over + across * scale, scale, length, across)
    measures = sorted({p.x + p.along for p in parts})
    places = [frame.left + m * scale for m in measures]
    low, high = margin - 24, WIDTH - 4
    stops = stops_along(measures, places, low, high, unit, feet)
    while stops is None:
        high += 50
        stops = stops_along(measures, places, low, high, unit, feet)
    canvas = Canvas(ident)
    _draw_edges(canvas, frame, edge, _factory(layout, edge))
    rings, out = rings_of(frame, cuts)
    gap = max(0.0, _GAP - material.kerf * scale) if material.kerf else 0.0
    for drop in layout.drops:
        _draw_drop(canvas, frame, drop, gap, unit, feet)
    for part, label in zip(parts, labels, strict=True):
        box = _inset(frame, frame.box(part.x, part.y, part.along, part.across), gap)
        canvas.rect(box, "part")
        if not _write_part(canvas, frame, box, part, label, len(parts) > 1, unit, feet):
            whole_box = frame.box(part.x, part.y, part.along, part.across)
            middle = (whole_box.top + whole_box.bottom) / 2
            near = whole_box.right - min(28.0, (whole_box.right - whole_box.left) / 2)
            out.append(Aside(middle, near, label.name, False))
    for x, y, count in rings:
        canvas.ring(x, y, RING, count, RING_FONT)
    aside = call_out(canvas, frame, out)
    _draw_tapes(canvas, frame, unit, stops, ups, words)
    wide = max(WIDTH, high + 4, aside)
    return canvas, (wide, frame.foot + EDGE + 4 + TAPE + stops.depth + 4)


def _factory(layout: Layout, edge: int) -> bool:
    """Whether the edges are known to be factory edges: untrimmed, and no drop from the rack."""
    rack = layout.source is Source.ON_HAND and layout.offer.limit == 0
    return edge == 0 and not rack


def _draw_edges(canvas: Canvas, frame: Frame, edge: int, factory: bool) -> None:
    whole = frame.whole
    canvas.rect(whole, "edge")
    if factory:
        canvas.rect(
            Box(whole.left - EDGE, whole.top - EDGE, whole.right + EDGE, whole.bottom + EDGE),
            "edge",
        )
    elif edge:
        trim = max(3.0, edge * frame.scale)
        trim = min(trim, EDGE + 2)
        for box in (
            Box(whole.left - trim, whole.top - trim, whole.right + trim, whole.top),
            Box(whole.left - trim, whole.bottom, whole.right + trim, whole.bottom + trim),
            Box(whole.left - trim, whole.top, whole.left, whole.bottom),
            Box(whole.right, whole.top, whole.right + trim, whole.bottom),
        ):
            canvas.rect(box, "head")


def _inset(frame: Frame, box: Box, gap: float) -> Box:
    """The box, giving way by half of `gap` at every side that is a cut, so that kerfs show."""
    whole, half = frame.whole, gap / 2
    left = box.left + (half if box.left > whole.left + 0.01 else 0)
    top = box.top + (half if box.top > whole.top + 0.01 else 0)
    right = box.right - (half if box.right < whole.right - 0.01 else 0)
    bottom = box.bottom - (half if box.bottom < whole.bottom - 0.01 else 0)
    return Box(left, top, max(right, left + 0.4), max(bottom, top + 0.4))


def _free(box: Box, taken: Sequence[Box]) -> Box:
    """The largest piece of the box that a straight line parts from everything taken, one by one."""
    for other in taken:
        if not box.touches(other):
            continue
        pieces = [
            Box(other.right, box.top, box.right, box.bottom),
            Box(box.left, box.top, other.left, box.bottom),
            Box(box.left, other.bottom, box.right, box.bottom),
            Box(box.left, box.top, box.right, other.top),
        ]
        box = max(pieces, key=_area)
    return box


def _area(box: Box) -> float:
    return max(0.0, box.right - box.left) * max(0.0, box.bottom - box.top)


def _write_part(
    canvas: Canvas,
    frame: Frame,
    box: Box,
    part: Placed,
    label: Label,
    many: bool,
    unit: Unit,
    feet: bool,
) -> bool:
    """Write as much of the part's words as fits into it; False where not even its letter does."""
    inner = _free(Box(box.left + 3, box.top + 2, box.right - 3, box.bottom - 2), frame.taken)
    name = label.name
    mark = (f"{name}: {label.mark}" if many else label.mark) if label.mark else name
    size = size_of(part.length, part.width, unit, feet)
    section, jig = label.section, label.jig
    turned = ["turned"] if part.turned else []
    where = f"{section}, {jig}" if section and jig else section or jig
    choices = [
        [mark, size, *turned, where],
        [mark, size, *turned, section, jig],
        [mark, size, *turned, section],
        [mark, size, *turned],
        [f"{mark}, {size}", *turned, where],
        [f"{mark}, {size}", *turned],
        [name, label.mark, size, *turned],
        [mark, *turned],
        [name, label.mark, *turned],
        [name, size, *turned],
        [name, size],
        [name],
    ]
    arrow = 16.0 if part.turned else 0.0
    for lines in choices:
        words = [w for w in lines if w]
        for font in (17.0, 15.0, 13.0, _LEAST_FONT):
            if font < 15 and len(words) > 3:
                break
            for upright in (False, True):
                if _write_lines(canvas, inner, words, font, upright, arrow):
                    if part.turned:
                        _draw_turned(canvas, inner)
                    return True
    return False


def _write_lines(
    canvas: Canvas,
    inner: Box,
    words: Sequence[str],
    font: float,
    upright: bool,
    arrow: float,
    backed: bool = False,
) -> bool:
    """Write the lines in the middle of `inner` if they fit there; the first is the boldest."""
    wide, high = inner.right - inner.left - arrow, inner.bottom - inner.top
    along, across = (high, wide) if upright else (wide, high)
    fonts = [font] + [max(_LEAST_FONT, font - 2)] * (len(words) - 1)
    needed = max(width(w, f, i == 0) for i, (w, f) in enumerate(zip(words, fonts, strict=True)))
    stack = sum(1.22 * f for f in fonts)
    if needed > along or stack > across:
        return False
    x, y = (inner.left + inner.right - arrow) / 2, (inner.top + inner.bottom) / 2
    at = -stack / 2
    for index, (word, size) in enumerate(zip(words, fonts, strict=True)):
        at += 1.22 * size
        base = at - 0.26 * size
        if upright:
            canvas.text(x + base, y, word, size, index == 0, upright=True, backed=backed)
        else:
            canvas.text(x, y + base, word, size, index == 0, backed=backed)
    return True


def _draw_turned(canvas: Canvas, inner: Box) -> None:
    """An arrow across the sheet: the way the part's own length runs."""
    x = inner.right - 7
    middle = (inner.top + inner.bottom) / 2
    half = min(24.0, (inner.bottom - inner.top) / 2 - 2)
    top, foot = middle - half, middle + half
    canvas.line((x, top), (x, foot), kind="heavy")
    for tip, back in ((top, 6.0), (foot, -6.0)):
        canvas.line((x - 4.5, tip + back), (x, tip), (x + 4.5, tip + back), kind="heavy")


def _draw_drop(
    canvas: Canvas, frame: Frame, drop: Drop, gap: float, unit: Unit, feet: bool
) -> None:
    across = drop.width or 0
    box = _inset(frame, frame.box(drop.x, drop.y, drop.length, across), gap)
    canvas.rect(box, "kept" if drop.kept else "waste", hatched=not drop.kept)
    inner = _free(Box(box.left + 5, box.top + 3, box.right - 5, box.bottom - 3), frame.taken)
    size = size_of(drop.length, drop.width, unit, feet)
    choices = (
        (["kept drop", size, "to the rack"], ["kept drop", size])
        if drop.kept
        else (["waste", size], ["waste"])
    )
    for words in choices:
        for font in (15.0, 13.0):
            for upright in (False, True):
                if _write_lines(canvas, inner, words, font, upright, 0.0, backed=not drop.kept):
                    return


def _draw_tapes(
    canvas: Canvas,
    frame: Frame,
    unit: Unit,
    stops: Stops,
    ups: Sequence[int],
    words: Sequence[str],
) -> None:
    """Both tapes just outside the sheet, and the running measure of every part's far side."""
    whole, away = frame.whole, EDGE + 4
    lay_tape(
        canvas,
        (whole.left, whole.bottom + away),
        frame.length,
        frame.scale,
        unit,
        [p - whole.left for p in stops.places],
    )
    write_stops(canvas, stops, whole.bottom, whole.bottom + away + TAPE)
    rises = [u * frame.scale for u in ups]
    lay_tape(
        canvas,
        (whole.left - away, whole.bottom),
        frame.width,
        frame.scale,
        unit,
        rises,
        upward=True,
    )
    # From the top of the paper downward, so that the row ascends.
    wanted = [whole.bottom - r for r in reversed(rises)]
    pitch = 1.25 * STOP
    column = pitch * len(wanted)
    centres = spread(
        wanted, [pitch] * len(wanted), min(2.0, whole.bottom - column), whole.bottom + 12
    )
    edge = whole.left - away - strip_beside(frame.width, unit) - 10
    for word, place, centre in zip(reversed(words), wanted, centres or wanted, strict=True):
        canvas.line((whole.left, place), (edge + 8, place), (edge - 6, centre))
        canvas.text(edge - 10, centre + 0.36 * STOP, word, STOP, bold=True, anchor="end")


def _in_words(
    layout: Layout,
    material: MaterialPlan,
    rules: SheetRules,
    unit: Unit,
    feet: bool,
    alike: Sequence[Layout],
) -> tuple[str, list[str]]:
    """Title and description for someone who hears the drawing."""
    labels = labels_of((layout, *alike), unit, feet)
    offer = layout.offer
    sheet = size_of(offer.length, offer.width, unit, feet)
    plural = "" if len(labels) == 1 else "s"
    title = f"A sheet of {material.material}, {sheet}, cut into {len(labels)} part{plural}"
    desc = []
    for part, label in zip(in_order(layout), labels, strict=True):
        words = ", ".join(w for w in label.words if w)
        size = size_of(part.length, part.width, unit, feet)
        ends = (
            f"ends {show_length(part.x + part.along, unit, feet)} along"
            f" and {show_length(part.y + part.across, unit, feet)} across"
        )
        turned = ", turned" if part.turned else ""
        desc.append(f"Part {label.name}: {words}, {size}{turned}, {ends}.")
    for drop in layout.drops:
        what = "Kept drop, to the rack" if drop.kept else "Waste"
        desc.append(f"{what}: {size_of(drop.length, drop.width, unit, feet)}.")
    cuts = len(sheet_cuts(layout, rules))
    if cuts:
        desc.append(f"{cuts} cuts, numbered in the order to be made.")
    return title, desc

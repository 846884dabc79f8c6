"""Parts and drops of a sheet: their words, and the arrow of a turned part."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

from cutopt.draw.canvas import Box, Canvas
from cutopt.draw.cuts import Aside, leader_boxes
from cutopt.draw.frame import Frame
from cutopt.draw.labels import Label, size_of
from cutopt.draw.text import width
from cutopt.materials import Edge
from cutopt.measure import Unit
from cutopt.plan import Drop, Placed
from cutopt.plan.guillotine import Rect

__all__ = ["draw_drop", "fit_parts", "has_room", "write_drop"]

_LEAST_FONT = 13.0
_FONTS = (18.0, 16.0, 14.0, _LEAST_FONT)
_LINE = 1.22
_MOST_TAKEN = 12
"""So many boxes within a cell are written around; a cell that holds more has no room anyway."""
_EDGES = {
    Edge.ONE: "keeps a factory edge",
    Edge.BOTH: "keeps both factory edges",
    Edge.TONGUE: "keeps the tongue",
    Edge.GROOVE: "keeps the groove",
}


def fit_parts(
    ident: str,
    frame: Frame,
    parts: Sequence[tuple[Placed, Label]],
    beside: Sequence[Aside],
    unit: Unit,
    feet: bool,
) -> tuple[Canvas, dict[int, Aside]]:
    """As much of each part's words as fits, on a canvas of its own; and parts without any room.

    The lines that lead to those, and to the cuts `beside`, take room of others, so that it is
    tried until all fit. `frame.taken` then holds these lines too.
    """
    aside: dict[int, Aside] = {}
    taken = frame.taken
    while True:
        frame.taken = [*taken, *leader_boxes(frame, [*beside, *aside.values()])]
        sheet = Canvas(ident)
        more = {
            index: _pointed(frame, part, label)
            for index, (part, label) in enumerate(parts)
            if index not in aside
            and not _write_part(sheet, frame, frame.taken, part, label, len(parts) > 1, unit, feet)
        }
        if not more:
            return sheet, aside
        aside |= more


def has_room(frame: Frame, part: Placed, label: Label) -> bool:
    """Whether the part's name fits at least where nothing else is written."""
    return _write_part(Canvas(""), frame, (), part, label, True, "in", False)


def _pointed(frame: Frame, part: Placed, label: Label) -> Aside:
    box = frame.box(Rect(part.x, part.y, part.along, part.across))
    near = box.right - min(28.0, (box.right - box.left) / 2)
    return Aside((box.top + box.bottom) / 2, near, label.name)


def _rooms(box: Box, taken: Sequence[Box]) -> list[Box]:
    """The largest free rectangles of a box around everything taken, the largest first."""
    inside = [t for t in taken if t.touches(box)][:_MOST_TAKEN]
    xs = sorted({box.left, box.right, *_within(inside, box.left, box.right, False)})
    ys = sorted({box.top, box.bottom, *_within(inside, box.top, box.bottom, True)})
    every = (
        Box(left, top, right, bottom)
        for left, right in combinations(xs, 2)
        for top, bottom in combinations(ys, 2)
    )
    rooms = [room for room in every if not any(room.touches(t) for t in inside)]
    largest: list[Box] = []
    for room in sorted(rooms, key=lambda r: (-_area(r), r.left, r.top)):
        if not any(room.within(other) for other in largest):
            largest.append(room)
    return largest


def _within(taken: Sequence[Box], low: float, high: float, upright: bool) -> list[float]:
    ends = [(t.top, t.bottom) if upright else (t.left, t.right) for t in taken]
    return [end for pair in ends for end in pair if low < end < high]


def _area(box: Box) -> float:
    return max(0.0, box.right - box.left) * max(0.0, box.bottom - box.top)


def _write_part(
    canvas: Canvas,
    frame: Frame,
    taken: Sequence[Box],
    part: Placed,
    label: Label,
    many: bool,
    unit: Unit,
    feet: bool,
) -> bool:
    """Write as much of the part's words as fits into it; False where not even its name does."""
    box = frame.box(Rect(part.x, part.y, part.along, part.across))
    rooms = _rooms(Box(box.left + 5, box.top + 4, box.right - 5, box.bottom - 4), taken)
    name = label.name
    mark = (f"{name}: {label.mark}" if many else label.mark) if label.mark else name
    size = size_of(part.length, part.width, unit, feet)
    section, jig = label.section, label.jig
    said = ["turned"] if part.turned else []
    if part.edge in _EDGES:
        said.append(_EDGES[part.edge])
    where = f"{section}, {jig}" if section and jig else section or jig
    choices = [
        [mark, size, *said, where],
        [mark, size, *said, section, jig],
        [mark, size, *said, section],
        [mark, size, *said],
        [f"{mark}, {size}", *said, where],
        [f"{mark}, {size}", *said],
        [name, label.mark, size, *said],
        [mark, *said],
        [name, label.mark, *said],
        [name, size, *said],
        [name, *said],
        [name, size],
        [name],
    ]
    arrow = 14.0 if part.turned else 0.0
    for lines in choices:
        words = [w for w in lines if w]
        for font in _FONTS:
            if font < 15 and len(words) > 3:
                break
            for inner, upright in product(rooms, (False, True)):
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
    stack = sum(_LINE * f for f in fonts)
    if needed > along or stack > across:
        return False
    x, y = (inner.left + inner.right - arrow) / 2, (inner.top + inner.bottom) / 2
    at = -stack / 2
    for index, (word, size) in enumerate(zip(words, fonts, strict=True)):
        at += _LINE * size
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


def _drop_box(frame: Frame, drop: Drop) -> Box:
    return frame.box(Rect(drop.x, drop.y, drop.length, drop.width or 0))


def draw_drop(canvas: Canvas, frame: Frame, drop: Drop) -> None:
    """Waste hatched; a kept drop with a broken outline of its own, well within its cuts."""
    box = _drop_box(frame, drop)
    if not drop.kept:
        canvas.rect(box, "waste", hatched=True)
        return
    inset = min(6.0, (box.right - box.left) / 3, (box.bottom - box.top) / 3)
    canvas.rect(
        Box(box.left + inset, box.top + inset, box.right - inset, box.bottom - inset), "kept"
    )


def write_drop(canvas: Canvas, frame: Frame, drop: Drop, unit: Unit, feet: bool) -> None:
    """What it is, and its size where there is room."""
    box = _drop_box(frame, drop)
    apart = (9, 8) if drop.kept else (6, 4)
    rooms = _rooms(
        Box(box.left + apart[0], box.top + apart[1], box.right - apart[0], box.bottom - apart[1]),
        frame.taken,
    )
    size = size_of(drop.length, drop.width, unit, feet)
    choices = (
        (["kept drop", size, "to the rack"], ["kept drop", size])
        if drop.kept
        else (["waste", size], ["waste"])
    )
    for words in choices:
        for font in _FONTS[1:]:
            for inner, upright in product(rooms, (False, True)):
                if _write_lines(canvas, inner, words, font, upright, 0.0, backed=not drop.kept):
                    return

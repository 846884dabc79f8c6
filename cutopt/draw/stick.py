"""A stick as a bar that lies on a tape.

The bar is to scale along its length. Under every cut stands its running measure from the squared
head to the far end of the part before it. Over each part, or over neighbours that are alike, stand
the mark and where it goes. A kerf is a gap, head trim is solid, a waste drop hatched, a kept drop
dashed and plain.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.draw.canvas import WIDTH, Box, Canvas
from cutopt.draw.labels import Label, in_order, labels_of, stock_size
from cutopt.draw.tape import TAPE, Stops, lay_tape, stops_along, write_stops
from cutopt.draw.text import clip, spread, width
from cutopt.measure import Unit, show_length
from cutopt.plan import Drop, Layout, MaterialPlan

__all__ = ["stick_canvas", "stick_drawing"]

_SIDE = 18.0
_LENGTH, _MARK, _WHERE = 18.0, 17.0, 15.0
_LINE = 1.25
_LONGEST_UPRIGHT = 260.0
_FARTHEST = 120.0
"""Words lie flat beside their part's middle up to so far; where they must go farther they stand."""
_ROOMY = 110.0
"""From so much room on, words that are too long are cut short rather than stood upright."""
_GAP = 2.4
"""A kerf is drawn at least this wide, or it would not be seen."""


@dataclass(frozen=True, slots=True)
class _Field:
    """Something along the bar: a part or a drop, from `left` to `right` in the drawing's units."""

    left: float
    right: float
    length: int
    label: Label | None
    drop: Drop | None

    @property
    def room(self) -> float:
        return self.right - self.left


@dataclass(frozen=True, slots=True)
class _Block:
    """What stands over a field, or over neighbours alike: lines, side by side or upright."""

    left: float
    right: float
    many: bool
    lines: tuple[str, ...]
    upright: bool
    size: float
    depth: float

    @property
    def centre(self) -> float:
        return (self.left + self.right) / 2


def stick_drawing(
    layout: Layout,
    material: MaterialPlan,
    unit: Unit,
    feet: bool = False,
    *,
    ident: str = "drawing",
    alike: Sequence[Layout] = (),
    style: bool = False,
) -> str:
    """Draw a stick and what is cut from it.

    Parameters
    ----------
    layout
        What is cut from the stick.
    material
        The plan that it belongs to: its kerf and head trim.
    unit, feet
        How lengths are shown.
    ident
        The drawing's id, its own on its page: letters, digits and hyphens.
    alike
        Further layouts of the same pattern. Marks, sections and jigs are then written only where
        all of them agree; a part whose mark differs is told by its letter.
    style
        Whether the drawing carries its style, to stand alone.

    Returns
    -------
    str
        An SVG element without outside links, the same bytes for the same input.
    """
    canvas, size = stick_canvas(layout, material, unit, feet, ident=ident, alike=alike)
    title, desc = _in_words(layout, material, unit, feet, alike)
    return canvas.finished(size, title, desc, style)


def stick_canvas(
    layout: Layout,
    material: MaterialPlan,
    unit: Unit,
    feet: bool = False,
    *,
    ident: str = "drawing",
    alike: Sequence[Layout] = (),
) -> tuple[Canvas, tuple[float, float]]:
    """The canvas of `stick_drawing`, and its size, before it is written."""
    wide = WIDTH
    labels = labels_of((layout, *alike), unit, feet)
    while True:
        made = _try(layout, material, unit, feet, labels, wide)
        if made is not None:
            break
        wide += 100
    fields, blocks, centres, stops, scale, start = made
    canvas = Canvas(ident)
    over = max((b.depth for b in blocks), default=0.0)
    bent = max((abs(b.centre - c) for b, c in zip(blocks, centres, strict=True)), default=0.0)
    top = over + (10.0 if bent <= 0.5 else 20.0 if bent <= 40 else 30.0)
    tall = 84.0 if any(_stands(f, unit, feet) for f in fields) else 60.0
    foot = top + tall
    for block, centre in zip(blocks, centres, strict=True):
        _write_block(canvas, block, centre, over, top)
    if material.head_trim:
        wide_trim = max(5.0, material.head_trim * scale)
        canvas.rect(Box(start - wide_trim - _GAP / 2, top, start - _GAP / 2, foot), "head")
    gap = max(0.0, _GAP - material.kerf * scale) if material.kerf else 0.0
    end = start + (layout.offer.length - material.head_trim) * scale
    for field in fields:
        _write_field(canvas, field, top, foot, gap, end, unit, feet)
    usable = layout.offer.length - material.head_trim
    lay_tape(canvas, (start, foot), usable, scale, unit, [p - start for p in stops.places])
    write_stops(canvas, stops, foot, foot + TAPE)
    return canvas, (wide, foot + TAPE + stops.depth + 4)


_Made = tuple[list[_Field], list[_Block], list[float], Stops, float, float]


def _try(
    layout: Layout,
    material: MaterialPlan,
    unit: Unit,
    feet: bool,
    labels: Sequence[Label],
    wide: float,
) -> _Made | None:
    """Everything in its place on paper so wide, or None where it does not fit."""
    usable = layout.offer.length - material.head_trim
    start = _SIDE + (8.0 if material.head_trim else 0.0)
    scale = (wide - _SIDE - start) / usable
    parts = in_order(layout)
    fields = [
        _Field(start + p.x * scale, start + (p.x + p.length) * scale, p.length, label, None)
        for p, label in zip(parts, labels, strict=True)
    ]
    fields += [
        _Field(start + d.x * scale, start + (d.x + d.length) * scale, d.length, None, d)
        for d in layout.drops
    ]
    fields.sort(key=lambda f: f.left)
    measures = [p.x + p.length for p in parts]
    stops = stops_along(
        measures, [start + m * scale for m in measures], 4.0, wide - 4.0, unit, feet
    )
    if stops is None:
        return None
    placed = _over(fields, unit, feet, wide)
    return None if placed is None else (fields, *placed, stops, scale, start)


def _over(
    fields: Sequence[_Field], unit: Unit, feet: bool, wide: float
) -> tuple[list[_Block], list[float]] | None:
    """The blocks over the bar and their centres: as wide as there is room for, else upright."""
    groups = _alike(fields)
    for narrow in ("flat", "upright", "single", "all"):
        blocks = [_block(g, unit, feet, narrow) for g in groups]
        sizes = [b.size for b in blocks]
        centres = spread([b.centre for b in blocks], sizes, 2.0, wide - 2.0)
        if centres is None:
            continue
        moved = max((abs(b.centre - c) for b, c in zip(blocks, centres, strict=True)), default=0)
        if narrow != "flat" or moved <= _FARTHEST:
            return blocks, centres
    return None


def _alike(fields: Sequence[_Field]) -> list[list[_Field]]:
    """Neighbours with the same words over them, together."""
    groups: list[list[_Field]] = []
    for field in fields:
        last = groups[-1][-1] if groups else None
        if (
            last is not None
            and field.label is not None
            and last.label is not None
            and field.label.words == last.label.words
            and field.length == last.length
        ):
            groups[-1].append(field)
        else:
            groups.append([field])
    return groups


def _block(group: Sequence[_Field], unit: Unit, feet: bool, narrow: str) -> _Block:
    first = group[0]
    left, right = first.left, group[-1].right
    lines = _lines(first, len(group), unit, feet)
    room = right - left
    if narrow != "all":
        joined = (lines[0], ", ".join(lines[1:])) if len(lines) > 2 else lines
        for choice in (joined, lines):
            needed = _widest(choice) + 10
            if needed <= room or (narrow == "flat" and choice is lines):
                return _flat(left, right, len(group) > 1, choice, needed)
        if narrow != "flat" and room >= _ROOMY:
            cut = tuple(clip(w, room - 10, _font(i), i == 0) for i, w in enumerate(lines))
            return _flat(left, right, len(group) > 1, cut, room)
    where = (" " if first.drop else ", ").join(lines[1:])
    two = (lines[0], where) if where and narrow == "upright" else (" ".join((lines[0], where)),)
    short = tuple(clip(w.strip(), _LONGEST_UPRIGHT, _font(i), i == 0) for i, w in enumerate(two))
    size = sum(_LINE * _font(i) for i in range(len(short))) + 2
    return _Block(left, right, len(group) > 1, short, True, size, _widest(short) + 4)


def _flat(left: float, right: float, many: bool, lines: tuple[str, ...], size: float) -> _Block:
    depth = sum(_LINE * _font(i) for i in range(len(lines)))
    return _Block(left, right, many, lines, False, size, depth)


def _lines(field: _Field, count: int, unit: Unit, feet: bool) -> tuple[str, ...]:
    """The words over a field. Where its length does not fit into the bar, it stands here too."""
    if field.drop is not None:
        kept = field.drop.kept
        words = ["kept drop" if kept else "waste"]
        if not _fits(field, unit, feet):
            words.append(show_length(field.length, unit, feet))
        return (*words, "to the rack") if kept else tuple(words)
    assert field.label is not None  # noqa: S101 - a field is a drop or a part
    mark, section, jig = field.label.words
    if count > 1:
        mark = f"{count} × {mark}"
    if not _fits(field, unit, feet):
        mark = f"{mark}, {show_length(field.length, unit, feet)}"
    return tuple(w for w in (mark, section, jig) if w)


def _font(index: int) -> float:
    return _MARK if index == 0 else _WHERE


def _widest(lines: Sequence[str]) -> float:
    return max(width(w, _font(i), i == 0) for i, w in enumerate(lines))


def _shown(field: _Field, unit: Unit, feet: bool) -> float:
    return width(show_length(field.length, unit, feet), _LENGTH, bold=True)


def _stands(field: _Field, unit: Unit, feet: bool) -> bool:
    """Whether the length is written upright in the bar: too long to lie, short enough to stand."""
    shown = _shown(field, unit, feet)
    return shown + 10 > field.room and field.room >= 1.3 * _LENGTH + 4 and shown <= 78


def _fits(field: _Field, unit: Unit, feet: bool) -> bool:
    return _shown(field, unit, feet) + 10 <= field.room or _stands(field, unit, feet)


def _write_block(canvas: Canvas, block: _Block, centre: float, over: float, top: float) -> None:
    """The words over the bar, with a line down to their part where they are not right over it."""
    if block.many:
        y = top - 4
        canvas.line(
            (block.left + 3, top - 1),
            (block.left + 3, y),
            (block.right - 3, y),
            (block.right - 3, top - 1),
        )
    moved = abs(centre - block.centre) > 0.5
    if moved or block.upright:
        canvas.line((block.centre, top - 2), (centre, over + 3))
    if block.upright:
        across = centre - block.size / 2 + 1
        for index, line in enumerate(block.lines):
            across += _LINE * _font(index)
            baseline = across - 0.27 * _font(index)
            canvas.text(baseline, over, line, _font(index), index == 0, "start", upright=True)
        return
    y = over - block.depth
    for index, line in enumerate(block.lines):
        y += _LINE * _font(index)
        canvas.text(centre, y - 0.27 * _font(index), line, _font(index), index == 0)


def _write_field(
    canvas: Canvas,
    field: _Field,
    top: float,
    foot: float,
    gap: float,
    end: float,
    unit: Unit,
    feet: bool,
) -> None:
    """A part or drop as a box. Boxes give way by half of `gap` at each cut, so that it shows."""
    right = field.right if field.right >= end - 0.01 else field.right - gap / 2
    left = field.left + (gap / 2 if field.left > 0 else 0)
    box = Box(left, top, max(right, left + 0.4), foot)
    middle = (field.left + field.right) / 2
    waste = field.drop is not None and not field.drop.kept
    kind = "part" if field.drop is None else "waste" if waste else "kept"
    canvas.rect(box, kind, hatched=waste)
    word = show_length(field.length, unit, feet)
    if _shown(field, unit, feet) + 10 <= field.room:
        y = (top + foot) / 2 + 0.36 * _LENGTH
        canvas.text(middle, y, word, _LENGTH, bold=True, backed=waste)
    elif _stands(field, unit, feet):
        x = middle + 0.36 * _LENGTH
        canvas.text(x, (top + foot) / 2, word, _LENGTH, bold=True, upright=True, backed=waste)


def _in_words(
    layout: Layout, material: MaterialPlan, unit: Unit, feet: bool, alike: Sequence[Layout]
) -> tuple[str, list[str]]:
    """Title and description for someone who hears the drawing."""
    labels = labels_of((layout, *alike), unit, feet)
    stick = stock_size(layout.offer.length, None, unit, feet)
    title = f"A stick of {material.material}, {stick}, cut into {len(labels)} parts"
    if len(labels) == 1:
        title = title[:-1]
    desc = []
    if material.head_trim:
        desc.append(f"Square the head: trim {show_length(material.head_trim, unit, feet)}.")
    for part, label in zip(in_order(layout), labels, strict=True):
        words = ", ".join(w for w in label.words if w)
        stop = show_length(part.x + part.length, unit, feet)
        desc.append(f"Stop {stop}: {words}, {show_length(part.length, unit, feet)}.")
    for drop in layout.drops:
        what = "Kept drop, to the rack" if drop.kept else "Waste"
        desc.append(f"{what}: {show_length(drop.length, unit, feet)}.")
    return title, desc

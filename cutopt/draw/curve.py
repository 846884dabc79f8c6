"""Curves of cost as a drawing: numbered points, a line through the choices, a table under each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import hypot

from cutopt.draw.canvas import WIDTH, Box, Canvas
from cutopt.draw.text import clip, width
from cutopt.measure import rounded
from cutopt.solve.curve import CurvePoint
from cutopt.solve.curves import Against, Curve

__all__ = ["curves_canvas", "curves_drawing"]

_MARGIN = 12.0
_LEFT, _RIGHT = 104.0, WIDTH - 24
_HIGH = 250.0
_TITLE, _WORDS, _FIGURE = 22.0, 15.0, 14.0
_ROW = 25.0
_RING, _RING_SIZE = 11.0, 13.0
#: Where a ring may stand beside its point, nearest first.
_BESIDE = tuple(
    (away * x, away * y)
    for away in (22.0, 34.0, 48.0, 64.0, 84.0, 108.0, 136.0)
    for x, y in (
        (0.0, -1.0),
        (0.7, -0.7),
        (0.7, 0.7),
        (0.0, 1.0),
        (1.0, 0.0),
        (-0.7, -0.7),
        (-0.7, 0.7),
    )
)
#: Right edges of the table's columns behind the setting.
_COLUMNS = (424.0, 500.0, 566.0, 674.0, WIDTH - _MARGIN)
_CEILING_COLUMNS = (342.0, 418.0, 536.0, 662.0, WIDTH - _MARGIN)
_MOST_TICKS = 6


def curves_drawing(curves: Sequence[Curve], ident: str = "curves", style: bool = True) -> str:
    """The curves of a day, one under the other.

    Parameters
    ----------
    curves
        As `cutopt.solve.curves` gives them, all against the same.
    ident
        The drawing's own name on its page.
    style
        Whether the drawing stands alone and brings its style.

    Returns
    -------
    str
        An SVG element. Points with the same figures share a number; the line runs through those
        that no other one beats in both.
    """
    canvas, size = curves_canvas(curves, ident)
    against = curves[0].against.words if curves else "joints, set-ups or board lengths"
    title = f"What the stock costs against {against}"
    words = [_said(curve) for curve in curves] or ["There is nothing to set in what was planned."]
    return canvas.finished(size, title, words, style)


def curves_canvas(curves: Sequence[Curve], ident: str) -> tuple[Canvas, tuple[float, float]]:
    """The curves drawn, and the size of the drawing."""
    canvas, drawn = Canvas(ident), Canvas(ident)
    bottom = 0.0
    for n, curve in enumerate(curves):
        bottom = _panel(drawn, curve, bottom + (36.0 if n else 8.0))
    high = bottom + _MARGIN
    canvas.rect(Box(0, 0, WIDTH, high), "paper")
    canvas.lay(drawn)
    return canvas, (WIDTH, high)


def _money(value: Fraction, places: int = 2) -> str:
    return f"${rounded(value, places):,}"


def _said(curve: Curve) -> str:
    """The choices in words, for whoever does not see the drawing."""
    name = ", ".join(curve.materials)
    if not curve.points:
        return f"{name} {curve.note}."
    steps = (
        f"{curve.count(p):,} {curve.against.words} at {_money(curve.money(p))}"
        for p in curve.choices
    )
    return f"{name}: {'; '.join(steps)}."


@dataclass(frozen=True, slots=True)
class _Scale:
    """Figures along an axis: where it begins and ends, its ticks, and its length in units."""

    low: Fraction
    high: Fraction
    ticks: tuple[Fraction, ...]

    def at(self, value: Fraction | int) -> float:
        """How far along the axis, from 0 to 1."""
        return float((Fraction(value) - self.low) / (self.high - self.low))


def _scale(values: Sequence[Fraction], finest: Fraction) -> _Scale:
    """From a round figure below to one above; steps are 1, 2 or 5 times a power of ten."""
    low, high = min(values), max(values)
    if high - low < finest:
        low, high = max(Fraction(0), low - finest), high + finest
    step = finest
    rise = (2, Fraction(5, 2), 2)
    n = 0
    while (high - low) / step > _MOST_TICKS - 2:
        step *= rise[n % 3]
        n += 1
    first, last = low // step, -(-high // step)
    ticks = tuple(step * k for k in range(int(first), int(last) + 1))
    return _Scale(ticks[0], ticks[-1], ticks)


def _panel(canvas: Canvas, curve: Curve, top: float) -> float:
    """Draw one curve from `top` down; where it ends."""
    name = clip(", ".join(curve.materials), WIDTH - 2 * _MARGIN, _TITLE, bold=True)
    canvas.text(_MARGIN, top + _TITLE, name, _TITLE, bold=True, anchor="start")
    y = top + _TITLE + 24
    if not curve.points:
        canvas.text(_MARGIN, y, _sentence(curve.note), _WORDS, anchor="start")
        return y + 6
    if len({number for _, number in _numbered(curve)}) > 1:
        y = _plot(canvas, curve, y + 18) + 30
    return _table(canvas, curve, y)


def _cells(point: CurvePoint, ceilings: bool) -> tuple[str, ...]:
    """The figures of a line of the table."""
    if ceilings:
        bound = "" if point.bound is None else _money(point.bound)
        counts = (f"{point.lengths:,}", f"{point.sticks:,}")
        return (*counts, _money(point.cost), _money(point.objective), bound)
    figures = (f"{point.joints:,}", f"{point.setups:,}", f"{point.sticks:,}")
    return (*figures, _money(point.cost), _money(point.objective))


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."


def _plot(canvas: Canvas, curve: Curve, top: float) -> float:
    points = curve.points
    across = _scale([Fraction(curve.count(p)) for p in points], Fraction(1))
    upward = _scale([curve.money(p) for p in points], Fraction(1, 100))
    bottom = top + _HIGH
    what = "Stock" if curve.against is Against.JOINTS else "Objective"
    canvas.text(_MARGIN, top - 14, what, _WORDS, bold=True, anchor="start")
    canvas.line((_LEFT, top), (_LEFT, bottom), (_RIGHT, bottom))
    places = 0 if all(t.denominator == 1 for t in upward.ticks) else 2
    for tick in upward.ticks:
        y = bottom - upward.at(tick) * _HIGH
        canvas.line((_LEFT - 6, y), (_LEFT, y))
        canvas.text(_LEFT - 10, y + 5, _money(tick, places), _FIGURE, anchor="end")
    for tick in across.ticks:
        x = _LEFT + across.at(tick) * (_RIGHT - _LEFT)
        canvas.line((x, bottom), (x, bottom + 6))
        canvas.text(x, bottom + 22, f"{int(tick):,}", _FIGURE)
    label = curve.against.words.capitalize()
    canvas.text(_RIGHT, bottom + 42, label, _WORDS, bold=True, anchor="end")
    if upward.low > 0:
        note = f"The upright scale begins at {_money(upward.low, places)}."
        canvas.text(_LEFT, bottom + 42, note, _FIGURE, anchor="start")

    def place(point: CurvePoint) -> tuple[float, float]:
        x = _LEFT + across.at(curve.count(point)) * (_RIGHT - _LEFT)
        return x, bottom - upward.at(curve.money(point)) * _HIGH

    line = [place(p) for p in curve.choices]
    if len(line) > 1:
        canvas.line(*line, kind="heavy")
    spots: dict[int, tuple[float, float]] = {}
    for point, number in _numbered(curve):
        spots.setdefault(number, place(point))
    _rings(canvas, spots, line)
    return bottom + 46


def _numbered(curve: Curve) -> list[tuple[CurvePoint, int]]:
    """Every point with its number; the same figures, the same number."""
    seen: dict[tuple[int, Fraction], int] = {}
    return [
        (p, seen.setdefault((curve.count(p), curve.money(p)), len(seen) + 1)) for p in curve.points
    ]


def _along(line: Sequence[tuple[float, float]]) -> list[Box]:
    """Small boxes along a line, for what is to keep clear of it."""
    boxes = []
    for (x1, y1), (x2, y2) in pairwise(line):
        steps = int(hypot(x2 - x1, y2 - y1) / 4) + 1
        for n in range(steps):
            x, y = x1 + (x2 - x1) * n / steps, y1 + (y2 - y1) * n / steps
            boxes.append(Box(x - 1, y - 1, x + 1, y + 1))
    return boxes


def _rings(
    canvas: Canvas,
    spots: dict[int, tuple[float, float]],
    line: Sequence[tuple[float, float]],
) -> None:
    """A dot for every point and its number in a ring beside it, clear of all others."""
    taken = [Box(x - 4, y - 4, x + 4, y + 4) for x, y in spots.values()]
    taken += _along(line)
    rings: list[tuple[float, float, int]] = []
    for number, (x, y) in spots.items():
        best: tuple[int, int, float, float, Box] | None = None
        for order, (dx, dy) in enumerate(_BESIDE):
            box = Box(x + dx - _RING, y + dy - _RING, x + dx + _RING, y + dy + _RING)
            if box.left < _LEFT + 2 or box.right > WIDTH - 2:
                continue
            clash = sum(box.touches(other) for other in taken)
            if best is None or (clash, order) < best[:2]:
                best = (clash, order, x + dx, y + dy, box)
        if best is None:
            continue
        taken.append(best[4])
        rings.append((best[2], best[3], number))
        canvas.line((x, y), (best[2], best[3]))
    for x, y in spots.values():
        canvas.dot(x, y)
    for x, y, number in rings:
        canvas.ring(x, y, _RING, str(number), _RING_SIZE)


def _table(canvas: Canvas, curve: Curve, top: float) -> float:
    ceilings = curve.against is Against.LENGTHS
    columns = _CEILING_COLUMNS if ceilings else _COLUMNS
    pieces = "Sticks" if curve.against is Against.JOINTS else "Pieces"
    heads = ("Joints", "Set-ups", pieces, "Stock", "Objective")
    if ceilings:
        heads = ("Lengths", "Boards", "Stock", "Objective", "Bound")
    y = top
    canvas.text(_MARGIN + 36, y, "Setting", _FIGURE, bold=True, anchor="start")
    for head, x in zip(heads, columns, strict=True):
        canvas.text(x, y, head, _FIGURE, bold=True, anchor="end")
    canvas.line((_MARGIN, y + 8), (WIDTH - _MARGIN, y + 8), kind="heavy")
    chosen = set(curve.choices)
    for point, number in _numbered(curve):
        y += _ROW
        bold = point in chosen
        canvas.text(_MARGIN + 24, y, str(number), _FIGURE, bold=bold, anchor="end")
        cells = _cells(point, ceilings)
        room = columns[0] - _MARGIN - 36 - width(cells[0], _FIGURE, bold) - 14
        setting = clip(point.setting, room, _FIGURE, bold)
        canvas.text(_MARGIN + 36, y, setting, _FIGURE, bold=bold, anchor="start")
        for cell, x in zip(cells, columns, strict=True):
            canvas.text(x, y, cell, _FIGURE, bold=bold, anchor="end")
        canvas.line((_MARGIN, y + 8), (WIDTH - _MARGIN, y + 8))
    y += 30
    what = "cheaper stock" if curve.against is Against.JOINTS else "a lower objective"
    note = f"Bold: no other has both fewer {curve.against.words} and {what}."
    canvas.text(_MARGIN, y, note, _FIGURE, anchor="start")
    if curve.note:
        y += 22
        words = clip(_sentence(curve.note), WIDTH - 2 * _MARGIN, _FIGURE)
        canvas.text(_MARGIN, y, words, _FIGURE, anchor="start")
    return y + 6

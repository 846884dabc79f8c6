"""The tape that a stick or a sheet lies on: its ticks, and the running measures at the cuts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.draw.canvas import Canvas
from cutopt.draw.text import number, spread, width
from cutopt.measure import FOOT, INCH, MM, Unit, show_length

__all__ = ["STOP", "TAPE", "Stops", "lay_tape", "stops_along", "strip_beside", "write_stops"]

#: How high the strip of ticks and figures is, and the font sizes on it and at the stops.
TAPE = 26.0
FIGURE = 13.0
STOP = 18.0
_PITCH = 1.25 * STOP
_LEADER = 22.0


def _steps(unit: Unit, scale: float) -> tuple[int, int]:
    """Counts between small ticks (at least 4 apart) and between figures (at least 34 apart)."""
    if unit == "mm":
        small: tuple[int, ...] = (10 * MM, 20 * MM, 50 * MM, 100 * MM, 200 * MM, 500 * MM)
        large: tuple[int, ...] = (100 * MM, 200 * MM, 500 * MM, 1000 * MM, 2000 * MM, 5000 * MM)
    else:
        small = (INCH, 2 * INCH, 3 * INCH, 6 * INCH, FOOT, 4 * FOOT)
        large = (FOOT, 2 * FOOT, 4 * FOOT, 8 * FOOT, 16 * FOOT, 32 * FOOT)
    tick = next((s for s in small if s * scale >= 4), small[-1])
    figure = next((s for s in large if s * scale >= 34), large[-1])
    return tick, figure


def lay_tape(
    canvas: Canvas,
    start: tuple[float, float],
    length: int,
    scale: float,
    unit: Unit,
    cuts: Sequence[float],
    upward: bool = False,
) -> None:
    """Draw a tape from `start` to the right, or upward with its ticks to the left.

    `cuts` are the places, in the drawing's units along the tape, where a running measure's line
    will cross it: figures keep clear of them.
    """
    x, y = start
    tick, figure = _steps(unit, scale)
    whole = length * scale
    if upward:
        canvas.line((x, y), (x, y - whole))
        canvas.tape(x - 3, y, x - 3, y - whole, tick * scale, 6)
        canvas.tape(x - 6, y, x - 6, y - whole, figure * scale, 12)
    else:
        canvas.line((x, y), (x + whole, y))
        canvas.tape(x, y + 3, x + whole, y + 3, tick * scale, 6)
        canvas.tape(x, y + 6, x + whole, y + 6, figure * scale, 12)
    for at in range(0, length + 1, figure):
        shown = _figure(at, unit)
        half = FIGURE * 0.7 if upward else width(shown, FIGURE) / 2
        place = at * scale
        if any(abs(place - cut) < half + 3 for cut in cuts):
            continue
        if upward:
            canvas.text(x - 14, y - place + 0.36 * FIGURE, shown, FIGURE, anchor="end")
        else:
            canvas.text(x + place, y + TAPE - 2, shown, FIGURE)


def strip_beside(length: int, unit: Unit) -> float:
    """How wide the strip of ticks and figures is on a tape that runs upward."""
    return 18 + width(_figure(length - length % (MM if unit == "mm" else INCH), unit), FIGURE)


def _figure(at: int, unit: Unit) -> str:
    return number(at / MM) if unit == "mm" else number(at / INCH)


@dataclass(frozen=True, slots=True)
class Stops:
    """Running measures under a tape: where each stands, and how.

    `centres` are in the drawing's units; `upright` where they are too close to lie side by side.
    `depth` is how far they reach below the tape.
    """

    words: tuple[str, ...]
    places: tuple[float, ...]
    centres: tuple[float, ...]
    upright: bool
    depth: float


def stops_along(
    measures: Sequence[int],
    places: Sequence[float],
    low: float,
    high: float,
    unit: Unit,
    feet: bool,
) -> Stops | None:
    """Find room for the running measures between `low` and `high`; None where there is none."""
    words = tuple(show_length(m, unit, feet) for m in measures)
    flat = [width(w, STOP, bold=True) + 10 for w in words]
    centres = spread(places, flat, low, high)
    if centres is not None and all(abs(c - p) <= 90 for c, p in zip(centres, places, strict=True)):
        return Stops(words, tuple(places), tuple(centres), False, _LEADER + 1.3 * STOP)
    centres = spread(places, [_PITCH] * len(words), low, high)
    if centres is None:
        return None
    longest = max((width(w, STOP, bold=True) for w in words), default=0.0)
    return Stops(words, tuple(places), tuple(centres), True, _LEADER + longest + 6)


def write_stops(canvas: Canvas, stops: Stops, top: float, tape: float) -> None:
    """Draw a line from `top` (at the stock) over the tape, and the measure at its end.

    `tape` is where the tape's strip ends; the lines bend below it where measures had to move.
    """
    for word, place, centre in zip(stops.words, stops.places, stops.centres, strict=True):
        foot = tape + _LEADER - 4
        if abs(place - centre) < 0.5:
            canvas.line((place, top), (place, foot))
        else:
            canvas.line((place, top), (place, tape + 2), (centre, foot))
        if stops.upright:
            canvas.text(
                centre + 0.36 * STOP,
                foot + 4,
                word,
                STOP,
                bold=True,
                anchor="end",
                upright=True,
            )
        else:
            canvas.text(centre, foot + 1.05 * STOP, word, STOP, bold=True)

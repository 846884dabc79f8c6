"""Roof frames: trusses, rafters and gable studs by span and pitch.

A truss is laid out from the outside of its left bearing: the bottom chord lies on y = 0, the
underside of the top chord starts at the butt cut and rises with the pitch. Webs are cut once at
either end, along the edge of the chord that they meet, and stand side by side at a panel point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .lengths import NONE, Inch, secant, up_to_16th

__all__ = ["Truss", "common_rafter", "fink", "gable_studs", "king_post", "rafter_to_beam"]

CHORD = Inch("3.5")  # depth of a 2x4 on edge
BUTT = Inch(1, 4)  # upright cut at the heel
SHORTEST = Inch(6)
ROUNDS = 60


@dataclass(frozen=True)
class Truss:
    """Cut lengths of one truss, long point to long point, unrounded."""

    top_chord: float
    bottom_chord: float
    webs: tuple[tuple[str, float, int], ...]  # mark, length, how many


@dataclass(frozen=True)
class _Frame:
    """The left half of a truss: what a web runs between."""

    span: float
    pitch: float
    depth: float
    butt: float

    def under(self, x: float) -> float:
        """Underside of the top chord."""
        return self.butt + self.pitch * x

    def web(self, low: float, high: float, off: int, off_peak: int = 0, post: float = 0) -> float:
        """Long point to long point of a web from the bottom chord at ``low`` to ``high``.

        Its seat stands beside the panel point: ``off`` to the left (-1) or right (+1) of it and of
        a post of half width ``post``; at the top likewise ``off_peak``.
        """
        sec = math.hypot(1, self.pitch)
        foot = top = 0.0
        for _ in range(ROUNDS):  # half the seats depend on the slope, the slope on the seats
            a = (low + off * (post + foot), self.depth)
            x = high + off_peak * top / sec
            b = (x, self.under(x))
            dx, dy = b[0] - a[0], b[1] - a[1]
            length = math.hypot(dx, dy)
            across = abs(dx * self.pitch - dy) / sec
            foot, top = self.depth / 2 * length / abs(dy), self.depth / 2 * length / across
        along = abs(dx + dy * self.pitch) / sec
        return length + self.depth / 2 * (abs(dx / dy) + along / across)


def _top_chord(span: Inch, pitch: Inch, overhang: Inch, depth: Inch) -> float:
    """Plumb cuts at the peak and the tail."""
    return float(span / 2 + overhang) * secant(pitch) + float(depth * pitch)


def king_post(
    span: Inch,
    pitch: Inch,
    overhang: Inch = NONE,
    *,
    depth: Inch = CHORD,
    butt: Inch = BUTT,
    braces: bool = False,
) -> Truss:
    """King post; with ``braces`` a web on either side from its foot to the chord's middle."""
    frame = _Frame(float(span), float(pitch), float(depth), float(butt))
    half = frame.span / 2
    webs = [("KING-POST", frame.under(half) - frame.depth, 1)]
    if braces:
        webs.append(("BRACE", frame.web(half, half / 2, -1, post=frame.depth / 2), 2))
    return Truss(_top_chord(span, pitch, overhang, depth), frame.span, tuple(webs))


def fink(
    span: Inch,
    pitch: Inch,
    overhang: Inch = NONE,
    *,
    depth: Inch = CHORD,
    butt: Inch = BUTT,
) -> Truss:
    """Fink truss: bottom chord in thirds, top chords in halves."""
    frame = _Frame(float(span), float(pitch), float(depth), float(butt))
    third, half = frame.span / 3, frame.span / 2
    short = frame.web(third, half / 2, -1)
    long = frame.web(third, half, 1, -1)
    webs = (("WEB-SHORT", short, 2), ("WEB-LONG", long, 2))
    return Truss(_top_chord(span, pitch, overhang, depth), frame.span, webs)


def common_rafter(span: Inch, pitch: Inch, overhang: Inch, ridge: Inch, depth: Inch) -> Inch:
    """Plumb cuts at ridge board and tail: half the span less half the ridge, and the tail."""
    return rafter_to_beam(span / 2 - ridge / 2, pitch, overhang, depth)


def rafter_to_beam(run: Inch, pitch: Inch, overhang: Inch, depth: Inch) -> Inch:
    """Rafter from the outside of the wall to an upright face ``run`` away, plumb-cut tail."""
    return up_to_16th(float(run + overhang) * secant(pitch) + float(depth * pitch))


def gable_studs(
    span: Inch, pitch: Inch, step: Inch, *, depth: Inch = CHORD, butt: Inch = BUTT
) -> list[Inch]:
    """Long points of the studs under a gable from the centre out, the first under the peak."""
    studs = []
    at = span / 2
    while at > 0:
        length = up_to_16th(butt + pitch * min(at + Inch(3, 4), span / 2) - depth)
        if length < SHORTEST:
            break
        studs.append(length)
        at -= step
    return studs

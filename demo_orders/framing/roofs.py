"""Roof frames: trusses, rafters, ridges and gable studs by span and pitch."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction as F

from .lengths import secant, up_to_16th

__all__ = ["Truss", "common_rafter", "fink", "gable_studs", "king_post", "mitred", "rafter_to_beam"]

CHORD = F("3.5")  # depth of a 2x4 on edge
BUTT = F(1, 4)  # vertical cut at the heel


@dataclass(frozen=True)
class Truss:
    """Cut lengths of one truss, long point to long point, unrounded."""

    top_chord: float
    bottom_chord: float
    webs: tuple[tuple[str, float, int], ...]  # mark, length, how many


def mitred(a: tuple[float, float], b: tuple[float, float], cut_a: float, cut_b: float, depth: float) -> float:
    """Long point to long point of a member along a centre line a-b, its ends cut along lines of slope cut_a, cut_b."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    spread = 0.0
    for slope in (cut_a, cut_b):
        spread += depth / 2 * abs(dx + dy * slope) / abs(dx * slope - dy)
    return math.hypot(dx, dy) + spread


def _top_chord(span: F, pitch: F, overhang: F, depth: F) -> float:
    return float(span / 2 + overhang) * secant(pitch) + float(depth * pitch)


def king_post(
    span: F, pitch: F, overhang: F = F(0), depth: F = CHORD, butt: F = BUTT, *, braces: bool = False
) -> Truss:
    """King post; with ``braces`` a diagonal on either side from its foot to the middle of the top chord."""
    half, p, d = float(span / 2), float(pitch), float(depth)
    webs = [("KING", float(butt) + p * half - d, 1)]
    if braces:
        foot = (half - 3.5, d)  # beside the post
        webs.append(("BRACE", mitred(foot, (half / 2, float(butt) + p * half / 2), 0.0, p, d), 2))
    return Truss(_top_chord(span, pitch, overhang, depth), float(span), tuple(webs))


def fink(
    span: F, pitch: F, overhang: F = F(0), depth: F = CHORD, butt: F = BUTT, stand_off: F = F("2.5")
) -> Truss:
    """Fink truss: bottom chord in thirds, top chord in halves; web feet ``stand_off`` beside the panel points."""
    s, p, d, off = float(span), float(pitch), float(depth), float(stand_off)
    low = d
    under = lambda x: float(butt) + p * x  # noqa: E731
    short = mitred((s / 3 - off, low), (s / 4, under(s / 4)), 0.0, p, d)
    peak = s / 2 - off
    long = mitred((s / 3 + off, low), (peak, under(peak)), 0.0, p, d)
    return Truss(_top_chord(span, pitch, overhang, depth), s, (("WEB-SHORT", short, 2), ("WEB-LONG", long, 2)))


def common_rafter(span: F, pitch: F, overhang: F, ridge: F, depth: F) -> F:
    """Plumb cut at ridge and tail: theoretical length less half the ridge, the tail, and the plumb cut's slant."""
    run = span / 2 - ridge / 2 + overhang
    return up_to_16th(float(run) * secant(pitch) + float(depth * pitch))


def rafter_to_beam(run: F, pitch: F, overhang: F, depth: F) -> F:
    """Rafter from the outside of the wall to the face of a beam ``run`` away, with a plumb-cut tail."""
    return up_to_16th(float(run + overhang) * secant(pitch) + float(depth * pitch))


def gable_studs(span: F, pitch: F, step: F, depth: F = CHORD, butt: F = BUTT) -> list[F]:
    """Long points of the studs in a gable truss from the centre out, the first under the peak, 6 in at least."""
    studs = []
    at = span / 2
    while at > 0:
        edge = min(at + F(3, 4), span / 2)
        length = up_to_16th(butt + pitch * edge - depth)
        if length < 6:
            break
        studs.append(length)
        at -= step
    return studs

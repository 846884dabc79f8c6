"""Sheets on walls: wall board in level courses, panel siding upright, both cut round openings."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from .cutlist import CutList
from .lengths import Inch, up_to_16th
from .walls import Placed, Wall

__all__ = ["board_raked", "board_wall", "gable_siding", "side_wall"]

BOARD = "GYP-1/2"
PANEL = Inch(48)
LONGEST = Inch(144)
CORNER = Inch(8)  # a butt joint stays this far from the corner of an opening
NARROWEST = Inch(4)  # a piece of siding
SLIVER = Inch(32)  # wall board at the end of a course


def board_wall(cuts: CutList, wall: Wall, courses: tuple[Inch, Inch], faces: int) -> None:
    """Two level courses, the lower first.

    The upper runs over the openings, which are cut out in place; the lower stops at the doors.
    Butt joints fall on studs and are staggered from course to course.
    """
    doors = [p for p in wall.openings if p.opening.sill == 0]
    edges = [Inch(0), *(x for p in doors for x in (p.at, p.end)), wall.length]
    lower = list(zip(edges[::2], edges[1::2], strict=True))
    _course(cuts, wall, "UPPER", courses[1], [(Inch(0), wall.length)], LONGEST, faces)
    _course(cuts, wall, "LOWER", courses[0], lower, LONGEST - PANEL, faces)


def _course(
    cuts: CutList,
    wall: Wall,
    name: str,
    wide: Inch,
    spans: list[tuple[Inch, Inch]],
    first: Inch,
    faces: int,
) -> None:
    cut = [p for p in wall.openings if name == "UPPER" or p.opening.sill]
    number = 0
    for start, stop in spans:
        at, reach = start, first
        while at < stop:
            end = stop if stop - at <= reach else _butt(wall, at, reach, stop)
            number += 1
            notch = any(p.at < end and p.end > at for p in cut)
            note = "opening cut out in place" if notch else ""
            mark = f"{wall.tag}-{name}-{number:02d}"
            cuts.add("Board station", mark, BOARD, end - at, faces, width=wide, note=note)
            at, reach = end, LONGEST


def _butt(wall: Wall, at: Inch, reach: Inch, stop: Inch) -> Inch:
    """The farthest stud within reach, clear of opening corners, that leaves no sliver."""
    studs = (wall.first + k * wall.step for k in range(int(wall.length / wall.step) + 1))
    corners = [x for p in wall.openings for x in (p.at, p.end)]
    return max(
        x
        for x in studs
        if at + SLIVER <= x <= min(at + reach, stop - SLIVER)
        and all(abs(x - corner) >= CORNER for corner in corners)
    )


def board_raked(cuts: CutList, wall: Wall, low: Inch, faces: int) -> None:
    """Upright boards under a slope, cut to the high side; ``low`` is the height at the start."""
    edges = [Inch(0)]
    while edges[-1] < wall.length:
        edges.append(min(edges[-1] + PANEL, wall.length))
    for number, (a, b) in enumerate(pairwise(edges), 1):
        notch = any(p.at < b and p.end > a for p in wall.openings)
        note = "top cut to slope" + (", opening cut out in place" if notch else "")
        mark, height = f"{wall.tag}-RAKE-{number:02d}", up_to_16th(low + wall.pitch * b)
        cuts.add("Board station", mark, BOARD, height, faces, width=b - a, note=note)


def side_wall(
    cuts: CutList,
    tag: str,
    material: str,
    length: Inch,
    heights: tuple[Inch, Inch],
    openings: Sequence[Placed],
    *,
    turn: bool,
) -> None:
    """Upright panels jointed every 48 in and at the edges of openings.

    ``heights`` are the panel's and the wall frame's: the difference laps the floor frame. Openings
    are measured from the corner. Small pieces over and under them may be turned if ``turn``.
    """
    height, frame = heights
    joints = {PANEL * k for k in range(int(length / PANEL) + 1)}
    edges = sorted({*joints, length, *(x for p in openings for x in (p.at, p.end))})
    number = 0
    for a, b in pairwise(edges):
        wide = b - a
        if wide < NARROWEST:
            raise ValueError(f"{cuts.section} {tag}: siding only {wide} in wide at {a}")
        here = [p.opening for p in openings if p.at <= a and b <= p.end]
        if not here and wide == PANEL:
            cuts.add("Siding station", f"{tag}-PANEL", material, height, width=wide)
            continue
        number += 1
        if not here:
            cuts.add("Siding station", f"{tag}-STRIP-{number:02d}", material, height, width=wide)
            continue
        pieces = (("OVER", frame - here[0].head), ("UNDER", height - frame + here[0].sill))
        for name, high in pieces:
            mark, note = f"{tag}-{name}-{number:02d}", f"{name.lower()} {here[0].tag}"
            cuts.add("Siding station", mark, material, high, width=wide, turn=turn, note=note)


def gable_siding(
    cuts: CutList, tag: str, material: str, width: Inch, pitch: Inch, peak: Inch, heel: float
) -> None:
    """Upright pieces from the plate to the top of the end truss or rafter, ``heel`` at the eave.

    The slope rises to ``peak`` from the start; each piece is cut to its long point.
    """
    edges = [Inch(0)]
    while edges[-1] < width:
        edges.append(min(edges[-1] + PANEL, width))
    for number, (a, b) in enumerate(pairwise(edges), 1):
        top = peak if a <= peak <= b else b if b < peak else 2 * peak - a
        mark, high = f"{tag}-GABLE-{number:02d}", up_to_16th(heel + float(pitch * top))
        note = "top cut to slope, long point"
        cuts.add("Siding station", mark, material, high, width=b - a, note=note)

"""Sheets on walls: wall board in level courses, panel siding upright, both cut round openings."""

from __future__ import annotations

from fractions import Fraction as F

from .cutlist import CutList
from .lengths import up_to_16th
from .walls import Placed, Wall

__all__ = ["board_raked", "board_wall", "gable_siding", "side_wall"]

PANEL = F(48)
NARROWEST = F(6)


def board_wall(
    cuts: CutList, wall: Wall, material: str, courses: tuple[F, F], faces: int, station: int, longest: F = F(144)
) -> None:
    """Two level courses. The upper runs over the openings (cut out in place); the lower stops at the doors."""
    places = [wall.first + k * wall.step for k in range(int(wall.length / wall.step) + 1)]
    doors = [p for p in wall.openings if p.opening.sill == 0]
    gaps = [F(0), *(x for p in doors for x in (p.at, p.end)), wall.length]
    low = [(a, b) for a, b in zip(gaps[::2], gaps[1::2], strict=True)]
    for name, wide, spans, start in (("UPPER", courses[1], [(F(0), wall.length)], longest),
                                     ("LOWER", courses[0], low, longest - 48)):  # fmt: skip
        number = 0
        for a, b in spans:
            at, reach = a, start
            while at < b:
                end = b if b - at <= reach else _butt(places, at, reach, b, wall.openings)
                number += 1
                notch = any(p.at < end and p.end > at and (name == "UPPER" or p.opening.sill) for p in wall.openings)
                cuts.add("board", "Board station", f"{wall.tag}-{name}-{number:02d}", material, end - at, faces,
                         width=wide, station=station, note="opening cut out in place" if notch else "")  # fmt: skip
                at, reach = end, longest


def _butt(places: list[F], at: F, reach: F, end: F, openings: tuple[Placed, ...]) -> F:
    """The farthest stud within reach that is clear of opening corners and leaves no sliver."""
    good = [
        x
        for x in places
        if at + 24 <= x <= min(at + reach, end - 16) and all(abs(x - e) >= 8 for p in openings for e in (p.at, p.end))
    ]
    return max(good)


def board_raked(
    cuts: CutList, wall: Wall, material: str, low: F, faces: int, station: int, start: F = F(0)
) -> None:
    """Upright boards under a slope, cut to the high side; ``low`` is the clear height at the wall's start."""
    at, number = start, 0
    while at < wall.length:
        end = min(at + PANEL, wall.length)
        number += 1
        notch = any(p.at < end and p.end > at for p in wall.openings)
        cuts.add("board", "Board station", f"{wall.tag}-RAKE-{number:02d}", material,
                 up_to_16th(low + wall.pitch * end), faces, width=end - at, station=station,
                 note="top cut to slope" + (", opening cut out in place" if notch else ""))  # fmt: skip
        at = end


def side_wall(
    cuts: CutList, tag: str, material: str, length: F, height: F, wall_height: F, openings: list[Placed],
    station: int, *, turn: bool = False,
) -> None:  # fmt: skip
    """Upright panels jointed every 48 in and at the edges of openings; openings measured from the corner."""
    edges = sorted({F(0), length, *(x for p in openings for x in (p.at, p.end)),
                    *(PANEL * k for k in range(1, int((length - 1) / PANEL) + 1))})  # fmt: skip
    lap = height - wall_height
    number = 0
    for a, b in zip(edges, edges[1:], strict=False):
        if b - a < NARROWEST:
            raise ValueError(f"{cuts.section} {tag}: a strip of siding only {b - a} in wide at {a}")
        here = [p for p in openings if p.at <= a and b <= p.end]
        if not here:
            if b - a == PANEL:
                cuts.add("siding", "Siding station", f"{tag}-WHOLE", material, height, width=PANEL, station=station)
            else:
                number += 1
                cuts.add("siding", "Siding station", f"{tag}-STRIP-{number:02d}", material, height, width=b - a,
                         station=station)  # fmt: skip
            continue
        o = here[0].opening
        number += 1
        cuts.add("siding", "Siding station", f"{tag}-OVER-{number:02d}", material, wall_height - o.head, width=b - a,
                 station=station, turn=turn, note=f"over {o.tag}")  # fmt: skip
        below = lap + o.sill
        if below >= NARROWEST:
            cuts.add("siding", "Siding station", f"{tag}-UNDER-{number:02d}", material, below, width=b - a,
                     station=station, turn=turn, note=f"under {o.tag}")  # fmt: skip


def gable_siding(
    cuts: CutList, tag: str, material: str, width: F, pitch: F, peak: F, qty: int, station: int, base: F = F(0)
) -> None:
    """Upright pieces above the plate, cut to the long point; the slope rises from 0 to ``peak`` and may fall again."""
    at, number = F(0), 0
    while at < width:
        end = min(at + PANEL, width)
        top = peak if at <= peak <= end else end if end < peak else peak - (at - peak)
        number += 1
        cuts.add("siding", "Siding station", f"{tag}-GABLE-{number:02d}", material, up_to_16th(base + pitch * top),
                 qty, width=end - at, station=station, note="top cut to slope, long point")  # fmt: skip
        at = end

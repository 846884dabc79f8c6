"""Stud walls: plates, studs, and the pieces round an opening; level or raked to a slope."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction as F

from .cutlist import CutList, Joints
from .lengths import secant, up_to_16th

__all__ = ["PLATE", "Opening", "Placed", "Wall", "cripple", "frame_wall", "header_length", "jack", "layout"]

PLATE = F(3, 2)
STUD = F(3, 2)
HEIGHT_OVER_STUD = 3 * PLATE


@dataclass(frozen=True)
class Opening:
    """A rough opening of the drawing's schedule; ``head`` is its top above the deck."""

    tag: str
    width: F
    height: F
    header: str
    depth: F
    head: F = F("82.5")
    plies: int = 2
    jacks: int = 1

    @property
    def sill(self) -> F:
        """Bottom of the rough opening above the deck; 0 for a door."""
        return self.head - self.height


@dataclass(frozen=True)
class Placed:
    """An opening with its left edge ``at`` from the start of the wall."""

    opening: Opening
    at: F

    @property
    def end(self) -> F:
        """The right edge of the rough opening."""
        return self.at + self.opening.width


@dataclass(frozen=True)
class Wall:
    """A wall as the drawing gives it. With a pitch it rises from its start, where a stud would be ``stud`` long."""

    tag: str
    length: F
    stud: F
    stud_material: str
    plate_material: str
    jig: str
    openings: tuple[Placed, ...] = ()
    step: F = F(16)
    first: F = F(16)  # first layout centre from the start of the wall
    top_plates: int = 2
    pitch: F = F(0)
    corner_studs: int = 0
    ladders: int = 0  # cross partitions met, three ladder blocks each
    backing: int = 0  # bays with flat backing for wall-hung things
    sole_material: str = ""
    file: str = "walls"
    post: tuple[int, int] = field(default=(0, 0))  # how many posts, of how many studs


def header_length(width: F, jacks: int = 1) -> F:
    """Rough opening and a jack stud's thickness at both ends, for each jack."""
    return width + 2 * STUD * jacks


def jack(head: F) -> F:
    """Header bottom less sole plate."""
    return head - PLATE


def cripple(stud: F, head: F, depth: F) -> F:
    """From the top of the header to the plate; 0 where the header is tight under the plate."""
    return stud - jack(head) - depth


def layout(length: F, first: F, step: F) -> list[F]:
    """Stud centres: flush end studs, the others on the layout."""
    inner = []
    at = first
    while at < length - 2 * STUD:
        if at >= 2 * STUD:
            inner.append(at)
        at += step
    return [STUD / 2, *inner, length - STUD / 2]


def _plates(cuts: CutList, wall: Wall, station: int, longest: F) -> None:
    def plate(mark: str, length: F, material: str, mate: str, note: str) -> None:
        joints = Joints(wall.first, wall.step, F(24) if mate else F(0), mate) if length > longest else None
        cuts.add(wall.file, wall.jig, f"{wall.tag}-{mark}", material, length, station=station, note=note,
                 rule="jointed" if joints else "", joints=joints)  # fmt: skip

    doors = any(p.opening.sill == 0 for p in wall.openings)
    plate("SOLE", wall.length, wall.sole_material or wall.plate_material, "",
          "cut out at doors after standing" if doors else "")  # fmt: skip
    top = up_to_16th(float(wall.length) * secant(wall.pitch) + float(PLATE * wall.pitch))
    note = f"plumb cuts, slope {wall.pitch * 12}/12" if wall.pitch else ""
    if wall.top_plates == 1:
        plate("TOP", top, wall.plate_material, "", note)
    else:
        plate("TOP-1", top, wall.plate_material, f"{wall.tag}-TOP-2", note)
        plate("TOP-2", top, wall.plate_material, f"{wall.tag}-TOP-1", note)


def frame_wall(cuts: CutList, wall: Wall, station: int, longest: F) -> None:
    """Every piece of one wall; a plate longer than ``longest`` is a run with joints on the stud layout."""
    _plates(cuts, wall, station, longest)
    note = f"top cut to slope {wall.pitch * 12}/12, long point" if wall.pitch else ""

    def put(mark: str, material: str, length: F, qty: int = 1, note: str = "", alt: tuple[str, ...] = ()) -> None:
        cuts.add(wall.file, wall.jig, f"{wall.tag}-{mark}", material, length, qty, station=station, note=note, alt=alt)

    def full(centre: F) -> F:
        """A stud's long point at its higher edge."""
        return up_to_16th(wall.stud + wall.pitch * (centre + STUD / 2)) if wall.pitch else wall.stud

    centres = layout(wall.length, wall.first, wall.step)
    edge = PLATE
    for p in wall.openings:
        side = STUD * (p.opening.jacks + 1)
        if p.at - side < edge or p.end + side > wall.length - STUD:
            raise ValueError(f"{cuts.section} {wall.tag}-{p.opening.tag}: no room for its studs")
        edge = p.end + side

    def hidden(centre: F) -> bool:
        return any(
            p.at - STUD * (p.opening.jacks + 1) < centre + STUD / 2
            and centre - STUD / 2 < p.end + STUD * (p.opening.jacks + 1)
            for p in wall.openings
        )

    shown = [c for c in centres if not hidden(c)]
    for n, centre in enumerate(shown, 1):
        put(f"STUD-{n:02d}" if wall.pitch else "STUD", wall.stud_material, full(centre), note=note)
    if not wall.pitch:
        put("CORNER", wall.stud_material, wall.stud, wall.corner_studs)
    posts, studs = wall.post
    put("POST", wall.stud_material, wall.stud, posts * studs, note=f"{studs} studs to a post")
    for n, p in enumerate(wall.openings, 1):
        _opening(cuts, wall, p, n, centres, station)
    bay = wall.step - STUD
    put("LADDER", wall.plate_material, bay, 3 * wall.ladders, note="flat, partition backing")
    put("BACKING", wall.plate_material, bay, wall.backing, note="flat between studs")


def _opening(cuts: CutList, wall: Wall, p: Placed, number: int, centres: list[F], station: int) -> None:
    o = p.opening
    raked = bool(wall.pitch)

    def put(mark: str, material: str, length: F, qty: int = 1, note: str = "") -> None:
        cuts.add(wall.file, wall.jig, f"{wall.tag}-{mark}", material, length, qty, station=station, note=note)

    def full(centre: F) -> F:
        return up_to_16th(wall.stud + wall.pitch * (centre + STUD / 2)) if raked else wall.stud

    side = STUD * o.jacks
    slope = f"top cut to slope {wall.pitch * 12}/12, long point" if raked else ""
    left, right = p.at - side - STUD / 2, p.end + side + STUD / 2
    if raked:
        put(f"KING-{number}L", wall.stud_material, full(left), note=slope)
        put(f"KING-{number}R", wall.stud_material, full(right), note=slope)
    else:
        put("KING", wall.stud_material, wall.stud, 2)
    put(f"JACK-{o.tag}", wall.stud_material, jack(o.head), 2 * o.jacks)
    put(f"HEADER-{o.tag}", o.header, header_length(o.width, o.jacks), o.plies,
        "flat" if o.depth == STUD else "on edge")  # fmt: skip
    inside = [c for c in centres if p.at + 3 * STUD / 2 <= c <= p.end - 3 * STUD / 2]
    over = [p.at - side + STUD / 2, *inside, p.end + side - STUD / 2]
    for n, centre in enumerate(over, 1):
        length = cripple(full(centre), o.head, o.depth)
        if not length:
            continue
        if length < 2:
            raise ValueError(f"{cuts.section} {wall.tag}-{o.tag}: a cripple of {length} in")
        put(f"CRIP-{number}{'ABCDEFGHIJ'[n - 1]}" if raked else f"CRIP-{o.tag}", wall.stud_material, length, note=slope)
    if o.sill:
        sills = 2 if o.width > 48 else 1
        put(f"SILL-{o.tag}", wall.plate_material, o.width, sills, "flat")
        below = [p.at + STUD / 2, *inside, p.end - STUD / 2]
        put(f"CRIP-LOW-{o.tag}", wall.stud_material, o.sill - (sills + 1) * PLATE, len(below))

"""Stud walls: plates, studs, and the pieces round an opening; level or raked to a slope."""

from __future__ import annotations

from dataclasses import dataclass

from .cutlist import CutList, Joints
from .lengths import NONE, ON_CENTRE, Inch, secant, up_to_16th

__all__ = [
    "PLATE",
    "Opening",
    "Placed",
    "Wall",
    "cripple",
    "frame_wall",
    "header_length",
    "jack",
    "layout",
]

PLATE = STUD = Inch(3, 2)  # thickness of dimension lumber
LONGEST = Inch("239.75")  # a 20-ft stick less the squaring trim
SHORTEST_CRIPPLE = Inch(2)
HEAD = Inch("82.5")


@dataclass(frozen=True)
class Opening:
    """A rough opening of the drawing's schedule; ``head`` is its top above the deck."""

    tag: str
    width: Inch
    height: Inch
    header: str  # material
    depth: Inch  # of the header as it lies
    plies: int = 2
    jacks: int = 1  # on either side
    head: Inch = HEAD

    @property
    def sill(self) -> Inch:
        """Bottom of the rough opening above the deck; 0 for a door."""
        return self.head - self.height

    @property
    def side(self) -> Inch:
        """What the jacks and the king take on either side."""
        return STUD * (self.jacks + 1)


@dataclass(frozen=True)
class Placed:
    """An opening with its left edge ``at`` from the start of the wall."""

    opening: Opening
    at: Inch

    @property
    def end(self) -> Inch:
        """Right edge of the rough opening."""
        return self.at + self.opening.width


@dataclass(frozen=True)
class Wall:
    """A wall as the drawing gives it.

    With a pitch it rises from its start, where a stud of no thickness would be ``stud`` long.
    """

    tag: str
    jig: str
    length: Inch
    stud: Inch
    stud_material: str
    plate_material: str
    openings: tuple[Placed, ...] = ()
    sole_material: str = ""  # where it is not the plates'
    step: Inch = ON_CENTRE
    first: Inch = ON_CENTRE  # first layout centre from the start of the wall
    top_plates: int = 2
    pitch: Inch = NONE
    corner_studs: int = 0
    ladders: int = 0  # cross partitions met, three ladder blocks each
    backing: int = 0  # bays with a flat backing block
    posts: int = 0
    post_studs: int = 0  # in each post

    def full(self, centre: Inch) -> Inch:
        """A stud's length, to the long point at its higher edge."""
        if not self.pitch:
            return self.stud
        return up_to_16th(self.stud + self.pitch * (centre + STUD / 2))


def header_length(width: Inch, jacks: int = 1) -> Inch:
    """Rough opening and the thickness of the jacks at both ends."""
    return width + 2 * STUD * jacks


def jack(head: Inch) -> Inch:
    """Header bottom less sole plate."""
    return head - PLATE


def cripple(stud: Inch, head: Inch, depth: Inch) -> Inch:
    """From the top of the header to the plate; 0 where the header is tight under the plate."""
    return stud - jack(head) - depth


def layout(length: Inch, first: Inch, step: Inch) -> list[Inch]:
    """Stud centres: flush end studs, the others on the layout."""
    inner = []
    at = first
    while at < length - 2 * STUD:
        if at >= 2 * STUD:
            inner.append(at)
        at += step
    return [STUD / 2, *inner, length - STUD / 2]


def frame_wall(cuts: CutList, wall: Wall) -> None:
    """Every piece of one wall; a plate longer than any stick is a run."""
    _plates(cuts, wall)
    _studs(cuts, wall)
    for number, placed in enumerate(wall.openings, 1):
        _frame_opening(cuts, wall, placed, number)
    bay, flat = wall.step - STUD, wall.plate_material
    note = "flat, behind a cross partition"
    cuts.add(wall.jig, f"{wall.tag}-LADDER", flat, bay, 3 * wall.ladders, note=note)
    note = "flat between studs, for wall-hung things"
    cuts.add(wall.jig, f"{wall.tag}-BACKING", flat, bay, wall.backing, note=note)


def _slope_note(wall: Wall) -> str:
    return f"top cut to slope {wall.pitch * 12}/12, long point" if wall.pitch else ""


def _plates(cuts: CutList, wall: Wall) -> None:
    def plate(mark: str, material: str, length: Inch, mate: str = "", note: str = "") -> None:
        joints = None
        if length > LONGEST:
            joints = Joints(wall.first, wall.step, mate and f"{wall.tag}-{mate}")
            note = note or "joints on stud centres"
        cuts.add(wall.jig, f"{wall.tag}-{mark}", material, length, joints=joints, note=note)

    door = any(p.opening.sill == 0 for p in wall.openings)
    note = "cut out at the door after standing" if door else ""
    plate("SOLE", wall.sole_material or wall.plate_material, wall.length, note=note)
    rise = float(PLATE * wall.pitch)
    top = up_to_16th(float(wall.length) * secant(wall.pitch) + rise) if rise else wall.length
    note = f"plumb cuts, slope {wall.pitch * 12}/12" if rise else ""
    if wall.top_plates == 1:
        plate("TOP", wall.plate_material, top, note=note)
    else:
        plate("TOP-1", wall.plate_material, top, "TOP-2", note)
        plate("TOP-2", wall.plate_material, top, "TOP-1", note)


def _studs(cuts: CutList, wall: Wall) -> None:
    edge = Inch(0)
    for p in wall.openings:
        if p.at - p.opening.side < edge or p.end + p.opening.side > wall.length:
            raise ValueError(f"{cuts.section} {wall.tag}-{p.opening.tag}: no room for its studs")
        edge = p.end + p.opening.side
    taken = [(p.at - p.opening.side, p.end + p.opening.side) for p in wall.openings]
    shown = [
        centre
        for centre in layout(wall.length, wall.first, wall.step)
        if not any(a < centre + STUD / 2 and centre - STUD / 2 < b for a, b in taken)
    ]
    material, note = wall.stud_material, _slope_note(wall)
    for number, centre in enumerate(shown, 1):
        mark = f"{wall.tag}-STUD-{number:02d}" if wall.pitch else f"{wall.tag}-STUD"
        cuts.add(wall.jig, mark, material, wall.full(centre), note=note)
    cuts.add(wall.jig, f"{wall.tag}-CORNER", material, wall.stud, wall.corner_studs)
    note = f"{wall.post_studs} studs to a post"
    qty = wall.posts * wall.post_studs
    cuts.add(wall.jig, f"{wall.tag}-POST", material, wall.stud, qty, note=note)


def _frame_opening(cuts: CutList, wall: Wall, placed: Placed, number: int) -> None:
    o, slope = placed.opening, _slope_note(wall)

    def put(mark: str, material: str, length: Inch, qty: int = 1, note: str = "") -> None:
        cuts.add(wall.jig, f"{wall.tag}-{mark}", material, length, qty, note=note)

    material = wall.stud_material
    left, right = placed.at - o.side + STUD / 2, placed.end + o.side - STUD / 2
    for centre, hand in ((left, "L"), (right, "R")):
        put(f"KING-{number}{hand}" if slope else "KING", material, wall.full(centre), note=slope)
    put(f"JACK-{o.tag}", material, jack(o.head), 2 * o.jacks)
    length, lies = header_length(o.width, o.jacks), "flat" if o.depth == STUD else "on edge"
    put(f"HEADER-{o.tag}", o.header, length, o.plies, lies)

    centres = layout(wall.length, wall.first, wall.step)
    clear = 3 * STUD / 2
    inside = [c for c in centres if placed.at + clear <= c <= placed.end - clear]
    ends = STUD * o.jacks - STUD / 2  # over the outermost jack
    for letter, centre in zip(
        "ABCDEFGHIJ", [placed.at - ends, *inside, placed.end + ends], strict=False
    ):
        over = cripple(wall.full(centre), o.head, o.depth)
        if 0 < over < SHORTEST_CRIPPLE or over < 0:
            raise ValueError(f"{cuts.section} {wall.tag}-{o.tag}: a cripple of {over} in")
        if over:
            put(f"CRIP-{number}{letter}" if slope else f"CRIP-{o.tag}", material, over, note=slope)
    if o.sill:
        sills = 2 if o.width > 48 else 1
        put(f"SILL-{o.tag}", wall.plate_material, o.width, sills, "flat")
        under = o.sill - (sills + 1) * PLATE
        put(f"CRIP-LOW-{o.tag}", material, under, len(inside) + 2)

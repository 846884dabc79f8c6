"""The five models that the invented plant builds, each as its (invented) approved drawings give it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction as F
from itertools import pairwise

from . import roofs
from .boards import board_raked, board_wall, gable_siding, side_wall
from .cutlist import CutList, Joints
from .floors import Floor, deck, frame_floor, joist_centres
from .lengths import secant, up_to_16th
from .walls import HEIGHT_OVER_STUD, PLATE, Opening, Placed, Wall, frame_wall

__all__ = ["Section", "bunkhouse", "cabin", "classroom", "comfort", "office"]

LONGEST = F("239.75")  # a 20-ft stick less the squaring trim
SIDE = F("5.5")  # a 2x6 wall
TRUSS_STEP = F(24)
RIDGE_STRIP = F("15.875")  # three strips to a 48-in sheet
PLY = F(23, 32)

# The drawings' schedule of rough openings and headers.
SCHEDULE = {
    # 36x80 door; the header leaves cripples under an 8- or 9-ft plate
    "D1": Opening("D1", F(38), F("82.5"), "2x6-SPF-2", F("5.5")),
    # the same door in a 7-1/2-ft sidewall: its header is tight under the plate
    "D2": Opening("D2", F(38), F("82.625"), "2x6-SPF-2", F("5.5"), head=F("82.625")),
    # 60-in pair
    "D3": Opening("D3", F(62), F("82.5"), "2x8-DF-2", F("7.25")),
    "N1": Opening("N1", F("36.5"), F("48.5"), "2x6-SPF-2", F("5.5")),
    "N2": Opening("N2", F("60.5"), F("48.5"), "2x8-DF-2", F("7.25")),
    "N3": Opening("N3", F("24.5"), F("24.5"), "2x6-SPF-2", F("5.5")),
    # windows of the 7-1/2-ft sidewalls, headers tight under the plate
    "N4": Opening("N4", F("36.5"), F("48.5"), "2x6-SPF-2", F("5.5"), head=F("82.625")),
    "N5": Opening("N5", F("60.5"), F("48.5"), "2x8-DF-2", F("7.25"), head=F("80.875")),
    # office window, two jacks on either side
    "N6": Opening("N6", F("84.5"), F("60.5"), "2x10-DF-2", F("9.25"), jacks=2),
    # partition doors, header flat, not bearing
    "P1": Opening("P1", F(34), F("82.5"), "2x3-SPF-STUD", F("1.5"), plies=1),
    "P2": Opening("P2", F(38), F("82.5"), "2x3-SPF-STUD", F("1.5"), plies=1),
    "P3": Opening("P3", F(38), F("82.5"), "2x4-SPF-2", F("1.5"), plies=1),
}

Where = Sequence[tuple[str, float]]


@dataclass(frozen=True)
class Section:
    """One home section on the line: its name, its model's frame, and what this order has chosen."""

    name: str
    model: str
    length: F
    width: F
    stud: F
    floor: Floor
    front: tuple[Placed, ...]
    back: tuple[Placed, ...]
    gable: tuple[Placed, ...]
    partitions: tuple[F, ...]  # doors of the cross partitions, from the wall's start
    pitch: F
    overhang: F
    siding: str
    siding_height: F
    plies: int = 2
    braces: bool = False

    @property
    def height(self) -> F:
        """Height of the wall frame: stud and three plates."""
        return self.stud + HEIGHT_OVER_STUD

    def cut(self, cuts: CutList) -> None:
        """Add every row of the section."""
        cuts.open_section(self.name)
        {"cabin": _truss_section, "office": _truss_section, "comfort": _comfort, "classroom": _classroom,
         "bunkhouse": _bunkhouse}[self.model](cuts, self)  # fmt: skip


def _placed(where: Where) -> tuple[Placed, ...]:
    return tuple(Placed(SCHEDULE[tag], F(at)) for tag, at in where)


def cabin(name: str, feet: int, front: Where, back: Where, partitions: Sequence[float], *, braces: bool) -> Section:
    """Ranger cabin, 13 ft 4 in wide, flat ceiling under king-post trusses at 4/12."""
    return Section(
        name, "cabin", F(feet * 12), F(160), F("92.625"),
        Floor("2x8-SPF-2", blocking_alt=("2x8-DF-2",), doublers=len(partitions)),
        _placed(front), _placed(back), _placed([("N1", 54)]), tuple(map(F, partitions)),
        F(4, 12), F("10.5"), "SDG-PLY-19/32", F(104), braces=braces,
    )  # fmt: skip


def office(name: str, feet: int, front: Where, back: Where, partitions: Sequence[float]) -> Section:
    """Field office, 15 ft 4 in wide, 9-ft walls, flat ceiling under Fink trusses at 5/12."""
    return Section(
        name, "office", F(feet * 12), F(184), F("104.625"),
        Floor("2x10-DF-2", doublers=len(partitions)),
        _placed(front), _placed(back), _placed([("N2", 58.5)]), tuple(map(F, partitions)),
        F(5, 12), F(16), "FC-5/16", F(116),
    )  # fmt: skip


def classroom(name: str, feet: int, front: Where, partitions: Sequence[float], *, plies: int = 2) -> Section:
    """One half of a classroom pair, 13 ft 8 in wide, sloped ceiling from a 7-1/2-ft sidewall to a ridge beam."""
    return Section(
        name, "classroom", F(feet * 12), F(164), F("86.625"),
        Floor("2x10-DF-2", doublers=len(partitions)),
        _placed(front), (), _placed([("N1", 42.5)]), tuple(map(F, partitions)),
        F(3, 12), F(12), "FC-5/16", F(96), plies=plies,
    )  # fmt: skip


def bunkhouse(name: str, inches: int, front: Where, back: Where, partitions: Sequence[float]) -> Section:
    """Bunkhouse, 13 ft 8 in wide, rafters at 4/12 to a two-ply ridge beam, ceiling sloped to both sides."""
    return Section(
        name, "bunkhouse", F(inches), F(164), F("86.625"),
        Floor("2x8-SPF-2", blocking_alt=("2x8-DF-2",), doublers=2 * len(partitions)),
        _placed(front), _placed(back), (), tuple(map(F, partitions)),
        F(4, 12), F("8.5"), "SDG-PLY-19/32", F(96),
    )  # fmt: skip


def comfort(name: str, feet: int, front: Where, back: Where, partitions: Sequence[float]) -> Section:
    """Comfort station, 11 ft 8 in wide, treated sole plates, rafters at 6/12 to a ridge board, flat ceiling."""
    return Section(
        name, "comfort", F(feet * 12), F(140), F("92.625"),
        Floor("2x8-SPF-2", blocking_rows=1, doublers=len(partitions)),
        _placed(front), _placed(back), _placed([("N3", 54.5)]), tuple(map(F, partitions)),
        F(6, 12), F(12), "FC-5/16", F(104),
    )  # fmt: skip


# --- what the models share


def _floor(cuts: CutList, s: Section) -> None:
    frame_floor(cuts, s.floor, s.length, s.width)
    net = s.floor.net_face
    deck(cuts, "Deck station", "DECK", s.floor.decking, s.length, s.width, net, net, file="decks", station=2)


def _sheathe(cuts: CutList, s: Section, slope: F, fields: int) -> None:
    deck(cuts, "Roof station", "ROOF", "OSB-7/16", s.length, slope, F("47.875"), F(48), file="decks", station=7,
         fields=fields)  # fmt: skip


def _sidewalls(cuts: CutList, s: Section, sole: str = "") -> list[Wall]:
    walls = []
    meets = len(s.partitions)
    for tag, openings, jig in (("W1", s.front, "Wall table 1"), ("W2", s.back, "Wall table 2")):
        if tag == "W2" and s.model == "classroom":
            continue
        wall = Wall(tag, s.length, s.stud, "2x6-SPF-STUD", "2x6-SPF-2", jig, openings, corner_studs=2,
                    ladders=meets, sole_material=sole)  # fmt: skip
        frame_wall(cuts, wall, 3, LONGEST)
        walls.append(wall)
    return walls


def _siding_sides(cuts: CutList, s: Section) -> None:
    turn = s.siding.startswith("FC")
    for tag, openings in (("W1", s.front), ("W2", s.back)):
        if tag == "W2" and s.model == "classroom":
            continue
        side_wall(cuts, tag, s.siding, s.length, s.siding_height, s.height, list(openings), 8, turn=turn)


def _siding_ends(cuts: CutList, s: Section) -> None:
    turn = s.siding.startswith("FC")
    for tag, openings in (("W3", s.gable), ("W4", ())):
        shifted = [replace(p, at=p.at + SIDE) for p in openings]
        side_wall(cuts, tag, s.siding, s.width, s.siding_height, s.height, shifted, 8, turn=turn)


def _endwalls(cuts: CutList, s: Section, sole: str = "") -> list[Wall]:
    walls = []
    for tag, openings in (("W3", s.gable), ("W4", ())):
        wall = Wall(tag, s.width - 2 * SIDE, s.stud, "2x6-SPF-STUD", "2x6-SPF-2", "End wall table", openings,
                    first=16 - SIDE, sole_material=sole)  # fmt: skip
        frame_wall(cuts, wall, 3, LONGEST)
        walls.append(wall)
    return walls


def _level_partitions(cuts: CutList, s: Section, courses: tuple[F, F]) -> None:
    """Cross partitions under a flat 1/2-in ceiling, one top plate."""
    for n, at in enumerate(s.partitions, 1):
        stud, plate = ("2x3-SPF-STUD",) * 2 if s.model == "cabin" else ("2x4-SPF-STUD", "2x4-SPF-2")
        door = Placed(SCHEDULE["P1" if s.model == "cabin" else "P3"], at)
        wall = Wall(f"C{n}", s.width - 2 * SIDE, s.height - F(1, 2) - 2 * PLATE, stud, plate,
                    "Partition table", (door,), top_plates=1, backing=2, file="partitions")  # fmt: skip
        frame_wall(cuts, wall, 4, LONGEST)
        board_wall(cuts, wall, "GYP-1/2", courses, 2, 6)


def _fascia(cuts: CutList, s: Section, qty: int) -> None:
    cuts.add("roofs", "Roof station", "SUBFASCIA", "2x6-SPF-2", s.length, qty, station=7, rule="jointed",
             joints=Joints(TRUSS_STEP, TRUSS_STEP), note="joints on tails")  # fmt: skip


def _eave_blocks(cuts: CutList, s: Section, material: str, step: F, sides: int, alt: tuple[str, ...] = ()) -> None:
    centres = joist_centres(s.length, step)
    bays = [b - a - PLATE for a, b in pairwise(centres)]
    for n, bay in enumerate(bays):
        mark = "EAVE-BLK" if bay == step - PLATE else "EAVE-BLK-END" if n == 0 or bay == bays[0] else "EAVE-BLK-LAST"
        cuts.add("roofs", "Roof station", mark, material, bay, sides, station=7, alt=alt, note="between heels")


def _ceiling(cuts: CutList, s: Section, mark: str, material: str, span: F, fields: int, note: str) -> None:
    cuts.add("ceilings", "Ceiling table", mark, material, span, fields, width=s.length - 2 * SIDE, station=5,
             rule="full-span", note=note)  # fmt: skip


# --- the models


def _truss_section(cuts: CutList, s: Section) -> None:
    """Cabin and office: trusses bear on both sidewalls."""
    _floor(cuts, s)
    courses = (F(54), F(54)) if s.model == "office" else (F(48), F(48))
    for wall in [*_sidewalls(cuts, s), *_endwalls(cuts, s)]:
        board_wall(cuts, wall, "GYP-1/2", courses, 1, 6)
    _level_partitions(cuts, s, courses)
    if s.model == "office":
        truss = roofs.fink(s.width, s.pitch, s.overhang)
    else:
        truss = roofs.king_post(s.width, s.pitch, s.overhang, braces=s.braces)
    count = len(joist_centres(s.length, TRUSS_STEP))
    chord, web, jig = "2x4-SPF-1650F", "2x4-SPF-2", "Truss press"
    put = cuts.add
    put("trusses", jig, "TOP-CHORD", chord, up_to_16th(truss.top_chord), 2 * count, station=5,
        note=f"plumb cuts {s.pitch * 12}/12")  # fmt: skip
    put("trusses", jig, "BOTTOM-CHORD", chord, up_to_16th(truss.bottom_chord), count, station=5,
        note=f"heel cuts {s.pitch * 12}/12")  # fmt: skip
    for mark, length, each in truss.webs:
        put("trusses", jig, mark, web, up_to_16th(length), each * (count - 2), station=5, alt=(chord,), note="mitred")
    for n, length in enumerate(roofs.gable_studs(s.width, s.pitch, F(16)), 1):
        put("trusses", jig, f"GABLE-STUD-{n:02d}", web, length, 2 if n == 1 else 4, station=5, alt=(chord,),
            note="gable trusses, top cut to slope")  # fmt: skip
    put("trusses", "Roof station", "RESTRAINT", "1x4-SPF-3", s.length, 2, station=7, rule="jointed",
        joints=Joints(TRUSS_STEP, TRUSS_STEP), note="bottom chord restraint, joints on chords")  # fmt: skip
    _eave_blocks(cuts, s, "2x4-SPF-2", TRUSS_STEP, 2, alt=(chord,))
    _fascia(cuts, s, 2)
    _sheathe(cuts, s, up_to_16th(float(s.width / 2 + s.overhang) * secant(s.pitch)), 2)
    _ceiling(cuts, s, "CEILING", "GYP-CLG-1/2", s.width - 2 * SIDE, 1, "flat")
    _siding_sides(cuts, s)
    _siding_ends(cuts, s)
    for tag in ("W3", "W4"):
        gable_siding(cuts, tag, s.siding, s.width, s.pitch, s.width / 2, 1, 8)


def _comfort(cuts: CutList, s: Section) -> None:
    """Rafters to a ridge board, ceiling joists, wet walls with plywood backing."""
    _floor(cuts, s)
    treated = "2x6-PT-2"
    for wall in [*_sidewalls(cuts, s, treated), *_endwalls(cuts, s, treated)]:
        board_wall(cuts, wall, "GYP-1/2", (F(48), F(48)), 1, 6)
    _level_partitions(cuts, s, (F(48), F(48)))
    depth = F("5.5")
    centres = len(joist_centres(s.length, F(16)))
    put, jig = cuts.add, "Rafter bench"
    rafter = roofs.common_rafter(s.width, s.pitch, s.overhang, PLATE, depth)
    put("roofs", jig, "RAFTER", "2x6-SPF-2", rafter, 2 * centres, station=5, note="plumb cuts 6/12, birdsmouth")
    put("roofs", jig, "RIDGE", "2x8-SPF-2", s.length, station=5, rule="jointed", joints=Joints(F(16), F(16)),
        note="ridge board, joints at rafter pairs")  # fmt: skip
    put("roofs", jig, "CLG-JOIST", "2x6-SPF-2", s.width, centres, station=5, note="ends clipped to slope")
    tie = up_to_16th(s.width / 3)
    put("roofs", jig, "COLLAR-TIE", "1x4-SPF-3", tie, (centres + 1) // 2, station=5, note="cut to slope, long point")
    _eave_blocks(cuts, s, "2x6-SPF-2", F(16), 2)
    studs = roofs.gable_studs(s.width, s.pitch, F(16), depth=F(0), butt=F(0))
    for n, length in enumerate(studs, 1):
        put("roofs", jig, f"GABLE-STUD-{n:02d}", "2x4-SPF-2", length, 2 if n == 1 else 4, station=5,
            note="flat, top cut to slope")  # fmt: skip
    put("walls", "Wall table 2", "BACKER", "PLY-23/32", F(24), 3 * len(s.partitions) + 6, width=16 - PLATE, station=3,
        turn=True, note="behind wall-hung fixtures")  # fmt: skip
    cuts.add("roofs", "Roof station", "SUBFASCIA", "2x6-SPF-2", s.length, 2, station=7, rule="jointed",
             joints=Joints(F(16), F(16)), note="joints on tails")  # fmt: skip
    _sheathe(cuts, s, up_to_16th(float(s.width / 2 + s.overhang) * secant(s.pitch)), 2)
    _ceiling(cuts, s, "CEILING", "GYP-CLG-1/2", s.width - 2 * SIDE, 1, "flat")
    _siding_sides(cuts, s)
    _siding_ends(cuts, s)
    for tag in ("W3", "W4"):
        gable_siding(cuts, tag, s.siding, s.width, s.pitch, s.width / 2, 1, 8)


def _raked(s: Section, tag: str, length: F, jig: str, **kind: object) -> Wall:
    """A wall under the slope, its start at the inside face of a sidewall; two plates follow the slope."""
    slope = secant(s.pitch)
    stud = F(math.floor((float(s.height - PLATE) - 2 * float(PLATE) * slope) * 16), 16)
    wall = Wall(tag, length, stud, "2x6-SPF-2", "2x6-SPF-2", jig, pitch=s.pitch)
    return replace(wall, **kind)  # type: ignore[arg-type]


def _raked_partition(cuts: CutList, s: Section, number: int, length: F, door: F, clear: F) -> None:
    ceiling = F(5, 8)
    wall = _raked(s, f"C{number}", length, "Partition table", stud_material="2x3-SPF-STUD",
                  plate_material="2x3-SPF-STUD", top_plates=1, file="partitions",
                  openings=(Placed(SCHEDULE["P2"], door),))  # fmt: skip
    stud = F(math.floor((float(s.height - PLATE) - float(PLATE + ceiling) * secant(s.pitch)) * 16), 16)
    wall = replace(wall, stud=stud)
    frame_wall(cuts, wall, 4, LONGEST)
    board_raked(cuts, wall, "GYP-1/2", clear, 2, 6)


def _classroom(cuts: CutList, s: Section) -> None:
    """Half of a pair: rafters hang between the sidewall and a plywood ridge beam along the open mating line."""
    _floor(cuts, s)
    (side,) = _sidewalls(cuts, s)
    board_wall(cuts, side, "GYP-1/2", (F(42), F(48)), 1, 6)
    beam = s.plies * PLY
    depth, pitch, put = F("7.25"), s.pitch, cuts.add
    face = s.width - beam
    under = s.height + pitch * (face - SIDE)  # underside of the rafters at the beam
    mate = F(math.floor((float(under - RIDGE_STRIP) + float(depth) * secant(pitch) - 2 * float(PLATE)) * 16), 16)
    line = Wall("M1", s.length, mate, "2x4-SPF-2", "2x4-SPF-2", "Mating wall table", step=F(48), first=F(48),
                top_plates=1, post=(math.ceil(s.length / 180) + 1, 4))  # fmt: skip
    frame_wall(cuts, line, 3, LONGEST)
    brace = up_to_16th(math.hypot(float(mate), 46.5))
    put("walls", "Mating wall table", "M1-SHIP-BRACE", "1x4-SPF-3", brace, int(s.length / 96), station=3,
        note="shipping brace between shipping studs, comes off on site")  # fmt: skip
    for tag, openings in (("W3", s.gable), ("W4", ())):
        end = _raked(s, tag, s.width - SIDE - F("3.5"), "End wall table", openings=openings, first=16 - SIDE)
        frame_wall(cuts, end, 3, LONGEST)
        board_raked(cuts, end, "GYP-1/2", F(90), 1, 6)
    for n, at in enumerate(s.partitions, 1):
        _raked_partition(cuts, s, n, s.width - SIDE - F("3.5"), at, F(90))
    count = len(joist_centres(s.length, TRUSS_STEP))
    rafter = roofs.rafter_to_beam(face, pitch, s.overhang, depth)
    put("roofs", "Rafter bench", "RAFTER", "2x8-DF-2", rafter, count, station=5, note="plumb cuts 3/12, seat cut")
    _eave_blocks(cuts, s, "2x8-DF-2", TRUSS_STEP, 1)
    _fascia(cuts, s, 1)
    marks = [f"RIDGE-{'ABC'[k]}" for k in range(s.plies)]
    for k, mark in enumerate(marks):
        put("ridges", "Ridge bench", mark, "PLY-23/32", s.length, width=RIDGE_STRIP, station=5, rule="jointed",
            joints=Joints(TRUSS_STEP, TRUSS_STEP, F(24), marks[k - 1] if k else marks[1]),
            note="ridge ply, face grain along, joints on rafters")  # fmt: skip
    _sheathe(cuts, s, up_to_16th(float(s.width + s.overhang) * secant(pitch)), 1)
    span = up_to_16th(float(face - SIDE) * secant(pitch))
    _ceiling(cuts, s, "CEILING", "GYP-CLG-5/8", span, 1, "sloped 3/12, from sidewall to ridge beam")
    _siding_sides(cuts, s)
    _siding_ends(cuts, s)
    for tag in ("W3", "W4"):
        gable_siding(cuts, tag, s.siding, s.width, pitch, s.width, 1, 8)


def _bunkhouse(cuts: CutList, s: Section) -> None:
    """Rafters on both sides of a two-ply lumber ridge beam; every ceiling is sloped."""
    _floor(cuts, s)
    for wall in _sidewalls(cuts, s):
        board_wall(cuts, wall, "GYP-1/2", (F(42), F(48)), 1, 6)
    beam, depth, pitch, put = 2 * PLATE, F("7.25"), s.pitch, cuts.add
    run = (s.width - beam) / 2  # outside of the wall to the face of the beam
    half = run - SIDE
    for tag in ("W3L", "W3R", "W4L", "W4R"):
        end = _raked(s, tag, half, "End wall table", first=16 - SIDE)
        frame_wall(cuts, end, 3, LONGEST)
        board_raked(cuts, end, "GYP-1/2", F(90), 1, 6)
    under = s.height + pitch * half
    post = F(math.floor((float(under) + float(depth) * secant(pitch) - 11.25 - 1.5) * 16), 16)
    put("walls", "End wall table", "RIDGE-POST", "2x6-SPF-2", post, 3 * (2 + len(s.partitions)), station=3, note="3 studs to a post")
    for n, at in enumerate(s.partitions):
        for k in (1, 2):
            _raked_partition(cuts, s, 2 * n + k, half - 20, at, F(90))
    count = len(joist_centres(s.length, TRUSS_STEP))
    rafter = roofs.rafter_to_beam(run, pitch, s.overhang, depth)
    put("roofs", "Rafter bench", "RAFTER", "2x8-DF-2", rafter, 2 * count, station=5, note="plumb cuts 4/12, seat cut")
    _eave_blocks(cuts, s, "2x8-DF-2", TRUSS_STEP, 2)
    _fascia(cuts, s, 2)
    for mark, mate in (("RIDGE-A", "RIDGE-B"), ("RIDGE-B", "RIDGE-A")):
        put("ridges", "Ridge bench", mark, "2x12-DF-1", s.length, station=5, rule="jointed",
            joints=Joints(TRUSS_STEP, TRUSS_STEP, F(24), mate), note="ridge ply, joints on rafters")  # fmt: skip
    _sheathe(cuts, s, up_to_16th(float(s.width / 2 + s.overhang) * secant(pitch)), 2)
    span = up_to_16th(float(half) * secant(pitch))
    _ceiling(cuts, s, "CEILING", "GYP-CLG-1/2", span, 2, "sloped 4/12, from sidewall to ridge beam")
    _siding_sides(cuts, s)
    _siding_ends(cuts, s)
    for tag in ("W3", "W4"):
        gable_siding(cuts, tag, s.siding, s.width, pitch, s.width / 2, 1, 8)

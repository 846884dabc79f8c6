"""Every row of a section: its floor, walls, roof, ceiling, board and siding, model by model."""

from __future__ import annotations

import math
from dataclasses import replace

from . import roofs
from .boards import board_raked, board_wall, gable_siding, side_wall
from .cutlist import CutList, Joints
from .floors import bays, centres, deck, frame_floor
from .lengths import NONE, ON_CENTRE, Inch, down_to_16th, secant, up_to_16th
from .sections import SCHEDULE, Section
from .walls import PLATE, Placed, Wall, frame_wall

__all__ = ["cut_section"]

SIDE = Inch("5.5")  # depth of a 2x6 wall
MATE = Inch("3.5")  # depth of the 2x4 wall on the mating line
RAFTER = Inch("7.25")  # depth of a 2x8
ROOF_STEP = Inch(24)
RIDGE_STRIP = Inch("15.875")  # three strips to a 48-in sheet
RIDGE_PLY = Inch(23, 32)
LUMBER_BEAM = Inch("11.25")  # depth of a 2x12
SLOPED_CLEAR = Inch(90)  # wall board at the low side under a sloped ceiling
STUDS, CHORDS, WEBS = "2x6-SPF-STUD", "2x4-SPF-1650F", "2x4-SPF-2"


def cut_section(cuts: CutList, s: Section) -> None:
    """Add every row of a section."""
    cuts.open_section(s.name)
    frame_floor(cuts, s.floor, s.length, s.width)
    face, size = s.floor.face, (s.length, s.width)
    deck(cuts, "Deck station", "DECK", s.floor.decking, size, face, face)
    models = {
        "cabin": _trussed,
        "office": _trussed,
        "comfort": _comfort,
        "classroom": _classroom,
        "bunkhouse": _bunkhouse,
    }
    models[s.model](cuts, s)
    _siding(cuts, s)


# --- the models


def _trussed(cuts: CutList, s: Section) -> None:
    """Cabin and office: trusses bear on both sidewalls under a flat ceiling."""
    office = s.model == "office"
    _level_walls(cuts, s, Inch(54) if office else Inch(48))
    truss = (
        roofs.fink(s.width, s.pitch, s.overhang)
        if office
        else roofs.king_post(s.width, s.pitch, s.overhang, braces=s.braces)
    )
    count, jig, slope = len(centres(s.length, ROOF_STEP)), "Truss press", f"{s.pitch * 12}/12"
    top, bottom = up_to_16th(truss.top_chord), up_to_16th(truss.bottom_chord)
    cuts.add(jig, "TOP-CHORD", CHORDS, top, 2 * count, note=f"plumb cuts {slope}, long point")
    cuts.add(jig, "BOTTOM-CHORD", CHORDS, bottom, count, note=f"heel cuts {slope}")
    for mark, web, each in truss.webs:
        qty, note = each * (count - 2), "mitred, long point"
        cuts.add(jig, mark, WEBS, up_to_16th(web), qty, alt=CHORDS, note=note)
    studs = roofs.gable_studs(s.width, s.pitch, ON_CENTRE)
    for number, length in enumerate(studs, 1):
        mark, qty = f"GABLE-STUD-{number:02d}", 2 if number == 1 else 4
        note = f"gable trusses, top cut {slope}, long point"
        cuts.add(jig, mark, WEBS, length, qty, alt=CHORDS, note=note)
    note = "bottom chord restraint, joints on chords"
    joints = Joints(ROOF_STEP, ROOF_STEP)
    cuts.add("Roof station", "RESTRAINT", "1x4-SPF-3", s.length, 2, joints=joints, note=note)
    _eaves(cuts, s, WEBS, ROOF_STEP, 2, "between truss heels", alt=CHORDS)
    _sheathe(cuts, s, s.width / 2, 2)
    _ceiling(cuts, s, "GYP-CLG-1/2", s.width - 2 * SIDE, 1, "flat")


def _comfort(cuts: CutList, s: Section) -> None:
    """Rafters to a ridge board, ceiling joists, wet walls with plywood backing."""
    _level_walls(cuts, s, Inch(48), sole="2x6-PT-2")
    note = "behind wall-hung fixtures"
    qty = 2 + 4 * len(s.doors)
    cuts.add("Partition table", "BACKER", "PLY-23/32", Inch(24), qty, width=ON_CENTRE - PLATE,
             turn=True, note=note)  # fmt: skip
    pairs, jig, slope = len(centres(s.length, ON_CENTRE)), "Rafter bench", f"{s.pitch * 12}/12"
    rafter = roofs.common_rafter(s.width, s.pitch, s.overhang, PLATE, SIDE)
    note = f"plumb cuts {slope}, birdsmouth"
    cuts.add(jig, "RAFTER", "2x6-SPF-2", rafter, 2 * pairs, note=note)
    note = "ridge board, joints at rafter pairs"
    joints = Joints(ON_CENTRE, ON_CENTRE)
    cuts.add(jig, "RIDGE-BOARD", "2x8-SPF-2", s.length, joints=joints, note=note)
    note = "ends clipped to the roof slope"
    cuts.add(jig, "CEILING-JOIST", "2x6-SPF-2", s.width, pairs, note=note)
    note = "every other pair, a third of the rise below the ridge"
    tie = up_to_16th(s.width / 3)
    cuts.add(jig, "COLLAR-TIE", "1x4-SPF-3", tie, (pairs + 1) // 2, note=note)
    studs = roofs.gable_studs(s.width - 2 * SIDE, s.pitch, ON_CENTRE, depth=Inch(0), butt=Inch(0))
    for number, length in enumerate(studs, 1):
        mark, qty = f"GABLE-STUD-{number:02d}", 2 if number == 1 else 4
        note = f"flat, top cut {slope}, long point"
        cuts.add(jig, mark, "2x4-SPF-2", length, qty, note=note)
    _eaves(cuts, s, "2x6-SPF-2", ON_CENTRE, 2, "between rafters")
    _sheathe(cuts, s, s.width / 2, 2)
    _ceiling(cuts, s, "GYP-CLG-1/2", s.width - 2 * SIDE, 1, "flat")


def _classroom(cuts: CutList, s: Section) -> None:
    """Half of a pair: rafters hang from the sidewall to a ridge beam on the open mating line."""
    _low_sidewalls(cuts, s)
    face = s.width - s.ridge_plies * RIDGE_PLY  # outside of the sidewall to the beam
    under = s.height + s.pitch * (face - SIDE)  # underside of the rafters there
    beam_bottom = float(under - RIDGE_STRIP) + float(RAFTER) * secant(s.pitch)
    mate = down_to_16th(beam_bottom - 2 * float(PLATE))
    posts = math.ceil(s.length / 180) + 1
    bay = Inch(48)
    line = Wall(
        "M1", "Mating wall table", s.length, mate, "2x4-SPF-2", "2x4-SPF-2",
        step=bay, first=bay, top_plates=1, posts=posts, post_studs=4,
    )  # fmt: skip
    frame_wall(cuts, line)
    brace = up_to_16th(math.hypot(float(mate), float(bay - PLATE)))
    note = "between shipping studs, comes off on site"
    qty = int(s.length / (2 * bay))
    cuts.add(line.jig, "M1-SHIP-BRACE", "1x4-SPF-3", brace, qty, note=note)

    inside = s.width - SIDE - MATE
    for tag, openings in (("W3", s.gable), ("W4", ())):
        wall = _raked(s, tag, "End wall table", inside, "2x6-SPF-2", 2)
        wall = replace(wall, openings=openings, first=ON_CENTRE - SIDE)
        frame_wall(cuts, wall)
        board_raked(cuts, wall, SLOPED_CLEAR, 1)
    for number, at in enumerate(s.doors, 1):
        _raked_partition(cuts, s, f"C{number}", inside, at, Inch(5, 8))

    _rafters(cuts, s, face, 1)
    names = [f"RIDGE-{'ABC'[k]}" for k in range(s.ridge_plies)]
    for mark, mate_mark in zip(names, [names[1], *names], strict=False):
        joints = Joints(ROOF_STEP, ROOF_STEP, mate_mark)
        note = "ridge ply, face grain along, joints on rafters"
        cuts.add("Ridge bench", mark, "PLY-23/32", s.length, width=RIDGE_STRIP, joints=joints,
                 note=note)  # fmt: skip
    _sheathe(cuts, s, s.width, 1)
    span = up_to_16th(float(face - SIDE) * secant(s.pitch))
    _ceiling(cuts, s, "GYP-CLG-5/8", span, 1, "sloped 3/12, from sidewall to ridge beam")


def _bunkhouse(cuts: CutList, s: Section) -> None:
    """Rafters on both sides of a two-ply lumber ridge beam on posts; every ceiling is sloped."""
    _low_sidewalls(cuts, s)
    run = s.width / 2 - PLATE  # outside of a sidewall to the face of the beam
    half = run - SIDE
    for tag in ("W3L", "W3R", "W4L", "W4R"):
        wall = _raked(s, tag, "End wall table", half, "2x6-SPF-2", 2)
        wall = replace(wall, first=ON_CENTRE - SIDE)
        frame_wall(cuts, wall)
        board_raked(cuts, wall, SLOPED_CLEAR, 1)
    top = float(s.height + s.pitch * half) + float(RAFTER) * secant(s.pitch)
    post, qty = down_to_16th(top - float(LUMBER_BEAM)), 2 * (2 + len(s.doors))
    note = "2 studs to a post, at the end walls and cross partitions"
    cuts.add("End wall table", "RIDGE-POST", "2x6-SPF-2", post, qty, note=note)
    for number, at in enumerate(s.doors, 1):
        for hand in "LR":
            _raked_partition(cuts, s, f"C{number}{hand}", half, at, Inch(1, 2))
    _rafters(cuts, s, run, 2)
    for mark, mate in (("RIDGE-A", "RIDGE-B"), ("RIDGE-B", "RIDGE-A")):
        joints = Joints(ROOF_STEP, ROOF_STEP, mate)
        note = "ridge ply, joints on rafters"
        cuts.add("Ridge bench", mark, "2x12-DF-1", s.length, joints=joints, note=note)
    _sheathe(cuts, s, s.width / 2, 2)
    span = up_to_16th(float(half) * secant(s.pitch))
    _ceiling(cuts, s, "GYP-CLG-1/2", span, 2, "sloped 4/12, from sidewall to ridge beam")


# --- what the models share


def _sidewalls(s: Section, sole: str = "") -> list[Wall]:
    sides = [("W1", "Wall table 1", s.front)]
    if s.model != "classroom":
        sides.append(("W2", "Wall table 2", s.back))
    return [
        Wall(
            tag,
            jig,
            s.length,
            s.stud,
            STUDS,
            "2x6-SPF-2",
            openings,
            sole,
            corner_studs=2,
            ladders=len(s.doors),
        )
        for tag, jig, openings in sides
    ]


def _low_sidewalls(cuts: CutList, s: Section) -> None:
    """Sidewalls of 7-1/2 ft under a sloped ceiling."""
    for wall in _sidewalls(s):
        frame_wall(cuts, wall)
        board_wall(cuts, wall, (SLOPED_CLEAR - 48, Inch(48)), 1)


def _level_walls(cuts: CutList, s: Section, course: Inch, sole: str = "") -> None:
    """Sidewalls, end walls between them, and cross partitions under a flat 1/2-in ceiling."""
    walls = _sidewalls(s, sole)
    inside, first = s.width - 2 * SIDE, ON_CENTRE - SIDE  # studs keep the building's layout
    for tag, openings in (("W3", s.gable), ("W4", ())):
        jig = "End wall table"
        walls.append(
            Wall(tag, jig, inside, s.stud, STUDS, "2x6-SPF-2", openings, sole, first=first)
        )
    for wall in walls:
        frame_wall(cuts, wall)
        board_wall(cuts, wall, (course, course), 1)
    light = s.model == "cabin"
    stud, plate = ("2x3-SPF-STUD",) * 2 if light else ("2x4-SPF-STUD", "2x4-SPF-2")
    height = s.height - Inch(1, 2) - 2 * PLATE
    for number, at in enumerate(s.doors, 1):
        door = Placed(SCHEDULE["P1" if light else "P3"], at)
        wall = Wall(
            f"C{number}", "Partition table", inside, height, stud, plate, (door,),
            top_plates=1, backing=2,
        )  # fmt: skip
        frame_wall(cuts, wall)
        board_wall(cuts, wall, (course, course), 2)


def _raked(
    s: Section, tag: str, jig: str, length: Inch, material: str, tops: int, ceiling: Inch = NONE
) -> Wall:
    """A wall under the rafters (or a ceiling on them) that starts at the inside of a sidewall."""
    above = float(tops * PLATE + ceiling) * secant(s.pitch)
    stud = down_to_16th(float(s.height - PLATE) - above)
    return Wall(tag, jig, length, stud, material, material, top_plates=tops, pitch=s.pitch)


def _raked_partition(
    cuts: CutList, s: Section, tag: str, length: Inch, at: Inch, ceiling: Inch
) -> None:
    wall = _raked(s, tag, "Partition table", length, "2x3-SPF-STUD", 1, ceiling)
    wall = replace(wall, openings=(Placed(SCHEDULE["P2"], at),))
    frame_wall(cuts, wall)
    board_raked(cuts, wall, SLOPED_CLEAR, 2)


def _rafters(cuts: CutList, s: Section, run: Inch, sides: int) -> None:
    """Rafters that hang on a ridge beam ``run`` from the outside of the wall, and their blocks."""
    rafter = roofs.rafter_to_beam(run, s.pitch, s.overhang, RAFTER)
    qty = sides * len(centres(s.length, ROOF_STEP))
    note = f"plumb cuts {s.pitch * 12}/12, seat cut"
    cuts.add("Rafter bench", "RAFTER", "2x8-DF-2", rafter, qty, note=note)
    _eaves(cuts, s, "2x8-DF-2", ROOF_STEP, sides, "between rafters")


def _eaves(
    cuts: CutList, s: Section, material: str, step: Inch, sides: int, note: str, alt: str = ""
) -> None:
    """Blocks between the heels, and the subfascia on the tails."""
    names = {step - PLATE: "EAVE-BLK", step - 3 * PLATE / 2: "EAVE-BLK-END"}
    for bay, number in sorted(bays(s.length, step).items(), reverse=True):
        mark = names.get(bay, "EAVE-BLK-LAST")
        cuts.add("Roof station", mark, material, bay, sides * number, alt=alt, note=note)
    joints, note = Joints(step, step), "joints on tails"
    cuts.add("Roof station", "SUBFASCIA", "2x6-SPF-2", s.length, sides, joints=joints, note=note)


def _sheathe(cuts: CutList, s: Section, run: Inch, fields: int) -> None:
    slope = up_to_16th(float(run + s.overhang) * secant(s.pitch))
    net, module = Inch("47.875"), Inch(48)
    deck(cuts, "Roof deck station", "ROOF", "OSB-7/16", (s.length, slope), net, module, fields)


def _ceiling(cuts: CutList, s: Section, material: str, span: Inch, fields: int, note: str) -> None:
    run = s.length - 2 * SIDE
    cuts.add("Ceiling table", "CEILING", material, span, fields, width=run, rule="full-span",
             note=note)  # fmt: skip


def _heel(s: Section) -> float:
    """From the plate to the top of the chord or rafter, over the outside of the wall."""
    if s.model in ("cabin", "office"):
        return float(roofs.BUTT) + float(roofs.CHORD) * secant(s.pitch)
    depth = SIDE if s.model == "comfort" else RAFTER
    return float(depth) * secant(s.pitch) - float(SIDE * s.pitch)  # seat cut as wide as the plate


def _siding(cuts: CutList, s: Section) -> None:
    """All outer walls and the gables above them; fibre cement has no grain and may be turned."""
    turn = s.siding.startswith("FC")
    heights = (s.siding_height, s.height)
    for wall in _sidewalls(s):
        side_wall(cuts, wall.tag, s.siding, s.length, heights, wall.openings, turn=turn)
    peak = s.width if s.model == "classroom" else s.width / 2
    for tag, openings in (("W3", s.gable), ("W4", ())):
        shifted = [replace(p, at=p.at + SIDE) for p in openings]
        side_wall(cuts, tag, s.siding, s.width, heights, shifted, turn=turn)
        gable_siding(cuts, tag, s.siding, s.width, s.pitch, peak, _heel(s))

"""Floor frames and sheet decks: joists at spacing, two-ply rims, blocking, staggered sheets."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from itertools import pairwise

from .cutlist import CutList, Joints
from .lengths import ON_CENTRE, Inch

__all__ = ["Floor", "bays", "centres", "deck", "deck_row", "frame_floor"]

PLY = Inch(3, 2)
SHEET = Inch(96)  # laying module of a 95-7/8 sheet with its 1/8 gap
GAP = Inch(1, 8)
NARROWEST = Inch(6)
NET_FACE = Inch("47.5")  # of a tongue-and-groove sheet


@dataclass(frozen=True)
class Floor:
    """A floor as the drawing gives it; joists run across the section."""

    joist: str
    blocking_rows: int = 2
    blocking_alt: str = ""
    doublers: int = 0  # joists doubled beneath cross partitions
    step: Inch = ON_CENTRE
    decking: str = "OSB-23/32-TG"
    face: Inch = NET_FACE


def centres(length: Inch, step: Inch) -> list[Inch]:
    """Centres of members: the end ones flush, the others at whole steps from the end."""
    inner = []
    at = step
    while at < length - 2 * PLY:
        inner.append(at)
        at += step
    return [PLY / 2, *inner, length - PLY / 2]


def bays(length: Inch, step: Inch) -> Counter[Inch]:
    """Clear distances between neighbouring members, and how often each occurs."""
    return Counter(b - a - PLY for a, b in pairwise(centres(length, step)))


def frame_floor(cuts: CutList, floor: Floor, length: Inch, width: Inch) -> None:
    """Joists, rims and blocking of a floor ``length`` by ``width`` over its frame."""
    jig, joist = "Floor table", width - 4 * PLY
    count = len(centres(length, floor.step))
    cuts.add(jig, "JOIST", floor.joist, joist, count, note="square both ends")
    note = "second ply under a cross partition"
    cuts.add(jig, "JOIST-DBL", floor.joist, joist, floor.doublers, note=note)
    for mark, mate in (("RIM-A", "RIM-B"), ("RIM-B", "RIM-A")):
        joints = Joints(floor.step, floor.step, mate)
        note = "joints on joist centres"
        cuts.add(jig, mark, floor.joist, length, 2, joints=joints, note=note)
    common = floor.step - PLY
    names = {common: "BLK", common - PLY / 2: "BLK-END", common - PLY: "BLK-DBL"}
    clear = bays(length, floor.step)
    clear[common] -= floor.doublers
    clear[common - PLY] += floor.doublers
    for bay, number in sorted(clear.items(), reverse=True):
        qty = number * floor.blocking_rows
        cuts.add(jig, names[bay], floor.joist, bay, qty, alt=floor.blocking_alt)


def deck_row(length: Inch, start: Inch) -> list[Inch]:
    """Sheet lengths of one row: a first piece up to ``start`` (0: none), then whole sheets."""
    pieces = [start - GAP] if start else []
    at = start
    while at < length - GAP:
        pieces.append(min(SHEET - GAP, length - GAP - at))
        at += SHEET
    return pieces


def deck(
    cuts: CutList,
    jig: str,
    prefix: str,
    material: str,
    size: tuple[Inch, Inch],
    net: Inch,
    module: Inch,
    fields: int = 1,
) -> None:
    """Sheets with the strength axis along the field, rows at ``module``, end joints staggered."""
    length, across = size
    row, at = 0, Inch(0)
    while at < across:
        wide = min(net, across - at)
        if wide < NARROWEST:
            raise ValueError(f"{cuts.section} {prefix}: a last row of only {wide} in")
        rip = "" if wide == net else "-RIP"
        for piece in deck_row(length, SHEET / 2 if row % 2 else Inch(0)):
            kind = {SHEET - GAP: "WHOLE", SHEET / 2 - GAP: "HALF"}.get(piece, f"END-{row % 2 + 1}")
            cuts.add(jig, f"{prefix}-{kind}{rip}", material, piece, fields, width=wide)
        row, at = row + 1, at + module

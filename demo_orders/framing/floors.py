"""Floor frames: joists at spacing, two-ply rims, blocking rows, tongue-and-groove decking."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from fractions import Fraction as F
from itertools import pairwise

from .cutlist import CutList, Joints

__all__ = ["Floor", "deck", "deck_rows", "frame_floor", "joist_centres"]

PLY = F(3, 2)
SHEET = F(96)  # laying module of a 95-7/8 sheet with its 1/8 gap
GAP = F(1, 8)


@dataclass(frozen=True)
class Floor:
    """A floor as the drawing gives it; joists run across the section."""

    joist: str
    step: F = F(16)
    blocking_rows: int = 2
    blocking_alt: tuple[str, ...] = ()
    doublers: int = 0  # joists doubled beneath cross partitions
    decking: str = "OSB-23/32-TG"
    net_face: F = F("47.5")


def joist_centres(length: F, step: F) -> list[F]:
    """Centres along a floor: the end joists flush, the others at whole steps from the end."""
    inner = []
    at = step
    while at < length - 2 * PLY:
        inner.append(at)
        at += step
    return [PLY / 2, *inner, length - PLY / 2]


def frame_floor(cuts: CutList, floor: Floor, length: F, width: F) -> None:
    """Joists, rims and blocking of a floor ``length`` by ``width`` over its frame."""
    centres = joist_centres(length, floor.step)
    put = cuts.add
    jig = "Floor table"
    put("floors", jig, "JOIST", floor.joist, width - 4 * PLY, len(centres), station=1, note="square both ends")
    put("floors", jig, "JOIST-DBL", floor.joist, width - 4 * PLY, floor.doublers, station=1,
        note="second ply under cross partition")  # fmt: skip
    for mark, mate in (("RIM-A", "RIM-B"), ("RIM-B", "RIM-A")):
        put("floors", jig, mark, floor.joist, length, 2, station=1, rule="jointed",
            joints=Joints(floor.step, floor.step, F(24), mate), note="joints on joist centres")  # fmt: skip
    bays = Counter(b - a - PLY for a, b in pairwise(centres))
    common = floor.step - PLY
    if floor.doublers:
        bays[common] -= floor.doublers
        bays[common - PLY] += floor.doublers
    for bay, count in sorted(bays.items(), reverse=True):
        kind = {common: "BLK", common - PLY: "BLK-DBL", common - PLY / 2: "BLK-END"}.get(bay, "BLK-LAST")
        put("floors", jig, kind, floor.joist, bay, count * floor.blocking_rows, station=1, alt=floor.blocking_alt)


def deck_rows(length: F, start: F) -> list[F]:
    """Sheet lengths of one row: a first piece up to ``start`` (0: a whole sheet first), then whole sheets."""
    pieces = [start - GAP] if start else []
    at = start
    while at < length - GAP:
        pieces.append(min(SHEET - GAP, length - GAP - at))
        at += SHEET
    return pieces


def deck(
    cuts: CutList, jig: str, prefix: str, material: str, length: F, across: F, net: F, module: F, *,
    file: str, station: int, fields: int = 1, note: str = "",
) -> None:  # fmt: skip
    """Sheets with the strength axis along ``length``, in rows of ``net`` at ``module``, end joints staggered."""
    row, at = 0, F(0)
    while at < across:
        wide = min(net, across - at)
        if wide < 6:
            raise ValueError(f"{cuts.section} {prefix}: a last row of only {wide} in")
        for piece in deck_rows(length, SHEET / 2 if row % 2 else F(0)):
            whole = "WHOLE" if piece == SHEET - GAP else "HALF" if piece == SHEET / 2 - GAP else "END"
            side = "" if wide == net else "-RIP"
            tail = str(row % 2 + 1) if whole == "END" else ""
            cuts.add(file, jig, f"{prefix}-{whole}{side}{tail}", material, piece, fields, width=wide,
                     station=station, note=note)  # fmt: skip
        row, at = row + 1, at + module

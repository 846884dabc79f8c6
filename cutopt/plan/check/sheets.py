"""How a sheet is cut: parts inside, apart by a kerf, freed by edge-to-edge cuts in few stages.

Two questions are asked of a layout. Can its parts be told apart by cuts from edge to edge, turning
the axis from stage to stage? And do parts, kerfs and drops then fill the sheet, with nothing left
that is not told? Cutting wherever a cut is possible answers both: a cut through a region also goes
through whatever part of it would have been made first.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from cutopt.materials import FirstCut, SheetRules
from cutopt.plan.check.seen import Box, SeenLayout, SeenPart
from cutopt.plan.check.told import Told

__all__ = ["check_sheet", "cuttable"]


def check_sheet(
    layout: SeenLayout,
    size: tuple[int, int],
    rules: SheetRules,
    rows: Sequence[SeenPart],
    where: str,
    told: Told,
) -> None:
    """One layout of sheets, on a sheet of `size` (length, width).

    `rows` are those of its parts that are rows of a ceiling field: their board keeps its factory
    edges, so that no edge trim is taken off it.
    """
    edge = 0 if rows else rules.edge_trim
    sheet = Box(0, 0, size[0] - 2 * edge, size[1] - 2 * edge)
    if rows:
        _rows(rows, sheet, where, told)
    named = [(part.box, str(part)) for part in layout.parts]
    for part in layout.parts:
        if part.width is None:
            told(where, f"{part} has no width, a sheet's part has one")
    for drop in layout.drops:
        place = f"{told.show(drop.x)}, {told.show(drop.y)}"
        named.append((drop.box, f"the drop at {place}"))
        if drop.width is None:
            told(where, f"the drop at {place} has no width, a sheet's has one")
        _kept(drop.box, drop.kept, rules, where, told)
    inside = [_inside(box, name, sheet, where, told) for box, name in named]
    apart = _apart(named, rules.kerf, where, told)
    if not (all(inside) and apart and layout.parts):
        return
    boxes = [box for box, _ in named]
    parts, drops = boxes[: len(layout.parts)], boxes[len(layout.parts) :]
    axes = _first_axes(rules.first_cut)
    if not any(cuttable(parts, rules.kerf, rip, rules.stages) for rip in axes):
        first = "" if len(axes) > 1 else f", {rules.first_cut.value} first"
        told(
            where,
            f"its parts can't be cut from edge to edge in {rules.stages} stages{first} "
            "(a last trimming cut is free)",
        )
        return
    faults = [_filled(parts, drops, sheet, rules.kerf, rip, rules.stages, told) for rip in axes]
    if all(faults):
        told(where, next(f for f in faults if f is not None))


def cuttable(parts: Sequence[Box], kerf: int, rip: bool, stages: int) -> bool:
    """Whether `stages` stages, the first one of rips or of crosscuts, leave each part alone.

    The cut that then frees a lone part from what lies beside it is the trimming cut.
    """
    if len(parts) <= 1:
        return True
    if stages <= 0:
        return False
    slices = _slices(parts, kerf, rip)
    return all(cuttable(group, kerf, not rip, stages - 1) for group in slices)


def _slices(boxes: Sequence[Box], kerf: int, rip: bool) -> list[list[Box]]:
    """Boxes that no cut of this axis can part, in order along it."""
    slices: list[list[Box]] = []
    reach = 0
    for box in sorted(boxes, key=lambda b: _span(b, rip)):
        low, high = _span(box, rip)
        if slices and low - reach < kerf:
            slices[-1].append(box)
            reach = max(reach, high)
        else:
            slices.append([box])
            reach = high
    return slices


def _span(box: Box, rip: bool) -> tuple[int, int]:
    """Where a box begins and ends along the axis on which the cuts are measured."""
    return (box.y, box.y_end) if rip else (box.x, box.x_end)


def _filled(
    parts: Sequence[Box],
    drops: Sequence[Box],
    region: Box,
    kerf: int,
    rip: bool,
    stages: int,
    told: Told,
) -> str | None:
    """What is wrong with parts and drops as a filling of the region; None where nothing is.

    Between two slices lies one kerf, or two with less than nothing between them; at the region's
    edges the blade may hang over.
    """
    boxes = [*parts, *drops]
    if boxes == [region]:
        return None
    axis, other = ("y", "x") if rip else ("x", "y")
    begin, end = _span(region, rip)
    base = _span(region, not rip)
    slices = _slices(boxes, kerf, rip)
    spans = [(min(_span(b, rip)[0] for b in s), max(_span(b, rip)[1] for b in s)) for s in slices]
    edges = [(begin, spans[0][0], kerf)]
    edges += [(a[1], b[0], 2 * kerf) for a, b in pairwise(spans)]
    edges.append((spans[-1][1], end, kerf))
    for low, high, most in edges:
        if high - low > most:
            return (
                f"what lies between {axis} {told.show(low)} and {told.show(high)} "
                f"({other} {told.show(base[0])} to {told.show(base[1])}) is no part, kerf or drop"
            )
    if stages < 0 or (stages == 0 and len(parts) > 1):
        return "its drops don't come off with the cuts that free its parts"
    inner = set(parts)
    for group, (low, high) in zip(slices, spans, strict=True):
        if rip:
            piece = Box(region.x, low, region.along, high - low)
        else:
            piece = Box(low, region.y, high - low, region.across)
        fault = _filled(
            [b for b in group if b in inner],
            [b for b in group if b not in inner],
            piece,
            kerf,
            not rip,
            stages - 1,
            told,
        )
        if fault:
            return fault
    return None


def _first_axes(first: FirstCut) -> tuple[bool, ...]:
    if first is FirstCut.EITHER:
        return (True, False)
    return (first is FirstCut.RIP,)


def _inside(box: Box, name: str, sheet: Box, where: str, told: Told) -> bool:
    if box.along <= 0 or box.across <= 0:
        told(where, f"{name} has no size")
        return False
    if box.x_end > sheet.along or box.y_end > sheet.across:
        reach = f"{told.show(box.x_end)} x {told.show(box.y_end)}"
        stop = f"{told.show(sheet.along)} x {told.show(sheet.across)}"
        told(where, f"{name} reaches {reach}, the squared sheet {stop}")
        return False
    return True


def _apart(named: Sequence[tuple[Box, str]], kerf: int, where: str, told: Told) -> bool:
    """Whether every two boxes lie a kerf apart, along the sheet or across it."""
    apart = True
    ordered = sorted(named, key=lambda n: (n[0].x, n[0].y, n[1]))
    for i, (a, first) in enumerate(ordered):
        for b, second in ordered[i + 1 :]:
            if b.x - a.x_end >= kerf:
                break
            if b.y - a.y_end >= kerf or a.y - b.y_end >= kerf:
                continue
            gap = max(b.x - a.x_end, b.y - a.y_end, a.y - b.y_end)
            apart = False
            if gap < 0:
                told(where, f"{first} and {second} overlap")
            else:
                promised = f"promised the kerf of {told.show(kerf)}"
                told(where, f"{first} and {second} are {told.show(gap)} apart, {promised}")
    return apart


def _kept(drop: Box, kept: bool, rules: SheetRules, where: str, told: Told) -> None:
    length, width = rules.keep_drop
    large = drop.along >= length and drop.across >= width
    if kept != (large and drop.along > 0 and drop.across > 0):
        size = f"{told.show(drop.along)} x {told.show(drop.across)}"
        word = "kept" if kept else "not kept"
        keep = f"{told.show(length)} x {told.show(width)}"
        told(where, f"the drop of {size} is {word}, keep_drop is {keep}")


def _rows(rows: Sequence[SeenPart], board: Box, where: str, told: Told) -> None:
    if len(rows) > 1:
        told(where, f"{len(rows)} ceiling rows are cut from one board, promised one board each")
    for row in rows:
        if row.turned:
            told(where, f"{row} is a ceiling row and turned, promised along its board")
        elif row.y and row.y + (row.width or 0) != board.across:
            told(where, f"{row} is a ceiling row without a factory edge of its board")

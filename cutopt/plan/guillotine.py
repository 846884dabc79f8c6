"""Edge-to-edge cuts: whether a sheet's layout can be cut in so many stages, in what order, and
what is left over.

A stage cuts a region all the way through along one axis wherever its parts lie apart by a kerf or
more; the next stage turns the axis. Cutting wherever it is possible loses nothing: whatever could
be cut later within a region can still be cut within a part of it. So one pass decides.

A cut takes a kerf, or what is left where that is less (the blade hangs over the edge). What lies
beyond it is a drop. A last trimming cut, which frees a single part from what lies beside it, is no
stage of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from cutopt.materials import FirstCut

__all__ = ["Axis", "Cut", "Cutting", "Rect", "first_axes", "guillotine"]


class Axis(StrEnum):
    """Rips run along the sheet and are measured across it; crosscuts the other way round."""

    RIP = "rip"
    CROSS = "cross"

    @property
    def other(self) -> Axis:
        """The axis of the next stage."""
        return Axis.CROSS if self is Axis.RIP else Axis.RIP


@dataclass(frozen=True, slots=True, order=True)
class Rect:
    """A rectangle from the squared head (`x`) and edge (`y`), counts of 1/1600 mm."""

    x: int
    y: int
    length: int
    width: int


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut through `region` from edge to edge.

    `at` is where the blade starts, measured from the squared edge (rip) or head (crosscut) of the
    sheet; it takes `kerf`. `stage` counts from 1; `trim` marks the free trimming cut after the
    last one.
    """

    axis: Axis
    at: int
    kerf: int
    region: Rect
    stage: int
    trim: bool = False


@dataclass(frozen=True, slots=True)
class Cutting:
    """The cuts in the order in which a saw makes them, and what is left over, in cutting order."""

    cuts: tuple[Cut, ...]
    drops: tuple[Rect, ...]

    @property
    def stages(self) -> int:
        """The highest stage that has a cut, trimming not counted."""
        return max((c.stage for c in self.cuts if not c.trim), default=0)


def first_axes(first: FirstCut) -> tuple[Axis, ...]:
    """The axes that the first stage may have."""
    if first is FirstCut.EITHER:
        return (Axis.RIP, Axis.CROSS)
    return (Axis(first.value),)


def guillotine(
    parts: Sequence[Rect],
    length: int,
    width: int,
    kerf: int,
    first: Axis,
    stages: int,
    kept: Sequence[Rect] = (),
) -> Cutting | None:
    """Cut the parts out of a sheet.

    Parameters
    ----------
    parts
        Where the parts lie, none of them outside the sheet.
    length, width
        The usable sheet, edge trim taken off.
    kerf
        What a cut takes, 0 where it is scored and snapped.
    first
        The axis of the first stage.
    stages
        Most stages, at least 1; the trimming cut comes beside them.
    kept
        Drops that come off whole: no cut goes through one of them. Without any, every cut that is
        possible is made, which may leave narrow strips where one large drop could be had.

    Returns
    -------
    Cutting or None
        None where parts (or kept drops) overlap, lie outside or closer than a kerf, or need more
        stages. The areas of parts, drops and kerfs add up to the sheet's, exactly.
    """
    inside = all(
        p.x >= 0
        and p.y >= 0
        and p.length > 0
        and p.width > 0
        and p.x + p.length <= length
        and p.y + p.width <= width
        for p in (*parts, *kept)
    )
    if not inside or length <= 0 or width <= 0:
        return None
    work = _Work(kerf, stages, frozenset(kept))
    if not work.divide(Rect(0, 0, length, width), [*sorted(parts), *sorted(kept)], first, 1):
        return None
    return Cutting(tuple(work.cuts), tuple(work.drops))


class _Work:
    """Cuts and drops, gathered while regions are divided."""

    def __init__(self, kerf: int, stages: int, kept: frozenset[Rect]) -> None:
        self.kerf = kerf
        self.stages = stages
        self.kept = kept
        self.cuts: list[Cut] = []
        self.drops: list[Rect] = []

    def divide(self, region: Rect, inside: list[Rect], axis: Axis, stage: int) -> bool:
        """Cut a region along `axis` and all that follows; False where that cannot be done."""
        parts = sum(r not in self.kept for r in inside)
        if not parts and len(inside) <= 1:
            self.drops.append(region)
            return True
        if inside == [region]:
            return True
        trim = stage > self.stages
        if trim and (parts > 1 or stage > self.stages + 1):
            return False
        groups = _groups(inside, axis, self.kerf)
        start, end = _ends(region, axis)
        at = start
        pieces: list[tuple[Rect, list[Rect]]] = []
        for low, high, members in groups:
            at = self._free(region, axis, at, low, stage, trim)
            pieces.append((_slice(region, axis, low, high), members))
            at = self._cut(region, axis, high, end, stage, trim)
        if at < end:
            self.drops.append(_slice(region, axis, at, end))
        return all(self.divide(r, members, axis.other, stage + 1) for r, members in pieces)

    def _free(self, region: Rect, axis: Axis, at: int, low: int, stage: int, trim: bool) -> int:
        """Cut away what lies between the last cut's far side and the next group."""
        if at == low:
            return low
        blade = max(at, low - self.kerf)
        if blade > at:
            self.drops.append(_slice(region, axis, at, blade))
        self._cut(region, axis, blade, low, stage, trim)
        return low

    def _cut(self, region: Rect, axis: Axis, at: int, end: int, stage: int, trim: bool) -> int:
        """Cut at `at` where there is something to cut off before `end`; the blade's far side."""
        if at == end:
            return end
        taken = min(self.kerf, end - at)
        self.cuts.append(Cut(axis, at, taken, region, stage, trim))
        return at + taken


def _ends(rect: Rect, axis: Axis) -> tuple[int, int]:
    if axis is Axis.RIP:
        return rect.y, rect.y + rect.width
    return rect.x, rect.x + rect.length


def _slice(region: Rect, axis: Axis, low: int, high: int) -> Rect:
    if axis is Axis.RIP:
        return Rect(region.x, low, region.length, high - low)
    return Rect(low, region.y, high - low, region.width)


def _groups(parts: list[Rect], axis: Axis, kerf: int) -> list[tuple[int, int, list[Rect]]]:
    """Parts that no cut of this axis can part, from low to high: (low, high, members)."""
    groups: list[tuple[int, int, list[Rect]]] = []
    for part in sorted(parts, key=lambda p: (_ends(p, axis), p)):
        low, high = _ends(part, axis)
        if groups and low < groups[-1][1] + kerf:
            last_low, last_high, members = groups[-1]
            members.append(part)
            groups[-1] = (last_low, max(last_high, high), members)
        else:
            groups.append((low, high, [part]))
    return groups

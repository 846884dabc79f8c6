"""Jointed runs held against their mates and against the sticks that they must be made of."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from functools import lru_cache
from itertools import pairwise

from cutopt.cutlist.part import Part, Rule
from cutopt.measure import Unit, show_length
from cutopt.records import Faults, Place, known_or_nearest

__all__ = ["check_mates", "no_way"]

#: A run with more places for a joint than this is not searched here; the plan tells.
_MOST_PLACES = 20_000


def _at(part: Part, column: str) -> Place:
    return Place(part.place.file, part.place.row, column)


def check_mates(
    parts: Sequence[Part],
    lost: Collection[tuple[str, str]],
    complete: bool,
    unit: Unit,
    faults: Faults,
) -> None:
    """Every `joint_mate` of a day names one jointed run of its section, and both agree.

    `lost` holds (section, mark) of rows that had faults of their own; `complete` is False where
    rows may be missing altogether.
    """
    rows: dict[tuple[str, str], list[Part]] = defaultdict(list)
    runs_of: dict[str, list[str]] = defaultdict(list)
    for part in parts:
        rows[part.section, part.mark].append(part)
        if part.rule is Rule.JOINTED:
            runs_of[part.section].append(part.mark)
    for part in parts:
        if part.joints is None or part.joints.mate is None:
            continue
        mate, place = part.joints.mate, _at(part, "joint_mate")
        found = rows.get((part.section, mate), [])
        runs = [p for p in found if p.joints is not None]
        # Rows of one run given twice are told as such; the mate is not in doubt for it.
        if len({p.material for p in runs}) == 1:
            _agree(part, runs[0], unit, faults)
        elif runs:
            faults.add(
                place,
                f"{len(runs)} runs of {part.section} have this mark, at {runs[0].place} "
                f"and {runs[1].place}",
                mate,
                "a mark that one run has",
            )
        elif found:
            faults.add(
                place, f"the mate at {found[0].place} is not jointed", mate, "the mark of a run"
            )
        elif complete and (part.section, mate) not in lost:
            others = [m for m in runs_of[part.section] if m != part.mark]
            right = known_or_nearest(mate, others) if others else "the mark of a jointed run"
            faults.add(place, f"no such run in section {part.section}", mate, right)


def _agree(part: Part, mate: Part, unit: Unit, faults: Faults) -> None:
    a, b = part.joints, mate.joints
    assert a is not None  # noqa: S101  the caller asked
    assert b is not None  # noqa: S101
    if mate.qty != part.qty and part.place < mate.place:
        few = min(part.qty, mate.qty)
        faults.warn(
            _at(part, "qty"),
            f"{part.qty} copies, and {mate.qty} of its mate at {mate.place}: copies after "
            f"number {few} have no mate",
            part.qty,
        )
    if b.mate == part.mark and a.clear != b.clear and mate.place < part.place:
        faults.warn(
            _at(part, "joint_clear"),
            f"another clearance than its mate has at {mate.place}, {show_length(b.clear, unit)}: "
            "the larger holds for both",
            show_length(a.clear, unit),
        )


@lru_cache(maxsize=4096)
def no_way(length: int, first: int, step: int, shortest: int, longest: int, unit: Unit) -> str:
    """Why a run can't be made with joints at `first` + k × `step`; blank where it can.

    Each piece must measure at least `shortest` (the joint_min_piece) and at most `longest` (what
    the longest stick gives). Mates are left aside: they can only make it harder.
    """

    def show(n: int) -> str:
        return show_length(n, unit)

    if length <= longest:
        return ""
    start = first if first > 0 else first + step
    count = max(0, (length - 1 - start) // step + 1)
    if count > _MOST_PLACES:
        return ""
    places = [0, *range(start, length, step), length]
    for a, b in pairwise(places):
        if b - a > longest:
            return (
                f"no joint is allowed between {show(a)} and {show(b)}, {show(b - a)} apart, and "
                f"the longest stick gives {show(longest)}"
            )
    reached = _reached(places, min(shortest, length), longest)
    if reached[-1]:
        return ""
    last = max(p for p, r in zip(places, reached, strict=True) if r)
    return (
        f"no joints make pieces from {show(shortest)} (joint_min_piece) to {show(longest)} (the "
        f"longest stick) only; it comes as far as {show(last)}"
    )


def _reached(places: Sequence[int], shortest: int, longest: int) -> list[bool]:
    # A place is reached from any reached place between `longest` and `shortest` before it; `low`
    # and `high` bound those places and `open_` counts the reached ones among them.
    reached = [True] + [False] * (len(places) - 1)
    low = high = open_ = 0
    for i in range(1, len(places)):
        while high < i and places[i] - places[high] >= shortest:
            open_ += reached[high]
            high += 1
        while low < high and places[i] - places[low] > longest:
            open_ -= reached[low]
            low += 1
        reached[i] = open_ > 0
    return reached

"""What a re-plan changes, in words, by comparing before and after: cut, not cut, obsolete, new."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from dataclasses import dataclass
from enum import StrEnum

from cutopt.measure import Unit, show_length
from cutopt.plan import Layout
from cutopt.saw.floor.state import State, Status, Stick

__all__ = ["Change", "ChangeKind", "changes"]


class ChangeKind(StrEnum):
    """What became of a piece of stock. What moved, or comes earlier or
    later, is not cut either."""

    CUT = "cut"
    NOT_CUT = "not cut"
    AT_SAW = "at a saw"
    OBSOLETE = "obsolete"
    NEW = "new"
    MOVED = "not cut, other stops"
    FIRST = "not cut, comes earlier"
    LATER = "not cut, comes later"


@dataclass(frozen=True, slots=True)
class Change:
    """One piece of stock whose ticket is no longer as it was; `text` says it to a person."""

    kind: ChangeKind
    stick: str
    material: str
    text: str


def changes(before: State, after: State) -> tuple[Change, ...]:
    """Every piece of stock that differs, in the order of cutting. What stays as it is is not told.

    A piece that was cut, or lies on a saw, is told of only where that is what changed.
    """
    old = {s.id: s for s in before.sticks}
    moved = _moved(before, after)
    found = []
    for stick in after.sticks:
        kind = _kind(old.get(stick.id), stick, moved.get(stick.id))
        if kind is not None:
            text = f"{stick.id}: {kind.value}, {_words(stick.layout, after.unit)}"
            found.append(Change(kind, stick.id, stick.material, text))
    return tuple(found)


def _kind(was: Stick | None, now: Stick, moved: ChangeKind | None) -> ChangeKind | None:
    if was is None:
        return None if now.status is Status.OBSOLETE else ChangeKind.NEW
    if was.status is not now.status:
        return ChangeKind(now.status.value)
    if was.layout != now.layout and now.status is Status.NOT_CUT:
        same = (was.layout.parts, was.layout.drops) == (now.layout.parts, now.layout.drops)
        return ChangeKind.NOT_CUT if same else ChangeKind.MOVED
    if was.layout != now.layout and now.status is Status.AT_SAW:
        return ChangeKind.AT_SAW
    return moved if now.status is Status.NOT_CUT else None


def _moved(before: State, after: State) -> dict[str, ChangeKind]:
    """Pieces of stock that changed places in the order: as few as tell the difference.

    All but a longest run of names that kept their order (patience sorting).
    """
    waited = (s.id for s in before.sticks if s.status is Status.NOT_CUT)
    place = {name: i for i, name in enumerate(waited)}
    kept = [s.id for s in after.sticks if s.status is Status.NOT_CUT and s.id in place]
    ends: list[int] = []
    tails: list[int] = []
    came: list[int] = [-1] * len(kept)
    for i, name in enumerate(kept):
        at = bisect_left(ends, place[name])
        if at == len(ends):
            ends.append(place[name])
            tails.append(i)
        else:
            ends[at], tails[at] = place[name], i
        came[i] = tails[at - 1] if at else -1
    stay: set[str] = set()
    i = tails[-1] if tails else -1
    while i >= 0:
        stay.add(kept[i])
        i = came[i]
    was = {name: i for i, name in enumerate(sorted(kept, key=lambda n: place[n]))}
    return {
        name: ChangeKind.FIRST if i < was[name] else ChangeKind.LATER
        for i, name in enumerate(kept)
        if name not in stay
    }


def _words(layout: Layout, unit: Unit) -> str:
    offer = layout.offer
    size = show_length(offer.length, unit)
    if offer.width is not None:
        size += f" x {show_length(offer.width, unit)}"
    return f"{offer.material} {size}: {parts_words(layout, unit)}"


def parts_words(layout: Layout, unit: Unit) -> str:
    """The parts of a layout for a person, equal ones counted."""
    counts: Counter[str] = Counter()
    for part in layout.parts:
        size = show_length(part.length, unit)
        if part.width is not None:
            size += f" x {show_length(part.width, unit)}"
        counts[f"{part.mark} for {part.section}, {size}"] += 1
    return "; ".join(f"{n} x {name}" if n > 1 else name for name, n in counts.items()) or "nothing"

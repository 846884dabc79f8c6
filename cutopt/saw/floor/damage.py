"""Stock that turns out bad at the saw, and parts that are cut short or spoilt.

Each action writes what happened, for a reason, and has what is missing planned again
(`outcome`). What can still be used is laid aside with an entry of its own, so that it is found by
whatever is cut from it; what of it nothing takes and nobody would keep is scrap for that reason.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from cutopt.materials import Edges, Rules
from cutopt.plan import Drop, Layout, Placed
from cutopt.plan.value import keeps
from cutopt.saw.floor.account import drop_offer, issue_entry, scrap_entry
from cutopt.saw.floor.cutting import must_be, recorded
from cutopt.saw.floor.entries import (
    By,
    Entry,
    EntryKind,
    KeptDrop,
    Reason,
    drop_size,
    part_size,
    reversal,
    size_of,
)
from cutopt.saw.floor.outcome import Outcome, outcome
from cutopt.saw.floor.state import FloorError, State, Status, Stick

__all__ = ["Usable", "cut_short", "damaged", "part_lost"]


@dataclass(frozen=True, slots=True)
class Usable:
    """What can still be used of a damaged piece of stock: a length, of a sheet a rectangle.

    `x` and `y` say where it lies, if that was told.
    """

    length: int
    width: int | None = None
    x: int = 0
    y: int = 0


def damaged(
    state: State,
    name: str,
    reason: Reason,
    by: By,
    usable: Sequence[Usable] = (),
    made: Sequence[int] = (),
) -> Outcome:
    """A piece of stock, not cut or on a saw, that can't be cut as planned.

    Parameters
    ----------
    name, reason, by
        What, why (split, wane, crook, saw fault ...), who saw it.
    usable
        What of it can still be used, as measured after the bad places were cut out.
    made
        Indexes of the parts of its layout that are cut already and sound.

    Raises
    ------
    FloorError
        Where it is cut or obsolete, or more is told of than was issued.
    """
    stick = state.stick(name)
    if stick.status not in (Status.NOT_CUT, Status.AT_SAW):
        raise FloorError(f"{name} is {stick.status.value}: none of it can be damaged at the saw")
    if bad := [i for i in made if not 0 <= i < len(stick.layout.parts)]:
        last = len(stick.layout.parts) - 1
        raise FloorError(f"{name}: made {bad[0]}, its parts are 0 to {last}")
    if len(set(made)) < len(made):
        raise FloorError(f"{name}: a part is told twice among those made")
    layout = stick.layout
    parts = [layout.parts[i] for i in sorted(made)]
    pieces = [usable_drop(layout, u, state.rules) for u in usable]
    entries = [] if stick.status is Status.AT_SAW else [_issue(stick, by)]
    entries += _damage_entries(name, layout, parts, pieces, state, reason, by)
    gone = replace(
        stick,
        status=Status.CUT,
        station=by.station,
        layout=replace(layout, parts=tuple(parts), drops=tuple(pieces)),
        planned=stick.planned or layout,
    )
    told = recorded(state.with_stick(gone), entries)
    return outcome(state, told, name, kept_since(state, told), reason=reason)


def _issue(stick: Stick, by: By) -> Entry:
    return issue_entry(stick.id, stick.layout.offer, stick.layout.source, by, stick.drop)


def kept_since(before: State, after: State) -> list[int]:
    new = after.entries[len(before.entries) :]
    return [e.number for e in new if e.kind is EntryKind.KEPT]


def usable_drop(layout: Layout, usable: Usable, rules: Rules) -> Drop:
    offer = layout.offer
    if (usable.width is None) != (offer.width is None):
        right = "a length alone" if offer.width is None else "a length and a width"
        raise FloorError(f"what is usable of {offer.material} is told by {right}")
    fits = usable.length <= offer.length and (usable.width or 0) <= (offer.width or 0)
    if usable.length <= 0 or usable.width == 0 or not fits:
        raise FloorError(f"usable {usable.length} x {usable.width} is none, or more than the stock")
    kept = keeps(offer, usable.length, usable.width, rules)
    return Drop(usable.x, usable.y, usable.length, usable.width, kept)


def _damage_entries(
    name: str,
    layout: Layout,
    parts: Sequence[Placed],
    pieces: Sequence[Drop],
    state: State,
    reason: Reason,
    by: By,
) -> list[Entry]:
    """Sound parts and their kerfs, usable pieces, and the rest as scrap for the reason.

    On a stick each sound part took a kerf, and the head was squared before the first; what a blade
    took of a sheet that was not cut to its end is counted as scrap.
    """
    offer = layout.offer
    rest = size_of(offer) - sum(part_size(p) for p in parts) - sum(map(drop_size, pieces))
    if rest < 0:
        raise FloorError(
            f"{name}: {-rest} more is told of (parts and usable pieces) than the "
            f"{size_of(offer)} of the stock"
        )
    found: list[Entry] = []
    if offer.width is None and parts:
        rules = state.rules.for_lumber(offer.material)
        trim = min(rest, rules.head_trim)
        kerf = min(rest - trim, rules.kerf * len(parts))
        rest -= trim + kerf
        if trim:
            found.append(Entry(0, EntryKind.TRIM, name, trim, by))
        if kerf:
            found.append(Entry(0, EntryKind.KERF, name, kerf, by))
    found += [Entry(0, EntryKind.PART, name, part_size(p), by, part=p) for p in parts]
    found += [kept_as_usable(name, layout, drop, state, by) for drop in pieces]
    return found + scrap_entry(name, rest, reason, by)


def kept_as_usable(name: str, layout: Layout, drop: Drop, state: State, by: By) -> Entry:
    """A usable piece is laid aside. Of a sheet's nobody can tell whether an edge is sound."""
    offer = drop_offer(layout, drop, state.rules, state.tongued)
    if offer.width is not None:
        offer = replace(offer, edges=Edges.NONE)
    return Entry(0, EntryKind.KEPT, name, drop_size(drop), by, kept=KeptDrop(drop, offer))


def cut_short(state: State, name: str, index: int, by: By, usable: Usable) -> Outcome:
    """A part of a piece of stock on a saw came out too short (of a sheet: or too narrow).

    The others are cut as planned: on a stick from the fresh end, so that its last drop grows by
    what the part is short. The part itself is laid aside as `usable`: it may become a smaller one.

    Parameters
    ----------
    name, index, by
        The piece of stock, which part of its layout (from 0), who saw it.
    usable
        What the part has now, less than it should have.

    Raises
    ------
    FloorError
        Where the stock is on no saw, has no such part, or the part is not short.
    """
    stick = must_be(state, name, Status.AT_SAW)
    layout = stick.layout
    if not 0 <= index < len(layout.parts):
        raise FloorError(f"{name}: part {index}, its parts are 0 to {len(layout.parts) - 1}")
    part = layout.parts[index]
    drop = usable_drop(layout, replace(usable, x=part.x, y=part.y), state.rules)
    within = usable.length <= part.length and (usable.width or 0) <= (part.width or 0)
    if not within or drop_size(drop) >= part_size(part):
        raise FloorError(f"{name}: {part.mark} is not short of {part.length} x {part.width}")
    entries = [kept_as_usable(name, layout, drop, state, by)]
    others = tuple(p for i, p in enumerate(layout.parts) if i != index)
    if layout.offer.width is None:
        short = part.length - usable.length
        moved = tuple(replace(p, x=p.x - short) if p.x > part.x else p for p in others)
        after = replace(layout, parts=moved, drops=_tail(layout, part, moved, usable, state))
    else:
        lost = part_size(part) - drop_size(drop)
        entries += scrap_entry(name, lost, Reason.CUT_SHORT, by)
        after = replace(layout, parts=others)
    now = replace(stick, layout=after, planned=stick.planned or layout)
    told = recorded(state.with_stick(now), entries)
    return outcome(state, told, name, kept_since(state, told), reason=Reason.CUT_SHORT)


def _tail(
    layout: Layout, part: Placed, others: Sequence[Placed], usable: Usable, state: State
) -> tuple[Drop, ...]:
    """What the last cut of a stick leaves, once a part of it came out short."""
    rules = state.rules.for_lumber(layout.offer.material)
    ends = [p.x + p.length for p in others] + [part.x + usable.length]
    at, end = max(ends) + rules.kerf, layout.offer.length - rules.head_trim
    if at >= end:
        return ()
    return (Drop(at, 0, end - at, None, keeps(layout.offer, end - at, None, state.rules)),)


def part_lost(
    state: State,
    number: int,
    by: By,
    reason: Reason = Reason.DAMAGED,
    usable: Sequence[Usable] = (),
) -> Outcome:
    """A part that was made, by the number of its entry, is no longer good.

    Its entry is reversed; what of it can still be used is laid aside, the rest is scrap.

    Raises
    ------
    FloorError
        Where the entry is no part that holds, or more of it is told usable than it had.
    """
    entry = next((e for e in state.standing if e.number == number and e.part is not None), None)
    if entry is None:
        raise FloorError(f"entry {number} is no part that was made and holds")
    stick = state.stick(entry.stock)
    pieces = [usable_drop(stick.layout, u, state.rules) for u in usable]
    rest = entry.amount - sum(map(drop_size, pieces))
    if rest < 0:
        raise FloorError(f"entry {number}: {-rest} more is told usable than its {entry.amount}")
    entries = [reversal(entry, by, reason)]
    entries += [kept_as_usable(entry.stock, stick.layout, d, state, by) for d in pieces]
    entries += scrap_entry(entry.stock, rest, reason, by)
    told = recorded(state, entries)
    return outcome(state, told, None, kept_since(state, told), reason=reason)

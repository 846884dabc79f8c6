"""What happens as planned: a piece of stock is laid on a saw and cut, or taken back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from cutopt.saw.floor.account import cut_entries, issue_entry
from cutopt.saw.floor.entries import By, Entry, EntryKind, Reason, numbered, reversal, standing
from cutopt.saw.floor.lay import refitted
from cutopt.saw.floor.state import FloorError, State, Status, Stick

__all__ = ["cut", "cut_all", "finish", "must_be", "recorded", "start", "taken_back"]


def recorded(state: State, entries: Iterable[Entry]) -> State:
    """The state with entries behind its journal, numbered on."""
    last = state.entries[-1].number if state.entries else 0
    return replace(state, entries=(*state.entries, *numbered(entries, last)))


def start(state: State, name: str, by: By) -> State:
    """A piece of stock that is not cut is laid on a saw: it is issued, and nothing moves it now.

    Raises FloorError where it is not waiting to be cut, or its drop is no longer on the rack.
    """
    stick = must_be(state, name, Status.NOT_CUT)
    if stick.drop is not None:
        _on_rack(state, stick)
    layout = stick.layout
    entry = issue_entry(name, layout.offer, layout.source, by, stick.drop)
    after = state.with_stick(replace(stick, status=Status.AT_SAW, station=by.station))
    return recorded(after, [entry])


def finish(state: State, name: str, by: By, rack_full: bool = False) -> State:
    """A piece of stock that lies on a saw is cut as planned.

    With `rack_full` the drops that would be kept are scrap. Raises FloorError where it lies on
    none.
    """
    stick = must_be(state, name, Status.AT_SAW)
    told = _told(state.entries, name)
    layout, tongued = stick.layout, state.tongued
    entries = cut_entries(name, layout, state.rules, by, tongued, rack_full, told, stick.planned)
    return recorded(state.with_stick(replace(stick, status=Status.CUT)), entries)


def _told(entries: Iterable[Entry], name: str) -> int:
    """How much of a piece of stock earlier entries have told of."""
    of = standing(e for e in entries if e.stock == name)
    return sum(e.amount for e in of if e.kind is not EntryKind.ISSUED)


def cut(state: State, name: str, by: By, rack_full: bool = False) -> State:
    """`start` and `finish` in one."""
    return cut_all(state, (name,), by, rack_full)


def cut_all(state: State, names: Iterable[str], by: By, rack_full: bool = False) -> State:
    """`cut` for pieces of stock told together, such as all of a ticket, in this order.

    Raises FloorError as `start` does, before anything is written.
    """
    sticks: dict[str, Stick] = {}
    entries: list[Entry] = []
    for name in names:
        stick = must_be(state, name, Status.NOT_CUT)
        if name in sticks:
            raise FloorError(f"{name} is told twice")
        if stick.drop is not None:
            _on_rack(state, stick)
        layout = stick.layout
        entries.append(issue_entry(name, layout.offer, layout.source, by, stick.drop))
        entries += cut_entries(name, layout, state.rules, by, state.tongued, rack_full)
        sticks[name] = replace(stick, status=Status.CUT, station=by.station)
    after = replace(state, sticks=tuple(sticks.get(s.id, s) for s in state.sticks))
    return recorded(after, entries)


def _on_rack(state: State, stick: Stick) -> None:
    if stick.drop not in state.rack:
        raise FloorError(f"{stick.id}: its drop (entry {stick.drop}) does not lie on the rack")


def taken_back(state: State, name: str, by: By, reason: Reason) -> State:
    """All entries of a piece of stock reversed, last first: it counts as not cut again.

    It has the layout that it had before any trouble; where the rules in force no longer let it be
    cut so (another blade), it is obsolete.

    Raises FloorError where it is not cut and on no saw, or where a drop of it was issued since.
    """
    stick = state.stick(name)
    if stick.status not in (Status.AT_SAW, Status.CUT):
        raise FloorError(f"{name} is {stick.status.value}: there is nothing to take back")
    of = [e for e in state.standing if e.stock == name]
    for entry in of:
        if entry.kind is EntryKind.KEPT and entry.number not in state.rack:
            user = next(
                e.stock
                for e in state.standing
                if e.issued is not None and e.issued.drop == entry.number
            )
            raise FloorError(
                f"{name}: its drop (entry {entry.number}) was issued as {user}; "
                f"take {user} back first"
            )
    layout = refitted(stick.planned or stick.layout, state.rules)
    now = replace(stick, status=Status.NOT_CUT, station="", planned=None)
    now = replace(now, layout=layout) if layout else replace(now, status=Status.OBSOLETE)
    return recorded(state.with_stick(now), [reversal(e, by, reason) for e in reversed(of)])


def must_be(state: State, name: str, status: Status) -> Stick:
    """A piece of stock in this condition. Raises FloorError where it is in another."""
    stick = state.stick(name)
    if stick.status is not status:
        raise FloorError(f"{name} is {stick.status.value}, this needs one that is {status.value}")
    return stick

"""What an action at the saw comes to: what is missing planned again, checked, compared."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from cutopt.records import PlanFaulty
from cutopt.saw.floor.account import scrap_entry
from cutopt.saw.floor.changes import Change, changes
from cutopt.saw.floor.cutting import recorded
from cutopt.saw.floor.entries import Entry, Reason, reversal
from cutopt.saw.floor.recover import Unmet, recovered
from cutopt.saw.floor.rest import check_rest, missing
from cutopt.saw.floor.settle import settled
from cutopt.saw.floor.state import Needed, Piece, State, Status
from cutopt.saw.floor.usable import fitting

__all__ = ["Fits", "Outcome", "outcome", "without_ghosts"]


@dataclass(frozen=True, slots=True)
class Fits:
    """What the drop that entry `drop` kept would take of the pieces still needed, largest first."""

    drop: int
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an action comes to: a proposal until the state `after` is taken for the present one.

    `entries` are new behind the journal, `missing` what they left without a source, `unmet` what
    no stock is left for, `fits` what usable pieces would take.
    """

    after: State
    entries: tuple[Entry, ...]
    missing: tuple[Needed, ...]
    unmet: tuple[Unmet, ...]
    changes: tuple[Change, ...]
    fits: tuple[Fits, ...] = ()


def outcome(
    before: State,
    told: State,
    behind: str | None = None,
    usable: Sequence[int] = (),
    at_least: Iterable[str] = (),
    reason: Reason = Reason.WASTE_DROP,
) -> Outcome:
    """What follows from what was told: missing pieces planned again, checked, compared.

    Parameters
    ----------
    before
        The state that the action met.
    told
        That state with the action's own entries and changes.
    behind
        New layouts come behind this piece of stock.
    usable
        Entries that kept what is usable of damaged stock. What of it is too short to keep and
        taken by nothing is scrap in the end.
    at_least
        Materials to check whether or not a layout of theirs changed.
    reason
        Why what is too short to keep is scrap.

    Raises
    ------
    PlanFaulty
        Where the checker finds a fault in the layouts not cut.
    """
    lacking = missing(settled(told))
    fits = tuple(Fits(n, fitting(told, n)) for n in usable)
    after, unmet = recovered(told, behind, usable)
    after = without_ghosts(before, _too_short(after, usable, reason))
    found = changes(before, after)
    touched = {c.material for c in found} | {n.piece.material for n in lacking} | set(at_least)
    faults = check_rest(after, touched) if touched else []
    if faults:
        raise PlanFaulty(faults)
    return Outcome(after, after.entries[len(before.entries) :], lacking, unmet, found, fits)


def without_ghosts(before: State, after: State) -> State:
    """Layouts that were made and given up again in one go were never on anybody's list."""
    known = {s.id for s in before.sticks}
    sticks = tuple(s for s in after.sticks if s.id in known or s.status is not Status.OBSOLETE)
    return replace(after, sticks=sticks)


def _too_short(state: State, usable: Iterable[int], reason: Reason) -> State:
    """Usable pieces that nothing takes and that are no drop worth keeping become scrap."""
    for number in usable:
        entry = state.free_rack.get(number)
        if entry is not None and entry.kept is not None and not entry.kept.drop.kept:
            gone = reversal(entry, entry.by, reason)
            scrap = scrap_entry(entry.stock, entry.amount, reason, entry.by)
            state = recorded(state, [gone, *scrap])
    return state

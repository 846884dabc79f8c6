"""What happened to a piece of stock, written down once and never changed.

An entry says where some of a stick or sheet went: counts of 1/1600 mm of a stick, counts squared
of a sheet. What was issued comes in, all else goes out; a mistake is taken back by a reversal,
which names the entry and has its amount. So the entries of a piece of stock add up to nothing, or
something is missing or told twice. Moments, stations and people are values from outside: nothing
here reads a clock.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum

from cutopt.materials import Offer
from cutopt.plan import Drop, Placed, Source

__all__ = [
    "By",
    "Entry",
    "EntryKind",
    "Issued",
    "KeptDrop",
    "Reason",
    "drop_size",
    "entry_faults",
    "numbered",
    "part_size",
    "reversal",
    "size_of",
    "standing",
]


class EntryKind(StrEnum):
    """Where material comes from or goes to."""

    ISSUED = "stock issued"
    PART = "part"
    KERF = "kerf"
    TRIM = "trim"
    KEPT = "drop kept"
    SCRAP = "scrap"
    REVERSAL = "reversal"


class Reason(StrEnum):
    """Why something is scrap, or was taken back."""

    WASTE_DROP = "waste drop"
    SPLIT = "split"
    WANE = "wane"
    CROOK = "crook"
    CUT_SHORT = "cut short"
    WRONG_STOCK = "wrong stock"
    RACK_FULL = "rack full"
    SAW_FAULT = "saw fault"
    DAMAGED = "damaged after the cut"
    REVISED = "revised after release"
    MISTAKE = "entered by mistake"


@dataclass(frozen=True, slots=True)
class By:
    """When, where and by whom: a moment with its zone, a station, a person, a ticket."""

    moment: datetime
    station: str
    person: str
    ticket: str = ""


@dataclass(frozen=True, slots=True)
class Issued:
    """The piece of stock that was issued. `drop` is the number of the entry that kept it as a
    drop, where it comes from the rack.
    """

    offer: Offer
    source: Source
    drop: int | None = None


@dataclass(frozen=True, slots=True)
class KeptDrop:
    """A drop laid on the rack: where it lay, and what it is as stock (none more to be had)."""

    drop: Drop
    offer: Offer


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the journal. `number` counts from 1 through a journal.

    `stock` names the piece of stock, `amount` is above zero. Beside them stand, by kind: `issued`
    of stock issued, `part` of a part, `kept` of a drop kept, `reason` of scrap and of a reversal,
    `reverses` (an entry's number) of a reversal.
    """

    number: int
    kind: EntryKind
    stock: str
    amount: int
    by: By
    reason: Reason | None = None
    issued: Issued | None = None
    part: Placed | None = None
    kept: KeptDrop | None = None
    reverses: int | None = None


def numbered(entries: Iterable[Entry], after: int) -> tuple[Entry, ...]:
    """The entries with the numbers that follow `after`."""
    return tuple(replace(e, number=n) for n, e in enumerate(entries, start=after + 1))


def standing(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """What holds: every entry that is neither a reversal nor reversed, in order."""
    listed = tuple(entries)
    gone = {e.reverses for e in listed if e.kind is EntryKind.REVERSAL}
    return tuple(e for e in listed if e.kind is not EntryKind.REVERSAL and e.number not in gone)


def reversal(entry: Entry, by: By, reason: Reason) -> Entry:
    """What takes an entry back, yet without a number."""
    return Entry(
        0, EntryKind.REVERSAL, entry.stock, entry.amount, by, reason, reverses=entry.number
    )


def size_of(offer: Offer) -> int:
    """What a piece of stock amounts to: its length, or the area of a sheet."""
    return offer.length * (1 if offer.width is None else offer.width)


def part_size(part: Placed) -> int:
    """What a part amounts to."""
    return part.length * (1 if part.width is None else part.width)


def drop_size(drop: Drop) -> int:
    """What a drop amounts to."""
    return drop.length * (1 if drop.width is None else drop.width)


#: Kinds of entries that must say something of their own, and in what field.
_TOLD: Mapping[EntryKind, str] = {
    EntryKind.ISSUED: "issued",
    EntryKind.PART: "part",
    EntryKind.KEPT: "kept",
    EntryKind.SCRAP: "reason",
    EntryKind.REVERSAL: "reverses",
}


def entry_faults(entry: Entry) -> list[str]:
    """What is wrong with one entry by itself."""
    faults = []
    if entry.amount <= 0:
        faults.append(f"amount is {entry.amount}, right is above zero")
    field = _TOLD.get(entry.kind)
    if field is not None and getattr(entry, field) is None:
        return [*faults, f"a {entry.kind.value} without its {field}"]
    right = None
    if entry.kind is EntryKind.ISSUED and entry.issued is not None:
        right = size_of(entry.issued.offer)
    elif entry.kind is EntryKind.PART and entry.part is not None:
        right = part_size(entry.part)
    elif entry.kind is EntryKind.KEPT and entry.kept is not None:
        right = drop_size(entry.kept.drop)
        if size_of(entry.kept.offer) != right:
            faults.append(f"keeps {right} as a piece of {size_of(entry.kept.offer)}")
    if right is not None and entry.amount != right:
        faults.append(f"amount is {entry.amount}, its {entry.kind.value} has {right}")
    return faults

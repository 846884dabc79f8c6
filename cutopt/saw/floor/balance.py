"""Whether every piece of stock is accounted for to the last count."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutopt.materials import Kind
from cutopt.measure import feet, square_feet
from cutopt.saw.floor.entries import Entry, EntryKind, Reason, entry_faults, standing

__all__ = ["Balance", "Sums", "balance", "material_sums"]


@dataclass(frozen=True, slots=True)
class Balance:
    """One piece of stock: what was issued and where it went, in counts (squared for sheets).

    `faults` name everything that keeps it from being accounted for; `left` is what no entry says
    the whereabouts of (below zero: told twice).
    """

    stock: str
    material: str
    kind: Kind
    issued: int
    parts: int
    kerf: int
    trim: int
    kept: int
    scrap: int
    faults: tuple[str, ...]

    @property
    def left(self) -> int:
        """Issued, and not told of."""
        return self.issued - self.parts - self.kerf - self.trim - self.kept - self.scrap

    @property
    def exact(self) -> bool:
        """Whether all is told, and nothing is wrong with how."""
        return not self.faults


def balance(entries: Iterable[Entry]) -> tuple[Balance, ...]:
    """A line for each piece of stock that any entry names, in the order of its first entry.

    Parameters
    ----------
    entries
        A whole journal, in order.

    Returns
    -------
    tuple of Balance
        `exact` in each where issued = parts + kerf + trim + kept + scrap and every reversal takes
        back one entry of the same piece and amount, once.
    """
    listed = tuple(entries)
    by_number: dict[int, Entry] = {}
    taken: dict[int, int] = {}
    faults: dict[str, list[str]] = defaultdict(list)
    pieces: dict[str, list[Entry]] = defaultdict(list)
    last = 0
    for entry in listed:
        pieces[entry.stock].append(entry)
        told = faults[entry.stock]
        where = f"entry {entry.number}"
        if entry.number <= last:
            told.append(f"{where}: its number does not follow {last}")
        last = max(last, entry.number)
        told += [f"{where}: {fault}" for fault in entry_faults(entry)]
        if entry.kind is EntryKind.REVERSAL and entry.reverses is not None:
            told += _reversal(entry, by_number.get(entry.reverses), taken)
        by_number[entry.number] = entry
    alive: dict[str, list[Entry]] = defaultdict(list)
    for entry in standing(listed):
        alive[entry.stock].append(entry)
    return tuple(
        _line(name, members, alive.get(name, []), faults[name]) for name, members in pieces.items()
    )


def _reversal(entry: Entry, reversed_: Entry | None, taken: dict[int, int]) -> list[str]:
    where = f"entry {entry.number}"
    number = entry.reverses or 0
    if reversed_ is None:
        return [f"{where}: reverses entry {number}, which is none before it"]
    if reversed_.kind is EntryKind.REVERSAL:
        return [f"{where}: reverses entry {number}, itself a reversal"]
    if number in taken:
        return [f"{where}: reverses entry {number}, as entry {taken[number]} does"]
    taken[number] = entry.number
    faults = []
    if reversed_.stock != entry.stock:
        faults.append(f"{where}: reverses entry {number} of {reversed_.stock}")
    if reversed_.amount != entry.amount:
        faults.append(
            f"{where}: has {entry.amount}, entry {number}, which it reverses, {reversed_.amount}"
        )
    return faults


def _line(
    name: str, members: Sequence[Entry], alive: Sequence[Entry], faults: Sequence[str]
) -> Balance:
    sums = dict.fromkeys(EntryKind, 0)
    for entry in alive:
        sums[entry.kind] += entry.amount
    issues = [e for e in alive if e.kind is EntryKind.ISSUED]
    first = next((e.issued for e in members if e.issued is not None), None)
    offer = issues[-1].issued.offer if issues and issues[-1].issued else first and first.offer
    told = list(faults)
    if len(issues) > 1:
        numbers = ", ".join(str(e.number) for e in issues)
        told.append(f"issued {len(issues)} times, by entries {numbers}")
    line = Balance(
        stock=name,
        material=offer.material if offer else "",
        kind=offer.kind if offer else Kind.LUMBER,
        issued=sums[EntryKind.ISSUED],
        parts=sums[EntryKind.PART],
        kerf=sums[EntryKind.KERF],
        trim=sums[EntryKind.TRIM],
        kept=sums[EntryKind.KEPT],
        scrap=sums[EntryKind.SCRAP],
        faults=(),
    )
    if alive and not issues:
        told.append(f"{-line.left} is told of, nothing was issued")
    elif line.left > 0:
        told.append(f"{line.left} of {line.issued} issued is not accounted for")
    elif line.left < 0:
        told.append(f"{-line.left} more than the {line.issued} issued is told of")
    return Balance(
        *(line.stock, line.material, line.kind, line.issued, line.parts),
        *(line.kerf, line.trim, line.kept, line.scrap, tuple(told)),
    )


@dataclass(frozen=True, slots=True)
class Sums:
    """What the entries of one material add up to, as yield.csv has it: feet or square feet.

    `waste_drop` is what the plan had as waste, `scrap` all other scrap.
    """

    material: str
    input: Fraction
    parts: Fraction
    kerf: Fraction
    trim: Fraction
    kept_drop: Fraction
    waste_drop: Fraction
    scrap: Fraction


def material_sums(entries: Iterable[Entry]) -> tuple[Sums, ...]:
    """A line for each material, in the order of its first entry. Reversed entries don't count.

    Stock cut from a kept drop goes in again: the drop was kept once and is issued once.
    """
    listed = standing(entries)
    of = {e.stock: e.issued.offer for e in listed if e.issued is not None}
    sums: dict[str, dict[str, int]] = {}
    kinds: dict[str, Kind] = {}
    for entry in listed:
        offer = of.get(entry.stock)
        if offer is None:
            raise ValueError(f"entry {entry.number}: {entry.stock} was never issued")
        kinds[offer.material] = offer.kind
        line = sums.setdefault(offer.material, dict.fromkeys(_COLUMNS.values(), 0))
        column = _COLUMNS[entry.kind]
        if entry.kind is EntryKind.SCRAP and entry.reason is Reason.WASTE_DROP:
            column = "waste_drop"
        line[column] = line.get(column, 0) + entry.amount
    found = []
    for material, line in sums.items():
        show = feet if kinds[material] is Kind.LUMBER else square_feet
        found.append(
            Sums(
                material=material,
                input=show(line["input"]),
                parts=show(line["parts"]),
                kerf=show(line["kerf"]),
                trim=show(line["trim"]),
                kept_drop=show(line["kept_drop"]),
                waste_drop=show(line.get("waste_drop", 0)),
                scrap=show(line["scrap"]),
            )
        )
    return tuple(found)


_COLUMNS = {
    EntryKind.ISSUED: "input",
    EntryKind.PART: "parts",
    EntryKind.KERF: "kerf",
    EntryKind.TRIM: "trim",
    EntryKind.KEPT: "kept_drop",
    EntryKind.SCRAP: "scrap",
}

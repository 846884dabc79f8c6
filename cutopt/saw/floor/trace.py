"""Where every part came from, and what every lot went into: lot, stick, parts, section, and back.

Read from the entries alone; what was reversed did not happen. A piece of stock that was a drop is
followed to the piece that it was cut from, so that a lot is found through any number of drops.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from cutopt.measure import Unit, decimal_length
from cutopt.plan import Placed
from cutopt.saw.floor.entries import Entry, EntryKind, Issued, standing

__all__ = ["TRACE_COLUMNS", "Trace", "Traced", "trace_rows"]

TRACE_COLUMNS = (
    *("section", "jig", "mark", "length", "width", "run", "run_at", "material", "lot"),
    *("stock", "stock_length", "stock_width", "cut_from", "entry", "moment", "station"),
    *("person", "ticket"),
)


@dataclass(frozen=True, slots=True)
class Traced:
    """One part and where it came from.

    `chain` names the pieces of stock, from the one that it was cut from back to the one that was
    bought; all but the last were drops.
    """

    entry: Entry
    part: Placed
    issued: Issued
    chain: tuple[str, ...]

    @property
    def lot(self) -> str | None:
        """The lot of the stock, None where none was told."""
        return self.issued.offer.lot

    @property
    def material(self) -> str:
        """What it was cut from, which may be an alternate of what was asked for."""
        return self.issued.offer.material


class Trace:
    """A journal, asked both ways.

    Parameters
    ----------
    entries
        The whole journal, in order.
    """

    def __init__(self, entries: Iterable[Entry]) -> None:
        self._entries = standing(entries)

    @cached_property
    def _issued(self) -> Mapping[str, Entry]:
        return {e.stock: e for e in self._entries if e.issued is not None}

    @cached_property
    def _kept_by(self) -> Mapping[int, str]:
        return {e.number: e.stock for e in self._entries if e.kind is EntryKind.KEPT}

    def chain(self, stock: str) -> tuple[str, ...]:
        """A piece of stock, the one that it was a drop of, and so on; empty if never issued."""
        found: list[str] = []
        at: str | None = stock
        while at is not None and at in self._issued and at not in found:
            found.append(at)
            issued = self._issued[at].issued
            at = self._kept_by.get(issued.drop) if issued and issued.drop is not None else None
        return tuple(found)

    @cached_property
    def parts(self) -> tuple[Traced, ...]:
        """Every part that was made and holds, in the order of the journal."""
        found = []
        for entry in self._entries:
            issue = self._issued.get(entry.stock)
            if entry.part is not None and issue is not None and issue.issued is not None:
                found.append(Traced(entry, entry.part, issue.issued, self.chain(entry.stock)))
        return tuple(found)

    def of_section(self, section: str, mark: str | None = None) -> tuple[Traced, ...]:
        """The parts of a section, or of one mark in it: what sticks and lots they came from."""
        return tuple(
            t
            for t in self.parts
            if t.part.section == section and (mark is None or t.part.mark == mark)
        )

    def of_lot(self, lot: str) -> tuple[Traced, ...]:
        """The parts that were cut from a lot, through its drops too."""
        return tuple(t for t in self.parts if t.lot == lot)

    def of_stock(self, stock: str) -> tuple[Traced, ...]:
        """The parts that were cut from a piece of stock, or from a drop of it."""
        return tuple(t for t in self.parts if stock in t.chain)

    def sections_of(self, lot: str) -> tuple[str, ...]:
        """The sections that a lot went into: those to look at where the lot is at fault."""
        return tuple(dict.fromkeys(t.part.section for t in self.of_lot(lot)))

    def beside(self, section: str) -> Mapping[str, tuple[str, ...]]:
        """By lot that a section has parts of, the other sections that have some too."""
        lots = dict.fromkeys(t.lot for t in self.of_section(section) if t.lot is not None)
        return {lot: tuple(s for s in self.sections_of(lot) if s != section) for lot in lots}

    def kept(self, stock: str) -> tuple[Entry, ...]:
        """The drops of a piece of stock that were kept."""
        return tuple(e for e in self._entries if e.kind is EntryKind.KEPT and e.stock == stock)

    def lots(self) -> Mapping[str, tuple[str, ...]]:
        """The pieces of stock of every lot, in the order of issue; those without one under ''."""
        found: dict[str, list[str]] = defaultdict(list)
        for name, entry in self._issued.items():
            if entry.issued is not None:
                found[entry.issued.offer.lot or ""].append(name)
        return {lot: tuple(names) for lot, names in found.items()}


def trace_rows(traced: Sequence[Traced], unit: Unit) -> tuple[tuple[str, ...], ...]:
    """Rows of `TRACE_COLUMNS` as text, lengths as exact decimals in `unit`.

    Where a length has no exact decimal in inches it stands in mm, with its unit behind it.
    `cut_from` names the pieces of stock behind `stock`, where that was a drop.
    """
    return tuple(_row(t, unit) for t in traced)


def _row(traced: Traced, unit: Unit) -> tuple[str, ...]:
    part, offer, entry = traced.part, traced.issued.offer, traced.entry
    by = entry.by
    return (
        *(part.section, part.jig, part.mark),
        *(_length(part.length, unit), _length(part.width, unit)),
        *(part.run or "", _length(part.run_at, unit)),
        *(traced.material, traced.lot or ""),
        *(entry.stock, _length(offer.length, unit), _length(offer.width, unit)),
        *(" < ".join(traced.chain[1:]), str(entry.number)),
        *(by.moment.isoformat(), by.station, by.person, by.ticket),
    )


def _length(length: int | None, unit: Unit) -> str:
    if length is None:
        return ""
    value = decimal_length(length, unit)
    suffix = ""
    if value is None:
        value, suffix = decimal_length(length, "mm"), "mm"
    text = f"{value:f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) + suffix

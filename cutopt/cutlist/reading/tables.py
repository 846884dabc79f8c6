"""Slips of whole tables: an empty list, a list twice, stock counted twice, a wrong unit."""

from __future__ import annotations

from cutopt.cutlist.reading.raw import RawDay
from cutopt.materials import Kind, Offer, Stock
from cutopt.measure import FOOT, Unit, show_length
from cutopt.records import Faults, Place

__all__ = ["find_table_slips"]

#: Rows from which on two equal lists are no chance.
_ROWS = 2
#: A plant whose longest stick is outside these wrote its lengths in the other unit (common
#: practice, no source: sticks are sold from 6 to 24 ft).
_SHORTEST, _LONGEST = 2 * FOOT, 100 * FOOT


def find_table_slips(
    raw: RawDay, own: Stock | None, unit: Unit, unit_place: Place, faults: Faults
) -> None:
    """Tell what is wrong with a day's tables as wholes.

    Parameters
    ----------
    raw
        The day's tables as words.
    own
        Its own stock, where it has one.
    unit, unit_place
        The unit of bare numbers, and where it is said.
    """
    _empty_lists(raw, faults)
    _same_lists(raw, faults)
    if own is not None:
        _counted_twice(raw, own.offers, faults)
        _other_unit(own.offers, unit, unit_place, faults)


def _empty_lists(raw: RawDay, faults: Faults) -> None:
    empty = [t for t in raw.cuts if not t.rows and not raw.is_broken(t.name)]
    if raw.cuts and len(empty) == len(raw.cuts):
        for table in empty:
            faults.add(Place(table.name, 1), "no rows below the header", right="a row a part")
        return
    for table in empty:
        faults.warn(Place(table.name, 1), "no rows below the header; nothing is cut for it")


def _same_lists(raw: RawDay, faults: Faults) -> None:
    seen: dict[tuple[tuple[tuple[str, str], ...], ...], str] = {}
    for table in raw.cuts:
        if len(table.rows) < _ROWS:
            continue
        rows = tuple(sorted(tuple(sorted(row.cells.items())) for row in table.rows))
        first = seen.setdefault(rows, table.name)
        if first != table.name:
            faults.add(
                Place(table.name),
                f"the same list as {first}, row for row",
                right="each list once; raise qty where more is wanted",
            )


def _counted_twice(raw: RawDay, offers: tuple[Offer, ...], faults: Faults) -> None:
    """Rows that say the same of stock on hand, its lot included: two of them are twice as much."""
    seen: dict[tuple[object, ...], int] = {}
    for offer in offers:
        if not offer.on_hand:
            continue
        size = (offer.material, offer.length, offer.width, offer.lot)
        key = (*size, offer.on_hand, offer.limit, offer.price, offer.per)
        first = seen.setdefault(key, offer.row)
        if first != offer.row:
            faults.warn(
                Place(raw.stock_name, offer.row, "on_hand"),
                f"{offer.material} says the same as row {first}, lot and all; the {offer.on_hand} "
                f"on hand count twice",
            )


def _other_unit(offers: tuple[Offer, ...], unit: Unit, place: Place, faults: Faults) -> None:
    """All sticks far too short or far too long: the bare numbers are of the other unit."""
    longest = max((o.length for o in offers if o.kind is Kind.LUMBER), default=0)
    if not longest:
        longest = max((o.length for o in offers), default=_SHORTEST)
    if _SHORTEST <= longest <= _LONGEST:
        return
    other = "inches" if unit == "mm" else "millimetres"
    faults.warn(
        place,
        f"the longest stock would be {show_length(longest, unit, feet=unit == 'in')}; "
        f"were the lengths written in {other}",
        unit,
    )

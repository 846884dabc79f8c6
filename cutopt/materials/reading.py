"""stock.csv read: a table of words becomes offers, every fault told with its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from cutopt.materials.edges import Edges
from cutopt.materials.offer import Kind, Offer, Per
from cutopt.measure import (
    FOOT,
    INCH,
    MM,
    Cells,
    Unit,
    check_columns,
    nominal_size,
    parse_price,
)
from cutopt.records import Faults, Place, Table

__all__ = ["STOCK_COLUMNS", "Stock", "read_stock"]

STOCK_COLUMNS = (
    *("material", "kind", "nominal", "length", "width", "price", "per"),
    *("on_hand", "limit", "bundle", "lot", "counts_as", "edges"),
    "min_order",
)
_REQUIRED = ("material", "kind", "length", "price", "per")
_KINDS = {k.value: k for k in Kind}
_EDGES = {"": Edges.BOTH, **{e.value: e for e in Edges}}
_PER = {p.value.casefold(): p for p in Per}
#: A stick to be bought that is no longer than this was probably measured in feet.
_SHORT_STICK = 30 * INCH
#: Sticks are sold by these lengths and come a little over them, which is no length to plan with:
#: per unit the step from one to the next, the shortest, the longest, and the over-length from
#: which on a stick is of another length (common practice, no source).
_TRADE: dict[Unit, tuple[int, int, int, int]] = {
    "in": (2 * FOOT, 6 * FOOT, 26 * FOOT, INCH),
    "mm": (300 * MM, 1800 * MM, 7800 * MM, 25 * MM),
}


@dataclass(frozen=True, slots=True)
class Stock:
    """What stock.csv offers.

    `kinds` names every material of the file, with None where its kind could not be read.
    `complete` is False where rows were lost, so that a code which is not here may still be right.
    `nominals` holds the nominal size of each material that has one.
    """

    offers: tuple[Offer, ...]
    kinds: Mapping[str, Kind | None]
    complete: bool = True
    nominals: Mapping[str, tuple[int, int]] = field(default_factory=dict)


def read_stock(table: Table, unit: Unit, faults: Faults) -> Stock:
    """Read every row of stock.csv.

    Parameters
    ----------
    table
        The file's words; bare lengths are in `unit`.
    faults
        Takes every fault and warning; a row with a fault gives no offer.

    Returns
    -------
    Stock
        The sound rows, in file order.
    """
    if not check_columns(table, STOCK_COLUMNS, _REQUIRED, faults):
        return Stock((), {}, complete=False)
    kinds: dict[str, Kind | None] = {}
    first: dict[str, int] = {}
    nominals: dict[str, tuple[int, tuple[int, int]]] = {}
    offers = []
    complete = True
    for row in table.rows:
        if faults.full:
            complete = False
            break
        cells = Cells(table, row, unit, faults)
        material = cells.required("material", "the code that the cut lists use")
        kind = cells.word("kind", _KINDS)
        complete = complete and bool(material)
        known = kinds.get(material)
        if known is not None and kind is not None and known is not kind:
            cells.fault(
                "kind",
                f"{material} is {known.value} at line {first[material]} and {kind.value} here",
                "one kind for a material",
            )
        if material and known is None:
            kinds[material] = kind
            first[material] = row.line
        offer = _offer(cells, material, kind, nominals)
        if offer is not None:
            offers.append(offer)
    if not table.rows:
        faults.add(Place(table.name), "no rows", right="a row for each size that can be had")
    _mixed_orientation(table, offers, faults)
    return Stock(tuple(offers), kinds, complete, {m: size for m, (_, size) in nominals.items()})


def _offer(
    cells: Cells,
    material: str,
    kind: Kind | None,
    nominals: dict[str, tuple[int, tuple[int, int]]],
) -> Offer | None:
    length = cells.length("length", "the length of one piece")
    per = cells.word("per", _PER)
    price = _price(cells)
    on_hand = cells.count("on_hand", "pieces in the yard, 0 or more") or 0
    limit = cells.count("limit", "the most pieces that can be bought, blank for no limit")
    bundle = cells.count("bundle", "pieces per bundle, 1 or more, or blank", least=1)
    min_order = _min_order(cells, limit)
    width = nominal = None
    edges: Edges | None = Edges.BOTH
    if kind is Kind.SHEET:
        edges = cells.word("edges", _EDGES)
        width = cells.length("width", "the width of the sheet")
        cells.refuse("nominal", "a nominal size on a sheet")
        cells.refuse("counts_as", "a length that counts on a sheet")
        if per in (Per.LF, Per.MBF):
            cells.fault("per", "no price of a sheet", "each or MSF")
    elif kind is Kind.LUMBER:
        nominal = _nominal(cells, material, per, nominals)
        cells.refuse_width(nominal)
        cells.refuse("edges", "factory edges on lumber")
        if per is Per.MSF:
            cells.fault("per", "no price of lumber", "each, LF or MBF")
    counts_as = _counts_as(cells, kind, length)
    if price == 0 and limit != 0:
        cells.fault("price", "a price of zero for what can be bought", "above zero")
    if not cells.sound or kind is None or length is None or per is None or price is None:
        return None
    assert edges is not None  # noqa: S101  else the row is not sound
    if kind is Kind.LUMBER and limit != 0 and length <= _SHORT_STICK:
        cells.warn(
            "length",
            f"a stick of {cells.show(length)} to be bought",
            f"{cells.show(12 * length)} if feet were typed for inches",
        )
    if counts_as is None:
        counts_as = length
        if nominal is not None and limit != 0:
            counts_as = _by_the_trade(cells, length)
    lot = cells.text("lot") or None
    return Offer(
        row=cells.row.line,
        material=material,
        kind=kind,
        nominal=nominal,
        length=length,
        width=width,
        price=price,
        per=per,
        on_hand=on_hand,
        limit=limit,
        bundle=bundle,
        lot=lot,
        over=length - counts_as,
        min_order=min_order,
        edges=edges,
    )


def _min_order(cells: Cells, limit: int | None) -> int:
    """The fewest pieces that are sold at once; a limit below it would sell none."""
    least = cells.count("min_order", "the fewest pieces that the mill sells at once, or blank") or 0
    if limit is not None and 0 < limit < least:
        cells.fault(
            "min_order",
            f"above the limit of {limit}, so that none could be bought",
            f"{limit} or less, or a limit of {least} and more (0: none is bought)",
        )
    return least


def _counts_as(cells: Cells, kind: Kind | None, length: int | None) -> int | None:
    """What the row says that its length counts as; None where it says nothing or not soundly."""
    if kind is not Kind.LUMBER or not cells.text("counts_as"):
        return None
    counts_as = cells.length("counts_as", "the length that parts may use, or blank")
    if counts_as is not None and length is not None and counts_as > length:
        cells.fault("counts_as", "longer than the stick", f"{cells.show(length)} or less")
        return None
    return counts_as


def _by_the_trade(cells: Cells, length: int) -> int:
    """A stick to be bought that is a little over a trade length counts as that."""
    step, shortest, longest, least = _TRADE[cells.unit]
    trade = length // step * step
    over = length - trade
    if not 0 < over < least or not shortest <= trade <= longest:
        return length
    cells.warn(
        "length",
        f"over-length: counts as {cells.show(trade)}, and the {cells.show(over)} beyond it stays "
        "on the drop",
        f"{cells.show(length)} under counts_as if parts may use all of it",
    )
    return trade


def _price(cells: Cells) -> Decimal | None:
    text = cells.required("price", "a price in dollars")
    if not text:
        return None
    try:
        return parse_price(text)
    except ValueError as error:
        cells.fault("price", str(error), "dollars in digits with a point, such as 4.65")
        return None


def _nominal(
    cells: Cells,
    material: str,
    per: Per | None,
    nominals: dict[str, tuple[int, tuple[int, int]]],
) -> tuple[int, int] | None:
    text = cells.text("nominal")
    if not text:
        if per is Per.MBF:
            cells.fault("nominal", "blank, with a price per MBF", "a nominal size such as 2x6")
        return None
    try:
        nominal = nominal_size(text)
    except ValueError:
        if per is Per.MBF:
            cells.fault("nominal", "not a nominal size", "two whole numbers such as 2x6")
        else:
            cells.warn("nominal", "not a nominal size; no board feet are shown", "such as 2x6")
        return None
    line, seen = nominals.setdefault(material, (cells.row.line, nominal))
    if seen != nominal:
        cells.fault(
            "nominal",
            f"{material} is {seen[0]}x{seen[1]} at line {line}",
            "one nominal size for a material",
        )
    return nominal


def _mixed_orientation(table: Table, offers: list[Offer], faults: Faults) -> None:
    # A sheet's length is the way rips run. A size given crosswise among others that are not is
    # more likely a slip than a product.
    along = {o.material for o in offers if o.limit != 0 and o.width and o.length > o.width}
    for offer in offers:
        crosswise = offer.width is not None and offer.length < offer.width
        if crosswise and offer.limit != 0 and offer.material in along:
            faults.warn(
                Place(table.name, offer.row, "length"),
                f"this size of {offer.material} is wider than long, and others are not",
                right="length along the sheet, the way rips run",
            )

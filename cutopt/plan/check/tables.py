"""The tables beside plan.json: what they say must follow from the plan, to the last written place.

A fraction of a foot may have no last decimal, so a written amount may be off by half of its last
place; what is promised to add up exactly must do so as written.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from cutopt.materials import Kind, Offer
from cutopt.measure import FOOT, INCH, MM
from cutopt.plan.check.asked import Asked, Shop, piece_cost
from cutopt.plan.check.cuts import check_cuts
from cutopt.plan.check.rack import check_rack
from cutopt.plan.check.read import exact_number
from cutopt.plan.check.seen import SeenLayout, SeenMaterial, SeenPlan
from cutopt.plan.check.told import Told

__all__ = ["TABLES", "TableRow", "check_tables"]

TableRow = Mapping[str, str]

#: The tables that can be checked, by file name.
TABLES = ("stock_order.csv", "cut_list.csv", "cuts.csv", "yield.csv", "rack.csv")

_COUNTS = {"in": INCH, "mm": MM}
_AMOUNTS = ("parts", "kerf", "trim", "kept_drop", "waste_drop", "scrap")


def check_tables(
    plan: SeenPlan,
    asked: Asked,
    shop: Shop,
    tables: Mapping[str, Sequence[TableRow]],
    told: Told,
) -> None:
    """Every table that is given, row by row: `tables` holds rows by file name, text by column."""
    checker = _Tables(plan, asked, shop, told)
    if "stock_order.csv" in tables:
        checker.order(tables["stock_order.csv"])
    if "cut_list.csv" in tables:
        checker.cuts(tables["cut_list.csv"])
    if "cuts.csv" in tables:
        check_cuts(plan, asked, shop, tables["cuts.csv"], told)
    if "yield.csv" in tables:
        checker.yields(tables["yield.csv"])
    if "rack.csv" in tables:
        check_rack(plan, asked, shop, tables["rack.csv"], told)


@dataclass(frozen=True, slots=True)
class _Written:
    """A written number and its decimal places."""

    value: Fraction
    places: int


def _number(text: str) -> _Written | None:
    try:
        decimal = Decimal(text.strip())
    except InvalidOperation:
        return None
    value = exact_number(decimal)
    exponent = decimal.as_tuple().exponent
    if value is None or not isinstance(exponent, int):
        return None
    return _Written(value, max(0, -exponent))


class _Tables:
    def __init__(self, plan: SeenPlan, asked: Asked, shop: Shop, told: Told) -> None:
        self.plan = plan
        self.asked = asked
        self.shop = shop
        self.told = told

    def length(self, text: str) -> int | str | None:
        """A written length in counts; None where blank, the text itself where it is no length."""
        if not text.strip():
            return None
        number = _number(text)
        counts = number.value * _COUNTS[self.plan.unit] if number else Fraction(1, 2)
        return int(counts) if counts.denominator == 1 else text

    def amount(
        self, where: str, row: TableRow, key: str, right: Fraction | None, places: int
    ) -> _Written | None:
        """Hold a written amount against the exact one: half of its last place (or `places`) off."""
        text = row.get(key) or ""
        if right is None:
            if text.strip():
                self.told(where, f"{key} is {text}, promised blank")
            return None
        found = _number(text)
        if found is None:
            self.told(where, f"{key} is {text!r}, promised a number")
            return None
        slack = Fraction(1, 2 * 10 ** max(places, found.places))
        if abs(found.value - right) > slack:
            self.told(where, f"{key} is {text}, the plan gives {float(right):.{places + 2}f}")
        return found

    def order(self, rows: Sequence[TableRow]) -> None:
        """stock_order.csv: what is bought, row of stock.csv by row."""
        bought: dict[int, int] = defaultdict(int)
        for material in self.plan.materials:
            for layout in material.layouts:
                if layout.source == "buy":
                    bought[layout.row] += layout.count
            for number, pieces_more in material.surplus:
                bought[number] += pieces_more
        left: dict[tuple[object, ...], list[Offer]] = defaultdict(list)
        for number in sorted(bought):
            offer = self.shop.offers.get(number)
            if offer is not None:
                bill = (offer.material, offer.length, offer.width, bought[number])
                left[bill].append(offer)
        for i, row in enumerate(rows):
            where = f"stock_order.csv:{i + 2}"
            pieces = _number(row.get("pieces") or "")
            size = (self.length(row.get("length") or ""), self.length(row.get("width") or ""))
            line = (row.get("material"), *size, pieces.value if pieces else None)
            offers = left.get(line, [])
            price = _number(row.get("price") or "")
            same = [
                o
                for o in offers
                if price and Fraction(o.price) == price.value and o.per.value == row.get("per")
            ]
            if not same:
                words = " ".join(str(row.get(k)) for k in ("pieces", "material", "length", "width"))
                self.told(where, f"{words} at {row.get('price')} is no purchase of the plan")
                continue
            offers.remove(same[0])
            self._purchase(where, row, same[0], int(pieces.value) if pieces else 0)
        for offers in left.values():
            for offer in offers:
                self.told(
                    "stock_order.csv",
                    f"{bought[offer.row]} of {offer.material} {self.told.show(offer.length)} "
                    f"(row {offer.row} of stock.csv) are bought and not on it",
                )

    def _purchase(self, where: str, row: TableRow, offer: Offer, pieces: int) -> None:
        feet = Fraction(offer.length, FOOT) * pieces
        board = square = bundles = None
        if offer.nominal is not None:
            board = feet * offer.nominal[0] * offer.nominal[1] / 12
        if offer.width is not None:
            square = feet * Fraction(offer.width, FOOT)
        if offer.bundle:
            bundles = Fraction((pieces + offer.bundle - 1) // offer.bundle)
        self.amount(where, row, "bundles", bundles, 2)
        self.amount(where, row, "board_feet", board, 2)
        self.amount(where, row, "square_feet", square, 2)
        self.amount(where, row, "extension", piece_cost(offer) * pieces, 2)

    def cuts(self, rows: Sequence[TableRow]) -> None:
        """cut_list.csv: a line per part of every layout, in cutting order."""
        promised: Counter[tuple[object, ...]] = Counter()
        jigs: dict[tuple[object, ...], set[str]] = defaultdict(set)
        edged = any("edge" in row for row in rows)
        for material in self.plan.materials:
            for layout in material.layouts:
                for part in layout.parts:
                    key: tuple[object, ...] = (
                        material.material,
                        layout.id,
                        layout.pattern,
                        str(layout.count),
                        layout.length,
                        layout.width,
                        layout.source,
                        part.box.x_end,
                        part.length,
                        part.width,
                        part.section,
                        part.mark,
                        "yes" if part.turned else "no",
                        part.edge if edged else "",
                    )
                    promised[key] += 1
                    for asks in self.asked.marks.get((part.section, part.mark), []):
                        jigs[key].add(asks.jig)
        books = self._books()
        last: tuple[str, int] = ("", 0)
        begun: set[str] = set()
        for i, row in enumerate(rows):
            where = f"cut_list.csv:{i + 2}"
            words = {k: row.get(k) or "" for k in ("material", "layout", "pattern", "count")}
            stop = self.length(row.get("stop") or "")
            key = (
                *words.values(),
                self.length(row.get("stock_length") or ""),
                self.length(row.get("stock_width") or ""),
                row.get("source"),
                stop,
                self.length(row.get("length") or ""),
                self.length(row.get("width") or ""),
                row.get("section"),
                row.get("mark"),
                row.get("turned"),
                row.get("edge") or "",
            )
            name = f"layout {words['layout']}, {row.get('mark')} for {row.get('section')}"
            if not promised[key]:
                self.told(where, f"{name}, stop {row.get('stop')}, is no part of the plan")
                continue
            promised[key] -= 1
            if (row.get("jig") or "") not in jigs[key]:
                self.told(where, f"{name}: jig is {row.get('jig')!r}, the cut list says otherwise")
            said, right = row.get("books") or "", books[words["pattern"]]
            if "books" in row and said != right:
                self.told(where, f"{name}: books is {said!r}, the plan gives {right!r}")
            counts = stop if isinstance(stop, int) else 0
            if words["layout"] != last[0]:
                if words["layout"] in begun:
                    self.told(where, f"{name}: the lines of a layout stand apart")
                begun.add(words["layout"])
            elif not (row.get("width") or "").strip() and counts <= last[1]:
                self.told(where, f"{name}: stop {row.get('stop')} comes after a farther one")
            last = (words["layout"], counts)
        for key, n in promised.items():
            if n:
                name = f"{key[0]}, layout {key[1]}: part {key[11]} for {key[10]}"
                self.told("cut_list.csv", f"{name} has no line")

    def _books(self) -> dict[str, str]:
        """By pattern, how many books of how many pieces; blank where one is cut at a time."""
        texts: dict[str, str] = defaultdict(str)
        for material in self.plan.materials:
            if material.stack > 1:
                sheets: Counter[str] = Counter()
                for layout in material.layouts:
                    sheets[layout.pattern] += layout.count
                for pattern, n in sheets.items():
                    full, rest = n // material.stack, n % material.stack
                    parts = [f"{full}x{material.stack}"] if full else []
                    texts[pattern] = "+".join([*parts, *([f"1x{rest}"] if rest else [])])
        return texts

    def yields(self, rows: Sequence[TableRow]) -> None:
        """yield.csv: where every foot or square foot went."""
        seen = {m.material: m for m in self.plan.materials}
        for i, row in enumerate(rows):
            where = f"yield.csv:{i + 2}, {row.get('material')}"
            material = seen.pop(row.get("material") or "", None)
            if material is None:
                self.told(where, "is no material of the plan, or stands twice")
            else:
                self._yield(where, row, material)
        for name in seen:
            self.told("yield.csv", f"{name} has no line")

    def _yield(self, where: str, row: TableRow, material: SeenMaterial) -> None:
        measures: Counter[str] = Counter()
        cost_in = cost_waste = Fraction(0)
        sheet = self.shop.kinds.get(material.material) is Kind.SHEET
        unit = FOOT * FOOT if sheet else FOOT
        for layout in material.layouts:
            offer = self.shop.stock(material, layout)
            if offer is None:
                return
            one = self._measures(layout, offer, material.material)
            for key, n in one.items():
                measures[key] += n * layout.count
            spent = piece_cost(offer) * layout.count
            cost_in += spent
            lost = one["input"] - one["parts"] - one["kept_drop"]
            cost_waste += spent * Fraction(lost, one["input"])
        found = {
            key: self.amount(where, row, key, Fraction(measures[key], unit), 4) for key in _AMOUNTS
        }
        whole = _number(row.get("input") or "")
        written = [f for f in found.values() if f is not None]
        if whole is None:
            self.told(where, f"input is {row.get('input')!r}, promised a number")
        elif len(written) == len(_AMOUNTS):
            total = sum((f.value for f in written), Fraction(0))
            if whole.value != total:
                self.told(
                    where, f"input is {row.get('input')}, the others add up to {float(total)}"
                )
            slack = sum((Fraction(1, 2 * 10 ** max(4, f.places)) for f in written), Fraction(0))
            if abs(whole.value - Fraction(measures["input"], unit)) > slack:
                right = float(Fraction(measures["input"], unit))
                self.told(where, f"input is {row.get('input')}, the plan gives {right:.6f}")
        spent_on = measures["input"] - measures["kept_drop"]
        share = Fraction(100 * measures["parts"], spent_on) if spent_on else Fraction(0)
        rest = 100 - share if measures["input"] else Fraction(0)
        self.amount(where, row, "yield_percent", share, 2)
        self.amount(where, row, "waste_percent", rest, 2)
        self.amount(where, row, "cost_in", cost_in, 2)
        self.amount(where, row, "cost_waste", cost_waste, 2)

    def _measures(self, layout: SeenLayout, offer: Offer, material: str) -> dict[str, int]:
        """One piece of stock, in counts or counts squared; kerf is what nothing else takes."""
        if offer.width is None:
            size, trim = offer.length, self.shop.rules.for_lumber(material).head_trim
            parts = sum(p.length for p in layout.parts)
            drops = [(d.length, d.kept) for d in layout.drops]
        else:
            rows = any(self.asked.span_rows(p, material) for p in layout.parts)
            edge = 0 if rows else self.shop.rules.for_sheets(material).edge_trim
            size = offer.length * offer.width
            trim = size - (offer.length - 2 * edge) * (offer.width - 2 * edge)
            parts = sum(p.length * (p.width or 0) for p in layout.parts)
            drops = [(d.length * (d.width or 0), d.kept) for d in layout.drops]
        kept = sum(n for n, is_kept in drops if is_kept)
        waste = sum(n for n, is_kept in drops if not is_kept)
        return {
            "input": size,
            "parts": parts,
            "kerf": size - parts - trim - kept - waste,
            "trim": trim,
            "kept_drop": kept,
            "waste_drop": waste,
            "scrap": 0,
        }

"""The cells of one row as lengths, counts, prices and words; what can't be read becomes a fault."""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from functools import lru_cache
from typing import TypeVar

from cutopt.measure.amount import dressed_width
from cutopt.measure.length import INCH, LengthError, Unit, parse_length, show_length
from cutopt.records import Faults, Place, Row, Table, known_or_nearest, nearest

__all__ = ["LARGEST_COUNT", "Cells", "check_columns", "parse_count", "parse_price"]

T = TypeVar("T")

# The same few lengths stand in thousands of rows.
_parsed = lru_cache(maxsize=16_384)(parse_length)

#: No count (pieces, bundle, need) above this is read.
LARGEST_COUNT = 10_000_000

_COUNT = re.compile(r"[+]?(\d{1,12})(?:\.0{0,6})?", re.ASCII)
_PRICE = re.compile(r"\d{1,12}(?:\.\d{0,12})?|\.\d{1,12}", re.ASCII)
_DATE_LIKE = re.compile(
    r"\d{4}-\d\d?-\d\d?|\d\d?[-/]\d\d?[-/]\d{2,4}|\d\d?-[A-Za-z]{3}|[A-Za-z]{3}-\d\d?", re.ASCII
)


def parse_count(text: str, least: int = 0) -> int:
    """A whole number from `least` to `LARGEST_COUNT`; `12.0` is 12.

    Raises ValueError with what is wrong, to be shown after the place.
    """
    match = _COUNT.fullmatch(text)
    if match is None:
        if re.fullmatch(r"-\d+(\.0*)?", text, re.ASCII):
            raise ValueError("below zero")
        raise ValueError("not a whole number")
    count = int(match[1])
    if count < least:
        raise ValueError("zero" if count == 0 else f"below {least}")
    if count > LARGEST_COUNT:
        raise ValueError(f"above {LARGEST_COUNT:,}")
    return count


def parse_price(text: str) -> Decimal:
    """A price of zero or more, in plain digits with a point.

    Raises ValueError with what is wrong, to be shown after the place.
    """
    if _PRICE.fullmatch(text):
        return Decimal(text)
    if text.startswith("-"):
        raise ValueError("a price below zero")
    if "," in text:
        raise ValueError("a comma in a number")
    raise ValueError("not a price")


def check_columns(
    table: Table, known: tuple[str, ...], required: tuple[str, ...], faults: Faults
) -> bool:
    """Whether the table has the columns it needs; unknown and missing ones become faults."""
    sound = True
    for column in table.columns:
        if column not in known:
            place = Place(table.name, table.header, column)
            near = nearest(column, [k for k in known if k not in table.columns])
            right = f"did you mean '{near}'?" if near else "one of " + ", ".join(known)
            faults.add(place, "no such column", column, right)
    for column in required:
        if column not in table.columns:
            place = Place(table.name, table.header, column)
            faults.add(place, f"the column '{column}' is missing", right=_listed(required))
            sound = False
    return sound


def _listed(names: tuple[str, ...]) -> str:
    return "a header with " + ", ".join(names)


class Cells:
    """One row under reading. `sound` turns False at the first fault of the row."""

    __slots__ = ("_faults", "row", "sound", "table", "unit")

    def __init__(self, table: Table, row: Row, unit: Unit, faults: Faults) -> None:
        self.table = table
        self.row = row
        self.unit = unit
        self.sound = True
        self._faults = faults

    def place(self, column: str = "") -> Place:
        """The place of a cell, or of the row."""
        return Place(self.table.name, self.row.line, column)

    def text(self, column: str) -> str:
        """The cell, blank where the column is absent."""
        return self.row.cells.get(column, "")

    def fault(self, column: str, wrong: str, right: str, read: object = None) -> None:
        """Record what is wrong with a cell; what was read is the cell unless given."""
        self._faults.add(
            self.place(column), wrong, self.text(column) if read is None else read, right
        )
        self.sound = False

    def warn(self, column: str, wrong: str, right: str = "", read: object = None) -> None:
        """Record what a person should look at."""
        self._faults.warn(
            self.place(column), wrong, self.text(column) if read is None else read, right
        )

    def required(self, column: str, right: str) -> str:
        """The cell, which must not be blank."""
        text = self.text(column)
        if not text:
            self.fault(column, "blank", right)
        return text

    def refuse(self, column: str, wrong: str) -> None:
        """A cell that must be blank in this row."""
        if self.text(column):
            self.fault(column, wrong, "a blank")

    def length(self, column: str, right: str, *, positive: bool = True) -> int | None:
        """The cell as a length in counts; None where it is blank or faulty, with the fault told.

        `right` says what belongs there, for a blank cell.
        """
        text = self.required(column, right)
        if not text:
            return None
        try:
            length = _parsed(text, self.unit)
        except LengthError as error:
            hint = error.right
            if _DATE_LIKE.fullmatch(text):
                hint = (
                    "a length; a spreadsheet makes a date of a fraction such as 5/8: "
                    "format the column as text"
                )
            self.fault(column, error.wrong, hint)
            return None
        if positive and length == 0:
            self.fault(column, "a length of zero", right)
            return None
        return length

    def refuse_width(self, nominal: tuple[int, int] | None) -> None:
        """A width on lumber: it may only repeat the width that the sticks have."""
        text = self.text("width")
        if not text:
            return
        wrong, right = "a width on lumber, which is cut to length only", "a blank"
        if nominal is not None:
            has = dressed_width(nominal)
            right += f", or the sticks' own {self.show(has)}" if has else ""
            try:
                if parse_length(text, self.unit) in (has, nominal[1] * INCH):
                    return
            except LengthError:
                pass
        self.fault("width", wrong, right)

    def count(self, column: str, right: str, *, least: int = 0) -> int | None:
        """The cell as a whole number; None where it is blank or faulty (then `sound` is False)."""
        text = self.text(column)
        if not text:
            return None
        try:
            return parse_count(text, least)
        except ValueError as error:
            self.fault(column, str(error), right)
            return None

    def word(self, column: str, words: Mapping[str, T], right: str = "") -> T | None:
        """The cell as one of `words`, ignoring case; None where it is none of them."""
        text = self.text(column)
        found = words.get(text.casefold())
        if found is None:
            self.fault(
                column,
                "blank" if not text else "not a known word",
                right or known_or_nearest(text, [w for w in words if w]),
            )
        return found

    def show(self, length: int) -> str:
        """A length for a message, in the day's unit."""
        return show_length(length, self.unit)

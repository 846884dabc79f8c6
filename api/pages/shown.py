"""Figures for people: money, counts, percent, moments in the plant's zone, measures in its unit."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

from api.pages.words import Words
from cutopt.draw import size_of, stock_size
from cutopt.measure import Unit, length_from_number, rounded

__all__ = ["Shown", "called"]

_FOOT = Fraction(3048, 10000)
_THIN = "\N{NARROW NO-BREAK SPACE}"


def called(length: int, width: int | None, unit: Unit, words: Words) -> str:
    """A size of stock as it is called: whole feet of lumber in feet, all else as measured."""
    text = stock_size(length, width, unit, False)
    feet = text.removesuffix(" ft")
    return text if feet == text else words("unit.feet", feet=feet)


class Shown:
    """How figures are shown to one viewer. `unit` None: measures stand as the plan has them."""

    def __init__(self, zone: ZoneInfo, unit: Unit | None, words: Words) -> None:
        self._zone = zone
        self._unit = unit
        self._words = words

    def unit(self, read: Unit) -> Unit:
        """The unit of a page about something that was read in `read`."""
        return self._unit or read

    def money(self, value: Decimal | Fraction | float | None) -> str:
        """Dollars and cents; blank where there is no figure."""
        if value is None:
            return ""
        return f"${rounded(Fraction(str(value)), 2):,}"

    def count(self, value: int) -> str:
        """A whole number."""
        return f"{value:,}"

    def amount(self, value: Decimal | Fraction | None, places: int = 2) -> str:
        """A figure to so many places; blank where there is none."""
        return "" if value is None else f"{rounded(Fraction(value), places):,}"

    def plain(self, text: str) -> str:
        """The same of a table's decimal."""
        return self.amount(Decimal(text))

    def plain_money(self, text: str) -> str:
        """Dollars and cents of a table's decimal."""
        return self.money(Decimal(text))

    def percent(self, value: Decimal | Fraction | float | None, places: int = 2) -> str:
        """A figure that is percent already."""
        return "" if value is None else f"{self.amount(Fraction(str(value)), places)}{_THIN}%"

    def gap(self, share: float) -> str:
        """A gap given as a share: percent to three places, never nought where there is one."""
        value = Fraction(str(share)) * 100
        least = Fraction(1, 1000)
        if 0 < value < least:
            return f"<{_THIN}0.001{_THIN}%"
        return f"{rounded(value, 3).normalize():f}{_THIN}%"

    def stock(self, length: str, width: str, read: Unit) -> str:
        """A size of stock as it is called, from the decimals of a plan's tables."""
        across = length_from_number(width, read) if width else None
        return called(length_from_number(length, read), across, self.unit(read), self._words)

    def size(self, length: int, width: int | None, read: Unit) -> str:
        """A size in counts of 1/1600 mm."""
        return size_of(length, width, self.unit(read), False)

    def run(self, feet: Decimal, sheet: bool, read: Unit) -> Fraction:
        """Feet or square feet, as metres or square metres where the page is in mm."""
        value = Fraction(feet)
        if self.unit(read) == "mm":
            value *= _FOOT * _FOOT if sheet else _FOOT
        return value

    def moment(self, value: datetime | None) -> str:
        """A moment in the plant's zone, to the minute."""
        if value is None:
            return ""
        local = value.astimezone(self._zone)
        return f"{local:%Y-%m-%d %H:%M} {local.tzname() or ''}".strip()

    def stamp(self, value: datetime | None) -> str:
        """The same for programs, as `datetime` of a time element."""
        return "" if value is None else value.isoformat(timespec="seconds")

    def seconds(self, begin: datetime | None, end: datetime | None) -> int:
        """Whole seconds from one moment to another; 0 where one is missing."""
        return 0 if begin is None or end is None else max(0, round((end - begin).total_seconds()))

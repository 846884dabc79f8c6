"""How tables are written: csv with one line end everywhere, lengths as exact decimals."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from decimal import Decimal
from fractions import Fraction

from cutopt.measure import Unit, decimal_length, rounded

__all__ = ["csv_bytes", "exact", "minutes", "plain"]

_MINUTE = 60_000


def csv_bytes(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """A table as UTF-8, its header first."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(rows)
    return text.getvalue().encode()


def exact(length: int | None, unit: Unit) -> str:
    """A length in counts as a decimal number of the unit; blank where there is none.

    Raises ValueError where no decimal of the unit holds it.
    """
    if length is None:
        return ""
    value = decimal_length(length, unit)
    if value is None:
        raise ValueError("a plan in inches holds a length that no decimal in inches holds")
    return plain(value)


def plain(value: Decimal) -> str:
    """A decimal without zeros behind its last digit."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def minutes(milliseconds: int) -> str:
    """A time in minutes, to a tenth."""
    return f"{rounded(Fraction(milliseconds, _MINUTE), 1):f}"

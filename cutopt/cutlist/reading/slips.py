"""Common slips across the rows of all days, caught and explained."""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.cutlist.part import Day
from cutopt.materials import Stock
from cutopt.records import Faults

__all__ = ["find_slips"]


def find_slips(days: Sequence[Day], stock: Stock, faults: Faults) -> None:
    """Look for slips in the sound rows of all days, against the stock of the first."""

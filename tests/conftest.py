"""Small stock and parts for tests of any room."""

from __future__ import annotations

import os
from decimal import Decimal

import pytest
from hypothesis import settings

from cutopt.materials import Kind, Offer, Per
from cutopt.measure import INCH

# A change lands or not by its own doing: there the same examples are tried every time. Elsewhere
# new ones are. No deadline in either: how fast a machine is proves nothing.
settings.register_profile("landing", deadline=None, derandomize=True)
settings.register_profile("work", deadline=None)
settings.load_profile("landing" if os.environ.get("CI") else "work")


@pytest.fixture
def stick():  # type: ignore[no-untyped-def]
    """A maker of lumber offers: row, inches, and whatever else."""

    def make(row: int, inches: int, **more: object) -> Offer:
        facts: dict[str, object] = {
            "material": "2x4-SPF-2",
            "kind": Kind.LUMBER,
            "nominal": (2, 4),
            "length": inches * INCH,
            "width": None,
            "price": Decimal(600),
            "per": Per.MBF,
        }
        return Offer(row=row, **(facts | more))  # type: ignore[arg-type]

    return make


@pytest.fixture
def sheet():  # type: ignore[no-untyped-def]
    """A maker of sheet offers: row, inches long, inches wide, and whatever else."""

    def make(row: int, length: int, width: int, **more: object) -> Offer:
        facts: dict[str, object] = {
            "material": "OSB-23/32",
            "kind": Kind.SHEET,
            "nominal": None,
            "length": length * INCH,
            "width": width * INCH,
            "price": Decimal(750),
            "per": Per.MSF,
        }
        return Offer(row=row, **(facts | more))  # type: ignore[arg-type]

    return make

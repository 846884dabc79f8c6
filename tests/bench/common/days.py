"""The demo days in single materials, and rows of stock for days that are made."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

from cutopt.cutlist import Day
from cutopt.files import read_days
from cutopt.materials import Kind, Offer, Per
from cutopt.plan import Problem

__all__ = ["RESULTS", "ROOT", "demo_groups", "stock_row"]

ROOT = Path(__file__).resolve().parents[3]
#: Where a full run leaves its page.
RESULTS = ROOT / "tests" / "bench" / "results"


def demo_groups(kind: Kind, quick: bool) -> Iterator[tuple[str, Day]]:
    """The demo days, a group of materials that depend on each other at a time, with its name."""
    folders = sorted((ROOT / "demo_orders").glob("20*"))
    for folder in folders[:1] if quick else folders:
        problem = Problem(read_days([folder]).days)
        day = problem.days[0]
        for group in problem.groups:
            if group.kind is kind:
                parts = tuple(p for p in day.parts if p.material in group.materials)
                offers = tuple(o for o in day.offers if o.material in group.materials)
                name = f"{folder.name} {' + '.join(group.materials)}"
                yield name, replace(day, parts=parts, offers=offers)


def stock_row(
    row: int,
    material: str,
    kind: Kind,
    size: tuple[int, int | None],
    price: Decimal,
    only: int | None,
) -> Offer:
    """A row of stock.csv. Of what is limited so many lie in the yard and none can be bought."""
    return Offer(
        row=row,
        material=material,
        kind=kind,
        nominal=None,
        length=size[0],
        width=size[1],
        price=price,
        per=Per.EACH,
        on_hand=only or 0,
        limit=None if only is None else 0,
    )

"""At equal cost the yard comes first, and of lots the older one."""

from __future__ import annotations

import random
from collections import Counter

import pytest

from cutopt.materials import Offer
from cutopt.solve.lumber.uses import lot_age
from tests.solve.lumber.making import day, offer, part, rules, solved


@pytest.mark.parametrize(
    "lots",
    [
        ["L9", "L10", "l11", "L100"],
        ["2025-12-30", "2026-3-2", "2026-03-10", "2026-11-01"],
        ["12/30/2025", "3/2/2026", "03/10/2026", "11/1/2026"],
        ["PO 7 2026-01-05", "PO 7 2026-01-12", "PO 12 2025-12-01"],
        ["7", "12", "A", "A1", "A2", "B"],
        ["L2", None],
        ["x²", "zzz", "", None],
    ],
)
def test_older_lots_come_first(lots: list[str | None]) -> None:
    shuffled = list(lots)
    random.Random(1).shuffle(shuffled)
    ordered = sorted(shuffled, key=lambda lot: lot_age(lot))
    assert [lot or None for lot in ordered] == [lot or None for lot in lots]


def taken(offers: list[Offer], pieces: int) -> dict[int, Counter[str]]:
    """Sticks by row and source, for so many parts of one stick each."""
    planned = solved(day(offers, [part("P", 90, pieces)], rules()))
    assert not planned.left_out
    rows: dict[int, Counter[str]] = {}
    for plan in planned.plans:
        for lay in plan.layouts:
            rows.setdefault(lay.offer.row, Counter())[lay.source.value] += lay.count
    return rows


LOTS = [
    offer(2, 96, "4", on_hand=2, limit=3, lot="L10"),
    offer(3, 96, "4", on_hand=2, limit=1, lot="L9"),
    offer(4, 96, "4", on_hand=1, lot=None),
    offer(5, 96, "4", on_hand=3, limit=0, lot="L2"),
]


@pytest.mark.parametrize(
    ("pieces", "rows"),
    [
        (2, {5: {"on-hand": 2}}),
        (4, {5: {"on-hand": 3}, 3: {"on-hand": 1}}),
        (8, {5: {"on-hand": 3}, 3: {"on-hand": 2}, 2: {"on-hand": 2}, 4: {"on-hand": 1}}),
        # All that lies in the yard before any is bought; then lot by lot to its limit.
        (
            10,
            {
                5: {"on-hand": 3},
                3: {"on-hand": 2, "buy": 1},
                2: {"on-hand": 2, "buy": 1},
                4: {"on-hand": 1},
            },
        ),
        (
            15,
            {
                5: {"on-hand": 3},
                3: {"on-hand": 2, "buy": 1},
                2: {"on-hand": 2, "buy": 3},
                4: {"on-hand": 1, "buy": 3},
            },
        ),
    ],
)
def test_the_yard_first_then_lot_by_lot(pieces: int, rows: dict[int, dict[str, int]]) -> None:
    for offers in (LOTS, LOTS[::-1]):
        assert taken(offers, pieces) == rows


def test_a_cheaper_lot_comes_before_an_older_one() -> None:
    offers = [
        offer(2, 96, "4", lot="L1"),
        offer(3, 96, "3.5", limit=2, lot="L2"),
    ]
    assert taken(offers, 3) == {3: {"buy": 2}, 2: {"buy": 1}}

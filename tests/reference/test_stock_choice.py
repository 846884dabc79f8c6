"""Published choices of stock lengths, and the traps that the kerf sets.

US Army correspondence course EN0069A, Carpentry I, pp. 95-96 and 133; EN01136. No kerf is
in them. Prices are by the foot, so that the least cost is the least length bought.
"""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

import pytest

from tests.solve.lumber.making import CELL, Planned, day, offer, part, rules, solved

FOOT = 12 * 8
EIGHT, TEN = (offer(2, 8 * FOOT, "8"), offer(3, 10 * FOOT, "10"))


def inches(feet: int, inch: int = 0) -> int:
    return (feet * 12 + inch) * 8


def bought(planned: Planned) -> dict[int, int]:
    """Boards by their length in feet."""
    found: Counter[int] = Counter()
    for plan in planned.plans:
        for lay in plan.layouts:
            found[lay.offer.length // CELL // FOOT] += lay.count
    return dict(found)


def left_over(planned: Planned) -> Fraction:
    """Inches left over in all."""
    drops = (d.length * lay.count for p in planned.plans for lay in p.layouts for d in lay.drops)
    return Fraction(sum(drops), 8 * CELL)


@pytest.mark.parametrize(
    ("qty", "length", "boards", "left"),
    [
        # EN0069A pp. 95-96.
        (2, inches(4, 6), {10: 1}, 12),
        (2, inches(3, 0), {8: 1}, 24),
        # Computed from the same example: pooled, the choice turns round.
        (9, inches(3, 0), {10: 3}, 36),
        # EN0069A p. 133.
        (4, inches(2, 4), {10: 1}, 8),
    ],
)
def test_published_choice_of_boards(
    qty: int, length: int, boards: dict[int, int], left: int
) -> None:
    planned = solved(day((EIGHT, TEN), (part("P", length, qty),), rules()))
    assert planned.optimal
    assert bought(planned) == boards
    assert left_over(planned) == left


def test_the_eight_foot_boards_alone_leave_what_was_published() -> None:
    """Computed from EN0069A pp. 95-96: nine 3 ft 0 in from 8-ft boards, five with 156 in left."""
    planned = solved(day((EIGHT,), (part("P", inches(3), 9),), rules()))
    assert planned.optimal
    assert bought(planned) == {8: 5}
    assert left_over(planned) == 156


def test_ends_of_long_pieces_become_short_ones() -> None:
    """EN01136: four 5 ft 1 in leave 4 ft 11 in each; two of those become 3 ft 7 in pieces."""
    long = part("L", inches(5, 1), 4)
    alone = solved(day((TEN,), (long,), rules()))
    assert bought(alone) == {10: 4}
    assert {d.length for p in alone.plans for lay in p.layouts for d in lay.drops} == {
        inches(4, 11) * CELL
    }
    both = solved(day((TEN,), (long, part("S", inches(3, 7), 2)), rules()))
    assert both.optimal
    assert bought(both) == {10: 4}


@pytest.mark.parametrize(
    ("kerf", "length", "qty", "stick", "sticks"),
    [
        # Computed: the kerfs between four 24s take 3/8 in from a 96.
        (1, 24 * 8, 4, 96 * 8, 2),
        (0, 24 * 8, 4, 96 * 8, 1),
        # The kerf after the last part is lost with nothing: 96-3/8 holds all four.
        (1, 24 * 8, 4, 96 * 8 + 3, 1),
        (1, 24 * 8, 4, 96 * 8 + 2, 2),
        # Two true 96s from a 192 fail without over-length.
        (1, 96 * 8, 2, 192 * 8, 2),
        (1, 96 * 8, 2, 192 * 8 + 1, 1),
        (0, 96 * 8, 2, 192 * 8, 1),
        # One part as long as the stick takes no kerf at all.
        (1, 96 * 8, 1, 96 * 8, 1),
    ],
)
def test_kerf_traps(kerf: int, length: int, qty: int, stick: int, sticks: int) -> None:
    planned = solved(day((offer(2, stick, "1"),), (part("P", length, qty),), rules(kerf=kerf)))
    assert planned.optimal
    assert sum(lay.count for p in planned.plans for lay in p.layouts) == sticks


def test_head_trim_is_lost_once_a_stick() -> None:
    """Computed: after 1/4 in of head trim a 96-1/4 holds two true 47-7/8 and their kerf exactly."""
    shop = rules(kerf=2, trim=2)
    parts = (part("P", 47 * 8 + 7, 2),)
    assert solved(day((offer(2, 96 * 8 + 2, "1"),), parts, shop)).objective == 1
    assert solved(day((offer(2, 96 * 8 + 1, "1"),), parts, shop)).objective == 2


def test_paper_rolls() -> None:
    """The textbook's rolls of 5600 mm: 73 of them, 0.401 % lost (from memory)."""
    millimetre = 1600
    asked = {
        1380: 22,
        1520: 25,
        1560: 12,
        1710: 14,
        1820: 18,
        1880: 18,
        1930: 20,
        2000: 10,
        2050: 12,
        2100: 14,
        2140: 16,
        2150: 18,
        2200: 20,
    }
    made = day(
        (offer(2, 5600, "1", cell=millimetre),),
        [part(f"W{w}", w, n, cell=millimetre) for w, n in asked.items()],
        rules(),
        unit="mm",
    )
    planned = solved(made)
    assert planned.optimal
    assert planned.objective == planned.bound == 73
    used = sum(w * n for w, n in asked.items())
    assert round(100 * (1 - used / (73 * 5600)), 3) == 0.401

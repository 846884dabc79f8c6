"""What a ceiling's spans cost beyond their area, and what one more length to order would save."""

from __future__ import annotations

from fractions import Fraction

from cutopt.plan import Cause, Shortage
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from tests.solve.ceiling.test_ceilings import _board, _field, _group
from tests.solve.sheets.shop import cost_of

BOARDS = [_board(2, 96, 48, 8), _board(3, 120, 48, 10), _board(4, 144, 48, 12)]
FIELDS = [_field(0, 90, 96, 3), _field(1, 118, 96, 2), _field(2, 140, 96, 4)]


def said(lengths: int) -> tuple[Fraction, list[Shortage]]:
    group = _group(FIELDS, BOARDS, lengths)
    outcome = solve_sheets(group, Watch(60), 1)
    return cost_of(group, outcome), [s for _, s in outcome.shortages]


def test_a_span_costs_its_boards_and_its_area() -> None:
    # By hand, all three lengths bought: a row of 90 x 48 takes a 96 x 48 board at $8; its area is
    # 90 / 96 of it, $7.50. Two rows a field, three fields.
    _, found = said(3)
    (short,) = [s for s in found if s.length == 90]
    assert (short.cause, short.pieces, short.marks) == (Cause.SPAN, 6, ("CEILING",))
    assert (short.worth, short.plain, short.money) == (8, Fraction(15, 2), 3)
    assert not [s for s in found if s.cause is Cause.LENGTHS]


def test_one_more_length_saves_what_planning_with_it_saves() -> None:
    # By hand: 144 covers all, 18 rows at $12 = $216; with 96 beside it six rows fall to $8.
    for lengths in (1, 2):
        cost, found = said(lengths)
        (more,) = [s for s in found if s.cause is Cause.LENGTHS]
        assert more.pieces == lengths
        assert more.money == cost - said(lengths + 1)[0]
    assert said(1)[0] - said(2)[0] == 24

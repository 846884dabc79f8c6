"""The comparisons of `python -m tests.bench sheets`: plans checked and costed exactly."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from cutopt.measure import INCH
from tests.bench.common.models import MODELS
from tests.bench.common.task import WrongPlanError
from tests.bench.sheets.level import laid, plan_with_pulp
from tests.bench.sheets.measure import FIELDS, PARTS
from tests.bench.sheets.models import answered
from tests.bench.sheets.plant import FAMILIES, ceilings, order, sizes_of
from tests.bench.sheets.rows import mix_first, mixes, one_size
from tests.bench.sheets.shelves import shelves
from tests.bench.sheets.task import (
    Filled,
    Laid,
    Rect,
    Sheet,
    Task,
    checked_cost,
    tasks_of,
)


def task(
    sheets: list[tuple[int, int, int]],
    parts: list[tuple[int, int, int]],
    kerf: int = 0,
    turn: bool = False,
    available: int | None = None,
) -> Task:
    """Sheets of (length, width, price), parts of (length, width, how many), rips first."""
    return Task(
        "OSB",
        tuple(Sheet(a, b, (a, b), Fraction(price), 0, available) for a, b, price in sheets),
        tuple(Rect(a, b, n, turn) for a, b, n in parts),
        (),
        kerf,
        (True,),
        0,
    )


def ceiling(
    boards: list[tuple[int, int, int]], fields: list[tuple[int, int]], lengths: int = 0
) -> Task:
    """Boards of (length, width, price), fields of (span, run)."""
    return replace(task(boards, []), fields=tuple(fields), lengths=lengths)


def test_next_fit_and_first_fit_as_in_the_textbook() -> None:
    given = task([(10, 10, 1)], [(6, 6, 1), (8, 4, 1), (7, 6, 1), (4, 6, 1), (3, 3, 1)])
    costs = {}
    for name, by in PARTS.items():
        plan = by(given)
        assert plan is not None
        costs[name] = checked_cost(given, plan)
    # 6 x 6 under 8 x 4; 7 x 6; the 4 x 6 has no room beside it and goes to a third sheet.
    assert costs["next fit"] == 3
    # The 4 x 6 lies beside the 6 x 6, the 3 x 3 beside the 7 x 6.
    assert costs["first fit"] == 2
    # 7 x 6; 6 x 6 and 4 x 6 under 8 x 4, beside and above which there is no room for a 3 x 3.
    assert costs["next fit, sorted"] == 3
    # The 8 x 4 goes above the 7 x 6.
    assert costs["first fit, sorted"] == 2


def test_shelves_are_feasible_with_limits_turning_kerf_and_many_pieces() -> None:
    for family in FAMILIES:
        (given,) = tasks_of(order(family, "x", family, 30, 400, 5, remnants=20).day)
        for kerf in (0, INCH // 8):
            given = replace(given, kerf=kerf)
            costs = {}
            for name, by in PARTS.items():
                plan = by(given)
                assert plan is not None
                costs[name] = checked_cost(given, plan)
            assert costs["first fit"] <= costs["next fit"]


def test_ten_thousand_pieces_are_laid_piece_by_piece() -> None:
    # Counted in bulk is the same as one by one: rows of one piece each give the same plan.
    (given,) = tasks_of(order("bulk", "x", "sheathing", 12, 150, 8).day)
    single = [replace(p, qty=1) for p in given.parts for _ in range(p.qty)]
    apart = replace(given, parts=tuple(single))
    for first in (False, True):
        for ordered in (False, True):
            together = shelves(given, first, ordered)
            one_by_one = shelves(apart, first, ordered)
            assert together is not None
            assert one_by_one is not None
            assert checked_cost(given, together) == checked_cost(apart, one_by_one)


def test_a_plan_that_cannot_be_cut_is_refused() -> None:
    given = task([(10, 10, 5)], [(5, 4, 4)])
    shelf = (4, ((0, False), (0, False)))
    assert checked_cost(given, [Filled(0, True, (shelf, shelf))]) == 5
    for plan in (
        [Filled(0, True, (shelf,))],  # two are missing
        [Filled(0, True, (shelf, shelf)), Filled(0, True, (shelf,))],  # cut too often
        [Filled(0, True, (shelf, (3, shelf[1])))],  # wider than its shelf
        [Filled(0, True, ((4, ((0, False),) * 4),))],  # longer than its shelf
        [Filled(0, True, ((4, ((0, True), (0, True))), shelf))],  # turned
        [Filled(0, False, (shelf, shelf))],  # crosscuts first
        [Filled(0, True, ((4, ()), shelf, shelf))],  # an empty shelf
    ):
        with pytest.raises(WrongPlanError):
            checked_cost(given, plan)
    tall = Filled(0, True, (shelf, shelf, shelf))  # 4 + 4 + 4 across ten
    scarce = replace(given, sheets=(replace(given.sheets[0], available=1),))
    for other, plan in (
        (replace(given, parts=(Rect(5, 4, 6, False),)), [tall]),
        (replace(given, kerf=1), [Filled(0, True, (shelf, shelf))]),  # 5 + 1 + 5 along ten
        (scarce, [Filled(0, True, (shelf,)), Filled(0, True, (shelf,))]),
    ):
        with pytest.raises(WrongPlanError):
            checked_cost(other, plan)


def test_rows_that_do_not_cover_a_field_are_refused() -> None:
    given = ceiling([(100, 48, 5), (120, 48, 6)], [(90, 100), (110, 48)], lengths=1)
    assert checked_cost(given, [Laid(0, 1, 3), Laid(1, 1, 1)]) == 24
    for plan in (
        [Laid(0, 0, 3), Laid(1, 1, 1)],  # two lengths bought
        [Laid(0, 1, 2), Laid(1, 1, 1)],  # a run of 100 from 96
        [Laid(0, 1, 4), Laid(1, 1, 1)],  # a row too many
        [Laid(0, 1, 3), Laid(1, 0, 1)],  # a board shorter than the span
    ):
        with pytest.raises(WrongPlanError):
            checked_cost(given, plan)


def test_ceilings_without_a_planner() -> None:
    given = ceiling([(100, 48, 5), (120, 48, 6)], [(90, 100), (110, 48)])
    size = one_size(given)
    assert size is not None
    assert checked_cost(given, size) == 24
    mix = mix_first(given)
    assert mix is not None
    assert checked_cost(given, mix) == 3 * 5 + 6
    assert mix_first(ceiling([(80, 48, 5)], [(90, 48)])) is None
    # 100 in of run: three 48s; two 48s and a 54; or two 54s.
    assert mixes(100, (48, 54)) == [{48: 3}, {54: 1, 48: 1}, {54: 2}]
    (made,) = tasks_of(ceilings("c", "x", 40, 9, step=6).day)
    costs = []
    for by in FIELDS.values():
        plan = by(made)
        assert plan is not None
        costs.append(checked_cost(made, plan))
    assert costs[1] < costs[0]


def test_boards_to_spare_are_taken_off() -> None:
    given = ceiling([(100, 48, 5), (100, 54, 6)], [(90, 100)])
    assert laid(given, [[2, 1]]) == [Laid(0, 0, 1), Laid(0, 1, 1)]
    assert laid(given, [[1, 0]]) is None


@pytest.mark.parametrize("solver", sorted(MODELS))
def test_a_general_purpose_model_plans_a_small_task(solver: str) -> None:
    # Two 6 x 4 and two 3 x 4, a kerf of 1: all on one sheet of 10 x 9 (6 + 1 + 3, 4 + 1 + 4) at 5;
    # a sheet of 6 x 9 at 3 holds either pair. One sheet is the least.
    given = task([(10, 9, 5), (6, 9, 3)], [(6, 4, 2), (3, 4, 2)], kerf=1)
    answer = answered(given, solver, 10)
    assert answer.plan is not None, answer.why
    assert checked_cost(given, answer.plan) == 5
    fields = ceiling([(100, 48, 5), (120, 48, 6)], [(90, 100), (110, 48)])
    answer = answered(fields, solver, 10)
    assert answer.plan is not None, answer.why
    assert checked_cost(fields, answer.plan) == 21


def test_a_turned_part_and_a_limit_in_the_level_model() -> None:
    given = task([(10, 4, 5)], [(4, 10, 1)], turn=True)
    plan = plan_with_pulp(given, "highs", 10)
    assert plan is not None
    assert checked_cost(given, plan) == 5
    scarce = task([(10, 4, 5)], [(10, 4, 2)], available=1)
    assert plan_with_pulp(scarce, "highs", 10) is None


def test_a_model_that_is_too_large_is_told_and_not_built() -> None:
    (given,) = tasks_of(order("large", "x", "sheathing", 40, 2000, 12).day)
    answer = answered(given, "cbc", 1)
    assert answer.plan is None
    assert answer.why.startswith("not built")


def test_what_is_made_under_a_seed_is_the_same_and_as_large_as_said() -> None:
    for family in FAMILIES:
        made = order("m", "x", family, 60, 900, 4, remnants=7)
        assert made == order("m", "x", family, 60, 900, 4, remnants=7)
        assert made != order("m", "x", family, 60, 900, 5, remnants=7)
        assert (made.types, made.pieces) == (60, 900)
        assert made.sizes == len(sizes_of(family)) + 7
    coarse = order("m", "x", "siding", 40, 100, 4, grid=1600)
    assert all(p.length % 1600 == 0 for p in coarse.day.parts)
    assert ceilings("c", "x", 30, 2) == ceilings("c", "x", 30, 2)
    assert ceilings("c", "x", 30, 2).pieces == 30

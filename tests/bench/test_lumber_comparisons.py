"""The comparisons of `python -m tests.bench lumber`: textbook plans, checked and costed exactly."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.bench.common.models import MODELS
from tests.bench.common.task import WrongPlanError
from tests.bench.lumber.hard import hard_classes, triplets
from tests.bench.lumber.heuristics import best_fit, first_fit, greedy
from tests.bench.lumber.models import answered
from tests.bench.lumber.plant import day_of_materials, plant, remnants
from tests.bench.lumber.task import Filled, Stick, Task, checked_cost, tasks_of

HEURISTICS = (first_fit, best_fit, greedy)


def task(sizes: list[tuple[int, int]], parts: list[tuple[int, int]], kerf: int = 0) -> Task:
    """Sticks of (length, price), parts of (length, how many), no credit for drops."""
    sticks = tuple(Stick(length, length, Fraction(price), None) for length, price in sizes)
    return Task("2x4", sticks, tuple(parts), kerf, 0, Fraction(0), 0)


def one_by_one(given: Task, fullest: bool) -> int:
    """Sticks of the first size used by the textbook rule, piece by piece."""
    left: list[int] = []
    for length, n in given.parts:
        weight = length + given.kerf
        for _ in range(n):
            fits = [k for k, room in enumerate(left) if room >= weight]
            if not fits:
                left.append(given.sticks[0].usable + given.kerf - weight)
                continue
            k = min(fits, key=lambda k: (left[k], k)) if fullest else fits[0]
            left[k] -= weight
    return len(left)


@pytest.mark.parametrize("instance", hard_classes(quick=True), ids=lambda i: i.name)
def test_counted_in_bulk_is_the_same_as_piece_by_piece(instance) -> None:  # type: ignore[no-untyped-def]
    (given,) = tasks_of(instance.day)
    for kerf in (0, 7):
        with_kerf = replace(given, kerf=kerf)
        for plan_of, fullest in ((first_fit, False), (best_fit, True)):
            plan = plan_of(with_kerf)
            assert plan is not None
            assert checked_cost(with_kerf, plan) == one_by_one(with_kerf, fullest)


def test_the_greedy_takes_the_size_that_costs_least_per_length() -> None:
    # Published stock choice (US Army EN0069A, pp. 95-96): two 4 ft 6 in from one 10-ft board, two
    # 3 ft 0 in from an 8-ft board, here at a price by the foot.
    sizes = [(96, 8), (120, 10)]
    for parts, stick in (([(54, 2)], 1), ([(36, 2)], 0)):
        given = task(sizes, parts)
        plan = greedy(given)
        assert plan == [Filled(stick, ((0, 2),), 1)]


def test_every_comparison_is_feasible_with_limits_credit_and_many_pieces() -> None:
    for instance in (
        plant("a", 40, 100_000, 1, share="0.5"),
        remnants("b", 40, 2, lengths=30, pieces=200, share="0.5"),
        plant("c", 30, 60, 3, few=True),
    ):
        (given,) = tasks_of(instance.day)
        for most in (0, 4):
            given = replace(given, most=most)
            for plan_of in HEURISTICS:
                plan = plan_of(given)
                assert plan is not None
                assert checked_cost(given, plan) > 0


def test_a_plan_that_cannot_be_cut_is_refused() -> None:
    given = replace(task([(96, 8)], [(40, 2)], kerf=2), most=2)
    assert checked_cost(given, [Filled(0, ((0, 2),), 1)]) == 8
    for plan in (
        [Filled(0, ((0, 3),), 1)],  # too many, too long
        [Filled(0, ((0, 1),), 1)],  # one is missing
        [Filled(0, ((0, 2),), 2)],  # cut twice
        [Filled(0, (), 1), Filled(0, ((0, 2),), 1)],  # an empty stick
    ):
        with pytest.raises(WrongPlanError):
            checked_cost(given, plan)
    short = replace(given, sticks=(Stick(96, 80, Fraction(8), None),))
    with pytest.raises(WrongPlanError):
        checked_cost(short, [Filled(0, ((0, 2),), 1)])
    gone = replace(given, sticks=(Stick(96, 96, Fraction(8), 0),))
    with pytest.raises(WrongPlanError):
        checked_cost(gone, [Filled(0, ((0, 2),), 1)])


def test_a_kept_drop_is_credited_by_its_share_of_the_price() -> None:
    given = replace(task([(100, 8)], [(40, 1)], kerf=2), keep=58, share=Fraction(1, 2))
    # 100 - 40 - 2 = 58 is kept: 8 - 8 x 58/100 / 2.
    assert checked_cost(given, [Filled(0, ((0, 1),), 1)]) == 8 - Fraction(232, 100)
    assert checked_cost(replace(given, keep=59), [Filled(0, ((0, 1),), 1)]) == 8


@pytest.mark.parametrize("solver", sorted(MODELS))
def test_a_general_purpose_model_plans_a_small_task(solver: str) -> None:
    # Two 60s and two 30s are cut from two 96s at 5, or from a 192 at 9; a drop of 96 or more would
    # be worth half its price. Kept: 192 - 2 x 60 - 2 x 30 - 4 = 8, which is none.
    given = replace(
        task([(96, 5), (192, 9)], [(60, 2), (30, 2)], kerf=1), keep=96, share=Fraction(1, 2)
    )
    answer = answered(given, solver, 10)
    assert answer.plan is not None, answer.why
    assert checked_cost(given, answer.plan) == 9


def test_a_model_that_is_too_large_is_told_and_not_built() -> None:
    (given,) = tasks_of(plant("large", 120, 100_000, 12).day)
    answer = answered(given, "cbc", 1)
    assert answer.plan is None
    assert answer.why.startswith("not built")


def test_what_is_made_under_a_seed_is_the_same_and_as_large_as_said() -> None:
    assert plant("p", 120, 3000, 5) == plant("p", 120, 3000, 5)
    assert plant("p", 120, 3000, 5) != plant("p", 120, 3000, 6)
    made = plant("p", 120, 3000, 5)
    assert (made.lengths, made.pieces, made.sizes) == (120, 3000, 7)
    day = day_of_materials("d", 1)
    assert day.pieces == 85_000
    assert len({p.material for p in day.day.parts}) == 25
    known = triplets(20, 1)
    assert known.optimum == 20
    assert known.pieces == 60

"""The fewest carts open at once: published optima, other formulations, what always holds."""

from __future__ import annotations

import random

import pytest

from cutopt.saw.stacks import Stacks, fewest_open
from tests.saw.stacks.reference import (
    Published,
    by_all_orders,
    by_pathwidth,
    by_sets_of_products,
    made,
    open_at_most,
    published,
)

Products = tuple[tuple[int, ...], ...]


def honest(needs: Products, found: Stacks) -> None:
    """The order is one of all products, and needs what is said of it."""
    assert sorted(found.products) == list(range(len(needs)))
    assert sorted(found.carts) == sorted({c for own in needs for c in own})
    assert open_at_most(needs, found.products) == found.upper
    assert found.lower <= found.upper


@pytest.mark.parametrize("instance", published(), ids=lambda i: i.name)
def test_published_optima_are_proved(instance: Published) -> None:
    # Constraint Modelling Challenge 2005, see tests/saw/data/README.md.
    found = fewest_open(instance.needs)
    honest(instance.needs, found)
    assert found.proved
    assert found.upper == instance.open_stacks


def test_every_order_of_few_products() -> None:
    for seed in range(120):
        needs = made(seed, 3 + seed % 5, 2 + seed % 5, 4)
        found = fewest_open(needs)
        honest(needs, found)
        assert (found.lower, found.upper) == (by_all_orders(needs),) * 2, needs


def test_dynamic_programming_over_sets_of_products() -> None:
    for seed in range(60):
        needs = made(seed, 5 + seed % 9, 9 + seed % 2, 2 + seed % 3)
        found = fewest_open(needs)
        honest(needs, found)
        assert (found.lower, found.upper) == (by_sets_of_products(needs),) * 2, needs


def test_pathwidth_plus_one() -> None:
    for seed in range(60):
        needs = made(seed, 8 + seed % 3, 6 + seed % 17, 2 + seed % 3)
        found = fewest_open(needs)
        honest(needs, found)
        assert (found.lower, found.upper) == (by_pathwidth(needs),) * 2, needs


@pytest.mark.parametrize(("wide", "long"), [(2, 6), (3, 5), (4, 6), (5, 7), (6, 6)])
def test_grids(wide: int, long: int) -> None:
    # A grid's pathwidth is its shorter side (a well-known result, from memory).
    needs = [(r * long + c, r * long + c + 1) for r in range(wide) for c in range(long - 1)]
    needs += [(r * long + c, (r + 1) * long + c) for r in range(wide - 1) for c in range(long)]
    found = fewest_open(needs)
    assert (found.lower, found.upper) == (wide + 1, wide + 1)


@pytest.mark.parametrize(("height", "expected"), [(1, 2), (2, 2), (3, 3), (4, 3), (5, 4)])
def test_complete_binary_trees(height: int, expected: int) -> None:
    # Pathwidth of the complete binary tree of height h is ceil(h / 2) (Scheffler 1989, from
    # memory); each edge is a product of two carts.
    needs = [(child, (child - 1) // 2) for child in range(1, 2 ** (height + 1) - 1)]
    found = fewest_open(needs)
    assert (found.lower, found.upper) == (expected, expected)


def test_small_and_odd_input() -> None:
    assert fewest_open([]) == Stacks(0, 0, (), (), 0)
    assert fewest_open([(), 0]) == Stacks(0, 0, (), (0, 1), 0)
    assert fewest_open([(7,)]) == Stacks(1, 1, (7,), (0,), 0)
    assert fewest_open([(3, 3, 900), (), (3,)]).upper == 2
    assert fewest_open([0b101, {0, 2}, frozenset({1})]).upper == 2


def test_every_fault_of_the_input_is_told() -> None:
    with pytest.raises(ValueError, match=r"product 1: read -2;.*product 2: read \[0, -1\]"):
        fewest_open([(0, 1), -2, [0, -1]])


def test_leaving_out_never_takes_more() -> None:
    for seed in range(25):
        needs = made(seed, 16, 18, 4)
        r = random.Random(seed)
        whole = fewest_open(needs).upper
        gone = r.randrange(len(needs))
        fewer = [own for p, own in enumerate(needs) if p != gone]
        assert whole - len(needs[gone]) <= fewest_open(fewer).upper <= whole
        cart = r.randrange(16)
        without = [tuple(c for c in own if c != cart) for own in needs]
        assert whole - 1 <= fewest_open(without).upper <= whole


def test_names_and_order_of_the_input_do_not_matter() -> None:
    for seed in range(15):
        needs = made(seed, 18, 22, 3)
        r = random.Random(seed)
        names = r.sample(range(40), 18)
        other = [tuple(names[c] for c in own) for own in needs]
        r.shuffle(other)
        found = fewest_open(other)
        assert found.proved
        assert found.upper == fewest_open(needs).upper


def test_parts_that_share_nothing_are_cut_one_after_another() -> None:
    one, two = made(1, 12, 14, 3), made(2, 14, 16, 4)
    both = [*one, *(tuple(c + 12 for c in own) for own in two)]
    found = fewest_open(both)
    assert found.proved
    assert found.upper == max(fewest_open(one).upper, fewest_open(two).upper)


def test_the_same_twice() -> None:
    for seed in range(5):
        needs = made(seed, 30, 40, 3, 3)
        assert fewest_open(needs, work=2_000) == fewest_open(needs, work=2_000)


def test_bounds_stay_honest_when_work_runs_out() -> None:
    for seed in range(6):
        needs = made(seed, 30, 40, 3, 3)
        whole = fewest_open(needs)
        assert whole.proved
        for work in (0, 1, 10, 100, 300):
            found = fewest_open(needs, work=work)
            honest(needs, found)
            assert found.lower <= whole.upper <= found.upper
            # A state's moves are weighed together, so work ends within one state of its limit.
            assert found.work <= work + 4 * 30
            assert work >= 100 or not found.proved, "ended by work before its proof"


def test_the_lower_bound_is_raised_where_the_proof_is_out_of_reach() -> None:
    raised = 0
    for seed in range(12):
        needs = made(seed, 26, 34, 3, 3)
        whole = fewest_open(needs)
        least = fewest_open(needs, work=0).lower
        for tenths in (3, 6, 9, 12):
            found = fewest_open(needs, work=whole.work * tenths // 10)
            honest(needs, found)
            assert found.lower <= whole.upper <= found.upper
            raised += least < found.lower < whole.upper
    assert raised


def test_the_guard_ends_it() -> None:
    needs = made(1, 40, 80, 3, 3)
    asked = []

    def stopped() -> bool:
        asked.append(True)
        return len(asked) >= 3

    found = fewest_open(needs, stopped=stopped)
    honest(needs, found)
    assert not found.proved
    assert len(asked) == 3
    assert found.work < fewest_open(needs).work

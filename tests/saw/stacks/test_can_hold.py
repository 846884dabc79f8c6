"""Whether a limit can be kept; the carts that make it impossible, proved again by other means."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from cutopt.saw.stacks import Verdict, can_hold, fewest_open
from tests.saw.stacks.reference import (
    Published,
    by_pathwidth,
    made,
    open_at_most,
    published,
)

Products = tuple[tuple[int, ...], ...]


def alone(needs: Products, carts: Iterable[int]) -> Products:
    """What is left of the products where these carts are alone."""
    kept = set(carts)
    return tuple(own for own in (tuple(c for c in p if c in kept) for p in needs) if own)


def test_met_just_where_it_can_be() -> None:
    for seed in range(60):
        needs = made(seed, 8 + seed % 3, 6 + seed % 17, 2 + seed % 3)
        fewest = by_pathwidth(needs)
        for most in range(fewest + 2):
            held = can_hold(needs, most)
            assert sorted(held.products) == list(range(len(needs)))
            assert open_at_most(needs, held.products) == held.peak
            if most < fewest:
                assert held.verdict is Verdict.IMPOSSIBLE
            else:
                assert held.verdict is Verdict.MET
                assert held.peak <= most
                assert held.blocking == ()


def test_the_carts_that_make_it_so_do_and_none_is_idle() -> None:
    for seed in range(60):
        needs = made(seed, 9 + seed % 3, 8 + seed % 15, 2 + seed % 3)
        most = by_pathwidth(needs) - 1
        held = can_hold(needs, most)
        assert held.minimal
        assert by_pathwidth(alone(needs, held.blocking)) > most
        for cart in held.blocking:
            fewer = set(held.blocking) - {cart}
            assert by_pathwidth(alone(needs, fewer)) <= most


def test_none_is_idle_where_leaving_one_out_takes_the_rest_apart() -> None:
    for seed in range(60):
        needs = made(seed, 12, 11 + seed % 4, 2, 2)
        most = by_pathwidth(needs) - 1
        held = can_hold(needs, most)
        assert held.minimal
        assert by_pathwidth(alone(needs, held.blocking)) > most
        for cart in held.blocking:
            fewer = set(held.blocking) - {cart}
            assert by_pathwidth(alone(needs, fewer)) <= most


def test_far_below_a_few_carts_do() -> None:
    needs = made(5, 30, 60, 4)
    held = can_hold(needs, 3)
    assert held.verdict is Verdict.IMPOSSIBLE
    assert len(held.blocking) == 4
    assert by_pathwidth(alone(needs, held.blocking)) == 4


@pytest.mark.parametrize("instance", published(), ids=lambda i: i.name)
def test_published_instances_one_below_their_optimum(instance: Published) -> None:
    # Constraint Modelling Challenge 2005, see tests/saw/data/README.md.
    most = instance.open_stacks - 1
    held = can_hold(instance.needs, most)
    assert held.verdict is Verdict.IMPOSSIBLE
    assert held.minimal
    apart = alone(instance.needs, held.blocking)
    if len(held.blocking) <= 14:
        assert by_pathwidth(apart) == most + 1
    else:
        again = fewest_open(apart)
        assert again.proved
        assert again.upper == most + 1
    assert can_hold(instance.needs, most + 1).verdict is Verdict.MET


def test_undecided_where_work_runs_out() -> None:
    needs = made(2, 30, 40, 3, 3)
    fewest = fewest_open(needs)
    assert fewest.proved
    held = can_hold(needs, fewest.upper - 1, work=50)
    assert held.verdict is Verdict.UNDECIDED
    assert held.blocking == ()
    assert open_at_most(needs, held.products) == held.peak


@pytest.mark.parametrize("needs", [made(2, 30, 40, 3, 3), made(1, 24, 40, 2, 2)])
def test_what_blocks_holds_however_little_was_spent_on_making_it_small(needs: Products) -> None:
    most = fewest_open(needs).upper - 1
    sizes = []
    unproved = 0
    for work in (0, 50, 100, 200, 400, 900, 2_000, 40_000):
        held = can_hold(needs, most, shrink_work=work)
        assert held.verdict is Verdict.IMPOSSIBLE
        again = fewest_open(alone(needs, held.blocking))
        assert again.proved
        assert again.upper == most + 1
        sizes.append(len(held.blocking))
        unproved += not held.minimal
        if held.minimal:
            for cart in held.blocking:
                fewer = alone(needs, set(held.blocking) - {cart})
                assert fewest_open(fewer).upper == most
    assert sizes[-1] < sizes[0]
    assert unproved
    assert held.minimal


def test_the_guard_leaves_it_undecided() -> None:
    needs = made(1, 40, 80, 3, 3)
    held = can_hold(needs, fewest_open(needs, work=0).lower, stopped=lambda: True)
    assert held.verdict is Verdict.UNDECIDED


def test_the_same_twice() -> None:
    needs = made(4, 30, 40, 3, 3)
    most = fewest_open(needs).upper - 1
    assert can_hold(needs, most) == can_hold(needs, most)


def test_limits_that_are_none() -> None:
    assert can_hold([], 0).verdict is Verdict.MET
    held = can_hold([(4,)], 0)
    assert (held.verdict, held.blocking, held.minimal) == (Verdict.IMPOSSIBLE, (4,), True)
    with pytest.raises(ValueError, match="most: read -1"):
        can_hold([(0, 1)], -1)

"""The same again: seeds, orders of rows; and what must follow when the day is changed a little."""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.cutlist import Day
from cutopt.solve.outcome import Outcome
from tests.solve.lumber.making import CELL, Planned, day, offer, part, rules, solved
from tests.solve.lumber.test_sticks_random import random_day
from tests.solve.lumber.test_sticks_runs import random_run_day

FEW = settings(max_examples=20, deadline=None, derandomize=True)


def outcomes(planned: Planned) -> list[Outcome]:
    return [replace(o, seconds=0.0) for o in planned.outcomes]


def larger_day(seed: int = 9) -> Day:
    """A hundred pieces of fourteen lengths, with limits, drops and a mated pair."""
    rng = random.Random(seed)
    offers = (
        offer(2, 96, "4.1", limit=20),
        offer(3, 120, "5.3"),
        offer(4, 144, "6.2"),
        offer(5, 61, "2.5", on_hand=2, limit=0),
    )
    parts = [part(f"P{k}", rng.randint(9, 90), rng.randint(1, 14)) for k in range(14)]
    parts += [
        part("TOP", 300, 2, joints=(16, 16, 24), mate="TIE"),
        part("TIE", 300, 2, joints=(16, 16, 24), mate="TOP"),
    ]
    return day(offers, parts, rules(kerf=1, keep=24, value="0.5", least=32))


@pytest.mark.parametrize("seed", [1, 2, 77])
def test_same_day_and_seed_same_outcome(seed: int) -> None:
    made = larger_day()
    assert outcomes(solved(made, seed)) == outcomes(solved(made, seed))


def test_every_seed_checks_and_its_bound_holds_for_the_others() -> None:
    made = larger_day()
    found = [solved(made, seed) for seed in (1, 2, 3)]
    least = min(p.objective for p in found)
    assert all(p.bound <= least for p in found)


def test_the_order_of_the_cut_lists_rows_is_nothing_to_the_plan() -> None:
    made = larger_day()
    straight = solved(made)
    for seed in (1, 2):
        parts = list(made.parts)
        random.Random(seed).shuffle(parts)
        other = solved(replace(made, parts=tuple(parts)))
        assert (other.objective, other.bound) == (straight.objective, straight.bound)
        assert sorted(map(used, other.outcomes)) == sorted(map(used, straight.outcomes))


def used(outcome: Outcome) -> list[tuple[int, tuple[tuple[int, int], ...], int]]:
    """Uses by row, lengths and places, in order."""
    return sorted(
        (u.offer.row, tuple((outcome.items[s.item].length, s.x) for s in u.spots), u.count)
        for u in outcome.uses
    )


def random_days(draw: Any, runs: bool = True) -> Day:
    rng = random.Random(draw(st.integers(0, 10**6)))
    return random_run_day(rng) if runs and rng.random() < 0.3 else random_day(rng)


DAYS = st.composite(random_days)()
PLAIN_DAYS = st.composite(random_days)(runs=False)


@given(DAYS, st.randoms(use_true_random=False))
@FEW
def test_any_order_of_rows_gives_bounds_that_hold_for_each_other(made: Day, rng: Any) -> None:
    parts, offers = list(made.parts), list(made.offers)
    rng.shuffle(parts)
    rng.shuffle(offers)
    agree(solved(made), solved(replace(made, parts=tuple(parts), offers=tuple(offers))))


def agree(a: Planned, b: Planned, times: Fraction | int = 1) -> None:
    """Two plans of what is the same but for a factor on the money."""
    assert a.left_out == b.left_out
    if a.left_out:
        return
    assert b.bound <= a.objective * times
    assert a.bound * times <= b.objective
    if a.optimal and b.optimal:
        assert a.objective * times == b.objective


@given(DAYS, st.sampled_from((2, 3, 127)))
@FEW
def test_lengths_in_another_measure_cost_the_same(made: Day, times: int) -> None:
    def scaled(shop: Any) -> Any:
        return replace(
            shop,
            kerf=shop.kerf * times,
            head_trim=shop.head_trim * times,
            keep_drop=shop.keep_drop * times,
            joint_min_piece=shop.joint_min_piece * times,
        )

    def longer(p: Any) -> Any:
        joints = p.joints and replace(
            p.joints,
            first=p.joints.first * times,
            step=p.joints.step * times,
            clear=p.joints.clear * times,
        )
        return replace(p, length=p.length * times, joints=joints)

    shop = made.rules
    other = replace(
        made,
        offers=tuple(replace(o, length=o.length * times) for o in made.offers),
        parts=tuple(longer(p) for p in made.parts),
        rules=replace(
            shop,
            lumber=scaled(shop.lumber),
            lumber_of={m: scaled(r) for m, r in shop.lumber_of.items()},
        ),
    )
    a, b = solved(made), solved(other)
    agree(a, b)
    assert a.objective == b.objective


@given(DAYS, st.sampled_from((2, 5, 1000)))
@FEW
def test_money_in_another_coin_costs_as_many_times(made: Day, times: int) -> None:
    def dearer(shop: Any) -> Any:
        return replace(shop, joint_price=shop.joint_price * times)

    shop = made.rules
    other = replace(
        made,
        offers=tuple(replace(o, price=o.price * times) for o in made.offers),
        rules=replace(
            shop,
            lumber=dearer(shop.lumber),
            lumber_of={m: dearer(r) for m, r in shop.lumber_of.items()},
        ),
    )
    agree(solved(made), solved(other), times)


@given(DAYS, st.integers(20, 110), st.decimals(1, 6, places=2))
@FEW
def test_another_length_to_buy_never_makes_it_dearer(
    made: Day, length: int, price: Decimal
) -> None:
    other = replace(made, offers=(*made.offers, offer(99, length, str(price))))
    cheaper(solved(made), solved(other))


def cheaper(a: Planned, b: Planned, times: int = 1) -> None:
    """The second plan's least cost is at most the first's."""
    assert set(b.left_out) <= set(a.left_out)
    if a.left_out:
        return
    assert b.bound <= a.objective * times
    if b.optimal:
        assert b.objective <= a.objective * times


@given(DAYS, st.integers(1, 3))
@FEW
def test_more_on_hand_never_makes_it_dearer(made: Day, more: int) -> None:
    first = replace(made.offers[0], on_hand=made.offers[0].on_hand + more)
    cheaper(solved(made), solved(replace(made, offers=(first, *made.offers[1:]))))


@given(DAYS)
@FEW
def test_twice_as_much_costs_at_most_twice(made: Day) -> None:
    """Where nothing is limited."""
    free = replace(
        made,
        offers=tuple(replace(o, on_hand=0, limit=None) for o in made.offers),
        parts=tuple(p for p in made.parts if p.joints is None or p.joints.mate is None),
    )
    twice = replace(free, parts=tuple(replace(p, qty=2 * p.qty) for p in free.parts))
    cheaper(solved(free), solved(twice), 2)


@given(DAYS)
@FEW
def test_one_part_less_never_makes_it_dearer(made: Day) -> None:
    kept = [p for p in made.parts if p.joints is not None or p is not made.parts[-1]]
    if kept and kept != list(made.parts):
        without_credit = without_drops(made)
        cheaper(solved(without_credit), solved(replace(without_credit, parts=tuple(kept))))


def without_drops(made: Day) -> Day:
    """No drop is worth anything."""
    shop = made.rules

    def none(rule: Any) -> Any:
        return replace(rule, drop_value=Decimal(0))

    return replace(
        made,
        rules=replace(
            shop,
            lumber=none(shop.lumber),
            lumber_of={m: none(r) for m, r in shop.lumber_of.items()},
        ),
    )


@given(DAYS)
@FEW
def test_a_drop_that_earns_nothing_never_makes_it_cheaper(made: Day) -> None:
    cheaper(solved(without_drops(made)), solved(made))


@given(PLAIN_DAYS, st.integers(1, 3))
@FEW
def test_a_wider_kerf_never_makes_it_cheaper(made: Day, more: int) -> None:
    shop = made.rules

    def wider(rule: Any) -> Any:
        return replace(rule, kerf=rule.kerf + more * CELL)

    other = replace(
        made,
        rules=replace(
            shop,
            lumber=wider(shop.lumber),
            lumber_of={m: wider(r) for m, r in shop.lumber_of.items()},
        ),
    )
    cheaper(solved(other), solved(made))


@given(PLAIN_DAYS)
@FEW
def test_a_row_written_in_two_is_the_same_row(made: Day) -> None:
    parts: list[Any] = []
    for p in made.parts:
        if p.qty > 1:
            parts += [replace(p, qty=1), replace(p, qty=p.qty - 1, section=p.section + "'")]
        else:
            parts.append(p)
    a, b = solved(made), solved(replace(made, parts=tuple(parts)))
    assert (a.objective, a.bound) == (b.objective, b.bound)


@given(PLAIN_DAYS)
@FEW
def test_the_bound_is_exact_and_never_below_what_the_wood_costs(made: Day) -> None:
    """Where no drop earns anything: parts x the least price per length of all sticks is a bound."""
    planned = solved(without_drops(made))
    if planned.left_out:
        return
    rate = min(Fraction(o.price) / o.length for o in made.offers)
    wood = sum(p.length * p.qty for p in made.parts) * rate
    assert isinstance(planned.bound, Fraction)
    assert wood <= planned.bound <= planned.objective

"""Over-length stock: parts keep to what it counts as, what is beyond belongs to the drop."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from cutopt.cutlist import Day
from tests.solve.lumber.exact import assigned, enumerated
from tests.solve.lumber.making import CELL, Planned, day, offer, part, rules, solved
from tests.solve.lumber.test_sticks_random import never_wrong, random_day
from tests.solve.lumber.test_sticks_runs import random_run_day


def drops(planned: Planned) -> list[int]:
    return [d.length // CELL for p in planned.plans for lay in p.layouts for d in lay.drops]


def test_a_twelve_footer_with_half_an_inch_more_is_cut_as_one_of_twelve_feet() -> None:
    # 144 1/2 in: four parts of 36 do not go with three kerfs of 1/8, though 144 3/8 would.
    stick = offer(2, 1156, "6", over=4)
    parts = [part("P", 288, 4)]
    assert solved(day([stick], parts, rules(kerf=1))).objective == 12
    all_of_it = solved(day([replace(stick, over=0)], parts, rules(kerf=1)))
    assert all_of_it.objective == 6


def test_what_is_beyond_belongs_to_the_drop_and_its_credit() -> None:
    # One part of 96 in from 144 1/2: 48 3/8 are left behind the kerf, and credited as that.
    stick = offer(2, 1156, "6", over=4)
    planned = solved(day([stick], [part("P", 768, 1)], rules(kerf=1, keep=192, value="0.5")))
    assert drops(planned) == [387]
    assert planned.objective == 6 - Fraction(6, 2) * Fraction(387, 1156)


def test_a_last_part_at_what_it_counts_as_leaves_what_is_beyond_less_a_kerf() -> None:
    planned = solved(day([offer(2, 1156, "6", over=4)], [part("P", 1152, 1)], rules(kerf=1)))
    assert drops(planned) == [3]


def test_a_part_longer_than_what_it_counts_as_is_named_with_both_lengths() -> None:
    planned = solved(day([offer(2, 1156, "6", over=4)], [part("P", 1154, 1)], rules(kerf=1)))
    assert planned.left_out == {("A", "P"): 1}
    (reason,) = planned.reasons
    assert '144-1/2"' in reason
    assert 'which counts as 144"' in reason
    assert 'at least 144-1/4" would do' in reason


def with_over(made: Day, rng: random.Random) -> Day:
    """Some of the sticks count as a little less than they are."""
    offers = (replace(o, over=rng.choice((0, 1, 2, 4)) * CELL) for o in made.offers)
    return replace(made, offers=tuple(offers))


@pytest.mark.parametrize("chunk", range(4))
def test_over_length_against_two_exact_models(chunk: int) -> None:
    rng = random.Random(11_000 + chunk)
    met = 0
    for k in range(20):
        made = with_over(random_day(rng, loose=k % 2 == 0, most=7), rng)
        planned = solved(made)
        least = enumerated(made)
        assert least == assigned(made)
        never_wrong(planned, least)
        met += least is None or planned.objective == least
    assert met >= 19


def test_over_length_with_runs_against_every_way() -> None:
    rng = random.Random(11_900)
    for _ in range(15):
        made = with_over(random_run_day(rng), rng)
        never_wrong(solved(made), enumerated(made))

"""Widths and lengths chosen together: against a general model, and one bound against another."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from cutopt.materials import Offer
from cutopt.plan import Group
from cutopt.solve.ceiling.fields import fields_of
from cutopt.solve.ceiling.listed import Listed
from cutopt.solve.ceiling.model import BoardModel
from cutopt.solve.ceiling.states import Prices, options_of
from cutopt.solve.ceiling.table import Table
from cutopt.solve.outcome import Outcome, material_plans
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from tests.solve.ceiling.general import least_cost
from tests.solve.ceiling.test_ceilings import NAME, _board, _field, _group, _rows_are_whole


def _objective(group: Group, outcome: Outcome) -> Fraction:
    return sum((p.objective for p in material_plans(group, outcome)), Fraction(0))


def _least_order(offer: Offer, pieces: int) -> Offer:
    fields = {n: getattr(offer, n) for n in offer.__dataclass_fields__}
    return Offer(**{**fields, "min_order": pieces})


def _case(seed: int, widths: tuple[int, ...]) -> tuple[Group, int]:
    """Few fields, some with plenty to buy from, some with stock, limits and least orders."""
    rng = random.Random(seed)
    sizes = sorted(rng.sample(range(96, 200, 6), rng.randint(2, 5)))
    offers: list[Offer] = []
    for length in sizes:
        for width in widths:
            if rng.random() < 0.15 and length != sizes[-1]:
                continue
            price = length * width // 40 + rng.randint(0, 25)
            last = length == sizes[-1]
            limit = rng.choice([None, None, None, 12]) if not last else None
            board = _board(len(offers) + 2, length, width, price, rng.choice([0, 0, 3, 10]), limit)
            offers.append(_least_order(board, rng.choice([0, 0, 4, 12])))
    parts = [
        _field(n, rng.randint(70, sizes[-1]), rng.randint(40, 500), rng.choice([1, 1, 2, 3]))
        for n in range(rng.randint(1, 6))
    ]
    lengths = rng.choice([0, 1, 2, 3])
    return _group(parts, offers, lengths), lengths


@pytest.mark.parametrize("seed", range(60))
def test_with_least_orders_the_cost_equals_a_general_model(seed: int) -> None:
    group, lengths = _case(seed, [(48,), (48, 54), (48, 54), (36, 48, 54)][seed % 4])
    outcome = solve_sheets(group, Watch(20), 1)
    _rows_are_whole(group, outcome)
    least = least_cost(group.parts, group.offers, lengths)
    assert least is not None
    assert not outcome.unplanned
    assert float(_objective(group, outcome)) == pytest.approx(least, abs=1e-6)
    assert outcome.bound == _objective(group, outcome)


@pytest.mark.parametrize("seed", range(50))
def test_one_width_is_exact(seed: int) -> None:
    """Any board to be bought, at most so many lengths: the table alone proves the least cost."""
    rng = random.Random(500 + seed)
    sizes = sorted(rng.sample(range(96, 240, 4), rng.randint(3, 12)))
    offers = [_board(n + 2, x, 48, x + rng.randint(0, 9)) for n, x in enumerate(sizes)]
    parts = [
        _field(n, rng.randint(60, sizes[-1]), rng.randint(40, 700), rng.choice([1, 1, 2]))
        for n in range(rng.randint(3, 9))
    ]
    lengths = rng.randint(1, 4)
    group = _group(parts, offers, lengths)
    outcome = solve_sheets(group, Watch(20), 1)
    least = least_cost(parts, offers, lengths)
    assert float(_objective(group, outcome)) == pytest.approx(least, abs=1e-6)
    assert outcome.bound == _objective(group, outcome)


@pytest.mark.parametrize("seed", range(25))
def test_the_table_bounds_every_choice_as_the_list_does(seed: int) -> None:
    """At any prices on the ties both rooms give every choice the same bound."""
    group, lengths = _case(900 + seed, [(48,), (48, 54)][seed % 2])
    fields, _ = fields_of(group, group.parts)
    build = BoardModel(group, fields, {NAME: lengths}, frozenset(), False)
    options = options_of(build, NAME)
    assert options is not None
    rng = random.Random(seed)
    prices = Prices()
    for i, offer in enumerate(group.offers):
        for bought in (False, True):
            if not bought or offer.limit is not None:
                prices.tie[i, bought] = rng.choice([0, 3, 11])
        if i in build.opened:
            prices.share[i] = rng.randint(0, build.costs[i])
    table, listed = (room(build, NAME, options) for room in (Table, Listed))
    table.price(prices)
    listed.price(prices)
    assert table.least() == listed.least()
    ranked = list(table.ranking())
    assert [b for b, _ in ranked] == [b for b, _ in listed.ranking()]
    assert dict(_by_choice(ranked)) == dict(_by_choice(list(listed.ranking())))
    for bound, choice in ranked[:20]:
        assert table.relaxed(choice).bound == listed.relaxed(choice).bound == bound


def _by_choice(ranked):  # type: ignore[no-untyped-def]
    return [(tuple(o.states for o in choice), bound) for bound, choice in ranked]


def test_the_least_order_of_a_length_is_bought_up_and_stays_whole() -> None:
    # By hand: 4 rows of 100 from 104 at $10 with at least 9 sold cost $90, from 120 at $13 $52.
    short = _least_order(_board(2, 104, 48, 10), 9)
    long = _board(3, 120, 48, 13)
    group = _group([_field(0, 100, 192, 1)], [short, long], 0)
    (plan,) = material_plans(group, solve_sheets(group, Watch(9), 1))
    assert (plan.objective, plan.bound, plan.surplus) == (52, 52, ())
    # Without the longer board nine are paid for, four are cut, none from the yard.
    group = _group([_field(0, 100, 192, 1)], [_least_order(_board(2, 104, 48, 10, 2), 9)], 0)
    (plan,) = material_plans(group, solve_sheets(group, Watch(9), 1))
    assert plan.objective == plan.bound == 90
    assert [(o.row, n) for o, n in plan.surplus] == [(2, 5)]
    assert {(lay.source.value, lay.count) for lay in plan.layouts} == {("buy", 4)}


def test_boards_that_are_paid_for_anyway_take_the_place_of_others() -> None:
    # By hand: 10 rows of 100 need ten boards of 104, twelve are sold at least: the two beyond lay
    # the field of span 80, which alone would take two of 84 at $8.
    parts = [_field(0, 100, 480, 1), _field(1, 80, 96, 1)]
    offers = [_least_order(_board(2, 104, 48, 10), 12), _board(3, 84, 48, 8)]
    (plan,) = material_plans(
        _group(parts, offers, 0), solve_sheets(_group(parts, offers, 0), Watch(9), 1)
    )
    assert (plan.objective, plan.bound, plan.surplus) == (120, 120, ())


@pytest.mark.parametrize("lengths", [2, 4])
def test_a_line_of_sections_with_stock_limits_and_least_orders(lengths: int) -> None:
    """300 sections, both widths: the gap that is promised, by work alone."""
    rng = random.Random(7)
    parts = [
        _field(n, rng.choice([568, 594, 632, 656, 688, 714, 736, 752]) + rng.randint(-9, 5), run, 1)
        for n, run in enumerate(rng.randint(12, 60) * 48 for _ in range(300))
    ]
    offers = []
    for feet in range(132, 228, 12):
        for width in (48, 54):
            board = _board(
                len(offers) + 2,
                4 * feet,
                4 * width,
                feet * width // 8 + width,
                rng.choice([0, 0, 40]),
                None if feet > 200 and width == 48 else rng.choice([None, 600]),
            )
            offers.append(_least_order(board, rng.choice([0, 60, 120])))
    group = _group(parts, offers, lengths)
    outcome = solve_sheets(group, Watch(120), 1)
    objective = _objective(group, outcome)
    assert not outcome.unplanned
    assert outcome.bound >= objective * Fraction(995, 1000)

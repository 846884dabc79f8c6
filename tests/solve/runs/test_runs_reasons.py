"""Why runs can't be made, and what would make them possible."""

from __future__ import annotations

import numpy as np
import pytest

from cutopt.measure import INCH, MM
from cutopt.solve.runs import Pricer, Run, Unit, largest_clearance, reason
from cutopt.solve.runs.component import best_together


def run(length: int, first: int = 16, step: int = 16, least: int = 0, longest: int = 240) -> Run:
    return Run(length * INCH, first * INCH, step * INCH, least * INCH, longest * INCH)


def test_the_interval_that_no_stick_bridges_is_named() -> None:
    words = reason(Unit((run(500, first=300),)))
    assert words is not None
    assert 'between 0" and 300" from its start' in words
    assert 'the longest piece that the stock gives is 240"' in words
    words = reason(Unit((run(900, step=250),)))
    assert words is not None
    assert 'between 16" and 266" from its start, 250" apart' in words


def test_a_last_interval_too_long_is_found_too() -> None:
    words = reason(Unit((run(480, first=200, step=500),)))
    assert words is not None
    assert 'between 200" and 480" from its start, 280" apart' in words
    assert reason(Unit((run(440, first=200, step=500),))) is None


def test_the_shortest_piece_that_would_do_is_named() -> None:
    words = reason(Unit((run(250, first=230, least=32),)))
    assert words is not None
    assert 'pieces from 32" to 240"; they could if pieces of 20" were allowed' in words
    assert reason(Unit((run(250, first=230, least=20),))) is None


def test_no_stock_at_all_is_said() -> None:
    assert reason(Unit((run(250, longest=0),))) == "no stock offered gives a piece for it"


@pytest.mark.parametrize(("longest", "works"), [(240, 112), (192, 96), (96, 48)])
@pytest.mark.parametrize("least", [0, 32])
def test_the_largest_clearance_that_works_is_named(longest: int, works: int, least: int) -> None:
    """Two runs of 672 in with joints every 16 in: figures found by an earlier search of our own."""
    both = run(672, longest=longest, least=least)
    asked = Unit((both, both), ((0, 1, 120 * INCH),))
    assert largest_clearance(asked) == works * INCH
    words = reason(asked)
    assert words is not None
    assert words.endswith(f'keep 120" apart; the largest clearance that works is {works}"')
    assert reason(Unit((both, both), ((0, 1, works * INCH),))) is None


def test_lengths_are_said_in_the_plant_s_unit() -> None:
    words = reason(Unit((Run(9000 * MM, 7000 * MM, 400 * MM, 0, 4800 * MM),)), "mm")
    assert words is not None
    assert "between 0 mm and 7000 mm" in words


def test_three_runs_over_each_other_get_the_clearance_that_all_can_keep() -> None:
    one = run(480, longest=192, least=32)
    every = ((0, 1), (0, 2), (1, 2))
    asked = Unit((one,) * 3, tuple((i, j, 200 * INCH) for i, j in every))
    works = largest_clearance(asked)
    words = reason(asked)
    assert words is not None
    assert words.startswith("no joints of run 1, run 2 and run 3 keep")
    kept = Unit((one,) * 3, tuple((i, j, works) for i, j in every))
    pricer = Pricer([kept])
    column = pricer.price(np.zeros(len(pricer.cuts), np.int64)).column(0)
    assert column is not None
    assert kept.allows(column.joints)
    more = Unit((one,) * 3, tuple((i, j, works + 1) for i, j in every))
    assert reason(more) is not None


def test_a_search_cut_short_keeps_a_bound_below_and_the_clearances() -> None:
    one = run(800, longest=192, least=32)
    unit = Unit((one,) * 4, ((0, 1, 48 * INCH), (1, 2, 48 * INCH), (2, 3, 48 * INCH)))
    full = Pricer([unit], work=200_000)
    rng = np.random.default_rng(2)
    values = rng.integers(1_000, 2_000, len(full.cuts))
    best = full.price(values, 50).bound[0]
    for work in (1, 10, 100, 400):
        cut = Pricer([unit], work).price(values, 50)
        assert cut.bound[0] <= best
        column = cut.column(0)
        if column is not None:
            assert unit.allows(column.joints)
            assert column.value(values, 50) >= best
    assert column is not None


def test_a_pair_gives_the_same_by_table_and_by_search() -> None:
    a, b = run(704, first=8, longest=192, least=32), run(640, longest=192, least=32)
    pair = Unit((a, b), ((0, 1, 40 * INCH),))
    pricer = Pricer([pair])
    rng = np.random.default_rng(3)
    for _ in range(20):
        values = rng.integers(1_000, 3_000, len(pricer.cuts))
        priced = pricer.price(values, 70)
        singles = [(priced._singles[t], c) for t, c in pricer.spots[0]]
        bound, joints, complete = best_together(pair, singles, 1 << 59, 100_000)
        assert complete
        assert joints is not None
        assert bound == priced.bound[0]
        assert pricer.column(0, joints).value(values, 70) == priced.bound[0]

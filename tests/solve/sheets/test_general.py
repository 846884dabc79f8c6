"""The enumeration of all patterns of `general.py`, and small days held against it."""

from __future__ import annotations

import random

import pytest

from tests.solve.sheets.general import compare, patterns, random_day


def test_patterns_by_hand() -> None:
    # 96 x 48 with a kerf of 1: of 48 x 24 two lie along (no kerf is left for a second 48) only in
    # a sheet of 97; across, two 24s want 49.
    one = ((48, 24),)
    assert patterns((one,), (9,), (96, 48), 1, 2, True) == {(1,)}
    assert patterns((one,), (9,), (97, 48), 1, 2, True) == {(2,)}
    assert patterns((one,), (9,), (97, 49), 1, 2, True) == {(4,)}
    assert patterns((one,), (3,), (97, 49), 1, 2, True) == {(3,)}
    assert patterns((one,), (9,), (97, 49), 1, 2, True, parts=3) == {(3,)}
    turned = ((48, 24), (24, 48))
    assert patterns((turned,), (9,), (96, 48), 1, 2, True) == {(3,)}


def test_two_stages_three_and_the_first_cut_differ() -> None:
    # A part 6 x 10 beside a stack of two 4 x 5: one strip and crosscuts, then rips.
    ways = (((6, 10),), ((4, 5),))
    assert (1, 2) in patterns(ways, (1, 2), (10, 10), 0, 3, True)
    assert (1, 2) not in patterns(ways, (1, 2), (10, 10), 0, 2, True)
    assert (1, 2) in patterns(ways, (1, 2), (10, 10), 0, 2, False)


@pytest.mark.parametrize("seed", range(2))
def test_small_days_against_every_pattern(seed: int) -> None:
    for k in range(8):
        day = random_day(random.Random(5_000_003 * (seed + 1) + k))
        _, words = compare(day, twice=k % 4 == 0)
        assert not words, (seed, k, words)

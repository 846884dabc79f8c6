"""Ceilings of one board width are exact: a dozen against the integer model of `single.py`."""

from __future__ import annotations

import random

from tests.solve.ceiling.single import compare, random_ceiling


def test_ceilings_of_one_width_cost_what_the_model_says() -> None:
    for k in range(12):
        assert not compare(random_ceiling(random.Random(7_000_003 + k))), k

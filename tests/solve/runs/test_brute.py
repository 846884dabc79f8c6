"""A sample of the command that tries whole days with jointed runs in every way."""

from __future__ import annotations

import random
from collections import Counter

from tests.solve.runs.brute import compared, random_day


def test_days_with_runs_are_planned_as_well_as_can_be() -> None:
    ends: Counter[str] = Counter()
    for k in range(50):
        end, fault = compared(random_day(random.Random(5_000 + k)))
        assert fault is None
        ends[end] += 1
    assert ends["proved"] >= 35
    assert ends["impossible joints"] >= 2

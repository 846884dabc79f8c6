"""Measurements that are no table of plans: the clock, ceilings of one width, small days exactly."""

from __future__ import annotations

import random

from tests.bench.common.measure import planned
from tests.bench.common.promises import Clocked
from tests.bench.sheets.plant import ceilings, order

__all__ = ["clocked", "single_widths", "small_bounds"]


def clocked(quick: bool, shift: int = 0) -> list[Clocked]:
    """Plans under limits of 1, 2 and 5 seconds (1 and 2 in a sample), of what takes longer."""
    asked = [
        order("gypsum-200x10000", "clock", "gypsum", 200, 10_000, 91_001 + shift, remnants=60),
        ceilings("ceilings-1000-both", "clock", 1000, 91_002 + shift),
    ]
    if not quick:
        asked += [
            order("siding-60-3st", "clock", "siding", 25, 60, 91_003 + shift, remnants=40),
            order("floor-200x10000", "clock", "floor", 200, 10_000, 91_004 + shift),
            order("gypsum-400x10000", "clock", "gypsum", 400, 10_000, 91_005 + shift),
        ]
    return [
        Clocked(instance.name, seconds, planned(instance.day, seconds)[2], 1)
        for instance in asked
        for seconds in ((1.0, 2.0) if quick else (1.0, 2.0, 5.0))
    ]


def single_widths(count: int, seed: int = 81) -> list[str]:
    """Random ceilings of one width against an integer model: what is wrong, of `count`."""
    from tests.solve.ceiling.single import compare, random_ceiling

    wrong = []
    for k in range(count):
        words = compare(random_ceiling(random.Random(seed * 1_000_003 + k)))
        wrong += [f"{k}: {'; '.join(words)}"] if words else []
    return wrong


def small_bounds(count: int, seed: int = 7) -> list[str]:
    """Small random days against every pattern that can be cut: what is wrong, of `count`."""
    from tests.solve.sheets.general import compare, random_day

    wrong = []
    for k in range(count):
        _, words = compare(random_day(random.Random(seed * 1_000_003 + k)))
        wrong += [f"{k}: {'; '.join(words)}"] if words else []
    return wrong

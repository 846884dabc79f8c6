"""Measurements that are no table of plans: the clock, equal plans, bounds on small instances."""

from __future__ import annotations

import random
import re

from cutopt.files import outputs, read_days
from cutopt.plan import Problem
from cutopt.solve import Settings, solve
from tests.bench.common.days import ROOT
from tests.bench.common.measure import planned
from tests.bench.common.promises import Clocked
from tests.bench.lumber.hard import augmented, fine, near_thirds, one_length
from tests.bench.lumber.instance import Instance
from tests.bench.lumber.plant import day_of_materials, plant, remnants

__all__ = ["clocked", "same_plans", "small_bounds"]


def _hard(quick: bool) -> list[tuple[Instance, int]]:
    """Instances that take longer than the limits, each with the processes that plan it."""
    found = [(fine(200, 9001), 1), (augmented(130, 10_000, 9002), 1)]
    if quick:
        return found
    return [
        *found,
        (near_thirds(200, 9003), 1),
        (one_length(9004, 400, 10_000), 1),
        (plant("plant-400", 400, 10_000, 9005, share="0.5"), 1),
        (remnants("remnants-500", 500, 9006), 1),
        (day_of_materials("day-25", 9007), 2),
    ]


def clocked(quick: bool) -> list[Clocked]:
    """Plans under limits of 1, 2 and 5 seconds (1 and 2 in a sample)."""
    return [
        Clocked(instance.name, seconds, planned(instance.day, seconds, workers)[2], workers)
        for instance, workers in _hard(quick)
        for seconds in ((1.0, 2.0) if quick else (1.0, 2.0, 5.0))
    ]


def same_plans(quick: bool) -> tuple[int, int]:
    """How many plan.json of a seed are the same, byte for byte, on one and two workers; of all."""
    folders = sorted((ROOT / "demo_orders").glob("20*"))
    same = 0
    folders = folders[:1] if quick else folders
    for folder in folders:
        problem = Problem(read_days([folder]).days)
        texts = set()
        for workers in (1, 2):
            plan = solve(problem, Settings(seed=5, workers=workers))
            text = outputs(problem, plan)["plan.json"]
            texts.add(re.sub(rb'("seconds": )[0-9.eE+-]+', rb"\1 0", text))
        same += len(texts) == 1
    return same, len(folders)


def small_bounds(count: int, seed: int = 7) -> list[str]:
    """Small random instances against an exact outside model: what is wrong, of `count`."""
    from tests.solve.lumber.general import compare, random_day

    wrong = []
    for k in range(count):
        _, words = compare(random_day(random.Random(seed * 1_000_003 + k)))
        wrong += [f"{k}: {word}" for word in words]
    return wrong

"""The curve of cost against board lengths."""

from __future__ import annotations

import random
from datetime import date
from fractions import Fraction

import pytest

from cutopt.cutlist import Day
from cutopt.draw import curves_drawing
from cutopt.files import curves_csv
from cutopt.plan import Group, Problem
from cutopt.solve.ceiling.curves import lengths_points
from cutopt.solve.curves import Against, curves
from cutopt.solve.search import Watch
from tests.solve.ceiling.general import least_cost
from tests.solve.ceiling.test_ceilings import _board, _field, _group


def _made(seed: int) -> Group:
    rng = random.Random(seed)
    sizes = sorted(rng.sample(range(96, 220, 4), 6))
    offers = [
        _board(n + 2, x, w, x * w // 40 + rng.randint(0, 9))
        for n, (x, w) in enumerate((x, w) for x in sizes for w in (48, 54))
    ]
    fields = [_field(n, rng.randint(70, sizes[-1]), rng.randint(40, 500), 1) for n in range(8)]
    return _group(fields, offers, 3)


@pytest.mark.parametrize("seed", range(6))
def test_every_point_costs_what_a_general_model_says(seed: int) -> None:
    group = _made(seed)
    points = lengths_points(group, Watch(60), 1)
    for lengths, point in [*enumerate(points[:-1], 1), (0, points[-1])]:
        least = least_cost(group.parts, group.offers, lengths)
        assert float(point.objective) == pytest.approx(least, abs=1e-6)
        assert point.bound == point.objective
        assert not lengths or point.lengths <= lengths
    costs = [p.objective for p in points]
    assert costs == sorted(costs, reverse=True)
    assert points[-2].objective == points[-1].objective


def test_more_lengths_than_any_one_board_covers_are_passed_over() -> None:
    # 120 is limited to two boards: one length alone must be 96, which covers one field only.
    offers = [_board(2, 96, 48, 10), _board(3, 120, 48, 13, 0, 2)]
    group = _group([_field(0, 90, 480, 1), _field(1, 110, 96, 1)], offers, 1)
    points = lengths_points(group, Watch(60), 1)
    assert [(p.setting, p.lengths, p.objective) for p in points] == [
        ("at most 2 lengths", 2, Fraction(126)),
        ("any number of lengths", 2, Fraction(126)),
    ]


def test_the_curve_of_a_day_as_a_table_and_a_drawing() -> None:
    group = _made(3)
    day = Day("d", "P", date(2026, 3, 2), "in", group.rules, group.offers, group.parts)
    (curve,) = curves(Problem((day,)), Against.LENGTHS, workers=1)
    assert not curve.note
    assert curve.choices == tuple(sorted(curve.points[:-1], key=lambda p: p.lengths))
    rows = curves_csv([curve]).decode().splitlines()
    assert rows[0].endswith(",choice,lengths")
    assert rows[1].split(",")[1:3] == ["lengths", "1 length"]
    assert rows[1].endswith("yes,1")
    drawing = curves_drawing([curve])
    for word in (">Board lengths<", ">Objective<", ">Bound<", ">Boards<", ">1 length<"):
        assert word in drawing
    # Without ceilings there is no such curve; they are no lumber either.
    assert curves(Problem((day,)), Against.SETUPS, workers=1) == ()
    empty = Day("d", "P", date(2026, 3, 2), "in", group.rules, group.offers, ())
    assert curves(Problem((empty,)), Against.LENGTHS, workers=1) == ()

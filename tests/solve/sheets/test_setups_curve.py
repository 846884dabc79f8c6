"""Cost against set-ups of sheets: each point dearer and with fewer of them than the one before."""

from __future__ import annotations

from itertools import pairwise

from cutopt.materials import SheetRules
from cutopt.solve.search import Watch
from cutopt.solve.sheets.books.curve import setups_points
from tests.solve.sheets.shop import make


def test_set_ups_fall_as_the_tolerance_rises_and_the_bound_stays() -> None:
    parts = [(50 - n, 48, 1 + n % 3, False) for n in range(8)] + [
        (20 + n, 48, 2, False) for n in (1, 3)
    ]
    group = make(parts, [(96, 48, 20, None), (120, 48, 27, None)], SheetRules(kerf=0))
    points = setups_points(group, Watch(30), 1)
    assert points[0].setting == "no dearer"
    assert len({p.bound for p in points}) == 1
    assert points[0].bound is not None
    for p, q in pairwise(points):
        assert p.setups > q.setups
        assert q.setting.endswith(" % dearer allowed")
    for p in points:
        assert points[0].bound <= p.objective <= points[0].objective * 102 / 100


def test_a_day_of_which_nothing_fits_has_no_points() -> None:
    group = make([(200, 48, 1, False)], [(96, 48, 20, None)], SheetRules(kerf=0))
    assert setups_points(group, Watch(30), 1) == ()

"""The curve of cost against joints."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from cutopt.measure import INCH, MM
from cutopt.plan import Problem
from cutopt.solve.lumber.curves import joints_points
from cutopt.solve.search import Watch
from tests.bench.runs_days import Scenario, made_day
from tests.solve.lumber.exact import enumerated
from tests.solve.lumber.groups import day_of, group_of, offer, part, rules, run
from tests.solve.lumber.making import solved


def test_dearer_joints_are_fewer_down_to_the_fewest() -> None:
    (group,) = Problem((made_day(Scenario(2, "level")),)).groups
    points = joints_points(group, Watch(60), 1)
    prices = [p for p in points if p.setting.endswith('no piece under 32"')]
    assert [p.setting.split(",")[0] for p in prices][:5] == [
        "joint price $0.01",
        "joint price $0.25",
        "joint price $0.50",
        "joint price $1.00",
        "joint price $2.00",
    ]
    joints = [p.joints for p in prices]
    assert joints == sorted(joints, reverse=True)
    assert joints[0] > joints[-1]
    assert np.all(np.diff([float(p.objective) for p in prices]) >= 0)
    leasts = [p.setting.split(", ")[1] for p in points[len(prices) :]]
    assert leasts == ["pieces of any length", 'no piece under 48"', 'no piece under 64"']
    assert all(p.bound is not None and p.bound <= p.objective for p in points)
    assert points == joints_points(group, Watch(60), 1)


def test_a_metric_plant_has_round_shortest_pieces() -> None:
    made = day_of(
        [run(9000 * MM, 400 * MM, 400 * MM), part(2300 * MM, 3)],
        [offer(4800 * MM, "20"), offer(3600 * MM, "14")],
        rules(joint_min_piece=600 * MM),
    )
    points = joints_points(group_of(made), Watch(60), 1)
    words = {p.setting.split(", ")[1] for p in points}
    assert words == {
        "no piece under 600 mm",
        "pieces of any length",
        "no piece under 800 mm",
        "no piece under 1200 mm",
        "no piece under 1600 mm",
    }


def test_what_a_setting_makes_impossible_is_passed_over() -> None:
    # 2 x 40 in is all that an 80 in run can be cut into from sticks of 48 in.
    made = day_of(
        [run(80 * INCH, 40 * INCH, 16 * INCH)],
        [offer(48 * INCH, "5")],
        rules(joint_min_piece=32 * INCH),
    )
    points = joints_points(group_of(made), Watch(60), 1)
    assert {p.joints for p in points} == {1}
    assert not any("48" in p.setting or "64" in p.setting for p in points)


def test_nothing_to_joint_gives_no_points() -> None:
    made = day_of([part(40 * INCH, 3)], [offer(96 * INCH, "5")], rules())
    assert joints_points(group_of(made), Watch(60), 1) == ()


def test_points_of_a_small_day_are_the_least_at_their_setting() -> None:
    made = day_of(
        [run(150 * INCH, 16 * INCH, 24 * INCH), part(50 * INCH, 2)],
        [offer(96 * INCH, "6"), offer(120 * INCH, "9")],
        rules(joint_min_piece=0, joint_price="0.5"),
    )
    for point in joints_points(group_of(made), Watch(60), 1):
        price = point.setting.split("$")[1].split(",")[0]
        least = 0 if "any" in point.setting else int(point.setting.split("under ")[1][:2])
        shop = rules(joint_price=price, joint_min_piece=least * INCH)
        now = replace(made, rules=replace(made.rules, lumber=shop))
        assert point.objective == enumerated(now) == solved(now).objective

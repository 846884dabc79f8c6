"""What the outside models say of cases done by hand, and that a wrong plan does not pass."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest

from cutopt.cutlist import Day
from tests.solve.lumber.groups import day_of, offer, part, rules
from tests.solve.outside import compare_many, covered, settled, verdict


def test_the_least_is_found_in_whole_numbers() -> None:
    # 2x + 3y >= 7 at 2 and 3.50: x = 3.5 would cost 7; of whole numbers two and one cost least.
    answer = settled([2, 3.5], [[2.0, 3.0]], [7], [float("inf")])
    assert answer == (pytest.approx(7.5), [2, 1])
    assert settled([1], [[1.0]], [2], [3], upper=1) is None


def test_what_is_limited_is_not_used_more_often_and_nothing_is_cut_twice() -> None:
    offers = [offer(100, "3", 0, None), offer(60, "1", 2, 0)]
    ways = [(0, (2,), Fraction(3)), (0, (1,), Fraction(3)), (1, (1,), Fraction(1))]
    assert covered(offers, [2], ways) == 2
    assert covered(offers, [3], ways) == 4
    assert covered(offers, [5], ways) == 3 + 3 + 1
    assert covered(offers, [3], ways[:1]) is None
    assert covered(offers, [3], ways[:1], over=True) == 6
    assert covered(offers, [1], []) is None


@pytest.mark.parametrize(
    ("best", "left", "objective", "bound", "end", "wrong"),
    [
        (10, [], 10, 10, "proved", ""),
        (10, [], 10, 9, "closed", ""),
        (10, [], 11, 9, "open", ""),
        (10, [], 11, 11, "proved", "bound 11.0 above the optimum 10.0"),
        (10, [], 9, 9, "proved", "objective 9.0 below the optimum 10.0"),
        (10, ["P1"], 9, 9, "open", "left out what can be cut: P1"),
        (None, ["P1"], 9, 9, "impossible", ""),
        (None, [], 9, 9, "impossible", "planned the impossible"),
    ],
)
def test_a_plan_is_held_against_what_can_be(
    best: int | None, left: list[object], objective: int, bound: int, end: str, wrong: str
) -> None:
    least = None if best is None else Fraction(best)
    found = verdict(least, left, Fraction(objective), Fraction(bound))
    assert found == (end, [wrong] if wrong else [])


def test_the_command_counts_what_is_wrong_or_breaks(capsys: pytest.CaptureFixture[str]) -> None:
    seen: list[float] = []

    def random_day(rng: random.Random) -> Day:
        seen.append(rng.random())
        return day_of([part(10, 1)], [offer(100, "3")], rules())

    def compare(day: Day, twice: bool) -> tuple[str, list[str]]:
        if len(seen) == 2:
            raise ValueError("no plan")
        return ("open", ["wrong"]) if twice else ("proved", [])

    assert compare_many(11, 4, random_day, compare, lambda day: ["kerf"]) == 3
    said = capsys.readouterr().out
    assert "day 0: wrong\nday 1: ValueError: no plan\nday 10: wrong\nwith kerf 11\n" in said
    assert "11 days: 8 proved optimal" in said
    assert "3 faulty" in said
    assert len(set(seen)) == 11

"""Why it can't be done: the least number of further sticks that would do, and that it does."""

from __future__ import annotations

import random
import re
from dataclasses import replace

import pytest

from cutopt.cutlist import Day
from cutopt.plan import Problem
from cutopt.solve.lumber.change import Change, change_words, smallest_changes
from cutopt.solve.search import Watch
from tests.solve.lumber.exact import enumerated
from tests.solve.lumber.making import day, offer, part, rules, solved
from tests.solve.lumber.test_sticks_random import random_day

IN = 8


def changes(made: Day) -> list[Change]:
    """Of the day's one group."""
    (group,) = Problem((made,)).groups
    return smallest_changes(group, Watch(60), 1)


def with_more(made: Day, sticks: dict[int, int]) -> Day:
    """The day with so many more that can be bought, by row."""
    offers = (
        replace(o, limit=(o.limit or 0) + sticks[o.row]) if o.row in sticks else o
        for o in made.offers
    )
    return replace(made, offers=tuple(offers))


def test_the_cheapest_change_is_named_first() -> None:
    offers = (
        offer(2, 96 * IN, "4", limit=2),
        offer(3, 120 * IN, "9.48", limit=1),
        offer(4, 60 * IN, "2", limit=5),
    )
    planned = solved(day(offers, [part("P", 90 * IN, 6)], rules()))
    assert planned.left_out == {("A", "P"): 3}
    (reason,) = planned.reasons
    assert reason.endswith(
        '; 3 more of 96" (2x4, row 2), $12.00, would do; or 3 more of 120" (2x4, row 3), $28.44'
    )


def test_longer_sticks_may_need_fewer() -> None:
    offers = (offer(2, 50, "2", limit=1), offer(3, 100, "9", limit=0))
    made = day(offers, [part("P", 50, 5)], rules())
    told = [([(o.row, n) for o, n in c.sticks], c.proved) for c in changes(made)]
    assert told == [([(2, 4)], True), ([(3, 2)], True)]


def test_where_no_row_would_do_alone_several_are_named_together() -> None:
    offers = (
        offer(2, 50, "2", limit=1),
        offer(3, 50, "3", limit=1, material="2x4-1"),
    )
    parts = [
        part("A", 50, 3),
        part("B", 50, 2, material="2x4-1"),
        part("C", 40, 1, alt=("2x4-1",)),
    ]
    (only,) = changes(day(offers, parts, rules()))
    assert sum(n for _, n in only.sticks) == 4
    assert {o.row for o, _ in only.sticks} == {2, 3}
    assert " and " in str(only)


def test_nothing_to_be_had_names_how_many_would_do() -> None:
    offers = (offer(2, 96, "4", limit=0), offer(3, 200, "9", limit=0))
    planned = solved(day(offers, [part("P", 90, 4)], rules()))
    (reason,) = planned.reasons
    assert '4 more of 12" (2x4, row 2), $16.00, would do; or 2 more of 25"' in reason


def test_drops_on_the_rack_are_not_asked_for_again() -> None:
    offers = (offer(2, 96, "4", limit=1), offer(3, 95, "0.5", on_hand=1, limit=0))
    (only,) = changes(day(offers, [part("P", 90, 4)], rules()))
    assert [(o.row, n) for o, n in only.sticks] == [(2, 2)]


def test_runs_count_their_sticks() -> None:
    offers = (offer(2, 96, "4", limit=5),)
    run = part("PLATE", 180, 3, joints=(90, 30))
    planned = solved(day(offers, (run, part("STUD", 90, 1)), rules()))
    assert planned.left_out == {("A", "PLATE"): 1}
    assert '2 more of 12" (2x4, row 2), $8.00, would do' in planned.reasons[0]


def test_what_is_not_proved_says_so() -> None:
    o = offer(2, 96, "4", limit=1)
    assert str(Change(((o, 3),), False)).startswith("at most 3 more of")
    assert change_words([]) == ""


@pytest.mark.parametrize("chunk", range(4))
def test_the_change_makes_it_cuttable_and_one_stick_fewer_does_not(chunk: int) -> None:
    """Against enumeration, on days of one material with tight limits."""
    rng = random.Random(50_000 + chunk)
    named = 0
    for _ in range(120):
        made = random_day(rng, loose=False, most=7)
        if enumerated(made) is not None or len({o.material for o in made.offers}) > 1:
            continue
        for change in changes(made):
            sticks = {o.row: n for o, n in change.sticks}
            assert enumerated(with_more(made, sticks)) is not None
            assert not solved(with_more(made, sticks)).left_out
            if change.proved:
                for row in sticks:
                    fewer = {**sticks, row: sticks[row] - 1}
                    assert enumerated(with_more(made, fewer)) is None
            named += 1
        planned = solved(made)
        if any("would do" in r for r in planned.reasons):
            assert re.search(
                r"more of .* \(2x4, row \d+\), \$\d+\.\d\d, would do", planned.reasons[0]
            )
    assert named >= 3

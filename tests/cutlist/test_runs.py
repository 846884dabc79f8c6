"""Whether a run's joints can make it, against trying every set of joints."""

from __future__ import annotations

from itertools import combinations, pairwise

from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.cutlist.reading.runs import no_way


def can(length: int, first: int, step: int, shortest: int, longest: int) -> bool:
    places = [p for p in range(first, length, step) if p > 0]
    shortest = min(shortest, length)
    for n in range(len(places) + 1):
        for joints in combinations(places, n):
            pieces = [b - a for a, b in pairwise((0, *joints, length))]
            if all(shortest <= p <= longest for p in pieces):
                return True
    return False


@settings(max_examples=300, deadline=None)
@given(
    st.integers(1, 60),
    st.integers(0, 20),
    st.integers(4, 20),
    st.integers(0, 20),
    st.integers(1, 40),
)
def test_against_every_set_of_joints(
    length: int, first: int, step: int, shortest: int, longest: int
) -> None:
    told = no_way(length, first, step, shortest, longest, "mm")
    assert (told == "") == can(length, first, step, shortest, longest)


def test_a_very_fine_grid_is_left_to_the_plan() -> None:
    assert no_way(10**7, 1, 1, 5, 10, "mm") == ""

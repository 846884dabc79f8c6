"""Faults: their place, their words, their order."""

from __future__ import annotations

import pickle

import pytest

from cutopt.records import (
    MOST_FAULTS,
    Fault,
    Faults,
    InputRefused,
    Place,
    PlanFaulty,
    known_or_nearest,
    nearest,
)


@pytest.mark.parametrize(
    ("place", "text"),
    [
        (Place("stock.csv"), "stock.csv"),
        (Place("stock.csv", 3), "stock.csv:3"),
        (Place("stock.csv", 3, "length"), "stock.csv:3:length"),
        (Place("day.toml", 0, "lumber.kerf"), "day.toml::lumber.kerf"),
    ],
)
def test_places(place: Place, text: str) -> None:
    assert str(place) == text


def test_a_fault_says_what_is_wrong_what_was_read_and_what_would_be_right() -> None:
    faults = Faults()
    faults.add(Place("a", 1, "b"), "wrong", "x" * 100, "right")
    assert str(faults.faults[0]) == f"a:1:b: wrong, read '{'x' * 77}...', would be right: right"


def test_no_more_faults_are_kept_than_anybody_reads() -> None:
    faults = Faults()
    for row in range(MOST_FAULTS - 1):
        faults.add(Place("a", row), "wrong")
    assert not faults.full
    for row in range(MOST_FAULTS, MOST_FAULTS + 10):
        faults.add(Place("a", row), "wrong")
        faults.warn(Place("a", row), "odd")
    assert faults.full
    assert len(faults.faults) == MOST_FAULTS
    assert faults.faults[-1].place == Place("a", MOST_FAULTS)
    assert "not all is listed" in str(faults.faults[-1])
    assert len(faults.warnings) == 10


def test_all_faults_are_told_once_in_the_order_of_their_places() -> None:
    faults = Faults()
    for place in (Place("b", 2), Place("a", 10), Place("a", 9), Place("b", 2)):
        faults.add(place, "wrong")
    faults.warn(Place("c"), "look")
    assert faults
    with pytest.raises(InputRefused) as caught:
        faults.raise_if_any()
    assert [str(f.place) for f in caught.value.faults] == ["a:9", "a:10", "b:2"]
    assert str(caught.value).splitlines()[0] == "a:9: wrong"
    again = pickle.loads(pickle.dumps(caught.value))
    assert (again.faults, again.warnings) == (caught.value.faults, caught.value.warnings)


def test_warnings_alone_refuse_nothing() -> None:
    faults = Faults()
    faults.warn(Place("c"), "look")
    faults.raise_if_any()
    assert not faults


def test_a_faulty_plan_travels_between_processes() -> None:
    again = pickle.loads(pickle.dumps(PlanFaulty(["one", "two"])))
    assert again.faults == ("one", "two")
    assert isinstance(Fault(Place("a"), "b"), Fault)


def test_the_nearest_word() -> None:
    assert nearest("lenght", ["length", "width"]) == "length"
    assert nearest("gyp-1/2", ["GYP-1/2", "OSB"]) == "GYP-1/2"
    assert nearest("zzz", ["length"]) is None
    assert known_or_nearest("zzz", ["b", "a", "a"]) == "one of a, b"
    assert known_or_nearest("zzz", [f"k{i:02}" for i in range(20)]).endswith("k11 ...")

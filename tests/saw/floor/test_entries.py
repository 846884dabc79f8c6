"""The journal: what goes in comes out, to the last count, or the fault is named."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from cutopt.materials import LumberRules, Rules
from cutopt.measure import INCH
from cutopt.plan import Drop, Layout, Placed, Source
from cutopt.saw.floor import (
    CodecError,
    Entry,
    EntryKind,
    Reason,
    as_dict,
    balance,
    from_dict,
    material_sums,
    standing,
)
from cutopt.saw.floor.account import cut_entries, issue_entry
from cutopt.saw.floor.entries import numbered, reversal
from tests.saw.floor.days import BY


@pytest.fixture
def journal(stick) -> tuple[Entry, ...]:  # type: ignore[no-untyped-def]
    # US Army course EN0069A, pp. 95-96: two 4 ft 6 in from a 10-ft board, 12 in left; no kerf
    # there, so the blade takes none here.
    board = stick(2, 120, lot="26-107")
    parts = tuple(
        Placed("A", "floor", "J", board.material, 54 * INCH, None, x) for x in (0, 54 * INCH)
    )
    layout = Layout(
        "1", "P", 1, board, Source.BUY, parts, (Drop(108 * INCH, 0, 12 * INCH, None, False),)
    )
    rules = Rules(lumber=LumberRules(kerf=0))
    issue = issue_entry("1/1", board, Source.BUY, BY)
    return numbered((issue, *cut_entries("1/1", layout, rules, BY)), 0)


def test_a_published_board_is_accounted_for(journal) -> None:  # type: ignore[no-untyped-def]
    (line,) = balance(journal)
    assert line.exact
    assert (line.issued, line.parts, line.kerf, line.trim) == (120 * INCH, 108 * INCH, 0, 0)
    assert (line.kept, line.scrap, line.left) == (0, 12 * INCH, 0)
    (sums,) = material_sums(journal)
    assert (sums.input, sums.parts, sums.waste_drop, sums.scrap) == (10, 9, 1, 0)


def test_what_is_missing_or_told_twice_is_named(journal) -> None:  # type: ignore[no-untyped-def]
    (short,) = balance(journal[:-1])
    assert short.left == 12 * INCH
    assert short.faults == (f"{12 * INCH} of {120 * INCH} issued is not accounted for",)
    twice = (*journal, replace(journal[1], number=9))
    (line,) = balance(twice)
    assert line.left == -54 * INCH
    assert line.faults == (f"{54 * INCH} more than the {120 * INCH} issued is told of",)
    (never,) = balance(journal[1:])
    assert "nothing was issued" in never.faults[0]


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"amount": 0}, "right is above zero"),
        ({"amount": 5}, "its part has"),
        ({"part": None}, "without its part"),
        ({"number": 1}, "does not follow"),
    ],
)
def test_an_entry_that_contradicts_itself_is_named(journal, change, fault) -> None:  # type: ignore[no-untyped-def]
    (line,) = balance((journal[0], replace(journal[1], **change), *journal[2:]))
    assert any(fault in told for told in line.faults)


def test_a_reversal_takes_back_one_entry_once(journal) -> None:  # type: ignore[no-untyped-def]
    back = replace(reversal(journal[3], BY, Reason.MISTAKE), number=5)
    (line,) = balance((*journal, back))
    assert (line.scrap, line.left) == (0, 12 * INCH)
    assert journal[3] not in standing((*journal, back))
    again = replace(back, number=6)
    (line,) = balance((*journal, back, again))
    assert any("as entry 5 does" in told for told in line.faults)
    of_reversal = replace(back, number=6, reverses=5)
    (line,) = balance((*journal, back, of_reversal))
    assert any("itself a reversal" in told for told in line.faults)
    (line,) = balance((*journal, replace(back, reverses=77)))
    assert any("none before it" in told for told in line.faults)
    (line,) = balance((*journal, replace(back, amount=1)))
    assert any("which it reverses" in told for told in line.faults)


def test_all_reversed_is_as_if_nothing_happened(journal) -> None:  # type: ignore[no-untyped-def]
    back = numbered((reversal(e, BY, Reason.MISTAKE) for e in reversed(journal)), 4)
    (line,) = balance((*journal, *back))
    assert line.exact
    assert line.issued == 0
    assert material_sums((*journal, *back)) == ()


def test_head_trim_and_kerf_have_entries_of_their_own(stick) -> None:  # type: ignore[no-untyped-def]
    board = stick(2, 96)
    part = Placed("A", "wall", "S", board.material, 47 * INCH, None, 0)
    rules = Rules(lumber=LumberRules(head_trim=INCH))
    drop = Drop(47 * INCH + INCH // 8, 0, 48 * INCH - INCH // 8, None, True)
    layout = Layout("1", "P", 1, board, Source.BUY, (part,), (drop,))
    kinds = {e.kind: e.amount for e in cut_entries("1/1", layout, rules, BY)}
    assert kinds == {
        EntryKind.TRIM: INCH,
        EntryKind.PART: 47 * INCH,
        EntryKind.KEPT: drop.length,
        EntryKind.KERF: INCH // 8,
    }
    full = cut_entries("1/1", layout, rules, BY, rack_full=True)
    (scrap,) = [e for e in full if e.kind is EntryKind.SCRAP]
    assert (scrap.amount, scrap.reason) == (drop.length, Reason.RACK_FULL)


def test_entries_as_plain_values_and_back(journal) -> None:  # type: ignore[no-untyped-def]
    for entry in journal:
        assert from_dict(Entry, as_dict(entry)) == entry
    assert as_dict(Fraction(1, 3)) == "1/3"


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"amount": 1.0}, "Entry.amount: read 1.0, would be right: a whole number"),
        ({"amount": True}, "a whole number"),
        ({"kind": "lost"}, "'part', 'kerf'"),
        ({"colour": "red"}, "no field but number"),
        ({"by": {"moment": "noon", "station": "", "person": ""}}, "Entry.by.moment"),
        ({"stock": None}, "Entry.stock"),
    ],
)
def test_a_value_that_is_no_entry_is_refused_with_its_place(journal, change, fault) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(CodecError) as refused:
        from_dict(Entry, as_dict(journal[0]) | change)
    assert fault in str(refused.value)
    with pytest.raises(CodecError, match=r"Entry\.kind.*a value"):
        from_dict(Entry, {"number": 1})

"""Revisions after release, and where every part came from."""

from __future__ import annotations

from dataclasses import replace

import pytest

import cutopt.saw.floor as floor
from cutopt.measure import INCH
from cutopt.saw.floor import (
    TRACE_COLUMNS,
    FloorError,
    Reason,
    State,
    Status,
    Trace,
    cut,
    cut_all,
    digest,
    missing,
    part_lost,
    pull_section,
    revise,
    trace_rows,
    undo,
)
from tests.saw.floor.days import BY, n, released, rows


@pytest.fixture
def state() -> State:
    return released()


def test_the_same_list_twice_is_noticed_whatever_its_rows(state: State) -> None:
    first = rows()
    split = (
        replace(first[0], qty=2),
        *first[:0:-1],
        replace(first[0], qty=first[0].qty - 2, note="again"),
    )
    assert digest(split) == digest(first)
    assert revise(state, first, split, BY).same
    for change in ({"qty": 6}, {"jig": "X"}, {"need": 9}, {"length": n("89")}, {"alt": ("2x4-B",)}):
        assert digest((replace(first[0], **change), *first[1:])) != digest(first)


def test_a_changed_list_tells_cut_not_cut_obsolete_and_new(state: State) -> None:
    first = rows()
    # One layout cut: A and B for S1. Then A for S1 is asked for 4 instead of 5, 1 inch shorter.
    stick = next(s for s in state.sticks if [p.mark for p in s.layout.parts] == ["A", "B"])
    state = cut(state, stick.id, BY)
    shorter = replace(first[0], qty=4, length=n("89"))
    found = revise(state, first, (shorter, *first[1:]), BY)
    fates = {(f.piece.section, f.piece.mark, f.piece.length // INCH): f for f in found.fates}
    new, old = fates["S1", "A", 89], fates["S1", "A", 90]
    assert (new.cut, new.not_cut, new.new, new.obsolete) == (0, 4, 4, 0)
    assert (old.obsolete, old.not_cut) == (5, 0)
    # The 90 that was cut for S1 is a 90 for S2 now: a stud is a stud.
    given = [e for e in found.outcome.entries if e.part is not None]
    assert [(e.part.section, e.part.mark) for e in given if e.part] == [("S2", "A")]
    assert found.outcome.entries[0].reason is Reason.REVISED
    assert missing(found.outcome.after) == ()
    back = revise(found.outcome.after, (shorter, *first[1:]), first, BY)
    assert back.seen_before
    assert not back.same


def test_what_was_cut_for_a_pulled_section_is_given_over_and_the_rest_stays_cut(
    state: State,
) -> None:
    names = [s.id for s in state.sticks if s.material == "2x4-A"][:3]
    state = cut_all(state, names, BY)
    kept = [state.stick(name) for name in names]
    found = pull_section(state, "S1", BY).outcome
    assert all(k[0] == "S2" for k in found.after.planned)
    assert [found.after.stick(name) for name in names] == kept
    assert all(n.piece.section == "S2" for n in found.after.needed)
    # three 90s needed for S2 and all three taken from what was cut for S1
    made = {k[:3]: v for k, v in found.after.made.items()}
    assert made["S2", "Bench", "A"] == 3
    with pytest.raises(FloorError, match="sections are S1, S2"):
        pull_section(state, "S9", BY)


def test_a_changed_ceiling_or_run_is_left_to_a_plan_of_its_own(state: State) -> None:
    first = rows()
    at = next(i for i, p in enumerate(first) if p.mark == "CEIL")
    changed = (*first[:at], replace(first[at], width=n("96")), *first[at + 1 :])
    found = revise(state, first, changed, BY)
    assert [p.mark for p in found.apart] == ["CEIL"]
    gone = [s for s in found.outcome.after.sticks if s.material == "CLG"]
    assert {s.status for s in gone} == {Status.OBSOLETE}
    moved = (*first[:at], replace(first[at], need=7), *first[at + 1 :])
    assert revise(state, first, moved, BY).apart == ()


def test_a_material_that_stock_has_not_is_refused_with_its_place(state: State) -> None:
    first = rows()
    with pytest.raises(FloorError, match=r"cuts/a\.csv:2: 9x9"):
        revise(state, first, (replace(first[0], material="9x9"), *first[1:]), BY)


def test_a_part_is_traced_through_a_drop_to_its_lot_and_back(state: State) -> None:
    sheet = next(s for s in state.sticks if sorted(p.mark for p in s.layout.parts) == ["D", "E"])
    state = cut(state, sheet.id, BY)
    small = next(e for e in state.standing if e.part is not None and e.part.mark == "E")
    after = part_lost(state, small.number, BY).after
    again = next(s for s in after.sticks if s.drop is not None)
    assert again.layout.offer.lot == "L4"
    after = cut(after, again.id, replace(BY, station="Saw 2"))
    trace = Trace(after.entries)
    (made,) = trace.of_section("S2", "E")
    assert made.chain == (again.id, sheet.id)
    assert (made.lot, made.material) == ("L4", "OSB")
    assert [t.part.mark for t in trace.of_lot("L4")] == ["D", "E"]
    assert [t.part.mark for t in trace.of_stock(sheet.id)] == ["D", "E"]
    assert trace.sections_of("L4") == ("S1", "S2")
    assert trace.beside("S1") == {"L4": ("S2",)}
    assert trace.lots() == {"L4": (sheet.id, again.id)}
    (row,) = trace_rows([made], "in")
    told = dict(zip(TRACE_COLUMNS, row, strict=True))
    assert (told["length"], told["width"], told["cut_from"]) == ("20", "15", sheet.id)
    assert (told["lot"], told["station"], told["ticket"]) == ("L4", "Saw 2", "T-1")
    # taken back, it never was
    undone = undo(after, again.id, BY).after
    assert Trace(undone.entries).of_section("S2") == ()
    with pytest.raises(FloorError, match=f"issued as {again.id}"):
        undo(after, sheet.id, BY)


def test_all_names_are_there_and_in_order() -> None:
    assert len(set(floor.__all__)) == len(floor.__all__)
    for name in floor.__all__:
        assert getattr(floor, name) is not None

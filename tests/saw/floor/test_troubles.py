"""Each trouble by itself, with figures worked out by hand on the small day."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from cutopt.materials import Kind, LumberRules, Rules, SheetRules
from cutopt.measure import INCH
from cutopt.plan import Source
from cutopt.saw.floor import (
    ChangeKind,
    EntryKind,
    FloorError,
    Piece,
    Reason,
    State,
    Status,
    Stick,
    Usable,
    balance,
    check_rest,
    cut,
    cut_all,
    cut_short,
    damaged,
    finish,
    jig_down,
    jig_up,
    kerf_changed,
    missing,
    part_lost,
    plan_anew,
    rack_full,
    rest_problem,
    rush,
    start,
    undo,
    waits,
    wrong_stock,
)
from cutopt.saw.floor.lay import empty, put, relaid
from tests.saw.floor.days import BY, n, released


@pytest.fixture
def state() -> State:
    return released()


def cutting(state: State, *marks: str) -> Stick:
    """The first piece of stock not cut whose parts are these, in this order."""
    return next(
        s
        for s in state.sticks
        if s.status is Status.NOT_CUT and tuple(p.mark for p in s.layout.parts) == marks
    )


def new(before: State, after: State) -> list[Stick]:
    known = {s.id for s in before.sticks}
    return [s for s in after.sticks if s.id not in known]


def test_a_split_board_is_cut_again_from_what_is_usable_of_it_first(state: State) -> None:
    # 192 with two of 90. Usable 95: less 1/4 of head trim one of 90 and a kerf, 4-5/8 left.
    board = cutting(state, "A", "A")
    found = damaged(state, board.id, Reason.SPLIT, BY, [Usable(n("95"))])
    assert [(e.kind, e.amount // INCH, e.reason) for e in found.entries] == [
        (EntryKind.ISSUED, 192, None),
        (EntryKind.KEPT, 95, None),
        (EntryKind.SCRAP, 97, Reason.SPLIT),
    ]
    assert sum(m.qty for m in found.missing) == 2
    fits = {p.mark for p in found.fits[0].pieces}
    assert fits == {"A", "B", "C"}
    made = new(state, found.after)
    drop = next(s for s in made if s.drop == found.entries[1].number)
    assert [p.mark for p in drop.layout.parts] == ["A"]
    assert drop.layout.drops[0].length == n("4-5/8")
    (other,) = [s for s in made if s.drop is None]
    assert [p.mark for p in other.layout.parts] == ["A"]
    words = Counter(c.kind for c in found.changes)
    assert words == {ChangeKind.CUT: 1, ChangeKind.NEW: 2}
    assert found.unmet == ()


def test_crook_a_board_is_used_by_its_usable_lengths(state: State) -> None:
    # A crooked stick passes cut short (FACTS: re-used by its usable lengths, not thrown away).
    board = cutting(state, "C", "C", "C")
    usable = [Usable(n("40")), Usable(n("36"))]
    found = damaged(state, board.id, Reason.CROOK, BY, usable)
    from_drops = [s for s in new(state, found.after) if s.drop is not None]
    assert [[p.mark for p in s.layout.parts] for s in from_drops] == [["C"], ["C"]]
    (line,) = balance(found.entries)
    assert line.exact
    assert (line.kept, line.scrap) == (n("76"), n("24"))


def test_what_is_usable_but_too_short_for_anything_is_scrap_for_that_reason(state: State) -> None:
    board = cutting(state, "A", "A")
    found = damaged(state, board.id, Reason.WANE, BY, [Usable(n("12"))], made=[0])
    last = [(e.kind, e.reason) for e in found.entries][-2:]
    assert last == [(EntryKind.REVERSAL, Reason.WANE), (EntryKind.SCRAP, Reason.WANE)]
    assert found.after.made.total() == 1
    (line,) = balance(found.entries)
    # 192 = 1/4 trim + 90 + 1/8 kerf + the rest, all scrap
    assert (line.trim, line.parts, line.kerf) == (n("1/4"), n("90"), n("1/8"))
    assert line.scrap == n("192") - n("90-3/8")
    assert not found.after.rack


@pytest.mark.parametrize(
    ("usable", "made", "fault"),
    [
        ([Usable(n("100")), Usable(n("93"))], [], "more is told of"),
        ([Usable(n("200"))], [], "more than the stock"),
        ([Usable(n("20"), n("4"))], [], "a length alone"),
        ([Usable(0)], [], "is none"),
        ([], [2], "its parts are 0 to 1"),
        ([], [0, 0], "told twice"),
    ],
)
def test_what_a_board_cannot_have_is_refused(
    state: State, usable: list[Usable], made: list[int], fault: str
) -> None:
    board = cutting(state, "A", "A")
    with pytest.raises(FloorError, match=fault):
        damaged(state, board.id, Reason.SPLIT, BY, usable, made)


def test_a_part_cut_short_becomes_a_smaller_one_and_the_stick_goes_on(state: State) -> None:
    stick = cutting(state, "A", "B")
    at_saw = start(state, stick.id, BY)
    found = cut_short(at_saw, stick.id, 0, BY, Usable(n("60")))
    # the part of 60 takes a 46 that another layout would give
    (short,) = [s for s in new(state, found.after) if s.drop is not None]
    assert [p.mark for p in short.layout.parts] == ["B"]
    done = finish(found.after, stick.id, BY)
    line = next(b for b in balance(done.entries) if b.stock == stick.id)
    assert line.exact
    # 144 = 1/4 trim + 60 kept + 1/8 + 46 + 1/8 + 37-1/2 kept, thirty inches more than planned
    assert (line.parts, line.kerf, line.kept) == (n("46"), n("1/4"), n("60") + n("37-1/2"))
    with pytest.raises(FloorError, match="is not short"):
        cut_short(at_saw, stick.id, 0, BY, Usable(n("90")))
    with pytest.raises(FloorError, match="one that is at a saw"):
        cut_short(state, stick.id, 0, BY, Usable(n("60")))


def test_wrong_stock_what_fits_is_cut_from_it_and_what_was_meant_lies_there_still(
    state: State,
) -> None:
    stick = cutting(state, "A", "A")
    found = wrong_stock(start(state, stick.id, BY), stick.id, 3, BY)
    assert [(e.kind, e.reason) for e in found.entries] == [
        (EntryKind.REVERSAL, Reason.WRONG_STOCK),
        (EntryKind.ISSUED, None),
    ]
    now = found.after.stick(stick.id)
    assert (now.layout.offer.length, len(now.layout.parts)) == (n("144"), 1)
    assert found.after.issued == {(3, Source.BUY): 1}
    back = undo(found.after, stick.id, BY).after
    assert back.stick(stick.id) == stick
    assert not back.issued
    with pytest.raises(FloorError, match="row 6 is no lumber"):
        wrong_stock(state, stick.id, 6, BY)


def test_a_longer_piece_than_meant_leaves_a_longer_drop(state: State) -> None:
    # A 16 for a 12: 192 less 1/4, 90, 46 and two kerfs.
    stick = cutting(state, "A", "B")
    found = wrong_stock(start(state, stick.id, BY), stick.id, 2, BY)
    (drop,) = found.after.stick(stick.id).layout.drops
    assert (drop.length, drop.kept) == (n("55-1/2"), True)
    assert found.missing == ()


def test_another_blade_moves_stops_and_only_what_no_longer_fits_is_cut_elsewhere(
    state: State,
) -> None:
    # 192 less 1/4: 80, 80 and 31-1/2 come out exact with two kerfs of 1/8, with 3/16 they don't.
    tight = cutting(state, "R1", "R2", "C")
    found = kerf_changed(state, 3 * INCH // 16, ["2x4-A", "2x4-B"])
    words = Counter(c.kind for c in found.changes)
    assert words[ChangeKind.OBSOLETE] == 1
    assert found.after.stick(tight.id).status is Status.OBSOLETE
    assert [m.piece.mark for m in found.missing] == ["C"]
    pair = found.after.stick(cutting(state, "A", "A").id)
    assert [p.x for p in pair.layout.parts] == [0, n("90-3/16")]
    assert check_rest(found.after) == []
    with pytest.raises(FloorError, match="zero or more"):
        kerf_changed(state, -1, ["2x4-A"])
    with pytest.raises(FloorError, match="no material"):
        kerf_changed(state, 1, ["2x4-Z"])


def test_a_full_rack_makes_scrap_of_drops_and_what_was_planned_from_them_is_planned_anew(
    state: State,
) -> None:
    state = cut(state, cutting(state, "D", "E").id, BY)
    (drop,) = state.rack
    small = next(e for e in state.standing if e.part is not None and e.part.mark == "E")
    lost = part_lost(state, small.number, BY).after
    (planned,) = [s for s in lost.sticks if s.drop == drop]
    found = rack_full(lost, [drop], BY)
    assert found.after.stick(planned.id).status is Status.OBSOLETE
    assert [m.piece.mark for m in found.missing] == ["E"]
    assert not found.after.rack
    assert missing(found.after) == ()
    with pytest.raises(FloorError, match="lies on the rack"):
        rack_full(found.after, [drop], BY)


def test_a_jig_that_is_down_has_its_parts_wait(state: State) -> None:
    found = jig_down(state, "Bench", ["2x4-A"])
    after = found.after
    assert {m.piece.jig for m in missing(after)} <= {"Bench"}
    open_ = [s for s in after.sticks if s.status is Status.NOT_CUT]
    assert not any(
        0 < sum(p.jig == "Bench" for p in s.layout.parts) < len(s.layout.parts)
        for s in open_
        if s.material == "2x4-A"
    )
    left = rest_problem(after, without_waiting=True)
    assert all(p.jig != "Bench" for p in left.parts)
    assert any(p.jig == "Bench" for p in rest_problem(after).parts)
    up = jig_up(after, "Bench")
    assert missing(up.after) == ()
    assert not any(waits(up.after, s) for s in up.after.sticks)
    with pytest.raises(FloorError, match="no part is for"):
        jig_down(state, "Moon", ())
    with pytest.raises(FloorError, match="is not down"):
        jig_up(state, "Bench")


def test_a_part_in_a_rush_comes_first(state: State) -> None:
    found = rush(state, "S2", "C2")
    first = next(s for s in found.after.sticks if s.status is Status.NOT_CUT)
    assert {p.mark for p in first.layout.parts} == {"C2"}
    assert [c.kind for c in found.changes] == [ChangeKind.FIRST]
    more = rush(state, "S2", "C2", 2).after
    assert more.wanted.total() == state.wanted.total() + 2
    assert missing(more) == ()
    with pytest.raises(FloorError, match="no part 'Z'"):
        rush(state, "S2", "Z")
    with pytest.raises(FloorError, match="no run and no ceiling"):
        rush(state, "S1", "R1", 1)


def test_what_no_stock_is_left_for_is_told_with_the_reason(state: State) -> None:
    # The rows of 2x4-A are limited: with none left to buy a lost part can't be cut.
    state = cut_all(state, [s.id for s in state.sticks], BY)
    gone = replace(state, offers=tuple(replace(o, on_hand=0, limit=0) for o in state.offers))
    entry = next(e for e in gone.standing if e.part is not None and e.part.mark == "A")
    found = part_lost(gone, entry.number, BY)
    (unmet,) = found.unmet
    assert (unmet.needed.piece.mark, unmet.needed.qty) == ("A", 1)
    assert unmet.reason
    assert found.changes == ()


def test_a_ceiling_row_is_cut_again_from_a_whole_board_with_its_edges(state: State) -> None:
    # 126 of run in boards of 48: two whole rows and one of 30, ripped.
    rows = [s for s in state.sticks if s.material == "CLG"]
    whole = next(s for s in rows if s.layout.parts[0].width == n("48"))
    found = damaged(state, whole.id, Reason.SAW_FAULT, BY)
    (again,) = new(state, found.after)
    assert (again.layout.offer.row, again.layout.parts[0].width) == (8, n("48"))
    assert again.layout.parts[0].full_span
    with pytest.raises(FloorError, match="no piece left"):
        # no board length is bought beyond those that the released plan uses
        wrong_stock(state, whole.id, 9, BY)


def test_planning_anew_changes_nothing_where_it_is_no_cheaper(state: State) -> None:
    found = plan_anew(state, ["2x4-A", "OSB", "CLG"])
    assert found.after.sticks == state.sticks
    assert found.changes == ()


# --- layouts by hand ---


def _piece(length: str, width: str | None = None, turn: bool = False) -> Piece:
    material = "2x4-SPF-2" if width is None else "OSB-23/32"
    return Piece("S", "J", "M", material, n(length), None if width is None else n(width), turn=turn)


def test_four_24s_are_not_in_a_96_with_a_kerf(stick) -> None:  # type: ignore[no-untyped-def]
    # Four 24s from a 96 leave the last 3/8 short at 1/8 kerf (worked out: 3 x 1/8).
    rules = Rules(lumber=LumberRules())
    layout = empty(stick(2, 96), Source.BUY, rules)
    for _ in range(3):
        made = put(layout, _piece("24"), rules)
        assert made is not None
        layout = made
    assert layout.drops[0].length == n("24") - n("3/8")
    assert put(layout, _piece("24"), rules) is None
    assert put(layout, _piece("23-5/8"), rules) is not None


def test_the_last_cut_and_the_number_of_parts_are_as_the_shop_asks(stick) -> None:  # type: ignore[no-untyped-def]
    rules = Rules(lumber=LumberRules(least_left=n("2"), max_parts=2))
    layout = empty(stick(2, 96), Source.BUY, rules)
    assert put(layout, _piece("94-1/2"), rules) is None  # 1-3/8 left, less than 2
    assert put(layout, _piece("96"), rules) is not None  # no cut, nothing left
    one = put(layout, _piece("20"), rules)
    assert one is not None
    two = put(one, _piece("20"), rules)
    assert two is not None
    assert put(two, _piece("20"), rules) is None


def test_a_sheet_part_is_put_where_cuts_from_edge_to_edge_reach_it(sheet) -> None:  # type: ignore[no-untyped-def]
    rules = Rules(sheets=SheetRules())
    layout = empty(sheet(2, 96, 48), Source.BUY, rules)
    for part in (_piece("48", "48"), _piece("47", "24"), _piece("22", "40", turn=True)):
        made = put(layout, part, rules)
        assert made is not None
        layout = made
    assert layout.parts[2].turned
    assert put(layout, _piece("22", "40"), rules) is None
    # 24 wide are 23-7/8 at most beside the first with an eighth of kerf
    assert put(layout, _piece("5", "24"), rules) is None
    wider = relaid(layout, layout.offer, Rules(sheets=SheetRules(kerf=INCH)))
    assert wider is not None
    assert wider.parts[1].x == n("49")
    assert relaid(layout, layout.offer, Rules(sheets=SheetRules(kerf=2 * INCH))) is None


def test_kinds_of_stock_are_not_mixed(state: State) -> None:
    assert {s.layout.offer.kind for s in state.sticks} == {Kind.LUMBER, Kind.SHEET}

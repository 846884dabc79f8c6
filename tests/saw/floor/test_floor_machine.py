"""Any sequence of cuts, troubles, reversals and revisions: what must hold does."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from cutopt.cutlist import Part, Rule
from cutopt.materials import Kind
from cutopt.measure import INCH
from cutopt.saw.floor import (
    EntryKind,
    FloorError,
    Outcome,
    Reason,
    State,
    Status,
    Stick,
    Usable,
    as_dict,
    balance,
    check_rest,
    cut,
    cut_short,
    damaged,
    finish,
    from_dict,
    jig_down,
    jig_up,
    kerf_changed,
    material_sums,
    missing,
    move_section,
    part_lost,
    plan_anew,
    pull_section,
    rack_full,
    revise,
    rush,
    start,
    undo,
    wrong_stock,
)
from cutopt.saw.floor.rest import left, stock_left, surplus
from cutopt.saw.floor.state import key_of
from tests.saw.floor.days import BY, released, rows

PICK = st.integers(0, 10**6)
SHARE = st.integers(1, 9)
BAD = st.sampled_from([Reason.SPLIT, Reason.WANE, Reason.CROOK, Reason.SAW_FAULT])


class Floor(RuleBasedStateMachine):
    """A small day while it is cut. Picks are taken modulo what there is to pick from."""

    state: State
    rows: tuple[Part, ...]

    @initialize(strict=st.booleans())
    def begin(self, strict: bool) -> None:
        self.state = released(strict)
        self.rows = rows()
        self.unmet: set[object] = set()
        self.cut_as: dict[str, object] = {}
        self.journal = self.state.entries

    def pick(self, pick: int, *status: Status) -> Stick | None:
        found = [s for s in self.state.sticks if s.status in status]
        return found[pick % len(found)] if found else None

    def take(self, outcome: Outcome) -> None:
        """The result is taken; all that an outcome says of itself must be so."""
        assert outcome.entries == outcome.after.entries[len(self.state.entries) :]
        self.told_apart(self.state, outcome)
        self.state = outcome.after
        self.unmet = {u.needed.piece.key for u in outcome.unmet}
        assert all(u.reason for u in outcome.unmet)

    def told_apart(self, before: State, outcome: Outcome) -> None:
        """Whatever differs of a piece of stock is told, and nothing else but its place."""
        old = {s.id: s for s in before.sticks}
        told = {c.stick for c in outcome.changes}
        for stick in outcome.after.sticks:
            was = old.pop(stick.id, None)
            if was is None:
                assert stick.id in told
            elif (was.status, was.layout) != (stick.status, stick.layout):
                assert stick.id in told or was.status is stick.status is Status.CUT
        assert not old, "a piece of stock vanished"

    # --- as planned ---

    @rule(pick=PICK, full=st.booleans())
    def cuts(self, pick: int, full: bool) -> None:
        stick = self.pick(pick, Status.NOT_CUT)
        if stick is not None:
            self.state = cut(self.state, stick.id, BY, rack_full=full)

    @rule(pick=PICK)
    def starts(self, pick: int) -> None:
        stick = self.pick(pick, Status.NOT_CUT)
        if stick is not None:
            self.state = start(self.state, stick.id, BY)

    @rule(pick=PICK)
    def finishes(self, pick: int) -> None:
        stick = self.pick(pick, Status.AT_SAW)
        if stick is not None:
            self.state = finish(self.state, stick.id, BY)

    # --- taken back ---

    @rule(pick=PICK)
    def cut_and_taken_back(self, pick: int) -> None:
        """A reversal restores every sum and the whole plan."""
        stick = self.pick(pick, Status.NOT_CUT)
        if stick is None:
            return
        sums = material_sums(self.state.entries)
        after = undo(cut(self.state, stick.id, BY), stick.id, BY).after
        assert material_sums(after.entries) == sums
        assert after.stick(stick.id) == stick
        assert (after.made, after.rack) == (self.state.made, self.state.rack)
        self.state = after

    @rule(pick=PICK)
    def takes_back(self, pick: int) -> None:
        stick = self.pick(pick, Status.CUT, Status.AT_SAW)
        if stick is None:
            return
        made = Counter(
            key_of(e.part)
            for e in self.state.standing
            if e.part is not None and e.stock == stick.id
        )
        before = Counter(self.state.made)
        kept = [
            e.number
            for e in self.state.standing
            if e.stock == stick.id and e.kind is EntryKind.KEPT
        ]
        if any(number not in self.state.rack for number in kept):
            with pytest.raises(FloorError, match="was issued as"):
                undo(self.state, stick.id, BY)
            return
        outcome = undo(self.state, stick.id, BY)
        assert outcome.after.made == before - made
        self.cut_as.pop(stick.id, None)
        self.take(outcome)

    # --- troubles ---

    @rule(pick=PICK, share=SHARE, more=SHARE, reason=BAD, made=st.booleans())
    def stock_is_bad(self, pick: int, share: int, more: int, reason: Reason, made: bool) -> None:
        stick = self.pick(pick, Status.NOT_CUT, Status.AT_SAW)
        if stick is None or any(
            e.stock == stick.id and e.issued is None for e in self.state.standing
        ):
            return
        offer = stick.layout.offer
        sound = [0] if made and stick.layout.parts else []
        length = offer.length - sum(stick.layout.parts[i].along for i in sound)
        usable = [Usable(length * share // 20, offer.width)]
        if more > 5:
            usable.append(Usable(length * more // 20, offer.width))
        outcome = damaged(self.state, stick.id, reason, BY, usable, sound)
        assert outcome.after.stick(stick.id).status is Status.CUT
        self.take(outcome)

    @rule(pick=PICK, part=PICK, share=SHARE)
    def part_is_short(self, pick: int, part: int, share: int) -> None:
        stick = self.pick(pick, Status.AT_SAW)
        if stick is None or not stick.layout.parts:
            return
        index = part % len(stick.layout.parts)
        short = stick.layout.parts[index]
        usable = Usable(short.length * share // 10, short.width)
        self.take(cut_short(self.state, stick.id, index, BY, usable))

    @rule(pick=PICK)
    def part_is_lost(self, pick: int) -> None:
        parts = [e for e in self.state.standing if e.part is not None]
        if parts:
            self.take(part_lost(self.state, parts[pick % len(parts)].number, BY))

    @rule(pick=PICK, row=PICK)
    def another_is_pulled(self, pick: int, row: int) -> None:
        stick = self.pick(pick, Status.NOT_CUT, Status.AT_SAW)
        if stick is None:
            return
        others = [
            o
            for o in self.state.offers
            if o.material == stick.material and o.row != stick.layout.offer.row
        ]
        if not others:
            return
        pulled = others[row % len(others)]
        cut_from = any(e.stock == stick.id and e.issued is None for e in self.state.standing)
        gone = next(o for o in stock_left(self.state) if o.row == pulled.row).available == 0
        if cut_from or gone:
            match = "cut from it already" if cut_from else "no piece left"
            with pytest.raises(FloorError, match=match):
                wrong_stock(self.state, stick.id, pulled.row, BY)
            return
        self.take(wrong_stock(self.state, stick.id, pulled.row, BY))

    @rule(pick=PICK)
    def rack_has_no_room(self, pick: int) -> None:
        drops = list(self.state.rack)
        if drops:
            self.take(rack_full(self.state, drops[pick % len(drops) :], BY))

    @rule(eighths=st.integers(2, 6), sheets=st.booleans())
    def blade_changes(self, eighths: int, sheets: bool) -> None:
        materials = ("OSB",) if sheets else ("2x4-A", "2x4-B")
        self.take(kerf_changed(self.state, eighths * INCH // 32, materials))

    @rule(jig=st.sampled_from(["Bench", "Deck", "Ceiling"]), apart=st.booleans())
    def jig_goes_down_or_up(self, jig: str, apart: bool) -> None:
        if jig in self.state.waiting:
            self.take(jig_up(self.state, jig))
        elif any(n.piece.jig == jig for n in self.state.needed):
            self.take(jig_down(self.state, jig, ("2x4-A", "OSB") if apart else ()))

    @rule(pick=PICK, more=st.integers(0, 2))
    def part_in_a_rush(self, pick: int, more: int) -> None:
        plain = [
            n.piece for n in self.state.needed if n.piece.run is None and not n.piece.full_span
        ]
        if not plain:
            return
        piece = plain[pick % len(plain)]
        outcome = rush(self.state, piece.section, piece.mark, more)
        self.take(outcome)
        open_ = [s for s in self.state.sticks if s.status is Status.NOT_CUT]
        gives = [any(key_of(p) == piece.key for p in s.layout.parts) for s in open_]
        assert gives == sorted(gives, reverse=True)

    @rule(material=st.sampled_from(["2x4-A", "OSB", "CLG"]))
    def all_anew(self, material: str) -> None:
        self.take(plan_anew(self.state, [material]))

    # --- revisions ---

    @rule(row=PICK, by=st.integers(-2, 2), shorter=st.booleans())
    def list_changes(self, row: int, by: int, shorter: bool) -> None:
        at = row % len(self.rows)
        old = self.rows[at]
        if old.rule is not Rule.PART:
            return
        new = replace(old, qty=max(1, old.qty + by))
        if shorter:
            new = replace(new, length=old.length - INCH)
        changed = (*self.rows[:at], new, *self.rows[at + 1 :])
        found = revise(self.state, self.rows, changed, BY)
        assert found.same == (found.outcome.after == self.state)
        self.take(found.outcome)
        self.rows = changed
        assert revise(self.state, self.rows, tuple(reversed(changed)), BY).same

    @rule(section=st.sampled_from(["S1", "S2"]), need=st.integers(0, 3))
    def section_moves(self, section: str, need: int) -> None:
        if any(n.piece.section == section for n in self.state.needed):
            self.take(move_section(self.state, section, need, BY).outcome)

    @rule(section=st.sampled_from(["S1", "S2"]))
    def section_goes_and_comes_back(self, section: str) -> None:
        if all(n.piece.section != section for n in self.state.needed):
            return
        pulled = pull_section(self.state, section, BY).outcome
        keys = {key for key in pulled.after.planned if key[0] == section}
        assert not keys
        self.take(pulled)
        back = revise(self.state, self.rows, self.rows, BY)
        assert not back.same
        self.take(back.outcome)

    # --- what must hold ---

    @invariant()
    def every_piece_of_stock_is_accounted_for(self) -> None:
        lines = {b.stock: b for b in balance(self.state.entries)}
        for stick in self.state.sticks:
            line = lines.get(stick.id)
            if stick.status is Status.AT_SAW:
                assert line is not None
                assert line.left > 0 or not stick.layout.parts
                assert all("not accounted for" in fault for fault in line.faults)
            elif stick.status is Status.CUT:
                assert line is not None
                assert line.exact, line.faults
                assert line.issued > 0
            else:
                assert line is None or (line.exact and line.issued == 0), line

    @invariant()
    def every_part_comes_once(self) -> None:
        state = self.state
        assert not +surplus(state)
        lacking = Counter({n.piece.key: n.qty for n in missing(state)})
        assert left(state) == state.planned + lacking
        for n in missing(state):
            assert n.piece.key in self.unmet or n.piece.jig in state.waiting

    @invariant()
    def what_is_left_checks(self) -> None:
        assert check_rest(self.state) == []

    @invariant()
    def nothing_written_changes(self) -> None:
        entries = self.state.entries
        assert entries[: len(self.journal)] == self.journal
        self.journal = entries
        for stick in self.state.sticks:
            if stick.status is Status.CUT:
                assert self.cut_as.setdefault(stick.id, stick) == stick
            elif stick.status is not Status.AT_SAW:
                assert stick.id not in self.cut_as
        assert [e.number for e in entries] == list(range(1, len(entries) + 1))

    @invariant()
    def a_drop_is_used_once(self) -> None:
        taken = Counter(
            s.drop for s in self.state.sticks if s.status is Status.NOT_CUT and s.drop is not None
        )
        assert all(n == 1 and drop in self.state.rack for drop, n in taken.items())
        sticks = (s for s in self.state.sticks if s.layout.offer.kind is Kind.LUMBER)
        assert all(s.layout.offer.width is None for s in sticks)

    def teardown(self) -> None:
        if hasattr(self, "state"):
            assert from_dict(State, as_dict(self.state)) == self.state


TestFloor = Floor.TestCase
TestFloor.settings = settings(max_examples=8, stateful_step_count=14, deadline=None)

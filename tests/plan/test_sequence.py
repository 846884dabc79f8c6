"""The saw cuts of a sheet: one worked by hand, then random and planned ones on a saw of our own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cutopt.files import read_days
from cutopt.materials import Edges, FirstCut, Kind, SheetRules
from cutopt.measure import INCH, parse_length
from cutopt.plan import Layout, Problem
from cutopt.plan.guillotine import Axis, Rect
from cutopt.plan.sequence import CutSequence, Datum, Form, cut_sequence, letters
from cutopt.solve import Settings, solve
from tests.plan.random_sheets import layout_of, random_layouts, sheet_of
from tests.plan.sawing import faults_of

DEMO = Path(__file__).parents[2] / "demo_orders"


def inches(text: str) -> int:
    return parse_length(text, "in")


def sequence_of(layout: Layout, rules: SheetRules) -> CutSequence:
    sequence = cut_sequence(layout, rules)
    assert sequence is not None
    return sequence


def worked() -> tuple[Layout, SheetRules]:
    """A sheet of 96 x 48 worked on paper; common practice, no source.

    Kerf 1/8. Strip A is 23-7/8 wide, strip B 15-1/4; what is left is waste.

        48 -------------------------------------------------- factory edge
             waste 96 x 8-5/8            (48 - 39-3/8)
        39-3/8  - - - rip 2 at 23-7/8 + 1/8 + 15-1/4 = 39-1/4
             B1 40 x 15-1/4 | waste 55-7/8 x 15-1/4
        24  - - - - - rip 1 at 23-7/8
             A1 30 x 23-7/8 | A2 30-1/2 x 20 | waste 35-1/4 x 23-7/8
         0 -------------------------------------------------- factory edge

    Strip A from the head: A1 ends at 30, A2 at 30 + 1/8 + 30-1/2 = 60-5/8, so 35-1/4 are left
    behind the blade. A2 is 20 wide in a strip of 23-7/8: ripped at 20, which leaves 3-3/4. B1 ends
    at 40, which leaves 55-7/8.
    """
    rects = [
        Rect(0, 0, inches("30"), inches("23-7/8")),
        Rect(inches("30-1/8"), 0, inches("30-1/2"), inches("20")),
        Rect(0, inches("24"), inches("40"), inches("15-1/4")),
    ]
    drops = [
        Rect(0, inches("39-3/8"), inches("96"), inches("8-5/8")),
        Rect(inches("60-3/4"), 0, inches("35-1/4"), inches("23-7/8")),
        Rect(inches("30-1/8"), inches("20-1/8"), inches("30-1/2"), inches("3-3/4")),
        Rect(inches("40-1/8"), inches("24"), inches("55-7/8"), inches("15-1/4")),
    ]
    rules = SheetRules(first_cut=FirstCut.RIP)
    return layout_of(rects, drops, sheet_of(96 * INCH, 48 * INCH), rules), rules


def test_a_sheet_worked_by_hand() -> None:
    layout, rules = worked()
    sequence = sequence_of(layout, rules)
    assert sequence.names == ("A1", "A2", "B")
    told = [
        (
            c.number,
            c.stage,
            c.axis.value,
            str(c.piece),
            c.measure,
            c.datum.value,
            c.fence,
            [str(p) for p in c.yields],
        )
        for c in sequence.cuts
    ]
    m = inches
    assert told == [
        (1, 1, "rip", "the sheet", m("23-7/8"), "factory edge", m("23-7/8"), ["strip A"]),
        (2, 1, "rip", "the sheet", m("39-1/4"), "factory edge", m("15-1/4"), ["strip B", "waste"]),
        (3, 2, "cross", "strip A", m("30"), "head", m("30"), ["part A1"]),
        (4, 2, "cross", "strip A", m("60-5/8"), "head", m("30-1/2"), ["blank A2", "waste"]),
        (5, 2, "cross", "strip B", m("40"), "head", m("40"), ["part B", "waste"]),
        (6, 3, "rip", "blank A2", m("20"), "factory edge", m("20"), ["part A2", "waste"]),
    ]
    assert faults_of(layout, rules, sequence) == []


def test_a_measure_off_by_a_kerf_is_found_out() -> None:
    layout, rules = worked()
    sequence = sequence_of(layout, rules)
    for place, cut in enumerate(sequence.cuts):
        for shift in (-rules.kerf, rules.kerf):
            for changed in (
                replace(cut, measure=cut.measure + shift, fence=cut.fence + shift),
                replace(cut, measure=cut.measure + shift),
                replace(cut, fence=cut.fence + shift),
            ):
                cuts = [*sequence.cuts[:place], changed, *sequence.cuts[place + 1 :]]
                assert faults_of(layout, rules, sequence, cuts), changed
        fewer = [*sequence.cuts[:place], *sequence.cuts[place + 1 :]]
        assert faults_of(layout, rules, sequence, fewer), "a cut left out"


def test_squaring_comes_first_and_keeps_what_lies_at_the_fence() -> None:
    # 1/2 off every edge of 96 x 48 leaves 95 x 47: each side first from the untouched far side.
    rules = SheetRules(edge_trim=INCH // 2)
    part = Rect(0, 0, 40 * INCH, 47 * INCH)
    drop = Rect(inches("40-1/8"), 0, inches("54-7/8"), 47 * INCH)
    layout = layout_of([part], [drop], sheet_of(96 * INCH, 48 * INCH), rules)
    sequence = sequence_of(layout, rules)
    told = [(c.stage, c.axis, c.measure, c.datum) for c in sequence.cuts]
    assert told == [
        (0, Axis.RIP, inches("47-1/2"), Datum.FAR_FACTORY),
        (0, Axis.RIP, inches("47"), Datum.SQUARED),
        (0, Axis.CROSS, inches("95-1/2"), Datum.TAIL),
        (0, Axis.CROSS, inches("95"), Datum.SQUARED_HEAD),
        (1, Axis.CROSS, inches("40"), Datum.SQUARED_HEAD),
    ]
    assert faults_of(layout, rules, sequence) == []


def test_a_ceiling_row_keeps_its_edges_and_is_not_squared() -> None:
    rules = SheetRules(edge_trim=INCH // 2, kerf=0)
    offer = sheet_of(168 * INCH, 48 * INCH)
    row = Rect(0, 0, 160 * INCH, 30 * INCH)
    beside = [Rect(0, 30 * INCH, 100 * INCH, 18 * INCH)]
    drops = [
        Rect(160 * INCH, 0, 8 * INCH, 30 * INCH),
        Rect(100 * INCH, 30 * INCH, 68 * INCH, 18 * INCH),
    ]
    layout = layout_of([row, *beside], drops, offer, rules)
    parts = (replace(layout.parts[0], full_span=True), *layout.parts[1:])
    layout = replace(layout, parts=parts)
    sequence = sequence_of(layout, rules)
    assert sequence.edge == 0
    assert [c.stage for c in sequence.cuts] == [1, 2, 2]
    assert faults_of(layout, rules, sequence) == []


def test_a_whole_sheet_has_no_cut() -> None:
    rules = SheetRules()
    layout = layout_of([Rect(0, 0, 960, 480)], [], sheet_of(960, 480), rules)
    sequence = sequence_of(layout, rules)
    assert sequence.cuts == ()
    assert sequence.names == ("A",)
    assert faults_of(layout, rules, sequence) == []


def test_a_part_at_the_far_factory_edge_is_measured_from_there() -> None:
    rules = SheetRules(kerf=2, first_cut=FirstCut.RIP)
    part, waste = Rect(0, 80, 100, 20), Rect(0, 0, 100, 78)
    layout = layout_of([part], [waste], sheet_of(100, 100), rules)
    (cut,) = sequence_of(layout, rules).cuts
    assert (cut.datum, cut.measure) == (Datum.FAR_FACTORY, 20)
    assert [str(p) for p in cut.yields] == ["waste", "part A"]
    rack = replace(layout, offer=sheet_of(100, 100, edges=Edges.ONE))
    assert sequence_of(rack, rules).cuts[0].datum is Datum.FAR_SAWN


def test_a_blade_that_hangs_over_keeps_what_lies_at_the_fence() -> None:
    # One unit before the part, a kerf of three: the blade hangs over by two.
    rules = SheetRules(kerf=3, first_cut=FirstCut.RIP)
    layout = layout_of([Rect(0, 1, 100, 99)], [], sheet_of(100, 100), rules)
    sequence = sequence_of(layout, rules)
    (cut,) = sequence.cuts
    assert (cut.datum.far, cut.measure, cut.kerf) == (True, 99, 1)
    assert faults_of(layout, rules, sequence) == []


def test_what_does_not_fill_the_sheet_has_no_sequence() -> None:
    layout, rules = worked()
    assert cut_sequence(replace(layout, drops=layout.drops[1:]), rules) is None
    assert cut_sequence(replace(layout, parts=(), drops=()), rules) is None
    assert cut_sequence(layout, replace(rules, first_cut=FirstCut.CROSS, stages=2)) is None
    assert cut_sequence(layout, replace(rules, kerf=0)) is None
    # Two stages do: what frees A2 from its strip is the free trimming cut.
    two = sequence_of(layout, replace(rules, stages=2))
    assert [(c.stage, c.trim) for c in two.cuts] == [(1, False)] * 2 + [(2, False)] * 3 + [
        (3, True)
    ]
    assert two.stages == 2


def test_rests_of_drops_alone_are_cut_as_they_are_told() -> None:
    # A strip without a part, parted into two kept drops.
    rules = SheetRules(kerf=0, keep_drop=(10, 10), first_cut=FirstCut.RIP)
    parts = [Rect(0, 0, 96, 20)]
    drops = [Rect(0, 20, 50, 28), Rect(50, 20, 46, 28)]
    layout = layout_of(parts, drops, sheet_of(96, 48), rules)
    sequence = sequence_of(layout, rules)
    assert [str(p) for c in sequence.cuts for p in c.yields] == [
        *("part A", "rest 1"),
        *("kept drop", "kept drop"),
    ]
    assert faults_of(layout, rules, sequence) == []


def test_letters() -> None:
    assert [letters(i) for i in (0, 25, 26, 51, 52, 701, 702)] == [
        *("A", "Z", "AA", "AZ", "BA", "ZZ", "AAA")
    ]


@given(random_layouts())
def test_any_layout_comes_off_the_saw_as_planned(made: tuple[Layout, SheetRules]) -> None:
    layout, rules = made
    sequence = sequence_of(layout, rules)
    assert faults_of(layout, rules, sequence) == []
    assert sorted(sequence.turns) == list(range(len(layout.parts)))
    # A cut makes two pieces of one, so none too many is made; a scored one never hangs over.
    if rules.kerf == 0:
        squaring = sum(c.stage == 0 for c in sequence.cuts)
        assert len(sequence.cuts) - squaring == len(layout.parts) + len(layout.drops) - 1


@given(random_layouts(), st.data())
def test_any_measure_off_by_a_kerf_is_found_out(
    made: tuple[Layout, SheetRules], data: st.DataObject
) -> None:
    layout, rules = made
    sequence = sequence_of(layout, rules)
    if not sequence.cuts or not rules.kerf:
        return
    place = data.draw(st.integers(0, len(sequence.cuts) - 1))
    cut = sequence.cuts[place]
    shift = data.draw(st.sampled_from([-rules.kerf, rules.kerf]))
    changed = replace(cut, measure=cut.measure + shift, fence=cut.fence + shift)
    cuts = [*sequence.cuts[:place], changed, *sequence.cuts[place + 1 :]]
    assert faults_of(layout, rules, sequence, cuts)


@pytest.mark.parametrize("name", sorted(p.name for p in DEMO.glob("20*")))
def test_every_sheet_of_a_demo_day_comes_off_the_saw_as_planned(name: str) -> None:
    day = read_days([DEMO / name]).days[0]
    sheets = {o.material for o in day.offers if o.kind is Kind.SHEET}
    day = replace(day, parts=tuple(p for p in day.parts if p.material in sheets))
    plan = solve(Problem((day,)), Settings(workers=1), cancelled=lambda: True)
    seen = 0
    for material in plan.materials:
        rules = day.rules.for_sheets(material.material)
        for layout in material.layouts:
            sequence = sequence_of(layout, rules)
            assert faults_of(layout, rules, sequence) == [], layout.id
            assert {p.form for c in sequence.cuts for p in c.yields} <= set(Form)
            seen += len(sequence.cuts)
    assert seen > 100

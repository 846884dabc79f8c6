"""From rows of cut lists to units of runs, and from columns to pieces of the plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from cutopt.cutlist import Day, Joints, Part, Rule
from cutopt.materials import Kind, LumberRules, Offer, Per, Rules
from cutopt.measure import INCH
from cutopt.plan import Problem
from cutopt.records import Place
from cutopt.solve.demand import items_of
from cutopt.solve.runs import Pricer, Run, Unit, lengths, pieces_of, reason, units_of

RULES = Rules(LumberRules(joint_min_piece=32 * INCH, joint_price=Decimal("0.5")))


def row(
    section: str,
    mark: str,
    inches: int,
    qty: int = 1,
    mate: str | None = None,
    clear: int = 0,
    first: int = 16,
    **more: object,
) -> Part:
    joints = Joints(first * INCH, 16 * INCH, clear * INCH, mate)
    facts = {"material": "2x4", "width": None, "rule": Rule.JOINTED, "joints": joints}
    return Part(
        place=Place("cuts/walls.csv", 2),
        section=section,
        jig="Wall table",
        mark=mark,
        length=inches * INCH,
        qty=qty,
        **(facts | more),  # type: ignore[arg-type]
    )


def units(*parts: Part, longest: int = 240) -> tuple[Unit, ...]:
    return units_of(parts, RULES, lambda _: longest * INCH)


def names(unit: Unit) -> list[list[str]]:
    return [[f"{m.part.section}/{m.name}" for m in members] for members in unit.members]


def test_equal_runs_are_one_unit_with_copies_and_other_parts_are_passed_over() -> None:
    stud = row("A", "S", 92, 9, rule=Rule.PART, joints=None)
    found = units(row("A", "P", 480, 2), stud, row("B", "Q", 480), row("B", "R", 464))
    assert [u.copies for u in found] == [3, 1]
    assert names(found[0]) == [["A/P"], ["A/P#2"], ["B/Q"]]
    assert found[0].runs[0] == Run(
        480 * INCH, 16 * INCH, 16 * INCH, 32 * INCH, 240 * INCH, materials=("2x4",)
    )


def test_mates_are_paired_copy_by_copy_and_what_has_none_stands_alone() -> None:
    found = units(row("A", "P", 480, 3, "Q", 24), row("A", "Q", 480, 2, "P", 24))
    assert [(len(u.runs), u.copies) for u in found] == [(2, 2), (1, 1)]
    assert names(found[0]) == [["A/P", "A/Q"], ["A/P#2", "A/Q#2"]]
    assert names(found[1]) == [["A/P#3"]]


def test_one_of_two_may_name_the_other_and_the_larger_clearance_holds() -> None:
    (one,) = units(row("A", "P", 480), row("A", "Q", 480, 1, "P", 24))
    assert one.clear == ((0, 1, 24 * INCH),)
    (both,) = units(row("A", "P", 480, 1, "Q", 48), row("A", "Q", 480, 1, "P", 24))
    assert both.clear == ((0, 1, 48 * INCH),)


def test_mates_are_sought_in_the_same_section_only() -> None:
    found = units(row("A", "P", 480, 1, "Q", 24), row("B", "Q", 480))
    assert [u.missing for u in found] == [("Q",), ()]
    words = reason(found[0])
    assert words is not None
    assert "P must keep its joints clear of Q" in words


def test_a_run_that_names_itself_is_told_so() -> None:
    (one,) = units(row("A", "P", 480, 1, "P", 24))
    assert reason(one) == "P names itself as its mate; another run's mark would be right"


def test_a_clearance_of_nothing_mates_nothing() -> None:
    assert [len(u.runs) for u in units(row("A", "P", 480, 1, "Q", 0), row("A", "Q", 480))] == [1]


def test_pairs_are_equal_whichever_is_named_first() -> None:
    found = units(
        row("A", "P", 480, 1, "Q", 24),
        row("A", "Q", 320),
        row("B", "Q", 320, 1, "P", 24),
        row("B", "P", 480),
    )
    assert len(found) == 1
    assert sorted(n for copy in names(found[0]) for n in copy) == ["A/P", "A/Q", "B/P", "B/Q"]
    for members in found[0].members:
        assert [m.part.length for m in members] == [r.length for r in found[0].runs]


def test_rows_with_the_same_section_and_mark_count_their_copies_on() -> None:
    (one,) = units(row("A", "P", 480, 2), row("A", "P", 480, 1))
    assert names(one) == [["A/P"], ["A/P#2"], ["A/P#3"]]


def test_a_chain_of_mates_is_one_unit_with_a_clearance_for_each_pair_that_states_one() -> None:
    (chain,) = units(
        row("A", "P", 480, 1, "Q", 24), row("A", "Q", 496, 1, "R", 48), row("A", "R", 512)
    )
    assert [r.length // INCH for r in chain.runs] == [480, 496, 512]
    assert chain.clear == ((0, 1, 24 * INCH), (1, 2, 48 * INCH))
    again = units(
        row("B", "Z", 512), row("B", "Y", 496, 1, "Z", 48), row("B", "X", 480, 1, "Y", 24)
    )
    assert [(u.runs, u.clear) for u in again] == [(chain.runs, chain.clear)]


def test_mates_of_different_materials_are_planned_together() -> None:
    offers = tuple(
        Offer(i, m, kind, None, 240 * INCH, width, Decimal(9), Per.EACH)
        for i, (m, kind, width) in enumerate(
            [
                ("2x4-PT", Kind.LUMBER, None),
                ("2x6", Kind.LUMBER, None),
                ("2x4", Kind.LUMBER, None),
                ("PLY", Kind.SHEET, 48 * INCH),
            ]
        )
    )
    parts = (
        row("A", "SILL", 480, 1, "P", 24, material="2x4-PT"),
        row("A", "P", 480, 1),
        row("A", "Q", 480, 1, "P", 0, material="2x6"),
        row("A", "R", 480, 1, "P", 24, material="PLY", width=12 * INCH),
    )
    day = Day("d", "p", date(2026, 3, 2), "in", RULES, offers, parts)
    groups = Problem((day,)).groups
    assert [g.materials for g in groups] == [("2x4-PT", "2x4"), ("2x6",), ("PLY",)]
    (pair,) = units(*groups[0].parts)
    assert [r.materials for r in pair.runs] == [("2x4",), ("2x4-PT",)]
    pricer = Pricer([pair])
    column = pricer.price(np.array([c.length for c in pricer.cuts], np.int64), 5).column(0)
    assert column is not None
    assert pair.allows(column.joints)
    words = reason(units(*groups[2].parts)[0])
    assert words is not None
    assert "cut from the same kind of stock" in words


def test_each_material_keeps_its_own_shortest_piece() -> None:
    rules = replace(RULES, lumber_of={"2x4-A": LumberRules(joint_min_piece=48 * INCH)})
    parts = [row("A", "P", 480, alt=("2x4-A",)), row("A", "Q", 40, alt=("2x4-A",))]
    long, short = units_of(parts, rules, lambda _: 240 * INCH)
    assert long.runs[0].least == 32 * INCH
    assert long.runs[0].materials == ("2x4", "2x4-A")
    pricer = Pricer([long, short])
    allowed = {c.length // INCH: c.materials for c in pricer.cuts}
    assert allowed[32] == ("2x4",)
    assert allowed[48] == ("2x4", "2x4-A")
    # A run of one piece may be of any length and any of its materials.
    assert allowed[40] == ("2x4", "2x4-A")
    joints = ((32 * INCH, 256 * INCH),)
    pieces = pieces_of(long, joints, long.members[0])
    assert [p.materials for p in pieces] == [("2x4",), ("2x4", "2x4-A"), ("2x4", "2x4-A")]
    # Two runs share a table, and one is as long as a barred piece of the other.
    values = np.array([100 - len(c.materials) for c in pricer.cuts], np.int64)
    priced = pricer.price(values, 1000)
    assert priced.bound.tolist() == [98 + 98 + 1000, 98]


def test_start_and_end_are_no_joints_and_the_first_place_0_is_dropped() -> None:
    assert list(Run(64, 0, 16, 0, 64).places) == [16, 32, 48]
    assert list(Run(64, 3, 16, 0, 64).places) == [3, 19, 35, 51]
    assert list(Run(64, 40, 16, 0, 64).places) == [40, 56]
    assert list(Run(64, 64, 16, 0, 64).places) == []
    assert list(Run(64, 90, 16, 0, 64).places) == []


def test_a_run_of_one_piece_may_be_of_any_length() -> None:
    (short,) = units(row("A", "P", 20))
    assert [c.length for c in lengths(short)] == [20 * INCH]
    assert reason(short) is None
    assert short.allows(((),))
    assert not short.allows(((16 * INCH,),))


def test_a_piece_counts_as_a_cut_of_its_width_turning_and_materials() -> None:
    ply = row("A", "P", 96, first=48, width=48 * INCH, turn=True, material="PLY", alt=("OSB",))
    (one,) = units_of([ply], RULES, lambda _: 96 * INCH)
    cuts = lengths(one)
    turned = {c.length // INCH: c.turn for c in cuts}
    assert turned == {32: True, 48: False, 64: True, 96: True}
    assert {c.materials for c in cuts} == {("OSB", "PLY")}
    assert {c.width for c in cuts} == {48 * INCH}


def test_columns_become_pieces_with_the_run_s_name_and_where_each_starts() -> None:
    parts = [row("A", "P", 480, 2, "Q", 24, need=1), row("A", "Q", 480, 2)]
    found = units(*parts)
    pricer = Pricer(found)
    priced = pricer.price(np.array([c.length for c in pricer.cuts], np.int64), INCH)
    pieces = []
    for u, unit in enumerate(found):
        column = priced.column(u)
        assert column is not None
        for members in unit.members:
            pieces += pieces_of(unit, column.joints, members)
    made: dict[tuple[str | None, str], list[tuple[int, int]]] = {}
    for p in pieces:
        assert p.qty == 1
        assert p.run_at is not None
        made.setdefault((p.run, p.part.mark), []).append((p.run_at, p.length))
    assert set(made) == {("P", "P"), ("P#2", "P"), ("Q", "Q"), ("Q#2", "Q")}
    for cuts in made.values():
        at = 0
        for start, length in sorted(cuts):
            assert start == at
            at += length
        assert at == 480 * INCH
    cuts = {(i.length, i.width, i.turn, i.materials, i.edge) for i in items_of(pieces)}
    assert cuts <= {tuple(c) for c in pricer.cuts}


def test_top_plate_joints_lie_at_least_24_in_apart() -> None:
    """IRC R602.3.2: joints in the two top plates are offset at least 24 in."""
    parts = [row("A", "TP-1", 600, 1, "TP-2", 24), row("A", "TP-2", 600, 1, "TP-1", 24)]
    (pair,) = units(*parts, longest=192)
    pricer = Pricer([pair])
    rng = np.random.default_rng(4)
    for _ in range(50):
        values = rng.integers(1, 10_000, len(pricer.cuts))
        priced = pricer.price(values, 100)
        for column in priced.near(0, 5):
            first, second = column.joints
            assert first
            assert second
            assert min(abs(x - y) for x in first for y in second) >= 24 * INCH


def test_the_same_values_give_the_same_columns() -> None:
    parts = [row(s, m, 640, 1, "Q", 48) for s in "ABC" for m in ("P",)]
    parts += [row(s, "Q", 624) for s in "ABC"]
    values = None
    seen = []
    for _ in range(2):
        pricer = Pricer(units(*parts))
        values = np.array([c.length % 7 for c in pricer.cuts], float)
        priced = pricer.price(values, 0.0)
        seen.append((priced.column(0), priced.near(0, 4)))
    assert seen[0] == seen[1]


def test_values_of_the_wrong_shape_or_too_big_to_prove_by_are_refused() -> None:
    pricer = Pricer(units(row("A", "P", 480)))
    with pytest.raises(ValueError, match="would be right"):
        pricer.price(np.zeros(len(pricer.cuts) + 1))
    with pytest.raises(ValueError, match="would be right"):
        pricer.price(np.zeros(len(pricer.cuts), np.int32))
    with pytest.raises(ValueError, match="scale them down"):
        pricer.price(np.full(len(pricer.cuts), 1 << 57, np.int64))
    with pytest.raises(ValueError, match="int64 would be right"):
        pricer.best_integer(np.zeros(len(pricer.cuts)))


def test_nothing_to_price_is_no_error() -> None:
    pricer = Pricer([])
    assert pricer.cuts == ()
    assert pricer.price(np.zeros(0)).bound.shape == (0,)

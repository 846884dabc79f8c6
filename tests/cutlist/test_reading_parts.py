"""Cut lists row by row: what the columns mean, and every fault with its place."""

from __future__ import annotations

import pytest

from cutopt.cutlist import Joints, Rule
from cutopt.materials import Edge
from cutopt.measure import INCH
from tests.cutlist.words import CUTS, STOCK, files, more, only, read, refused, row, warned, without


def test_every_column_is_read() -> None:
    parts = read(files()).days[0].parts
    stud, top, _, deck, ceiling, _ = parts
    assert str(stud.place) == "cuts/walls.csv:2"
    assert (stud.section, stud.jig, stud.mark, stud.material) == ("A", "Wall", "STUD", "2x4-SPF")
    assert (stud.length, stud.width, stud.qty) == (92 * INCH + 5 * INCH // 8, None, 20)
    assert (stud.rule, stud.alt, stud.need, stud.turn) == (Rule.PART, ("2x4-DF",), 1, False)
    assert top.joints == Joints(16 * INCH, 16 * INCH, 24 * INCH, "TOP-2")
    assert (deck.length, deck.width) == (95 * INCH + 7 * INCH // 8, 47 * INCH + INCH // 2)
    assert (ceiling.rule, ceiling.width, ceiling.joints) == (Rule.FULL_SPAN, 400 * INCH, None)
    assert read(files()).warnings == ()


@pytest.mark.parametrize(
    ("word", "turn"),
    [
        *((w, True) for w in ("yes", "Y", "true", "TRUE", "1")),
        *((w, False) for w in ("", "no", "N", "False", "0")),
    ],
)
def test_turn_words(word: str, turn: bool) -> None:
    assert read(files(cuts=row(5, turn=word))).days[0].parts[3].turn is turn


@pytest.mark.parametrize(
    ("line", "cells", "told"),
    [
        (2, {"section": ""}, "2:section: blank"),
        (2, {"mark": ""}, "2:mark: blank, would be right: the piece mark"),
        (2, {"material": ""}, "2:material: blank, would be right: a code of stock.csv"),
        (
            2,
            {"material": "2x4-SPD"},
            "2:material: no such material in stock.csv, read '2x4-SPD', "
            "would be right: did you mean '2x4-SPF'?",
        ),
        (
            2,
            {"material": "2X4-spf"},
            "2:material: no such material in stock.csv, read '2X4-spf', "
            "would be right: did you mean '2x4-SPF'?",
        ),
        (2, {"length": ""}, "2:length: blank, would be right: the length, long point to long"),
        (2, {"length": "0"}, "2:length: a length of zero, read '0'"),
        (2, {"length": "-92"}, "2:length: a length below zero, read '-92'"),
        (2, {"length": "92 5/8 x"}, "2:length: not a length, read '92 5/8 x'"),
        (
            2,
            {"width": "3"},
            "2:width: a width on lumber, which is cut to length only, read '3', would be right: "
            "a blank, or the sticks' own 3-1/2",
        ),
        (5, {"width": ""}, "5:width: blank, would be right: the width of the part"),
        (6, {"width": ""}, "6:width: blank, would be right: the run of the field along"),
        (2, {"qty": ""}, "2:qty: blank, would be right: pieces, 1 or more"),
        (2, {"qty": "0"}, "2:qty: zero, read '0', would be right: pieces, 1 or more"),
        (2, {"qty": "-3"}, "2:qty: below zero, read '-3'"),
        (2, {"qty": "2.5"}, "2:qty: not a whole number, read '2.5'"),
        (2, {"qty": "1e3"}, "2:qty: not a whole number, read '1e3'"),
        (2, {"qty": "99999999"}, "2:qty: above 10,000,000, read '99999999'"),
        (5, {"turn": "maybe"}, "5:turn: not a known word, read 'maybe', would be right: yes, no"),
        (
            2,
            {"rule": "joined"},
            "2:rule: not a known word, read 'joined', would be right: did you mean 'jointed'?",
        ),
        (2, {"rule": "full-span"}, "2:rule: full-span on 2x4-SPF, which is lumber"),
        (
            2,
            {"alt": "2x4-D"},
            "2:alt: no such material in stock.csv, read '2x4-D', would be right"
            ": did you mean '2x4-DF'?",
        ),
        (2, {"alt": "OSB"}, "2:alt: OSB is sheet, 2x4-SPF is lumber, read 'OSB'"),
        (2, {"need": "-1"}, "2:need: below zero, read '-1'"),
        (2, {"need": "soon"}, "2:need: not a whole number, read 'soon'"),
        (
            2,
            {"joint_first": "16"},
            "2:joint_first: a joint rule on a row that is not jointed, read",
        ),
        (2, {"joint_step": "16"}, "2:joint_step: a joint rule on a row that is not jointed"),
        (2, {"joint_clear": "16"}, "2:joint_clear: a joint rule on a row that is not jointed"),
        (2, {"joint_mate": "TOP-1"}, "2:joint_mate: a joint rule on a row that is not jointed"),
        (3, {"joint_first": ""}, "3:joint_first: blank, would be right: where the first joint may"),
        (3, {"joint_first": "-1"}, "3:joint_first: a length below zero, read '-1'"),
        (3, {"joint_step": ""}, "3:joint_step: blank, would be right: from one place"),
        (3, {"joint_step": "0"}, "3:joint_step: a length of zero, read '0'"),
        (
            3,
            {"joint_clear": ""},
            "3:joint_clear: blank, with the mate TOP-2, would be right: the "
            "least distance from the mate's joints",
        ),
        (3, {"joint_mate": ""}, "3:joint_mate: blank, with a joint_clear"),
        (3, {"joint_mate": "TOP-1"}, "3:joint_mate: a run that is its own mate, read 'TOP-1'"),
        (
            3,
            {"joint_mate": "TOP-3"},
            "3:joint_mate: no such run in section A, read 'TOP-3', would"
            " be right: did you mean 'TOP-2'?",
        ),
        (
            3,
            {"joint_mate": "STUD"},
            "3:joint_mate: the mate at cuts/walls.csv:2 is not jointed, "
            "read 'STUD', would be right: the mark of a run",
        ),
    ],
)
def test_a_fault_in_a_cell(line: int, cells: dict[str, str], told: str) -> None:
    assert only(files(cuts=row(line, **cells))).startswith(f"cuts/walls.csv:{told}")


def test_all_faults_of_all_files_are_told_in_one_go() -> None:
    head = CUTS.splitlines()[0] + "\n"
    day = files(
        'plant = "P"\ndate = 2026-03-02\n[lumber]\nkrf = 1\n',
        row(2, STOCK, price="x"),
        {"a": row(2, qty="0"), "b": head + row(3, section="B", length="?").splitlines()[2] + "\n"},
    )
    assert [str(f.place) for f in refused(day)] == [
        "cuts/a.csv:2:qty",
        "cuts/b.csv:2:length",
        "day.toml:4:lumber.krf",
        "stock.csv:2:price",
    ]


@pytest.mark.parametrize("column", ["section", "jig", "mark", "material", "length", "qty"])
def test_a_missing_column(column: str) -> None:
    assert only(files(cuts=without(column))).startswith(
        f"cuts/walls.csv:1:{column}: the column '{column}' is missing"
    )


@pytest.mark.parametrize("column", ["turn", "need", "note"])
def test_columns_that_may_be_absent(column: str) -> None:
    assert len(read(files(cuts=without(column))).days[0].parts) == 6


def test_an_unknown_column_names_the_nearest_that_is_not_there_yet() -> None:
    assert only(files(cuts=CUTS.replace("need,", "neeed,", 1))).startswith(
        "cuts/walls.csv:1:neeed: no such column, read 'neeed', would be right: did you mean 'need'?"
    )
    cuts = without("note").replace("joint_mate\n", "joint_mate,colour\n", 1)
    lines = cuts.splitlines()
    padded = "\n".join([lines[0], *(f"{line}," for line in lines[1:])]) + "\n"
    assert "no such column, read 'colour', would be right: one of section, jig" in only(
        files(cuts=padded)
    )


def test_alternates() -> None:
    cuts = row(2, alt="2x4-DF ; 2x4-DF;2x4-SPF;")
    assert read(files(cuts=cuts)).days[0].parts[0].alt == ("2x4-DF",)
    assert warned(files(cuts=cuts)) == [
        f"cuts/walls.csv:2:alt: {code} is named twice, read '2x4-DF ; 2x4-DF;2x4-SPF;'"
        for code in ("2x4-DF", "2x4-SPF")
    ]


def test_a_turned_ceiling_field_is_told_and_not_turned() -> None:
    cuts = row(6, turn="yes")
    assert read(files(cuts=cuts)).days[0].parts[4].turn is False
    assert warned(files(cuts=cuts)) == [
        "cuts/walls.csv:6:turn: a full-span field is not turned: its rows run along the span, "
        "read 'yes'"
    ]


def test_a_first_joint_at_the_start_and_no_mate() -> None:
    cuts = row(
        3, row(4, joint_mate="", joint_clear=""), joint_first="0", joint_mate="", joint_clear=""
    )
    assert read(files(cuts=cuts)).days[0].parts[1].joints == Joints(0, 16 * INCH, 0, None)


def test_a_mate_whose_own_row_is_faulty_is_not_missed() -> None:
    assert only(files(cuts=row(4, length="?"))).startswith("cuts/walls.csv:4:length")


def test_mates_with_other_clearances_or_copies_are_told() -> None:
    assert warned(files(cuts=row(4, joint_clear="16"))) == [
        "cuts/walls.csv:4:joint_clear: another clearance than its mate has at cuts/walls.csv:3, "
        "24\": the larger holds for both, read '16\"'"
    ]
    assert warned(files(cuts=row(4, qty="3"))) == [
        "cuts/walls.csv:3:qty: 1 copies, and 3 of its mate at cuts/walls.csv:4: copies after "
        "number 1 have no mate, read '1'"
    ]


def test_a_mark_that_two_runs_have_is_no_mate() -> None:
    cuts = more("A,Wall,TOP-2,2x4-DF,480,,1,,jointed,,1,16,16")
    assert only(files(cuts=cuts)) == (
        "cuts/walls.csv:3:joint_mate: 2 runs of A have this mark, at cuts/walls.csv:4 and "
        "cuts/walls.csv:8, read 'TOP-2', would be right: a mark that one run has"
    )


def test_blank_lines_are_skipped_and_counted() -> None:
    lines = CUTS.splitlines()
    cuts = "\n\n" + lines[0] + "\n,,,,,,,,,,,,,,,\n\n" + row(2, qty="0").splitlines()[1] + "\n"
    assert only(files(cuts=cuts)).startswith("cuts/walls.csv:6:qty: zero")


@pytest.mark.parametrize("width", ["3.5", "3-1/2", "4"])
def test_a_width_that_the_stick_has_anyway_is_left_aside(width: str) -> None:
    # A 2x4 measures 3-1/2 in dressed (PS 20).
    assert read(files(cuts=row(2, width=width))).days[0].parts[0].width is None
    assert read(files(stock=row(2, STOCK, width=width))).days[0].offers[0].width is None


def with_edges(**edges: str) -> str:
    """The cut list with a column `edge`; `line5="one"` fills it on that line."""
    lines = CUTS.splitlines()
    cells = ["edge", *(edges.get(f"line{n}", "") for n in range(2, len(lines) + 1))]
    return "".join(f"{line},{cell}\n" for line, cell in zip(lines, cells, strict=True))


@pytest.mark.parametrize("edge", ["one", "both", "tongue", "Groove"])
def test_factory_edges_of_a_part(edge: str) -> None:
    parts = read(files(cuts=with_edges(line5=edge))).days[0].parts
    assert [p.edge for p in parts] == [Edge.NONE] * 3 + [Edge(edge.casefold())] + [Edge.NONE] * 2


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (2, "2:edge: a factory edge on lumber, read 'one', would be right: a blank"),
        (3, "3:edge: a factory edge on lumber, read 'one', would be right: a blank"),
        (6, "6:edge: a full-span field, whose rows meet on factory edges without it, read 'one'"),
    ],
)
def test_rows_that_have_no_factory_edge_to_ask_for(line: int, told: str) -> None:
    assert told in only(files(cuts=with_edges(**{f"line{line}": "one"})))


def test_an_edge_that_is_no_word() -> None:
    assert only(files(cuts=with_edges(line5="grove"))) == (
        "cuts/walls.csv:5:edge: not a known word, read 'grove', would be right: did you mean "
        "'groove'?"
    )


def test_a_part_with_an_edge_is_not_turned() -> None:
    cuts = row(5, with_edges(line5="one"), turn="yes")
    assert only(files(cuts=cuts)) == (
        "cuts/walls.csv:5:turn: a part with edge 'one' is not turned: its length lies along the "
        "sheet's, read 'yes', would be right: no or a blank"
    )


def test_a_jointed_run_of_sheet_has_no_factory_edge() -> None:
    cuts = row(5, with_edges(line5="one"), rule="jointed", joint_first="24", joint_step="24")
    assert "edge: a factory edge on a jointed run" in only(files(cuts=cuts))


def test_a_missing_width_is_told_once_and_only_where_sheets_are() -> None:
    told = only(files(cuts=without("width")))
    assert told.startswith(
        "cuts/walls.csv:1:width: the column 'width' is missing, and sheets are asked for"
    )
    sticks = "".join(
        f"{line}\n"
        for line in without("width").splitlines()
        if "OSB" not in line and "GYP" not in line
    )
    assert len(read(files(cuts=sticks)).days[0].parts) == 4


def test_alternates_with_a_comma_between_them() -> None:
    cuts = CUTS.replace("2x4-DF,1", '"2x4-DF, 2x4-SPF",1')
    assert only(files(cuts=cuts)) == (
        "cuts/walls.csv:2:alt: a comma between codes, read '2x4-DF, 2x4-SPF', "
        "would be right: 2x4-DF;2x4-SPF"
    )

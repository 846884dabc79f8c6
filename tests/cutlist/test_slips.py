"""Common slips: caught where they are surely wrong, told where they may be, silent elsewhere."""

from __future__ import annotations

import time

import pytest

from tests.cutlist.words import CUTS, DAY, STOCK, files, more, only, read, refused, row, warned

CHECKED = ", or the word 'checked' in the note once the drawing has been looked at"


def like(*lengths: str, mark: str = "CRIP", note: str = "") -> str:
    """One mark in as many sections as there are lengths."""
    rows = [f"S{i},Wall,{mark},2x4-SPF,{n},,2" for i, n in enumerate(lengths)]
    if note:
        width = CUTS.splitlines()[0].count(",")
        rows[-1] += "," * (width - rows[-1].count(",")) + note
    return more(*rows)


# Feet for inches


def test_feet_typed_for_inches_beside_two_that_agree() -> None:
    assert only(files(cuts=like("92-5/8", "92-5/8", "7.71875"))) == (
        "cuts/walls.csv:10:length: 12 times too short beside its like (feet typed for inches?): "
        "CRIP in 2x4-SPF is 92-5/8\" at cuts/walls.csv:8 and in 1 more rows, read '7-23/32\"', "
        f'would be right: 92-5/8"{CHECKED}'
    )


@pytest.mark.parametrize(
    ("lengths", "line"),
    [
        # Rounded as a person types it: 7-3/4 ft for 92-5/8 in.
        (["7.75", "92-5/8", "92-5/8", "92-5/8"], 8),
        # 14-1/2 in typed as 14-1/2 ft.
        (["14-1/2", "14-1/2", "174"], 10),
        # A sole like, where no stock could give the part or where it is too short to be real.
        (["92-5/8", "1111.5"], 9),
        (["92-5/8", "7.71875"], 9),
        (["96", "8"], 9),
    ],
)
def test_twelve_times_too_long_or_short(lengths: list[str], line: int) -> None:
    told = only(files(cuts=like(*lengths)))
    assert told.startswith(f"cuts/walls.csv:{line}:length: 12 times too")


@pytest.mark.parametrize(
    "lengths",
    [
        ["92-5/8", "92-5/8", "92-5/8"],
        # Eleven or thirteen times is no slip of units.
        ["96", "96", "8-3/4"],
        ["96", "96", "7-3/8"],
        # A mark of many lengths, of which two happen to be 12 times apart.
        ["12", "144", "100", "80"],
        ["12", "144", "144", "36"],
        # Two lengths that both stand more than once.
        ["12", "12", "144", "144"],
        # Two rows alone: a plate of 4 ft beside one of 40, and blocks that are real.
        ["16", "191"],
        ["24", "192"],
        # 240 is 12 × 20, but 20 in and 20 ft are both sticks.
        ["240", "20-1/4"],
    ],
)
def test_no_false_alarm(lengths: list[str]) -> None:
    assert warned(files(cuts=like(*lengths))) == []


def test_a_checked_row_is_only_told() -> None:
    cuts = like("92-5/8", "92-5/8", "7.71875", note="Checked. fills the step")
    (told,) = warned(files(cuts=cuts))
    assert told.startswith("cuts/walls.csv:10:length: 12 times too short beside its like")
    assert "(checked)" in told
    # The word alone counts, not a part of another.
    assert only(files(cuts=like("92-5/8", "92-5/8", "7.71875", note="unchecked")))


def test_short_strips_of_sheet_are_only_told() -> None:
    cuts = more(*(f"S{i},Deck,R-04,OSB,{n},47,1" for i, n in enumerate(("96", "96", "96", "8"))))
    (told,) = warned(files(cuts=cuts))
    assert told.startswith("cuts/walls.csv:11:length: 12 times too short beside its like")


def runs(*lengths: str) -> str:
    return more(*(f"S{i},W,SOLE,2x4-SPF,{n},,1,,jointed,,,16,16" for i, n in enumerate(lengths)))


def test_a_short_wall_beside_a_long_one_is_no_slip() -> None:
    assert warned(files(cuts=runs("48", "576"))) == []
    # Beside two that agree it is worth a look, and no more.
    (told,) = warned(files(cuts=runs("48", "576", "576")))
    assert told.startswith("cuts/walls.csv:8:length: 12 times too short beside its like")
    (told,) = warned(files(cuts=runs("48", "48", "576")))
    assert told.startswith("cuts/walls.csv:10:length: 12 times too long beside its like")


def test_a_run_longer_than_any_section_beside_its_like() -> None:
    assert only(files(cuts=runs("576", "6912"))).startswith(
        "cuts/walls.csv:9:length: 12 times too long beside its like (inches typed as feet?)"
    )


def test_the_like_may_stand_in_another_day() -> None:
    two = files(
        DAY.replace("03-02", "03-03"),
        None,
        CUTS.splitlines()[0] + "\n" + "Z,Wall,STUD,2x4-SPF,7.71875,,20,,,,4,,,,,\n",
    )
    assert only(files(), two).startswith("d2/cuts/walls.csv:2:length: 12 times too short")


# Length and width exchanged


def test_a_sheet_part_that_fits_only_exchanged() -> None:
    assert only(files(cuts=row(5, length="47-1/2", width="95-7/8"))) == (
        "cuts/walls.csv:5:length: no sheet of OSB holds it as written, and with length and width "
        'exchanged one does, read \'47-1/2" x 95-7/8"\', would be right: 95-7/8" x 47-1/2", or '
        f"turn yes where the drawing lets it be turned{CHECKED}"
    )
    (told,) = warned(files(cuts=row(5, length="47-1/2", width="95-7/8", note="checked")))
    assert "(checked)" in told


def test_a_part_that_may_be_turned_is_not_exchanged() -> None:
    assert warned(files(cuts=row(5, length="47-1/2", width="95-7/8", turn="yes"))) == []


def test_an_alternate_that_holds_it_is_enough() -> None:
    stock = STOCK + "PLY,sheet,,60,120,30,each,,,,\n"
    cuts = row(5, length="47-1/2", width="95-7/8", alt="PLY")
    assert warned(files(stock=stock, cuts=cuts)) == []


def test_exchanged_beside_its_like_is_told() -> None:
    cuts = more("S1,D,P,OSB,40,30,1", "S2,D,P,OSB,40,30,1", "S3,D,P,OSB,30,40,1")
    assert warned(files(cuts=cuts)) == [
        "cuts/walls.csv:10:width: length and width exchanged beside its like at cuts/walls.csv:8 "
        'and 1 more, read \'30" x 40"\', would be right: 40" x 30"'
    ]


# Rows that stand twice


def test_one_mark_with_two_lengths() -> None:
    assert only(files(cuts=more("A,Wall,STUD,2x4-SPF,93,,3"))) == (
        'cuts/walls.csv:8:length: STUD of A in 2x4-SPF is 92-5/8" at cuts/walls.csv:2 and 93" '
        f"here, read '93\"', would be right: one size for a mark, or two marks{CHECKED}"
    )


def test_one_mark_with_two_widths() -> None:
    assert only(files(cuts=more("A,Deck,D1,OSB,95-7/8,40,3"))).startswith(
        'cuts/walls.csv:8:width: D1 of A in OSB is 95-7/8" x 47-1/2" at cuts/walls.csv:5 and '
    )


def test_two_lengths_that_were_checked() -> None:
    width = CUTS.splitlines()[0].count(",")
    line = "A,Wall,STUD,2x4-SPF,93,,3"
    cuts = CUTS + line + "," * (width - line.count(",")) + "checked\n"
    assert len(warned(files(cuts=cuts))) == 1


def test_the_same_row_twice_is_told() -> None:
    assert warned(files(cuts=CUTS + CUTS.splitlines()[1] + "\n")) == [
        "cuts/walls.csv:8: STUD of A in 2x4-SPF stands at cuts/walls.csv:2 already; both rows are "
        "planned, 20 and 20"
    ]


def test_one_mark_at_two_jigs_is_silent() -> None:
    assert warned(files(cuts=more("A,Roof,STUD,2x4-SPF,92-5/8,,3"))) == []


@pytest.mark.parametrize(("line", "what"), [(3, "run"), (6, "field")])
def test_a_run_or_a_field_stands_once(line: int, what: str) -> None:
    assert only(files(cuts=CUTS + CUTS.splitlines()[line - 1] + "\n")).startswith(
        f"cuts/walls.csv:8:mark: A has a {what} with this mark, whose rows are at "
        f"cuts/walls.csv:{line} and here"
    )


def test_a_part_with_the_mark_of_a_run() -> None:
    assert only(files(cuts=more("A,Wall,TOP-1,2x4-SPF,480,,1"))).startswith(
        "cuts/walls.csv:8:mark: A has a run with this mark"
    )


# What the stock can't give: told, not refused


def test_a_part_longer_than_any_stick() -> None:
    assert warned(files(cuts=more("A,W,X,2x4-SPF,1111.5,,1,,,2x4-DF"))) == [
        "cuts/walls.csv:8:length: longer than any stick of 2x4-SPF or 2x4-DF offered, of which the "
        'longest gives 240", read \'1111-1/2"\', would be right: 92-5/8" if inches were typed as '
        "feet"
    ]
    assert warned(files(cuts=more("A,W,X,2x4-DF,193,,1"))) == [
        "cuts/walls.csv:8:length: longer than any stick of 2x4-DF offered, of which the longest "
        "gives 192\", read '193\"'"
    ]


def test_a_head_trim_shortens_the_longest_stick() -> None:
    day = DAY + '[materials."2x4-DF"]\nhead_trim = "1/4"\n'
    assert 'the longest gives 191-3/4"' in warned(files(day, cuts=more("A,W,X,2x4-DF,192,,1")))[0]
    assert warned(files(day, cuts=more("A,W,X,2x4-DF,191-3/4,,1"))) == []


def test_a_sheet_part_larger_than_any_sheet() -> None:
    assert warned(files(cuts=row(5, length="97"))) == [
        "cuts/walls.csv:5:length: longer than any sheet of OSB offered, of which the longest gives "
        '96", read \'97" x 47-1/2"\''
    ]
    assert warned(files(cuts=row(5, width="49"))) == [
        "cuts/walls.csv:5:width: no sheet of OSB offered is as wide and long, "
        "read '95-7/8\" x 49\"'"
    ]


def test_a_span_that_no_board_covers() -> None:
    assert warned(files(cuts=row(6, length="150"))) == [
        'cuts/walls.csv:6:length: a span that no board of GYP covers; the longest is 144", read '
        "'150\"', would be right: a board of 150\" or longer"
    ]
    (told,) = warned(files(cuts=row(6, length="400", width="143")))
    assert told.endswith('or span 143" if span and run were exchanged')


def test_a_material_of_which_nothing_can_be_had() -> None:
    stock = row(6, STOCK, limit="0")
    assert warned(files(stock=stock)) == [
        "cuts/walls.csv:6:material: no piece of GYP can be had, read 'GYP'"
    ]


# Jointed runs that their joints can't make


@pytest.mark.parametrize(
    ("cells", "why"),
    [
        (
            {"joint_first": "250"},
            'no joint is allowed between 0" and 250", 250" apart, and the longest stick gives 240"',
        ),
        ({"joint_first": "16", "joint_step": "300"}, 'no joint is allowed between 16" and 316"'),
        ({"joint_first": "500"}, 'no joint is allowed between 0" and 480", 480" apart'),
        # 480 = 239 + 239 + 2: the last piece would be shorter than joint_min_piece.
        (
            {"joint_first": "239", "joint_step": "239"},
            'no joints make pieces from 32" (joint_min_p'
            'iece) to 240" (the longest stick) only; it comes as far as 478"',
        ),
    ],
)
def test_a_run_that_cannot_be_made_is_told(cells: dict[str, str], why: str) -> None:
    blank = {"joint_clear": "", "joint_mate": ""}
    cuts = row(3, row(4, **blank), **blank, **cells)
    (told,) = warned(files(cuts=cuts))
    assert told.startswith(f"cuts/walls.csv:3:joint_step: a run that its joints can't make: {why}")


def test_a_run_within_one_stick_needs_no_joint() -> None:
    blank = {"joint_clear": "", "joint_mate": ""}
    cuts = row(3, row(4, **blank), **blank, length="240", joint_first="300")
    assert warned(files(cuts=cuts)) == []


def test_a_sheet_run_wider_than_any_sheet() -> None:
    cuts = more("A,R,RIDGE,OSB,480,50,1,,jointed,,1,24,24")
    assert warned(files(cuts=cuts)) == [
        "cuts/walls.csv:8:width: no sheet of OSB offered is as wide, read '480\" x 50\"'"
    ]
    fits = more("A,R,RIDGE,OSB,480,16,1,,jointed,,1,24,24")
    assert warned(files(cuts=fits)) == []


def test_sizes_are_not_judged_by_a_faulty_stock() -> None:
    faults = refused(files(stock=row(3, STOCK, length="?"), cuts=row(2, length="239")))
    assert [str(f.place) for f in faults] == ["stock.csv:3:length"]


def test_a_sound_day_is_silent() -> None:
    assert read(files()).warnings == ()


def test_many_rows_of_one_mark_take_no_square_time() -> None:
    lengths = [f"{12 + n % 200}" for n in range(20_000)]
    start = time.process_time()
    read(files(cuts=like(*lengths)))
    assert time.process_time() - start < 5


def _edged(edge: str, **cells: str) -> str:
    lines = row(5, **cells).splitlines()
    return "".join(
        f"{line},{'edge' if n == 1 else edge if n == 5 else ''}\n"
        for n, line in enumerate(lines, 1)
    )


def test_factory_edges_that_no_sheet_leaves_are_told() -> None:
    assert warned(files(cuts=_edged("tongue"))) == []
    (told,) = warned(
        files(day=DAY + "[sheets]\nedge_trim = 0.25\n", cuts=_edged("one", length="90"))
    )
    assert told.startswith("cuts/walls.csv:5:edge: edge_trim cuts the factory edges of OSB away")
    (told,) = warned(files(cuts=_edged("both")))
    assert told.startswith("cuts/walls.csv:5:width: a part with both factory edges is as wide as")
    assert warned(files(cuts=_edged("both", width="48"))) == []
    header, *rows = STOCK.splitlines()
    stock = "\n".join([f"{header},edges", *(f"{r},{'one' if 'OSB' in r else ''}" for r in rows)])
    (told,) = warned(files(stock=stock, cuts=_edged("tongue")))
    assert told.startswith("cuts/walls.csv:5:edge: no OSB offered has such a factory edge")


def test_a_span_in_feet_is_asked_about() -> None:
    (told,) = warned(files(cuts=row(6, length="11.5", width="33.25")))
    assert told == (
        "cuts/walls.csv:6:length: a short span for a ceiling (feet typed for inches?), "
        'read \'11-1/2" x 33-1/4"\', would be right: 138" x 399" if so, '
        "or the word 'checked' in the note"
    )
    assert warned(files(cuts=row(6, length="11.5", note="checked"))) == []
    # Twelve times as long no board covers it; a closet's ceiling is no slip.
    assert warned(files(cuts=row(6, length="13"))) == []
    assert warned(files(cuts=row(6, length="24"))) == []

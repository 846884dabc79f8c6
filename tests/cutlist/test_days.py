"""Several days read together, against the stock and the rules of the first."""

from __future__ import annotations

import pytest

from cutopt.cutlist import read_raw_days
from cutopt.measure import INCH
from cutopt.records import InputRefused
from tests.cutlist.words import CUTS, DAY, STOCK, Files, files, only, read, refused, row, warned

HEAD = CUTS.splitlines()[0] + "\n"
SECOND = HEAD + "Z,Wall,STUD,2x4-SPF,92-5/8,,20,,,,4,,,,,\n"


def second(
    day: str = DAY.replace("03-02", "03-03"), stock: str | None = None, cuts: str = SECOND
) -> Files:
    return files(day, stock, cuts)


def test_a_later_day_needs_no_stock() -> None:
    reading = read(files(), second())
    assert [d.name for d in reading.days] == ["d1", "d2"]
    assert reading.days[1].offers == ()
    assert str(reading.days[1].parts[0].place) == "d2/cuts/walls.csv:2"
    assert reading.warnings == ()


def test_the_first_day_needs_its_stock() -> None:
    assert [str(f) for f in refused(files(stock=None))] == [
        "stock.csv: missing, would be right: what can be bought and is on hand"
    ]


def test_a_later_day_reads_in_its_own_unit() -> None:
    day = DAY.replace('"in"', '"mm"')
    cuts = HEAD + "Z,Wall,STUD,2x4-SPF,2352.675,,20,,,,4,,,,,\n"
    reading = read(files(), second(day, cuts=cuts))
    assert reading.days[1].parts[0].length == 92 * INCH + 5 * INCH // 8


def test_a_later_stock_may_be_the_same_or_less() -> None:
    less = "\n".join(STOCK.splitlines()[:3]) + "\n"
    assert warned(files(), second(stock=less)) == []
    # A row of which nothing can be had offers nothing.
    assert warned(files(), second(stock=STOCK + "OSB,sheet,,120,48,9,each,0,0,,\n")) == []


@pytest.mark.parametrize(
    ("more", "told"),
    [
        ("2x4-SPF,lumber,2x4,144,,600,MBF,,,,\n", "a size of 2x4-SPF"),
        ("PLY,sheet,,96,48,30,each,,,,\n", "a size of PLY"),
        ("2x4-SPF,lumber,2x4,70,,600,MBF,2,0,,rack\n", "a size of 2x4-SPF"),
    ],
)
def test_a_later_stock_offers_nothing_new(more: str, told: str) -> None:
    assert only(files(), second(stock=STOCK + more)) == (
        f"d2/stock.csv:7: offers {told} that the first day's stock does not, would be right: "
        "several days are planned against the stock of the first: add it there"
    )


def test_a_later_price_is_told_and_not_used() -> None:
    assert warned(files(), second(stock=row(3, STOCK, price="700"))) == [
        "d2/stock.csv:3:price: another price than at line 3 of the first day, whose price holds"
    ]


def test_later_rules_are_told_and_not_used() -> None:
    day = DAY + '[lumber]\nkerf = "1/4"\n[materials.GYP]\nkerf = 0\n'
    assert warned(files(), second(day)) == [
        "d2/day.toml: other rules than the first day's, which hold: lumber.kerf, materials.GYP.kerf"
    ]
    assert warned(files(day), second(day)) == []


def test_a_later_part_must_be_of_the_first_days_stock() -> None:
    cuts = HEAD + "Z,Wall,STUD,PLY,92-5/8,,20,,,,4,,,,,\n"
    assert only(files(), second(cuts=cuts)).startswith(
        "d2/cuts/walls.csv:2:material: no such material in stock.csv, read 'PLY'"
    )


def test_the_same_day_twice() -> None:
    told = [str(f) for f in refused(files(), files())]
    assert (
        "d2/day.toml: the same day as d1/day.toml, given twice, would be right: each day once"
    ) in told


def test_the_same_section_in_two_days_is_told() -> None:
    cuts = HEAD + CUTS.splitlines()[6] + "\n"
    assert warned(files(), second(cuts=cuts)) == [
        "d2/cuts/walls.csv:2: the cut list of B is the same as at d1/cuts/walls.csv:7, row for "
        "row: it is planned twice, read 'B', would be right: each section once"
    ]


@pytest.mark.parametrize(("line", "what"), [(3, "run"), (6, "field")])
def test_the_same_run_or_field_in_two_days(line: int, what: str) -> None:
    text = row(3, row(4, joint_mate="", joint_clear=""), joint_mate="", joint_clear="")
    cuts = HEAD + text.splitlines()[line - 1] + "\n"
    assert only(files(), second(cuts=cuts)).startswith(
        f"d2/cuts/walls.csv:2:mark: this {what} of A is in another day too, at "
        f"d1/cuts/walls.csv:{line}"
    )


def test_days_of_one_name_are_told_apart() -> None:
    from cutopt.files import raw_day_from_files

    with pytest.raises(InputRefused) as caught:
        read_raw_days(
            [
                raw_day_from_files("mon", files(cuts=row(2, qty="0"))),
                raw_day_from_files("mon", second(cuts=SECOND.replace(",20,", ",0,"))),
            ]
        )
    assert [str(f.place) for f in caught.value.faults] == [
        "mon (1)/cuts/walls.csv:2:qty",
        "mon (2)/cuts/walls.csv:2:qty",
    ]


def test_no_day_at_all() -> None:
    with pytest.raises(InputRefused):
        read_raw_days([])


def test_faults_of_every_day_are_told_together() -> None:
    faults = refused(files(cuts=row(2, qty="0")), second(cuts=SECOND.replace(",20,", ",x,")))
    assert [str(f.place) for f in faults] == [
        "d1/cuts/walls.csv:2:qty",
        "d2/cuts/walls.csv:2:qty",
    ]


def test_a_day_without_a_cut_list() -> None:
    assert only(files(cuts={})) == "cuts: no cut list, would be right: one cut list or more"
    assert only(files(), files(DAY.replace("03-02", "03-03"), None, {})) == (
        "d2/cuts: no cut list, would be right: one cut list or more"
    )

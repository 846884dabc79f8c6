"""What a day keeps is the next day's stock: rack.csv under stock.csv, planned and checked."""

from __future__ import annotations

import csv
import io
from fractions import Fraction
from pathlib import Path

import pytest

from cutopt.files import outputs, read_days
from cutopt.files.results import parse_document, tables_of
from cutopt.plan import Problem
from cutopt.plan.check import check_plan
from cutopt.solve import Settings, solve

DAY = """plant = "Rack Works"
date = 2026-03-0{number}
unit = "{unit}"
[lumber]
kerf = "1/8"
drop_value = 0.5
[sheets]
kerf = "1/8"
keep_drop = ["24", "20"]
"""
STOCK = """material,kind,nominal,length,width,price,per,on_hand,limit,bundle,lot,edges
2x4-SPF-2,lumber,2x4,192,,500,MBF,2,,,L1,
2x6-SPF-2,lumber,2x6,192,,9.60,each,,,,,
OSB-7/16,sheet,,96,48,12.48,each,,,,M7,
PLY-23/32,sheet,,95-7/8,47-1/2,750,MSF,,,,,
GYP-1/2,sheet,,144,48,352,MSF,,,,,
"""
CUTS = "section,jig,mark,material,length,width,qty,turn,rule,edge\n"
FIRST = (
    CUTS
    + "A,Wall,STUD,2x4-SPF-2,92-5/8,,3,,,\n"
    + "A,Floor,JOIST,2x6-SPF-2,150,,2,,,\n"
    + "A,Wall,W1,OSB-7/16,60,12-1/8,2,,,\n"
    + "A,Wall,W2,OSB-7/16,60,11-1/4,1,,,\n"
    + "A,Roof,R1,PLY-23/32,95-7/8,20,1,,,\n"
    + "A,Ceiling,C1,GYP-1/2,140,72,,,,\n".replace(",72,,,,", ",72,1,,full-span,")
)
#: Each fits a drop of the first day, and nothing smaller than new stock else.
SECOND = (
    CUTS
    + "B,Wall,STUD,2x4-SPF-2,92-5/8,,1,,,\n"
    + "B,Floor,BLOCK,2x6-SPF-2,36,,2,,,\n"
    + "B,Wall,W1,OSB-7/16,35,30,1,,,\n"
    + "B,Roof,R1,PLY-23/32,90,26,1,,,\n"
    + "B,Wall,G1,GYP-1/2,100,20,1,,,\n"
)


def _folder(path: Path, number: int, cuts: str, stock: str, unit: str = "in") -> Path:
    (path / "cuts").mkdir(parents=True)
    (path / "day.toml").write_text(DAY.format(number=number, unit=unit))
    (path / "stock.csv").write_text(stock)
    (path / "cuts" / "all.csv").write_text(cuts)
    return path


def _planned(day: Path) -> tuple[Problem, dict[str, bytes]]:
    problem = Problem(read_days([day]).days)
    return problem, outputs(problem, solve(problem, Settings(seed=1, workers=1)))


def _rows(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode(), newline="")))


@pytest.fixture(scope="module")
def two_days(tmp_path_factory):  # type: ignore[no-untyped-def]
    folder = tmp_path_factory.mktemp("rack")
    _, first = _planned(_folder(folder / "1", 2, FIRST, STOCK))
    # What is left of the yard's two sticks: none. The rack's rows go under the rest as they are.
    stock = STOCK.replace(",MBF,2,", ",MBF,0,")
    stock += first["rack.csv"].decode().split("\n", 1)[1]
    problem, second = _planned(_folder(folder / "2", 3, SECOND, stock))
    return first, problem, second


def test_the_first_day_keeps_what_was_worked_out_by_hand(two_days) -> None:  # type: ignore[no-untyped-def]
    kept = [
        tuple(row[k] for k in ("material", "length", "width", "on_hand", "price", "per", "edges"))
        for row in _rows(two_days[0]["rack.csv"])
    ]
    assert kept == [
        # 192 - 92-5/8 - 1/8: the third stud's.
        ("2x4-SPF-2", "99.25", "", "1", "500", "MBF", ""),
        # 192 - 150 - 1/8, at 9.60 x 41.875 / 192.
        ("2x6-SPF-2", "41.875", "", "2", "2.09375", "each", ""),
        # Behind the three rows of 60 one piece across the whole sheet, and above them nothing:
        # 12-1/8 + 12-1/8 + 11-1/4 and kerfs are 35-7/8, 12-1/8 are left, too few. 12.48 x
        # 35.875 x 48 / 4608.
        ("OSB-7/16", "35.875", "48", "1", "4.66375", "each", "both"),
        # 47-1/2 - 20 - 1/8: a rip keeps one factory edge.
        ("PLY-23/32", "95.875", "27.375", "1", "750", "MSF", "one"),
        # The second row of the ceiling is ripped from 48 to 24: one edge of the board is left.
        ("GYP-1/2", "144", "23.875", "1", "352", "MSF", "one"),
    ]
    rows = _rows(two_days[0]["rack.csv"])
    assert {row["limit"] for row in rows} == {"0"}
    assert [row["lot"] for row in rows] == ["L1", "", "M7", "", ""]
    assert tuple(rows[0]) == tuple(STOCK.split("\n")[0].split(","))


def test_the_next_day_is_cut_from_the_rack_and_checks(two_days) -> None:  # type: ignore[no-untyped-def]
    _, problem, second = two_days
    document = parse_document(second["plan.json"])
    assert check_plan(problem.days, document, tables_of(second)) == []
    offers = {o.row: o for o in problem.offers}
    for material in document["materials"]:
        assert material["unplanned"] == []
        for layout in material["layouts"]:
            offer = offers[layout["stock"]["row"]]
            assert layout["stock"]["source"] == "on-hand", material["material"]
            assert (offer.limit, offer.on_hand > 0) == (0, True)
    # A drop of sticks used up counts as much as it was credited for, in full.
    assert next(m for m in document["materials"] if m["material"] == "2x4-SPF-2")["cost"] == (
        round(Fraction(500, 1000) * 8 * Fraction("99.25") / 12 / 12, 6)
    )


def test_what_the_rack_is_worth_is_what_the_plan_credits(two_days) -> None:  # type: ignore[no-untyped-def]
    first, problem, _ = two_days
    document = parse_document(first["plan.json"])
    rack = [o for o in problem.offers if o.row > 6]
    assert len(rack) == 5
    for material in document["materials"]:
        if material["kind"] == "lumber":
            worth = sum(o.cost * o.on_hand for o in rack if o.material == material["material"])
            assert abs(worth / 2 - Fraction(material["drop_credit"])) <= Fraction(1, 10**6)


def test_a_plan_written_in_mm_says_so_on_the_rack(tmp_path: Path) -> None:
    # A third of a mm has no end in inches: the plan is in mm, and the day still reads inches.
    stock = STOCK.replace("192,,500", "4876.81mm,,500")
    problem, files = _planned(_folder(tmp_path / "mm", 2, FIRST, stock))
    row = _rows(files["rack.csv"])[0]
    assert row["length"].endswith("mm")
    again = Problem(
        read_days([_folder(tmp_path / "3", 3, SECOND, files["rack.csv"].decode())]).days
    )
    assert [o.length for o in again.offers if o.material == "2x4-SPF-2"] == [
        round(Fraction(row["length"].removesuffix("mm")) * 1600)
    ]
    assert check_plan(problem.days, parse_document(files["plan.json"]), tables_of(files)) == []

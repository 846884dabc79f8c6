"""day.toml: the rules, their defaults, what holds for one material, every fault with its place."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from cutopt.materials import FirstCut, LumberRules, Rules, SheetRules
from cutopt.measure import INCH, MM
from tests.cutlist.words import DAY, files, only, read, warned


def rules(text: str) -> Rules:
    return read(files(DAY + text)).days[0].rules


def test_every_key_has_a_default() -> None:
    # The values of FORMATS.md, "day.toml".
    assert rules("") == Rules()
    assert Rules().lumber == LumberRules(
        kerf=INCH // 8,
        head_trim=0,
        keep_drop=24 * INCH,
        drop_value=Decimal("0.5"),
        joint_price=Decimal("0.50"),
        joint_min_piece=32 * INCH,
        max_parts=0,
        stack=1,
        setup_tolerance=Decimal(0),
        least_left=0,
    )
    assert Rules().sheets == SheetRules(
        kerf=INCH // 8,
        edge_trim=0,
        stages=3,
        first_cut=FirstCut.EITHER,
        keep_drop=(24 * INCH, 24 * INCH),
        drop_value=Decimal(0),
        least_rip=0,
        max_parts=0,
    )
    assert Rules().ceiling.order_lengths == 3


def test_every_key_is_read() -> None:
    got = rules(
        """
        [lumber]
        kerf = "3/32"
        head_trim = 0.25
        keep_drop = "2'"
        drop_value = 0.75
        joint_price = 1
        joint_min_piece = 48
        max_parts = 12
        stack = 4
        setup_tolerance = 0.005
        least_left = "8"
        [sheets]
        kerf = 0.1
        edge_trim = "1/4"
        stages = 2
        first_cut = "rip"
        keep_drop = ["36", 12]
        drop_value = 0.1
        least_rip = "5-1/2"
        max_parts = 14
        [ceiling]
        order_lengths = 0
        """
    )
    lumber = LumberRules(
        *(3 * INCH // 32, INCH // 4, 24 * INCH, Decimal("0.75"), Decimal(1), 48 * INCH, 12),
        *(4, Decimal("0.005"), 8 * INCH),
    )
    sheets = SheetRules(
        *(INCH // 10, INCH // 4, 2, FirstCut.RIP, (36 * INCH, 12 * INCH), Decimal("0.1")),
        least_rip=11 * INCH // 2,
        max_parts=14,
    )
    assert (got.lumber, got.sheets, got.ceiling.order_lengths) == (lumber, sheets, 0)


def test_numbers_in_a_day_of_millimetres() -> None:
    day = DAY.replace('"in"', '"mm"') + '[lumber]\nkerf = 3.2\nkeep_drop = "24in"\n'
    assert read(files(day)).days[0].rules.lumber.kerf == 32 * MM // 10
    assert read(files(day)).days[0].rules.lumber.keep_drop == 24 * INCH


def test_what_holds_for_one_material() -> None:
    got = rules(
        """
        [lumber]
        kerf = "3/16"
        [sheets]
        stages = 2
        [materials."2x4-SPF"]
        head_trim = "1/4"
        keep_drop = "30"
        stack = 2
        least_left = "6"
        setup_tolerance = 0.1
        [materials.GYP]
        kerf = "0"
        order_lengths = 1
        joint_price = 2
        """
    )
    spf = got.for_lumber("2x4-SPF")
    assert (spf.kerf, spf.head_trim, spf.keep_drop) == (3 * INCH // 16, INCH // 4, 30 * INCH)
    assert (spf.stack, spf.least_left, spf.setup_tolerance) == (2, 6 * INCH, Decimal("0.1"))
    assert got.for_lumber("2x4-DF").head_trim == 0
    assert got.for_lumber("2x4-DF").least_left == 0
    gyp = got.for_sheets("GYP")
    assert (gyp.kerf, gyp.stages) == (0, 2)
    assert got.for_ceiling("GYP").order_lengths == 1
    # A jointed run of a sheet material has its joints' price and shortest piece.
    assert got.for_lumber("GYP").joint_price == 2
    assert got.for_lumber("GYP").kerf == 3 * INCH // 16
    assert got.for_sheets("OSB").kerf == INCH // 8


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[lumbr]\n", "4:lumbr: no such key, read 'lumbr', would be right: did you mean 'lumber'?"),
        ("[lumber]\nkrf = 1\n", "5:lumber.krf: no such key, read 'krf', would be right: did you m"),
        (
            "[sheets]\nhead_trim = 1\n",
            "5:sheets.head_trim: no such key, read 'head_trim', would "
            "be right: head_trim belongs under [lumber]",
        ),
        (
            'kerf = "1/8"\n',
            "4:kerf: no such key, read 'kerf', would be right: kerf belongs under "
            "[lumber] or [sheets]",
        ),
        ("lumber = 3\n", "4:lumber: not a table of keys, read '3', would be right: a table [lumbe"),
        ("[materials]\nGYP = 3\n", "5:materials.GYP: not a table of keys, read '3'"),
        (
            '[materials."GYPS"]\nkerf = 0\n',
            "4:materials.GYPS: no such material in stock.csv, read "
            "'GYPS', would be right: did you mean 'GYP'?",
        ),
        (
            "[materials.GYP]\nkref = 0\n",
            "5:materials.GYP.kref: no such key, read 'kref', would be right: did you mean 'kerf'?",
        ),
        ('[lumber]\nkerf = "-1/8"\n', "5:lumber.kerf: a length below zero, read '-1/8'"),
        ("[lumber]\nkerf = -1\n", "5:lumber.kerf: a length below zero, read '-1'"),
        ("[lumber]\nkerf = true\n", "5:lumber.kerf: not a length, read 'True'"),
        ("[lumber]\nkerf = [1]\n", "5:lumber.kerf: not a length, read '[1]'"),
        ("[lumber]\nkerf = inf\n", "5:lumber.kerf: not a length, read 'Infinity'"),
        ("[lumber]\nkerf = 1e-999999\n", "5:lumber.kerf: not a length"),
        ('[lumber]\nkerf = "eighth"\n', "5:lumber.kerf: not a length, read 'eighth'"),
        (
            "[lumber]\ndrop_value = 1.5\n",
            "5:lumber.drop_value: not a share, read '1.5', would be "
            "right: from 0 (no credit) to 1 (its full price)",
        ),
        ("[lumber]\ndrop_value = -0.1\n", "5:lumber.drop_value: not a share, read '-0.1'"),
        ("[lumber]\ndrop_value = nan\n", "5:lumber.drop_value: not a number that can be held"),
        ("[lumber]\ndrop_value = true\n", "5:lumber.drop_value: not a number, read 'True'"),
        ('[lumber]\ndrop_value = "half"\n', "5:lumber.drop_value: not a number, read 'half'"),
        ("[lumber]\ndrop_value = 1e-30\n", "5:lumber.drop_value: not a number that can be held"),
        ("[lumber]\njoint_price = -1\n", "5:lumber.joint_price: not a price, read '-1'"),
        ("[lumber]\njoint_price = 1e18\n", "5:lumber.joint_price: not a number that can be held"),
        ("[lumber]\nmax_parts = -1\n", "5:lumber.max_parts: below zero, read '-1'"),
        ("[lumber]\nmax_parts = 2.5\n", "5:lumber.max_parts: not a whole number, read '2.5'"),
        ("[lumber]\nmax_parts = false\n", "5:lumber.max_parts: not a whole number, read 'False'"),
        (
            "[lumber]\nstack = 0\n",
            "5:lumber.stack: zero, read '0', would be right: 1 for no stacking, or 2, 3 ... "
            "pieces of stock cut at once",
        ),
        ("[sheets]\nstack = 0\n", "5:sheets.stack: zero, read '0', would be right: 1 for no"),
        ("[sheets]\nsetup_tolerance = 1\n", "5:sheets.setup_tolerance: not a tolerance"),
        ("[lumber]\nstack = -2\n", "5:lumber.stack: below zero, read '-2'"),
        ("[lumber]\nstack = 1.5\n", "5:lumber.stack: not a whole number, read '1.5'"),
        ("[lumber]\nstack = true\n", "5:lumber.stack: not a whole number, read 'True'"),
        (
            "[lumber]\nsetup_tolerance = 0.2\n",
            "5:lumber.setup_tolerance: not a tolerance, read '0.2', would be right: a share from 0 "
            "(no dearer) to 0.1 of the least cost",
        ),
        ("[lumber]\nsetup_tolerance = -0.01\n", "5:lumber.setup_tolerance: not a tolerance"),
        ('[lumber]\nsetup_tolerance = "a"\n', "5:lumber.setup_tolerance: not a number, read 'a'"),
        ('[lumber]\nleast_left = "-1"\n', "5:lumber.least_left: a length below zero, read '-1'"),
        ('[lumber]\nleast_left = "few"\n', "5:lumber.least_left: not a length, read 'few'"),
        ("[materials.GYP]\nleast_left = -1\nkref = 0\n", "6:materials.GYP.kref: no such key"),
        (
            "[sheets]\nstages = 4\n",
            "5:sheets.stages: not a number of guillotine stages, read '4', would be right: 2 or 3",
        ),
        ("[sheets]\nstages = 2.5\n", "5:sheets.stages: not a number of guillotine stages"),
        ("[sheets]\nstages = true\n", "5:sheets.stages: not a number of guillotine stages"),
        (
            '[sheets]\nfirst_cut = "ripp"\n',
            "5:sheets.first_cut: not a first cut, read 'ripp', would be right: did you mean 'rip'?",
        ),
        ("[sheets]\nfirst_cut = 1\n", "5:sheets.first_cut: not a first cut, read '1'"),
        (
            '[sheets]\nkeep_drop = "24"\n',
            "5:sheets.keep_drop: not two lengths, read '24', would "
            'be right: the least length and width of a sheet drop: ["24", "24"]',
        ),
        ('[sheets]\nkeep_drop = ["24", "x"]\n', "5:sheets.keep_drop: not a length"),
        ('[lumber]\nkeep_drop = ["24", "24"]\n', "5:lumber.keep_drop: not a length"),
        ('[materials.GYP]\nkeep_drop = "24"\n', "5:materials.GYP.keep_drop: not two lengths"),
        ("[ceiling]\norder_lengths = -1\n", "5:ceiling.order_lengths: below zero, read '-1'"),
    ],
)
def test_a_fault_in_a_key(text: str, told: str) -> None:
    assert only(files(DAY + text)).startswith(f"day.toml:{told}")


@pytest.mark.parametrize(
    ("day", "told"),
    [
        (DAY.replace("plant", "plnt"), None),
        ("date = 2026-03-02\n", "day.toml::plant: missing, would be right: the plant: plant"),
        ('plant = ""\ndate = 2026-03-02\n', "day.toml:1:plant: not a name"),
        ("plant = 3\ndate = 2026-03-02\n", "day.toml:1:plant: not a name, read '3'"),
        ('plant = "P"\n', "day.toml::date: missing, would be right: a day: date = 2026-03-02"),
        ('plant = "P"\ndate = "March"\n', "day.toml:2:date: not a date, read 'March'"),
        ('plant = "P"\ndate = 3\n', "day.toml:2:date: not a date, read '3'"),
        ('plant = "P"\ndate = 2026-03-02T10:00:00\n', "day.toml:2:date: not a date"),
        ('plant = "P"\ndate = 2026-02-30\n', "day.toml"),
        (DAY.replace('"in"', '"cm"'), "day.toml:3:unit: not a unit, read 'cm', would be right: in"),
        (DAY.replace('"in"', "[]"), "day.toml:3:unit: not a unit, read '[]'"),
    ],
)
def test_the_keys_at_the_top(day: str, told: str | None) -> None:
    if told is not None:
        assert only(files(day)).startswith(told)


def test_a_misspelt_key_is_told_and_missed() -> None:
    from tests.cutlist.words import refused

    faults = refused(files(DAY.replace("plant", "plnt")))
    assert [str(f.place) for f in faults] == ["day.toml::plant", "day.toml:1:plnt"]
    assert "did you mean 'plant'?" in str(faults[1])


def test_the_unit_is_inches_unless_told() -> None:
    assert read(files('plant = "P"\ndate = 2026-03-02\n')).days[0].unit == "in"


def test_a_date_may_be_a_word() -> None:
    day = read(files('plant = "P"\ndate = "2026-03-02"\n')).days[0]
    assert day.date == date(2026, 3, 2)


def test_keys_without_effect_on_a_material_are_told() -> None:
    assert warned(files(DAY + '[materials."2x4-SPF"]\nstages = 2\n')) == [
        "day.toml:5:materials.2x4-SPF.stages: has no effect: 2x4-SPF is lumber, read 'stages'"
    ]
    assert warned(files(DAY + "[materials.OSB]\nhead_trim = 2\n")) == [
        "day.toml:5:materials.OSB.head_trim: has no effect: OSB is sheet, read 'head_trim'"
    ]


def test_a_wide_kerf_is_told() -> None:
    assert warned(files(DAY + "[lumber]\nkerf = 3.2\n")) == [
        "day.toml:5:lumber.kerf: a kerf of 3.2\", read '3.2'"
    ]


def test_keys_written_inline_are_placed_at_their_table() -> None:
    assert only(files(DAY + "lumber = {krf = 1}\n")).startswith(
        "day.toml:4:lumber.krf: no such key"
    )
    assert only(files(DAY + "lumber.krf = 1\n")).startswith("day.toml:4:lumber.krf: no such key")


def test_narrow_rips_and_parts_from_a_sheet_per_material() -> None:
    got = rules('[sheets]\nleast_rip = 6\n[materials."GYP"]\nleast_rip = 0\nmax_parts = 8\n')
    assert (got.for_sheets("OSB").least_rip, got.for_sheets("OSB").max_parts) == (6 * INCH, 0)
    assert (got.for_sheets("GYP").least_rip, got.for_sheets("GYP").max_parts) == (0, 8)
    assert only(files(DAY + "[sheets]\nleast_ripp = 6\n")) == (
        "day.toml:5:sheets.least_ripp: no such key, read 'least_ripp', would be right: did you "
        "mean 'least_rip'?"
    )
    assert "below zero" in only(files(DAY + "[sheets]\nmax_parts = -1\n"))


def test_books_of_sheets_by_material() -> None:
    got = rules('[sheets]\nstack = 3\n[materials."GYP"]\nstack = 1\nsetup_tolerance = 0.01\n')
    assert (got.for_sheets("OSB").stack, got.for_sheets("OSB").setup_tolerance) == (3, 0)
    assert (got.for_sheets("GYP").stack, got.for_sheets("GYP").setup_tolerance) == (
        1,
        Decimal("0.01"),
    )

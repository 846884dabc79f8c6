"""Day folders on disk and files by name: what is read, what is left aside, what is refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.cutlist import read_raw_days
from cutopt.files import days as reader
from cutopt.files import raw_day_from_files, read_day, read_days
from cutopt.records import InputRefused
from tests.cutlist.words import CUTS, DAY, STOCK, Files, files, only, read, refused, row, warned
from tests.files.test_reading_workbook import whole

AT_TOP = ": not read, would be right: day.toml, stock.csv, or cuts/{}.csv for a cut list"


def folder(path: Path, contents: Files) -> Path:
    for name, content in contents.items():
        file = path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)
    return path


def faults_of(*paths: Path) -> list[str]:
    with pytest.raises(InputRefused) as caught:
        read_days(paths)
    return [str(f) for f in caught.value.faults]


def test_a_folder_means_the_same_as_its_files(tmp_path: Path) -> None:
    day = read_day(folder(tmp_path / "d1", files()))
    assert day == read(files()).days[0]
    assert read_day(str(tmp_path / "d1")) == day


def test_cut_lists_are_read_in_the_order_of_their_names() -> None:
    cuts = {
        name: CUTS.splitlines()[0] + f"\n{name},W,S,2x4-SPF,90,,1,,,,,,,,,\n"
        for name in ("walls", "floors", "Roofs")
    }
    parts = read(files(cuts=cuts)).days[0].parts
    assert [p.section for p in parts] == ["Roofs", "floors", "walls"]


def test_what_lies_beside_is_told_or_left(tmp_path: Path) -> None:
    day = folder(tmp_path / "d1", files())
    for name in ("README.md", "photo.jpg", ".hidden.csv", "cuts/.DS_Store", "cuts/~$walls.xlsx"):
        (day / name).write_bytes(b"\xff")
    assert read_days([day]).warnings == ()
    for name in ("walls.csv", "Stock.csv", "days.toml", "cuts/floors.txt", "cuts/b.xlsx"):
        (day / name).write_bytes(b"\xff")
    assert [str(w) for w in read_days([day]).warnings] == [
        f"Stock.csv{AT_TOP.format('Stock')}",
        "cuts/b.xlsx: not read, would be right: a cut list is a .csv file",
        "cuts/floors.txt: not read, would be right: a cut list is a .csv file",
        f"days.toml{AT_TOP.format('days')}",
        f"walls.csv{AT_TOP.format('walls')}",
    ]


def test_capital_endings_are_read() -> None:
    contents = files()
    contents["cuts/WALLS.CSV"] = contents.pop("cuts/walls.csv")
    assert len(read(contents).days[0].parts) == 6


def test_files_of_the_day_that_are_missing(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    assert faults_of(tmp_path / "empty") == [
        "cuts: no cut list, would be right: one cut list or more",
        "day.toml: missing, would be right: the plant, the date, the unit and the rules",
        "stock.csv: missing, would be right: what can be bought and is on hand",
    ]


def test_paths_that_are_no_day(tmp_path: Path) -> None:
    text = tmp_path / "day.txt"
    text.write_text("x", encoding="utf-8")
    assert faults_of(tmp_path / "nowhere", text) == [
        f"{text}: not a day, would be right: a day folder or an .xlsx workbook",
        f"{tmp_path / 'nowhere'}: no such day, would be right: a day folder or an .xlsx workbook",
    ]


def test_faults_of_the_other_days_are_told_beside_a_path_that_is_none(tmp_path: Path) -> None:
    day = folder(tmp_path / "d1", files(cuts=row(2, qty="0")))
    told = faults_of(tmp_path / "nowhere", day)
    assert told[-1].startswith("cuts/walls.csv:2:qty: zero")
    assert len(told) == 2


def test_the_same_folder_twice(tmp_path: Path) -> None:
    day = folder(tmp_path / "d1", files())
    assert (
        faults_of(day, tmp_path / "x" / ".." / "d1")
        == [f"{tmp_path}/x/../d1: the same day as {day}, would be right: each day once"]
        or len(faults_of(day, day)) == 1
    )


def test_several_folders(tmp_path: Path) -> None:
    one = folder(tmp_path / "mon", files())
    two = folder(
        tmp_path / "tue",
        files(
            DAY.replace("03-02", "03-03"),
            None,
            row(2, section="Z").splitlines()[0] + "\n" + row(2, section="Z").splitlines()[1] + "\n",
        ),
    )
    reading = read_days([one, two])
    assert [d.name for d in reading.days] == ["mon", "tue"]
    assert str(reading.days[1].parts[0].place) == "tue/cuts/walls.csv:2"


def test_a_file_that_cannot_be_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    day = folder(tmp_path / "d1", files())
    opened = Path.open

    def denied(path: Path, *args: Any, **kwargs: Any) -> Any:
        if path.name == "stock.csv":
            raise PermissionError(13, "Permission denied")
        return opened(path, *args, **kwargs)

    monkeypatch.setattr(Path, "open", denied)
    assert faults_of(day) == ["stock.csv: can't be read: Permission denied"]


# day.toml as text


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('plant = "P"\nkerf = \n', "day.toml:2: not TOML: Invalid value, read 'kerf =', would be"),
        ("plant = 'P\n", "day.toml:1: not TOML"),
        (
            DAY + DAY,
            "day.toml:4: not TOML: Cannot overwrite a value, read 'plant = \"Test Works\"'",
        ),
        ("a = " + "[" * 5000, "day.toml: not TOML: nested too deeply"),
        ("a = " + "9" * 5000, "day.toml: not TOML"),
        ("a = \x00", "day.toml:1: the control character 0x00"),
    ],
)
def test_what_is_no_toml(text: str, told: str) -> None:
    assert only(files(text)).startswith(told)


def test_day_toml_in_a_wrong_encoding() -> None:
    contents = files() | {"day.toml": 'plant = "Café"\n'.encode("cp1252")}
    assert only(contents) == (
        "day.toml:1: not UTF-8: the byte 0xE9, which is 'é' in Windows-1252, would be right: "
        "save the file as UTF-8"
    )


def test_day_toml_with_a_byte_order_mark_and_crlf() -> None:
    contents = files() | {"day.toml": ("\ufeff" + DAY.replace("\n", "\r\n")).encode()}
    assert read(contents).days[0].plant == "Test Works"


def test_the_lines_of_quoted_keys_and_tables() -> None:
    text = DAY + '\n[ materials . "2x4-SPF" ] # studs\n"krf" = 1\n'
    assert only(files(text)).startswith("day.toml:6:materials.2x4-SPF.krf: no such key")


# A file that is lost is told once, and nothing is guessed from its absence


def test_a_stock_that_cannot_be_read_is_the_only_fault() -> None:
    contents = files() | {"stock.csv": STOCK.encode("utf-16-le")}
    assert only(contents).startswith("stock.csv:1: in UTF-16 without a byte-order mark")
    contents = files() | {"stock.csv": STOCK.replace("2x4-DF", "2x4½DF").encode("cp1252")}
    assert only(contents).startswith("stock.csv:4: not UTF-8: the byte 0xBD")


def test_a_cut_list_that_cannot_be_read_is_the_only_fault() -> None:
    assert only(files(cuts="")) == (
        "cuts/walls.csv: an empty file, would be right: a header, and a line for each row"
    )


def test_a_decimal_comma_is_refused_with_what_would_be_right() -> None:
    cuts = "section;jig;mark;material;length;qty\nA;W;S;2x4-SPF;92,5;3\n"
    assert only(files(cuts=cuts)) == (
        "cuts/walls.csv:2:length: a comma in a number, read '92,5', would be right: a point: 92.5"
    )
    stock = row(2, STOCK, price="4.50").replace(",", ";").replace("600.", "600,")
    stock = stock.replace("4.50;MBF", "4,50;MBF")
    assert only(files(stock=stock)).startswith("stock.csv:2:price: a comma in a number")


# Files by name, as a service is given them


@pytest.mark.parametrize("prefix", ["", "2026-03-02/", "./", "a\\"])
def test_names_as_a_browser_sends_them(prefix: str) -> None:
    contents = {
        prefix + n.replace("/", "\\" if "\\" in prefix else "/"): c for n, c in files().items()
    }
    assert read(contents).days == read(files()).days


def test_cut_lists_alone_keep_their_folder() -> None:
    contents = {n: c for n, c in files().items() if n.startswith("cuts/")}
    assert [str(f.place) for f in refused(contents)] == ["day.toml", "stock.csv"]


def test_too_many_files(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reader, "MOST_FILES", 2)
    assert only(files()) == "d1: 3 files, would be right: at most 2 files"


def test_a_day_too_large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    day = folder(tmp_path / "d1", files())
    monkeypatch.setattr(reader, "LARGEST_DAY", 400)
    assert only(files()) == "d1: too many bytes, would be right: at most 400 bytes in a day"
    assert faults_of(day) == ["d1: too many bytes, would be right: at most 400 bytes in a day"]


def test_a_workbook_in_a_day_folder_is_read_where_nothing_else_is(tmp_path: Path) -> None:
    content = whole()
    day = folder(tmp_path / "d1", {"orders.xlsx": content})
    assert len(read_day(day).parts) == 6
    # Beside cut lists it is some other workbook.
    day = folder(tmp_path / "d2", files() | {"orders.xlsx": content})
    assert [str(w) for w in read_days([day]).warnings] == [f"orders.xlsx{AT_TOP.format('orders')}"]


def test_a_second_workbook() -> None:
    assert "b.xlsx: a second workbook, would be right: one workbook for a day" in [
        str(f) for f in refused({"a.xlsx": b"", "b.xlsx": b""})
    ]


@settings(max_examples=150, deadline=None)
@given(
    st.sampled_from(["day.toml", "stock.csv", "cuts/walls.csv"]),
    st.integers(0, 10**6),
    st.binary(max_size=12) | st.sampled_from([b'"', b",", b"\n", b"[", b"=", b"-", b"\x00", b"0"]),
    st.integers(0, 8),
)
def test_no_damage_breaks_the_reader(name: str, at: int, junk: bytes, cut: int) -> None:
    contents = files(DAY + '[lumber]\nkerf = "1/8"\n[materials."GYP"]\nkerf = 0\n')
    whole = contents[name]
    at %= len(whole) + 1
    contents[name] = whole[:at] + junk + whole[at + cut :]
    try:
        read_raw_days([raw_day_from_files("d1", contents)])
    except InputRefused as error:
        told = error.faults
        assert told == tuple(sorted(set(told)))


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(st.text(max_size=12), st.binary(max_size=40), max_size=4))
def test_no_set_of_files_breaks_the_reader(contents: dict[str, bytes]) -> None:
    with pytest.raises(InputRefused):
        read_raw_days([raw_day_from_files("d1", contents)])


def test_the_same_files_give_the_same_faults() -> None:
    contents = files(cuts=row(2, qty="0", length="x", material="y"))
    assert refused(contents) == refused(contents)
    assert warned(files()) == []

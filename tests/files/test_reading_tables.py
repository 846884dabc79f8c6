"""csv bytes become words: encodings, separators, quotes, lines, limits."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.files import tables
from cutopt.files.tables import LONGEST_FIELD, MOST_COLUMNS, read_table
from cutopt.records import Faults, Table


def rows(content: str | bytes, *, name: str = "t.csv") -> list[tuple[int, dict[str, str]]]:
    faults = Faults()
    data = content.encode() if isinstance(content, str) else content
    table = read_table(name, data, faults)
    assert not faults, [str(f) for f in faults]
    assert table is not None
    return [(r.line, dict(r.cells)) for r in table.rows]


def told(content: str | bytes) -> tuple[Table | None, list[str]]:
    faults = Faults()
    table = read_table("t.csv", content.encode() if isinstance(content, str) else content, faults)
    return table, [str(f) for f in sorted(faults)]


PLAIN = [(2, {"mark": "A", "length": "92-5/8"}), (3, {"mark": "B", "length": "7'"})]


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_separators_line_ends_and_encodings(separator: str, end: str, encoding: str) -> None:
    lines = ["mark,length", "A,92-5/8", "B,7'"]
    text = end.join(line.replace(",", separator) for line in lines)
    assert rows(text.encode(encoding)) == PLAIN
    assert rows((text + end).encode(encoding)) == PLAIN


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_utf_16_either_way_round(encoding: str) -> None:
    assert rows(("\ufeffmark,length\nA,92⅝\n").encode(encoding)) == [
        (2, {"mark": "A", "length": "92⅝"})
    ]


def test_headers_as_people_write_them() -> None:
    text = "\ufeff Mark , Joint First,JOINT-STEP,joint_mate,,\nA,1,2,B,,\n"
    assert rows(text) == [
        (2, {"mark": "A", "joint_first": "1", "joint_step": "2", "joint_mate": "B"})
    ]


def test_lines_count_as_an_editor_counts() -> None:
    text = '\n\nmark,note\n\nA,"two\nlines"\n ,\nB,"x"\n\n'
    assert rows(text) == [
        (5, {"mark": "A", "note": "two\nlines"}),
        (8, {"mark": "B", "note": "x"}),
    ]
    # Other characters that some readers take for a line end are none.
    assert rows("mark,note\nA,x\u2028y\x85z\nB,\n")[1][0] == 3


def test_a_told_separator() -> None:
    assert rows("sep=;\nmark;length\nA;1,5\n") == [(3, {"mark": "A", "length": "1,5"})]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ('92-5/8"', '92-5/8"'),
        ("7'-8 5/8\"", "7'-8 5/8\""),
        ('"92-5/8"""', '92-5/8"'),
        ('"7\'-8 5/8"""', "7'-8 5/8\""),
        # Inch marks within quotes that nobody doubled.
        ('"92-5/8""', '92-5/8"'),
        ('"7\'-8 5/8" long"', "7'-8 5/8\" long"),
        ('"a, b"', "a, b"),
        ('"say ""no"""', 'say "no"'),
        ('  "92"  ', "92"),
        ('""', ""),
        ('""""', '"'),
        ("  92 ", "92"),
        ('5" x 7"', '5" x 7"'),
    ],
)
def test_quotes_and_inch_marks(field: str, value: str) -> None:
    for text in (f"a,b,c\n{field},x,1\n", f"b,a,c\nx,{field},1\n", f"b,c,a\nx,1,{field}\n"):
        assert rows(text) == [(2, {"a": value, "b": "x", "c": "1"})]


CELLS = st.text(st.characters(exclude_categories=["C"]), max_size=12).map(str.strip)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.tuples(CELLS, CELLS, CELLS).filter(any), max_size=6),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_what_the_standard_writer_writes(
    cells: list[tuple[str, str, str]], separator: str, quoting: int
) -> None:
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, quoting=quoting)  # type: ignore[arg-type]
    writer.writerows([("mark", "length", "note"), *cells])
    assert [tuple(c.values()) for _, c in rows(text.getvalue())] == cells


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("", ["t.csv: an empty file, would be right: a header, and a line for each row"]),
        (" \n\n", ["t.csv: an empty file, would be right: a header, and a line for each row"]),
        ("sep=;\n", ["t.csv: no header, would be right: a header, and a line for each row"]),
        (
            "a,b\n1\n",
            ["t.csv:2: too few fields in the row, read '1', would be right: 2, as in the header"],
        ),
        (
            "a,b\n1,2,3\n",
            [
                "t.csv:2: too many fields in the row, read '3', would be right: 2, as "
                "in the header; a field with the separator in it is quoted"
            ],
        ),
        (
            "a,,b\n1,2,3\n",
            ["t.csv:2: a field under no header, read '2', would be right: a header for it"],
        ),
        (
            "a,A ,b\n",
            ["t.csv:1:a: the column stands twice, read 'a', would be right: each column once"],
        ),
        ("a,b\nx\0,1\n", ["t.csv:2: the control character 0x00, would be right: text only"]),
        ("a,b\nx\x1b,1\n", ["t.csv:2: the control character 0x1B, would be right: text only"]),
        (
            'a,b\n"x,1\ny,2\n',
            [
                "t.csv:2: a quoted field is not closed in this line, read '\"x,1', "
                "would be right: a quote at the end of the field; inch marks within "
                "quotes are doubled"
            ],
        ),
        (
            'a,b\n"x,1\n"y",2\n',
            [
                "t.csv:2: a quoted field is not closed in this line, read '\"x,1', "
                "would be right: a quote at the end of the field; inch marks "
                "within quotes are doubled"
            ],
        ),
        ('a,"b\n', ["t.csv:1: a quoted field in the header is never closed"]),
        (
            f"a,b\n1,{'x' * (LONGEST_FIELD + 1)}\n",
            [
                f"t.csv:2:b: {LONGEST_FIELD + 1} characters, "
                f"would be right: at most {LONGEST_FIELD} "
                "characters"
            ],
        ),
        (
            ",".join(f"c{i}" for i in range(MOST_COLUMNS + 1)),
            ["t.csv:1: 65 columns, would be right: at most 64"],
        ),
    ],
)
def test_what_is_wrong_with_a_file(text: str, faults: list[str]) -> None:
    assert told(text)[1] == faults


def test_the_rows_beside_a_faulty_one_are_read() -> None:
    table, faults = told('a,b\n1,2\n"x,1\n3\n5,6\n')
    assert table is not None
    assert [r.line for r in table.rows] == [2, 5]
    assert [f.split(": ")[0] for f in faults] == ["t.csv:3", "t.csv:4"]


def test_trailing_separators_are_no_fault() -> None:
    assert rows("a,b,,\n1,2,,\n3,4,\n5,6\n") == [
        (n, {"a": str(2 * n - 3), "b": str(2 * n - 2)}) for n in (2, 3, 4)
    ]


# Encodings that are not read: which byte, where, what it looks like


def test_windows_1252_is_named_by_its_byte_and_its_look() -> None:
    text = "mark,length\nA,92½\nB,7’-8”\nC,90\n"
    table, faults = told(text.encode("cp1252"))
    assert faults == [
        "t.csv:2: not UTF-8: the byte 0xBD, which is '½' in Windows-1252, would be right: "
        "save the file as UTF-8",
        "t.csv:3: not UTF-8: the byte 0x92, which is '’' in Windows-1252, would be right: "
        "save the file as UTF-8",
    ]
    assert table is not None
    assert [r.line for r in table.rows] == [4]


def test_a_byte_of_no_encoding() -> None:
    assert told(b"a\n\x81\n")[1] == [
        "t.csv:2: not UTF-8: the byte 0x81, which is damaged, would be right: save the file as "
        "UTF-8"
    ]


def test_many_lines_in_a_wrong_encoding_are_summed_up() -> None:
    faults = told(b"a\n" + b"\xbd\n" * 100)[1]
    assert len(faults) == 21
    assert faults[0].startswith("t.csv: not UTF-8 in 100 lines, of which the first 20 are listed")


@pytest.mark.parametrize(
    ("content", "wrong"),
    [
        ("a,b\n1,2\n".encode("utf-16-le"), "t.csv:1: in UTF-16 without a byte-order mark"),
        ("a,b\n1,2\n".encode("utf-32"), "t.csv: in UTF-32"),
        (b"\xff\xfea", "t.csv: in UTF-16, and damaged"),
        (b"\xff\xfe\x00\xd8a\x00", "t.csv: in UTF-16, and damaged"),
    ],
)
def test_other_encodings(content: bytes, wrong: str) -> None:
    table, faults = told(content)
    assert table is None
    assert len(faults) == 1
    assert faults[0].startswith(wrong)
    assert faults[0].endswith("save the file as UTF-8")


# Limits


def test_a_file_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "LARGEST_FILE", 10)
    assert told("a,b\n1,2\n3,4\n")[1] == ["t.csv: 12 bytes, would be right: at most 10 bytes"]


def test_too_many_rows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables, "MOST_ROWS", 3)
    assert told("a\n1\n2\n3\n")[1] == []
    assert told("a\n1\n2\n3\n4\n5\n")[1] == [
        "t.csv:5: too many rows, would be right: at most 3 rows"
    ]


def test_unclosed_quotes_in_every_line_take_no_square_time() -> None:
    table, faults = told("a,b\n" + '"x,1\n' * 20_000)
    assert len(faults) + (0 if table is None else len(table.rows)) > 0


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200) | st.text(max_size=100).map(str.encode))
def test_no_bytes_break_the_reader(content: bytes) -> None:
    faults = Faults()
    table = read_table("t.csv", content, faults)
    assert table is not None or faults


@settings(max_examples=300, deadline=None)
@given(st.text(st.sampled_from(['"', ",", "\n", "a", " ", ";", "\t", "\r", "\0"]), max_size=40))
def test_no_mix_of_quotes_breaks_the_reader(text: str) -> None:
    faults = Faults()
    table = read_table("t.csv", ("a,b\n" + text).encode(), faults)
    for row in table.rows if table else ():
        assert set(row.cells) == {"a", "b"}

"""A csv file's bytes become a table of words.

Encoding, separator, quotes, and lines as an editor counts.

A quoted field may hold the separator, line ends and inch marks: doubled, as a spreadsheet writes
them, or single, as people do (`"7'-8 5/8""`). An unquoted field may hold inch marks too.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from cutopt.cutlist import column_name
from cutopt.records import Faults, Place, Row, Table

__all__ = [
    "LARGEST_DAY",
    "LARGEST_FILE",
    "LONGEST_FIELD",
    "MOST_COLUMNS",
    "MOST_FILES",
    "MOST_ROWS",
    "decode",
    "named_columns",
    "read_table",
]

#: No file above this many bytes is read.
LARGEST_FILE = 32 * 1024 * 1024
#: No day with more bytes in all its files.
LARGEST_DAY = 128 * 1024 * 1024
#: No table with more rows is read.
MOST_ROWS = 200_000
#: No header with more columns is read.
MOST_COLUMNS = 64
#: No cell with more characters is read.
LONGEST_FIELD = 2_000
#: No day with more files is read.
MOST_FILES = 500

_SEPARATORS = (",", ";", "\t")
_LINE_END = re.compile("\r\n|\r|\n")
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
#: Columns in which a line end may stand.
_FREE_TEXT = frozenset({"note", "lot"})
#: Lines that one quoted field may take.
_TALLEST_FIELD = 50
#: Lines of a file in a wrong encoding that are named one by one.
_MOST_BAD_LINES = 20
#: Quoted fields never closed, after which a quoted field must end in its line.
_MOST_UNCLOSED = 200


@dataclass(slots=True)
class _Lines:
    """The lines of a decoded file, and those that were not what they should be."""

    lines: list[str]
    bad: set[int] = field(default_factory=set)


def decode(name: str, content: bytes, faults: Faults) -> _Lines | None:
    """The lines of a file in UTF-8 (with or without a byte-order mark) or UTF-16 (with one).

    Anything else is a fault for each line concerned; those lines are read as Windows-1252 and
    listed in `bad`, so that the rest of the file can still be looked at. None where nothing can
    be read.
    """
    if len(content) > LARGEST_FILE:
        faults.add(Place(name), f"{len(content)} bytes", right=f"at most {LARGEST_FILE} bytes")
        return None
    if content.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        faults.add(Place(name), "in UTF-32", right="save the file as UTF-8")
        return None
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            text = content.decode("utf-16")
        except UnicodeDecodeError:
            faults.add(Place(name), "in UTF-16, and damaged", right="save the file as UTF-8")
            return None
        return _checked(name, _LINE_END.split(text), faults)
    content = content.removeprefix(codecs.BOM_UTF8)
    if b"\0" in content[:4096] and content[:4096].count(b"\0") > len(content[:4096]) // 4:
        faults.add(
            Place(name, 1),
            "in UTF-16 without a byte-order mark, or no text at all",
            right="save the file as UTF-8",
        )
        return None
    try:
        return _checked(name, _LINE_END.split(content.decode("utf-8")), faults)
    except UnicodeDecodeError:
        return _mixed(name, content, faults)


def _mixed(name: str, content: bytes, faults: Faults) -> _Lines:
    lines = []
    bad: set[int] = set()
    for number, raw in enumerate(re.split(rb"\r\n|\r|\n", content), start=1):
        try:
            lines.append(raw.decode("utf-8"))
            continue
        except UnicodeDecodeError as error:
            byte = raw[error.start]
        lines.append(raw.decode("cp1252", "replace"))
        bad.add(number)
        if len(bad) <= _MOST_BAD_LINES:
            looks = bytes([byte]).decode("cp1252", "replace")
            what = (
                f"which is '{looks}' in Windows-1252" if looks != "\ufffd" else "which is damaged"
            )
            faults.add(
                Place(name, number),
                f"not UTF-8: the byte 0x{byte:02X}, {what}",
                right="save the file as UTF-8",
            )
    if len(bad) > _MOST_BAD_LINES:
        faults.add(
            Place(name),
            f"not UTF-8 in {len(bad)} lines, of which the first {_MOST_BAD_LINES} are listed",
            right="save the file as UTF-8",
        )
    checked = _checked(name, lines, faults)
    checked.bad |= bad
    return checked


def _checked(name: str, lines: list[str], faults: Faults) -> _Lines:
    bad = set()
    for number, line in enumerate(lines, start=1):
        found = _CONTROL.search(line)
        if found:
            bad.add(number)
            if len(bad) <= _MOST_BAD_LINES:
                faults.add(
                    Place(name, number),
                    f"the control character 0x{ord(found[0]):02X}",
                    right="text only",
                )
    return _Lines(lines, bad)


def read_table(name: str, content: bytes, faults: Faults) -> Table | None:
    """Read a csv file.

    Parameters
    ----------
    name
        How faults name the file.
    content
        Its bytes; the separator is `,`, `;` or a tab, whichever its header holds most often.
    faults
        Takes what is wrong with the file and with single rows; such rows are left out.

    Returns
    -------
    Table or None
        Columns by their known form (`Joint First` is `joint_first`), blank rows skipped; None
        where there is no header to read by.
    """
    decoded = decode(name, content, faults)
    if decoded is None:
        return None
    lines = decoded.lines
    start = next((i for i, line in enumerate(lines) if line.strip()), None)
    if start is None:
        faults.add(Place(name), "an empty file", right="a header, and a line for each row")
        return None
    separator = None
    told = re.fullmatch(r"sep=(.)", lines[start].strip(), re.IGNORECASE)
    if told or lines[start].casefold() == "sep=\t":
        separator = told[1] if told else "\t"
        start = next((i for i in range(start + 1, len(lines)) if lines[i].strip()), len(lines))
    if start >= len(lines) or start + 1 in decoded.bad:
        if start >= len(lines):
            faults.add(Place(name), "no header", right="a header, and a line for each row")
        return None
    if separator not in _SEPARATORS:
        separator = max(
            _SEPARATORS, key=lambda s: len(_cut(lines[start], s) or lines[start].split(s))
        )
    head = _cut(lines[start], separator)
    if head is None:
        faults.add(Place(name, start + 1), "a quoted field in the header is never closed")
        return None
    columns = named_columns(name, start + 1, head, faults)
    if columns is None:
        return None
    rows = []
    for line, fields in _records(name, decoded, start + 1, separator, columns, faults):
        row = _row(name, line, fields, columns, faults)
        if row is not None:
            rows.append(row)
        if len(rows) > MOST_ROWS:
            faults.add(Place(name, line), "too many rows", right=f"at most {MOST_ROWS} rows")
            break
    return Table(name, tuple(c for c in columns if c), tuple(rows), start + 1)


def named_columns(
    name: str, line: int, head: Sequence[str], faults: Faults
) -> tuple[str, ...] | None:
    """The header's words as columns are known, blank ones kept; None where they can't be told."""
    columns = tuple(column_name(h[:LONGEST_FIELD]) for h in head)
    last = max((i for i, column in enumerate(columns) if column), default=-1)
    columns = columns[: last + 1]
    if len(columns) > MOST_COLUMNS:
        faults.add(Place(name, line), f"{len(columns)} columns", right=f"at most {MOST_COLUMNS}")
        return None
    repeated = [c for c in dict.fromkeys(columns) if c and columns.count(c) > 1]
    for column in repeated:
        faults.add(Place(name, line, column), "the column stands twice", column, "each column once")
    return None if repeated else columns


def _row(
    name: str, line: int, fields: Sequence[str], columns: Sequence[str], faults: Faults
) -> Row | None:
    cells = [f.strip() for f in fields]
    if not any(cells):
        return None
    while len(cells) > len(columns) and not cells[-1]:
        cells.pop()
    if len(cells) != len(columns):
        wrong = "too many" if len(cells) > len(columns) else "too few"
        right = f"{len(columns)}, as in the header"
        if len(cells) > len(columns):
            right += "; a field with the separator in it is quoted"
        faults.add(Place(name, line), f"{wrong} fields in the row", len(cells), right)
        return None
    sound = True
    for column, cell in zip(columns, cells, strict=True):
        if len(cell) > LONGEST_FIELD:
            right = f"at most {LONGEST_FIELD} characters"
            faults.add(Place(name, line, column), f"{len(cell)} characters", right=right)
            sound = False
        if cell and not column:
            faults.add(Place(name, line), "a field under no header", cell, "a header for it")
            sound = False
    return Row(line, {c: v for c, v in zip(columns, cells, strict=True) if c}) if sound else None


def _records(
    name: str,
    decoded: _Lines,
    start: int,
    separator: str,
    columns: Sequence[str],
    faults: Faults,
) -> Iterator[tuple[int, list[str]]]:
    lines = decoded.lines
    i = start
    unclosed = 0
    while i < len(lines):
        line = lines[i]
        if faults.full:
            return
        if i + 1 in decoded.bad or not line:
            i += 1
            continue
        fields = line.split(separator) if '"' not in line else _cut(line, separator)
        if fields is not None:
            yield i + 1, fields
            i += 1
            continue
        # Where quotes are wrong all over, looking on from each of them would take too long.
        taken = _tall(lines, i, separator, columns) if unclosed < _MOST_UNCLOSED else None
        if taken is None:
            unclosed += 1
            faults.add(
                Place(name, i + 1),
                "a quoted field is not closed in this line",
                line.strip(),
                "a quote at the end of the field; inch marks within quotes are doubled",
            )
            i += 1
            continue
        fields, i = taken[0], taken[1]
        yield taken[2], fields


def _tall(
    lines: list[str], i: int, separator: str, columns: Sequence[str]
) -> tuple[list[str], int, int] | None:
    # A line end within quotes is right in a note; anywhere else the closing quote is missing.
    text = lines[i]
    for end in range(i + 1, min(i + _TALLEST_FIELD, len(lines))):
        text += "\n" + lines[end]
        if len(text) > 2 * LONGEST_FIELD:
            return None
        fields = _cut(text, separator)
        if fields is None:
            continue
        tall = [c for c, f in zip(columns, fields, strict=False) if "\n" in f]
        if len(fields) <= len(columns) and all(c in _FREE_TEXT for c in tall):
            return fields, end + 1, i + 1
        return None
    return None


def _cut(line: str, separator: str) -> list[str] | None:
    """The fields of a line; None where a quoted field is not closed in it."""
    if '"' not in line:
        return line.split(separator)
    fields = []
    position = 0
    while True:
        for pattern, doubled in _PATTERNS[separator]:
            match = pattern.match(line, position)
            if match:
                fields.append(match[1].replace('""', '"') if doubled else match[1])
                break
        else:
            return None
        if match.end() >= len(line):
            return fields
        position = match.end() + 1


def _patterns(separator: str) -> tuple[tuple[re.Pattern[str], bool], ...]:
    s = re.escape(separator)
    blank = "[ ]*" if separator == "\t" else r"[ \t]*"
    return (
        # Unquoted: it does not begin with a quote; inch marks may stand in it.
        (re.compile(rf'{blank}((?:[^"{s}\s][^{s}]*)?+)(?={s}|\Z)'), False),
        # Quoted, quotes within it doubled.
        (re.compile(rf'{blank}"((?:[^"]|"")*+)"{blank}(?={s}|\Z)'), True),
        # Quoted, inch marks within it not doubled: it ends at the first quote before a separator.
        (re.compile(rf'{blank}"([^\n]*?)"{blank}(?={s}|\Z)'), False),
    )


_PATTERNS = {s: _patterns(s) for s in _SEPARATORS}

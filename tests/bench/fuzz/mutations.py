"""Damage done to inputs, by a seeded generator: to their bytes, their cells, keys and members.

Damage to bytes alone is refused by the first step of a reader; damage to what stands in the bytes
gets further. So half of all inputs are damaged within their structure, and only some of those in
their bytes as well.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from collections.abc import Callable, Sequence
from copy import deepcopy
from random import Random
from typing import Any

__all__ = ["in_bytes", "in_csv", "in_json", "in_toml", "in_xlsx"]

#: Bytes that mean something to a reader.
BYTES = (
    b"\0",
    b"\xff",
    b"\xef\xbb\xbf",
    b"\xff\xfe",
    b"\xfe\xff",
    b"\r",
    b"\n",
    b"\r\n",
    b'"',
    b'""',
    b",",
    b";",
    b"\t",
    b"\x1a",
    b"\xe2\x80\xa8",
    b"\xed\xa0\x80",
    b"\xc0\x80",
    b"PK\x03\x04",
    b"PK\x05\x06",
    b"[",
    b"{",
    b"'''",
)
#: Words that mean something to whoever reads a cell or a value.
WORDS = (
    "",
    " ",
    "0",
    "-0",
    "-1",
    "1e999999999",
    "1e-999999999",
    "9" * 400,
    "0." + "0" * 300 + "1",
    "NaN",
    "Infinity",
    "inf",
    "1/0",
    "1/3",
    "92-5/8",
    "7'-8 5/8\"",
    "7'8.625\"",
    "2352.7mm",
    "0.0001mm",
    "999999999",
    "1,5",
    "½",
    "٣",
    "1_000",
    "0x10",
    "1 2 3",
    "-5/8",
    "''''",
    "=1+1",
    "@x",
    "yes",
    "no",
    "full-span",
    "jointed",
    "sheet",
    "lumber",
    "each",
    "MBF",
    "2x4",
    "0x0",
    "999x999",
    "2026-02-30",
    "0001-01-01",
    "a;b;c",
    ";;;",
    "x" * 2_500,
    "\u202etrap",
    "\ud800",
    "é",
    "e\u0301",
    "\U0001f4a9",
    "true",
    "null",
    "2x4-SPF-2",
    "long",
    "factory",
)
VALUES: tuple[Any, ...] = (
    None,
    True,
    False,
    0,
    -1,
    1.5,
    1e308,
    10**60,
    2**63,
    "",
    [],
    {},
    [[]],
    [{}],
    {"": ""},
    float("nan"),
    float("inf"),
)
_Cells = list[list[str]]


def in_bytes(data: bytes, random: Random, other: bytes = b"") -> bytes:
    """One to six bits flipped, spans cut, doubled, moved, or taken from another input."""
    found = bytearray(data)
    for _ in range(random.choice((1, 1, 1, 2, 3, 6))):
        at = random.randrange(len(found) + 1)
        span = min(len(found) - at, random.choice((1, 2, 7, 40, 400)))
        kind = random.randrange(8)
        if kind == 0 and at < len(found):
            found[at] ^= 1 << random.randrange(8)
        elif kind == 1 and at < len(found):
            found[at] = random.randrange(256)
        elif kind == 2:
            del found[at : at + span]
        elif kind == 3:
            found[at:at] = found[at : at + span] * random.choice((1, 2, 30))
        elif kind == 4:
            found[at:at] = random.choice(BYTES)
        elif kind == 5:
            del found[at:]
        elif kind == 6 and other:
            start = random.randrange(len(other))
            found[at : at + span] = other[start : start + random.choice((1, 20, 300))]
        else:
            to = random.randrange(len(found) + 1)
            found[to:to] = found[at : at + span]
    return bytes(found)


def in_csv(data: bytes, random: Random, other: bytes) -> bytes:
    """A table with cells, columns and rows that are not what they should be."""
    rows = _rows(data)
    for _ in range(random.choice((1, 1, 2, 3, 8))):
        random.choice(_TABLE_DAMAGE)(rows, random, _rows(other))
    separator = random.choice(",,,,,;\t|")
    quotes = random.randrange(4)
    end = random.choice(("\n", "\n", "\r\n", "\r", "\n\n"))
    text = end.join(separator.join(_cell(c, separator, quotes) for c in row) for row in rows)
    return _encoded(text, random)


def in_toml(data: bytes, random: Random, other: bytes) -> bytes:
    """A day.toml with other values, keys and tables."""
    lines = data.decode("utf-8", "replace").splitlines()
    others = other.decode("utf-8", "replace").splitlines()
    for _ in range(random.choice((1, 1, 2, 3, 8))):
        at = random.randrange(len(lines)) if lines else 0
        kind = random.randrange(8)
        key = lines[at].partition("=")[0] if lines and "=" in lines[at] else "kerf "
        if kind <= 2 and lines:
            lines[at] = f"{key}= {_toml_value(random, 3)}"
        elif kind == 3:
            lines.insert(at, random.choice(others or [""]))
        elif kind == 4 and lines:
            del lines[at]
        elif kind == 5:
            words = [
                random.choice(("lumber", "sheets", "materials", "a", '"b.c"', "")) for _ in "ab"
            ]
            dots = ".".join(words * random.choice((1, 1, 1, 40)))
            lines.insert(at, random.choice(("[{}]", "[[{}]]", "{} = 1", "{{}}")).format(dots))
        elif kind == 6 and lines:
            lines.append(lines[at])
        else:
            word = random.choice(WORDS).encode("utf-8", "replace").decode()
            lines.insert(at, f'{word[:40]} = """{word}"""')
    return _encoded(random.choice(("\n", "\n", "\r\n")).join(lines), random)


def in_json(data: bytes, random: Random, other: bytes) -> bytes:
    """A document with other values, keys, types and depth, in some places."""
    document = json.loads(data)
    source = json.loads(other)
    for _ in range(random.choice((1, 1, 1, 2, 4, 12))):
        _in_node(document, random, source)
    text = json.dumps(document, ensure_ascii=random.random() < 0.8)
    if random.random() < 0.15:
        number = random.choice(("1e999999999", "-1E-99999999", "9" * 5000, "1" + "0" * 400 + ".5"))
        spots = [m.span() for m in re.finditer(r"(?<=[\s:\[,])-?[0-9.]+(?=[,\]}])", text)]
        if spots:
            start, end = random.choice(spots)
            text = text[:start] + number + text[end:]
    if random.random() < 0.03:
        depth = random.choice((30, 3_000, 60_000))
        text = text.replace("[]", "[" * depth + "]" * depth, 1)
    return text.encode("utf-8", "surrogatepass")


def in_xlsx(data: bytes, random: Random, other: bytes) -> bytes:
    """A workbook whose members are damaged and packed again, so that their sums hold."""
    with zipfile.ZipFile(io.BytesIO(data)) as book:
        members = {i.filename: book.read(i) for i in book.infolist()}
    with zipfile.ZipFile(io.BytesIO(other)) as book:
        others = {i.filename: book.read(i) for i in book.infolist()}
    for _ in range(random.choice((1, 1, 2, 4))):
        name = random.choice(list(members))
        kind = random.randrange(10)
        if kind <= 5:
            members[name] = _in_xml(members[name], random)
        elif kind == 6:
            members[name] = in_bytes(members[name], random, random.choice(list(others.values())))
        elif kind == 7:
            members[name] = random.choice(list(others.values()))
        elif kind == 8 and len(members) > 1:
            del members[name]
        else:
            members[random.choice(("xl/x.xml", "../x", "/x", "xl/", name.upper()))] = members[name]
    file = io.BytesIO()
    packing = random.choice((zipfile.ZIP_DEFLATED, zipfile.ZIP_DEFLATED, zipfile.ZIP_STORED))
    with zipfile.ZipFile(file, "w", packing) as book:
        for name, content in members.items():
            book.writestr(name, content)
    return file.getvalue()


# Tables


def _rows(data: bytes) -> _Cells:
    text = data.decode("utf-8-sig", "replace")
    return [line.split(",") for line in text.splitlines()] or [[""]]


def _other_cell(rows: _Cells, random: Random, others: _Cells) -> None:
    row = random.choice(rows)
    if row:
        row[random.randrange(len(row))] = random.choice(WORDS)


def _cell_moved(rows: _Cells, random: Random, others: _Cells) -> None:
    to, source = random.choice(rows), random.choice(others)
    if to and source:
        to[random.randrange(len(to))] = random.choice(source)


def _row_from_other(rows: _Cells, random: Random, others: _Cells) -> None:
    rows.insert(random.randrange(len(rows) + 1), list(random.choice(others)))


def _row_again(rows: _Cells, random: Random, others: _Cells) -> None:
    rows.extend([list(random.choice(rows)) for _ in range(random.choice((1, 2, 20)))])


def _row_gone(rows: _Cells, random: Random, others: _Cells) -> None:
    if len(rows) > 1:
        del rows[random.randrange(len(rows))]


def _column_gone(rows: _Cells, random: Random, others: _Cells) -> None:
    at = random.randrange(len(rows[0]) or 1)
    for row in rows:
        del row[at : at + 1]


def _column_again(rows: _Cells, random: Random, others: _Cells) -> None:
    at = random.randrange(len(rows[0]) or 1)
    for row in rows:
        row[at:at] = row[at : at + 1] * random.choice((1, 1, 70))


def _column_filled(rows: _Cells, random: Random, others: _Cells) -> None:
    at = random.randrange(len(rows[0]) or 1)
    word = random.choice(WORDS)
    for row in rows[1:]:
        row[at : at + 1] = [word]


def _head(rows: _Cells, random: Random, others: _Cells) -> None:
    rows[0] = list(others[0])


_TABLE_DAMAGE: Sequence[Callable[[_Cells, Random, _Cells], None]] = (
    _other_cell,
    _other_cell,
    _other_cell,
    _other_cell,
    _cell_moved,
    _cell_moved,
    _row_from_other,
    _row_again,
    _row_gone,
    _column_gone,
    _column_again,
    _column_filled,
    _head,
)


def _cell(text: str, separator: str, quotes: int) -> str:
    if quotes == 0 and not text.startswith('"'):
        return '"' + text.replace('"', '""') + '"'
    if quotes == 1 and (separator in text or '"' in text):
        return f'"{text}"'
    return text


def _encoded(text: str, random: Random) -> bytes:
    encoding = random.choice(("utf-8",) * 12 + ("utf-8-sig", "utf-16", "utf-32", "cp1252"))
    if encoding == "utf-8":
        return text.encode(encoding, random.choice(("surrogatepass", "replace")))
    return text.encode(encoding, "replace")


# Documents


def _toml_value(random: Random, deep: int) -> str:
    kind = random.randrange(8 if deep else 6)
    word = random.choice(WORDS).encode("utf-8", "replace").decode()
    if kind <= 1:
        return json.dumps(word, ensure_ascii=False)
    if kind == 2:
        return word
    if kind == 3:
        return random.choice(("true", "1979-05-27T07:32:00Z", "07:32:00", "+inf", "-nan", "0b1"))
    if kind == 4:
        return f"'{word}'"
    if kind == 5:
        return str(random.choice((0, -1, 10**30, 0.1, 1e300)))
    inner = [_toml_value(random, deep - 1) for _ in range(random.randrange(4))]
    if kind == 6:
        return "[" + ", ".join(inner) + "]"
    return "{" + ", ".join(f"k{i} = {value}" for i, value in enumerate(inner)) + "}"


def _in_node(document: Any, random: Random, source: Any) -> None:
    node = _somewhere(document, random)
    keys = list(node) if isinstance(node, dict) else list(range(len(node)))
    kind = random.randrange(8)
    if not keys:
        if isinstance(node, list):
            node.append(deepcopy(random.choice(VALUES)))
        else:
            node[random.choice(WORDS)] = deepcopy(random.choice(VALUES))
        return
    key = random.choice(keys)
    if kind <= 1:
        node[key] = random.choice(WORDS)
    elif kind == 2:
        node[key] = deepcopy(random.choice(VALUES))
    elif kind == 3:
        node[key] = deepcopy(_somewhere(source, random))
    elif kind == 4:
        del node[key]
    elif kind == 5 and isinstance(node, dict):
        node[random.choice((*WORDS[:20], *map(str, keys)))] = node.pop(key)
    elif kind == 6 and isinstance(node, list):
        node.extend(deepcopy(node[key]) for _ in range(random.choice((1, 2, 30))))
    elif isinstance(node[key], int | float) and not isinstance(node[key], bool):
        node[key] = node[key] * random.choice((-1, 0, 2, 0.5, 10**9)) + random.choice((0, 1))
    else:
        node[key] = [node[key]]


def _somewhere(document: Any, random: Random) -> Any:
    """A list or an object, the deeper ones as likely as those on top."""
    node = document
    while True:
        inner = node.values() if isinstance(node, dict) else node
        nodes = [value for value in inner if isinstance(value, dict | list)]
        if not nodes or random.random() < 0.15:
            return node
        node = random.choice(nodes)


def _in_xml(content: bytes, random: Random) -> bytes:
    text = content.decode("utf-8", "replace")
    # A value, an attribute's value, a tag.
    found = list(re.finditer(r">([^<>]+)<|=\"([^\"]*)\"|<(/?[A-Za-z:]+)", text))
    if not found:
        return in_bytes(content, random)
    for _ in range(random.choice((1, 1, 3))):
        match = random.choice(found)
        group = match.lastindex or 0
        start, end = match.span(group)
        word = random.choice(
            (
                *WORDS,
                "A1",
                "XFD1048576",
                "ZZZZ99999999",
                "AA0",
                "s",
                "e",
                "d",
                "n",
                "inlineStr",
                "45000.5",
            )
        )
        word = word.encode("utf-8", "replace").decode()
        if group == 3:
            word = random.choice(
                ("c", "v", "row", "f", "is", "x:v", "/c", "!--", "?x", "sheetData")
            )
        else:
            word = word.replace("&", "&amp;").replace("<", "&lt;").replace('"', "&quot;")
        if random.random() < 0.1:
            word = random.choice(("&a;", "&#0;", "&#x10FFFF;", "<!DOCTYPE a>", "]]>"))
        text = text[:start] + word + text[end:]
        found = list(re.finditer(r">([^<>]+)<|=\"([^\"]*)\"|<(/?[A-Za-z:]+)", text))
        if not found:
            break
    return text.encode()

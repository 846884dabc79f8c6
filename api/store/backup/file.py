"""A backup as a file: lines of JSON, compressed, closed by a checksum.

The first line is the head: what this is, which step of the schema its rows are of, when and from
what it was made. Each table follows as a line with its name and columns, then a line per row. The
last line counts the rows of every table and holds the SHA-256 of all bytes before it: a file that
was cut short or changed is told as such before anything is restored.

What JSON has no word for is an object with one key: `bytes` (base64), `utc` (a moment), `date`,
`json` (a JSON column, to the letter as it was kept), `decimal`.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from typing import IO, Any

from cutopt.records import CutoptError

__all__ = ["Head", "JsonText", "Reader", "Writer"]

_WHAT = "cutopt backup"
_FORMAT = 1
_LEVEL = 6

Row = tuple[Any, ...]


class JsonText(str):
    """The text of a JSON column."""

    __slots__ = ()


@dataclass(frozen=True, slots=True)
class Head:
    """What a backup is of: the schema's step, the kind of database, when (UTC), our version."""

    step: str
    kind: str
    made: str
    program: str


class Writer:
    """Writes a backup: tables one after the other, then `close`."""

    def __init__(self, stream: IO[bytes], head: Head) -> None:
        self._packed = gzip.GzipFile("", "wb", _LEVEL, stream, mtime=0)
        self._sum = hashlib.sha256()
        self._rows: dict[str, int] = {}
        self._line({"file": _WHAT, "format": _FORMAT} | asdict(head))

    def table(self, name: str, columns: Sequence[str], rows: Iterator[Sequence[Any]]) -> int:
        """Write a table whole; the number of its rows."""
        self._line({"table": name, "columns": list(columns)})
        count = 0
        for row in rows:
            self._line([_told(value) for value in row])
            count += 1
        self._rows[name] = count
        return count

    def close(self) -> None:
        """Write the last line. The stream stays open."""
        self._line({"rows": self._rows, "sha256": self._sum.hexdigest()})
        self._packed.close()

    def _line(self, value: Any) -> None:
        line = json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
        self._sum.update(line)
        self._packed.write(line)


class Reader:
    """Reads a backup, as often as asked.

    Raises CutoptError wherever the file is no backup, or not the one that was written.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.head = self._head(self._lines())

    def check(self) -> dict[str, int]:
        """Read the file to its end: the rows of every table."""
        return {name: sum(1 for _ in rows) for name, _, rows in self.tables()}

    def tables(self) -> Iterator[tuple[str, list[str], Iterator[Row]]]:
        """Each table's name, columns and rows; the rows are to be read before the next table.

        The checksum is known after the last table alone: `check` first.
        """
        lines = _Summed(self._lines())
        self._head(lines)
        found: dict[str, int] = {}
        line = next(lines, None)
        while isinstance(line, dict) and "table" in line:
            name, columns = line["table"], line["columns"]
            rows = _Rows(lines, len(columns))
            yield name, columns, rows
            for _ in rows:
                pass
            if rows.torn:
                raise self._broken(f"row {rows.torn} of '{name}' can't be read")
            found[name] = rows.count
            line = rows.last
        if not (isinstance(line, dict) and "sha256" in line):
            raise self._broken("it ends before its last line")
        if line["sha256"] != lines.before_last:
            raise self._broken("its checksum is not that of what it holds")
        if line["rows"] != found or next(lines, None) is not None:
            raise self._broken("its last line does not count what it holds")

    def _lines(self) -> Iterator[bytes]:
        try:
            with gzip.open(self.path, "rb") as packed:
                yield from packed
        except (EOFError, gzip.BadGzipFile, zlib.error) as error:
            raise self._broken("it is damaged or cut short") from error

    def _head(self, lines: Iterator[Any]) -> Head:
        try:
            line = next(lines, b"")
            head = json.loads(line) if isinstance(line, bytes) else line
            if head["file"] != _WHAT:
                raise KeyError
            if head["format"] != _FORMAT:
                raise CutoptError(
                    f"{self.path}: a backup of format {head['format']}, this program reads "
                    f"{_FORMAT}; would be right: the newer program"
                )
            return Head(*(str(head[name]) for name in ("step", "kind", "made", "program")))
        except (KeyError, TypeError, ValueError) as error:
            raise self._broken("it does not begin as a backup does") from error

    def _broken(self, why: str) -> CutoptError:
        return CutoptError(
            f"{self.path}: {why}; would be right: a file as `cutopt backup` wrote it. "
            "Nothing was restored"
        )


class _Summed(Iterator[Any]):
    """The lines read as JSON, and the checksum of those before the last one."""

    def __init__(self, lines: Iterator[bytes]) -> None:
        self._lines = lines
        self._sum = hashlib.sha256()
        self.before_last = ""

    def __next__(self) -> Any:
        line = next(self._lines)
        self.before_last = self._sum.hexdigest()
        self._sum.update(line)
        try:
            return json.loads(line)
        except ValueError:
            return None  # told as an end before the last line, or as a torn row


class _Rows(Iterator[Row]):
    """The rows up to a line that is none: that line is `last`."""

    def __init__(self, lines: Iterator[Any], width: int) -> None:
        self._lines = lines
        self._width = width
        self._ended = False
        self.count = 0
        self.torn = 0  # the first row that could not be read
        self.last: Any = None

    def __next__(self) -> Row:
        line = None if self._ended else next(self._lines, None)
        if not isinstance(line, list):
            if not self._ended:
                self._ended, self.last = True, line
            raise StopIteration
        self.count += 1
        try:
            if len(line) == self._width:
                return tuple(_read(value) for value in line)
        except ValueError:
            pass
        self.torn = self.torn or self.count
        return (None,) * self._width


def _told(value: Any) -> Any:
    if isinstance(value, JsonText):
        return {"json": str(value)}
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, bytes | memoryview):
        return {"bytes": base64.b64encode(value).decode("ascii")}
    if isinstance(value, datetime):
        moment = value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)
        return {"utc": moment.replace(tzinfo=None).isoformat()}
    if isinstance(value, date):
        return {"date": value.isoformat()}
    if isinstance(value, Decimal):
        return {"decimal": str(value)}
    raise TypeError(f"a backup has no word for {type(value).__name__}")


def _read(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    [(word, text)] = value.items()
    if word == "json":
        return JsonText(text)
    if word == "bytes":
        return base64.b64decode(text, validate=True)
    if word == "utc":
        return datetime.fromisoformat(text).replace(tzinfo=UTC)
    if word == "date":
        return date.fromisoformat(text)
    if word == "decimal":
        return Decimal(text)
    raise ValueError(f"a backup has no word '{word}'")

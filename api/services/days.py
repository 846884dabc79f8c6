"""Days: kept as they came, once they were read without a fault."""

from __future__ import annotations

import hashlib
import json
import uuid
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import PurePosixPath
from typing import Any

from sqlalchemy.exc import IntegrityError

from api.access.who import Caller
from api.jobs import DayFiles, read_sources
from api.jobs.job import JSON_DAY
from api.services.audit import plant_for, record
from api.services.errors import InUse, NotFound, RequestInvalid
from api.services.keys import keep
from api.services.paging import cursor, next_page
from api.services.seen import hold
from api.services.views import day_summary, day_view
from api.shapes import Day, DayPage, Fault, ReadFault, read_faults
from api.store import Database, DayFileRow, DayRow
from api.store.days import DayStore
from api.tags import ANY
from cutopt.records import Fault as LibraryFault
from cutopt.records import InputRefused, Place

__all__ = ["DayService", "is_id"]

_LONGEST_NAME = 80
#: How faults name a day that has no name, where several are read together.
_UNNAMED = "day"


class DayService:
    """What can be done with days, by a caller, who sees those of one plant or of all.

    Without a caller it is the service itself that asks.
    """

    def __init__(self, database: Database, caller: Caller | None = None) -> None:
        self._database = database
        self._caller = caller
        self._plant = None if caller is None else caller.plant

    def add_files(
        self,
        name: str | None,
        files: Mapping[str, bytes],
        first: str | None = None,
        plant: str | None = None,
    ) -> Day:
        """Read and keep the files of a day folder, or a workbook.

        Parameters
        ----------
        name
            What the day is called: by default its folder or workbook, else its date.
        files
            Contents by name.
        first
            The id of the day whose stock and rules it will be planned with.
        plant
            The id of the plant that it belongs to, where the caller is of no single one.

        Raises
        ------
        InputRefused
            With every fault.
        RequestInvalid
            Where there is no such first day.
        """
        files = _in_folders(files)
        return self._add(DayFiles(name or _folder_name(files), "files", files), first, plant)

    def add_document(
        self,
        name: str | None,
        document: bytes,
        first: str | None = None,
        plant: str | None = None,
    ) -> Day:
        """Read and keep a day that came as one JSON document; as `add_files`."""
        return self._add(DayFiles(name or "", "json", {JSON_DAY: document}), first, plant)

    def add_once(self, name: str, files: Mapping[str, bytes]) -> Day:
        """The day with these files: the one that is there, or else a new one."""
        source = DayFiles(name, "files", files)
        with self._database.read() as session:
            found = DayStore(session, self._plant).with_digest(_digest(source))
        return self.get(found.id) if found is not None else self._add(source)

    def get(self, id: str) -> Day:
        """One day. Raises NotFound."""
        with self._database.read() as session:
            days = DayStore(session, self._plant)
            row = _found(days, id)
            return day_view(row, days.file_names(row))

    def page(self, after: int | None, limit: int) -> DayPage:
        """The newest days, from behind a cursor."""
        with self._database.read() as session:
            rows = DayStore(session, self._plant).page(after, limit + 1)
        return DayPage(
            items=[day_summary(row) for row in rows[:limit]],
            next=next_page("/days", limit, cursor(rows, limit)),
        )

    def remove(self, id: str, seen: str = ANY) -> None:
        """Remove a day whose tag is among `seen`.

        Raises NotFound, ChangedMeanwhile, or InUse where a plan uses it.
        """
        try:
            with self._database.write() as session:
                days = DayStore(session, self._plant)
                row = _found(days, id)
                hold(f"day '{id}'", day_view(row, days.file_names(row)), seen)
                if days.in_use(row):
                    raise _in_use(row)
                days.remove(row)
                record(session, self._caller, "day.remove", row.id, row.plant_number)
                keep(session, None)
        except IntegrityError as error:  # a plan that began at this very moment
            raise InUse(f"day '{id}' is used by a plan or a curve") from error

    def _add(self, source: DayFiles, first: str | None = None, plant: str | None = None) -> Day:
        named = replace(source, name=source.name or _UNNAMED)
        before = [] if first is None else [self._first(first)]
        reading = read_sources([*before, named])
        day = reading.days[-1]
        if not day.plant.isprintable():  # no database keeps every character
            place = Place("day.toml" if source.form == "files" else "day", column="plant")
            raise InputRefused(
                [LibraryFault(place, "a character that is no letter or sign", day.plant)]
            )
        name = source.name or day.date.isoformat()
        warnings: list[dict[str, Any]] = [
            fault.model_dump()
            for fault in read_faults(reading.warnings)
            if not any(_is_of(fault, other) for other in before)
        ]
        files = sorted(source.files.items())
        row = DayRow(
            id=uuid.uuid4().hex,
            name=name[:_LONGEST_NAME],
            plant=day.plant,
            date=day.date,
            unit=day.unit,
            rows=len(day.parts),
            pieces=sum(part.qty for part in day.parts),
            sections=list(dict.fromkeys(part.section for part in day.parts)),
            materials=list(dict.fromkeys(part.material for part in day.parts)),
            warnings=warnings,
            form=source.form,
            digest=_digest(source),
            created=datetime.now(UTC),
            files=[
                DayFileRow(position=position, name=file, content=content)
                for position, (file, content) in enumerate(files)
            ],
        )
        with self._database.write() as session:
            row.plant_number = plant_for(session, self._caller, plant, (day.plant, day.unit))
            DayStore(session, self._plant).add(row)
            record(session, self._caller, "day.post", row.id, row.plant_number)
            view = day_view(row, [file for file, _ in files])
            keep(session, view)
        return view

    def _first(self, id: str) -> DayFiles:
        with self._database.read() as session:
            row = DayStore(session, self._plant).find(id, files=True) if is_id(id) else None
            if row is None:
                wrong = Fault(place="query.first", wrong="there is no such day", read=id[:64])
                raise RequestInvalid([wrong])
            return DayFiles(row.name, row.form, {file.name: file.content for file in row.files})


def _is_of(fault: ReadFault, day: DayFiles) -> bool:
    """Whether it tells of this day, where several are read together."""
    return fault.file.startswith((f"{day.name}/", f"{day.name} (1)/"))


def is_id(text: str) -> bool:
    """Whether this could be an id at all: what can't be need not be looked for."""
    return len(text) == 32 and all(letter in "0123456789abcdef" for letter in text)


def _found(days: DayStore, id: str, files: bool = False) -> DayRow:
    row = days.find(id, files) if is_id(id) else None
    if row is None:
        raise NotFound(f"there is no day '{id[:64]}'")
    return row


def _in_use(row: DayRow) -> InUse:
    return InUse(f"day '{row.id}' ({row.name}) is used by a plan")


def _digest(source: DayFiles) -> str:
    parts = [
        [name, hashlib.sha256(content).hexdigest()]
        for name, content in sorted(source.files.items())
    ]
    return hashlib.sha256(json.dumps([source.form, parts]).encode()).hexdigest()


def _in_folders(files: Mapping[str, bytes]) -> dict[str, bytes]:
    """Many a client sends a file's last name only: then every other csv is a cut list."""
    names = {name.replace("\\", "/"): content for name, content in files.items()}
    if any("/" in name for name in names):
        return names
    return {
        f"cuts/{name}"
        if name.casefold().endswith(".csv") and name.casefold() != "stock.csv"
        else name: content
        for name, content in names.items()
    }


def _folder_name(files: Mapping[str, bytes]) -> str:
    """The folder that all files share, or the workbook's name; blank where there is none."""
    heads = {name.split("/", 1)[0] if "/" in name else "" for name in files}
    if len(heads) == 1 and not heads & {"", "cuts"}:
        return heads.pop()
    books = [name for name in files if name.casefold().endswith((".xlsx", ".xlsm"))]
    return PurePosixPath(books[0]).stem if len(books) == 1 and "stock.csv" not in files else ""

"""What goes into a planning process and what comes out of it: plain values that can be sent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from cutopt.cutlist import RawDay, Reading, raw_day_from_json, read_raw_days
from cutopt.files import parse_document, raw_day_from_files
from cutopt.records import CutoptError, Fault, InputRefused, Place

__all__ = [
    "JSON_DAY",
    "Crashed",
    "CurvedFiles",
    "DayFiles",
    "Job",
    "MaterialFigures",
    "PlannedFiles",
    "Refused",
    "Told",
    "Unsound",
    "read_sources",
]

#: How faults name a day that came as one JSON document, and how its only file is called.
JSON_DAY = "day.json"


@dataclass(frozen=True, slots=True)
class DayFiles:
    """A day as it came: its files, or one JSON document (`form` is `files` or `json`)."""

    name: str
    form: str
    files: Mapping[str, bytes]

    def raw(self) -> RawDay:
        """Its tables of words. Raises InputRefused."""
        if self.form == "json":
            try:
                document = parse_document(self.files[JSON_DAY])
            except CutoptError as error:
                raise InputRefused([Fault(Place(JSON_DAY), str(error))]) from error
            return raw_day_from_json(self.name, document)
        return raw_day_from_files(self.name, self.files)


def read_sources(days: Sequence[DayFiles]) -> Reading:
    """Read days together. Raises InputRefused with every fault that was found."""
    return read_raw_days([day.raw() for day in days])


@dataclass(frozen=True, slots=True)
class Job:
    """A plan to be made, or a curve where `of` says of what."""

    days: tuple[DayFiles, ...]
    seconds: float
    seed: int
    of: str | None = None


@dataclass(frozen=True, slots=True)
class Told:
    """How far one group of materials is. Money in dollars, for showing."""

    materials: tuple[str, ...]
    phase: str
    objective: float | None
    bound: float | None
    done: bool

    @property
    def gap(self) -> float | None:
        """(objective − bound) / objective, where both are known."""
        if self.objective is None or self.bound is None or self.objective <= 0:
            return None
        return max(0.0, (self.objective - self.bound) / self.objective)


#: The figures of one material as shown beside its plan; `api.shapes.MaterialResult` names them.
MaterialFigures = dict[str, Any]


@dataclass(frozen=True, slots=True)
class PlannedFiles:
    """A plan that checks: its files, the figures per material, whether it was cut short."""

    files: Mapping[str, bytes]
    materials: tuple[MaterialFigures, ...]
    interrupted: bool

    @property
    def cuts_all(self) -> bool:
        """Whether every part could be cut from the stock offered."""
        return not any(material["unplanned"] for material in self.materials)


@dataclass(frozen=True, slots=True)
class CurvedFiles:
    """Curves: their files, their points as `api.curve_shapes.MaterialCurve` names them."""

    files: Mapping[str, bytes]
    curves: tuple[dict[str, Any], ...]
    interrupted: bool


@dataclass(frozen=True, slots=True)
class Refused:
    """The days can't be planned together: every fault."""

    faults: tuple[Fault, ...]


@dataclass(frozen=True, slots=True)
class Unsound:
    """The plan does not check: every promise that it breaks."""

    faults: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Crashed:
    """There is no plan. `why` is for people; `died`: its workers were lost."""

    why: str
    died: bool = False

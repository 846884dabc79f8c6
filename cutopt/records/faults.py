"""Faults found in what was read, gathered so that all of them are told at once.

CutoptError
├── InputRefused        the input has faults; carries every one of them
├── LengthError         a length that cannot be read or held (cutopt.measure)
└── PlanFaulty          a plan that breaks a promise; carries every fault
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

__all__ = ["MOST_FAULTS", "CutoptError", "Fault", "Faults", "InputRefused", "Place", "PlanFaulty"]

#: Nobody reads on beyond so many, and a small file could hold millions.
MOST_FAULTS = 2_000


class CutoptError(Exception):
    """Any error that cutopt raises on purpose."""


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where something was read: a file (or sheet, or JSON list), a row and a column name.

    `row` counts lines of the file as an editor does, the header being line 1; 0 where no
    row is meant. `column` is the header's word, or a dotted key of day.toml.
    """

    file: str
    row: int = 0
    column: str = ""

    def __str__(self) -> str:
        parts = [self.file]
        if self.row or self.column:
            parts.append(str(self.row) if self.row else "")
        if self.column:
            parts.append(self.column)
        return ":".join(parts)


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One thing wrong: where, what is wrong, what was read, what would be right."""

    place: Place
    wrong: str
    read: str = ""
    right: str = ""

    def __str__(self) -> str:
        text = f"{self.place}: {self.wrong}"
        if self.read:
            text += f", read {self.read}"
        if self.right:
            text += f", would be right: {self.right}"
        return text


@dataclass(slots=True)
class Faults:
    """A list under way: `faults` stop the work, `warnings` are only told.

    Of each `MOST_FAULTS` are kept, the last of which says that there are more.
    """

    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)

    def add(self, place: Place, wrong: str, read: object = "", right: str = "") -> None:
        """Record something that stops the work."""
        _keep(self.faults, Fault(place, wrong, _quoted(read), right))

    def warn(self, place: Place, wrong: str, read: object = "", right: str = "") -> None:
        """Record something a person should look at; the work goes on."""
        _keep(self.warnings, Fault(place, wrong, _quoted(read), right))

    @property
    def full(self) -> bool:
        """Whether no further fault is kept: then nothing more need be looked for."""
        return len(self.faults) >= MOST_FAULTS

    def __bool__(self) -> bool:
        return bool(self.faults)

    def __iter__(self) -> Iterator[Fault]:
        return iter(self.faults)

    def raise_if_any(self) -> None:
        """Raise `InputRefused` with every fault, in file and row order, if there is one."""
        if self.faults:
            raise InputRefused(sorted(set(self.faults)), sorted(set(self.warnings)))


def _keep(kept: list[Fault], fault: Fault) -> None:
    if len(kept) < MOST_FAULTS - 1:
        kept.append(fault)
    elif len(kept) < MOST_FAULTS:
        right = "mend those that are, then read it again"
        kept.append(Fault(fault.place, "from here on not all is listed", "", right))


def _quoted(read: object) -> str:
    text = str(read)
    if not text:
        return ""
    if len(text) > 80:
        text = text[:77] + "..."
    return f"'{text}'"


class InputRefused(CutoptError):  # noqa: N818  named for what happened, as its tree is
    """The input has faults and nothing was done. `faults` holds all of them, sorted."""

    def __init__(self, faults: Sequence[Fault], warnings: Sequence[Fault] = ()) -> None:
        self.faults = tuple(faults)
        self.warnings = tuple(warnings)
        super().__init__("\n".join(str(f) for f in self.faults))

    def __reduce__(self) -> tuple[type[InputRefused], tuple[tuple[Fault, ...], tuple[Fault, ...]]]:
        return type(self), (self.faults, self.warnings)


class PlanFaulty(CutoptError):  # noqa: N818
    """A plan breaks a promise. `faults` holds a line for each."""

    def __init__(self, faults: Sequence[str]) -> None:
        self.faults = tuple(faults)
        super().__init__("\n".join(self.faults))

    def __reduce__(self) -> tuple[type[PlanFaulty], tuple[tuple[str, ...]]]:
        return type(self), (self.faults,)

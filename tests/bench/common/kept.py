"""What a run has measured so far, in a file of JSON lines: whatever ends it, nothing is lost.

Each line stands for itself: a row or the checks of a measurement, with the settings that it was
measured under and the state of the code that it was measured with. A run that begins anew says so
in a line of its own and leaves what is there; one that resumes takes up whatever was measured
under its settings since.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from tests.bench.common.days import ROOT
from tests.bench.common.measure import Measured, Ours, Row
from tests.bench.common.promises import Check

__all__ = ["Kept", "state_of_code"]


@cache
def state_of_code() -> str:
    """Eight digits that change with any module of cutopt."""
    told = hashlib.sha256()
    for path in sorted((ROOT / "cutopt").rglob("*.py")):
        told.update(str(path.relative_to(ROOT)).encode() + b"\0" + path.read_bytes())
    return told.hexdigest()[:8]


@dataclass
class Kept:
    """What was measured, by set (or measurement) and name.

    Attributes
    ----------
    path
        The file; None where nothing is kept.
    settings
        What must be equal for a figure to be taken up.
    seconds
        What everything in it took, by the wall clock.
    codes
        The states of the code that it was measured with.
    taken_up
        How many figures are from an earlier run.
    """

    path: Path | None
    settings: Mapping[str, Any]
    seconds: float = 0.0
    codes: set[str] = field(default_factory=set)
    taken_up: int = 0
    _lines: dict[tuple[str, str], dict[str, Any]] = field(default_factory=dict)

    def begin(self, resume: bool) -> None:
        """Make the file ready, or take up what it holds."""
        state_of_code()  # as it is now, whatever is edited during the run
        if self.path is None:
            return
        self.path.parent.mkdir(parents=True, exist_ok=True)
        if resume:
            self._read(self.path)
        else:
            self._append({"begun": True})

    def row(self, instance: Measured, family: str) -> Row[Any] | None:
        """What an earlier run measured of an instance."""
        line = self._take(family, instance.name)
        if line is None:
            return None
        ours = dict(line["ours"])
        for name in ("objective", "bound"):
            ours[name] = Fraction(ours[name])
        ours["gaps"] = tuple(map(Fraction, ours["gaps"]))
        ours["stops"], ours["faults"] = tuple(ours["stops"]), tuple(ours["faults"])
        costs = {name: Fraction(cost) for name, cost in line["costs"].items()}
        return Row(instance, family, Ours(**ours), costs, line["why"])

    def keep_row(self, row: Row[Any], seconds: float) -> None:
        """Add a row that took so long."""
        ours = asdict(row.ours)
        for name in ("objective", "bound"):
            ours[name] = str(ours[name])
        ours["gaps"] = [str(gap) for gap in row.ours.gaps]
        costs = {name: str(cost) for name, cost in row.costs.items()}
        figures = {"ours": ours, "costs": costs, "why": row.why}
        self._keep(row.family, row.instance.name, figures, seconds)

    def checks(self, name: str) -> list[Check] | None:
        """What an earlier run found by a measurement that is no table of plans."""
        line = self._take(name, "")
        return None if line is None else [Check(*check) for check in line["checks"]]

    def keep_checks(self, name: str, checks: list[Check], seconds: float) -> None:
        """Add what a measurement found."""
        told = [[c.name, c.measured, c.required, c.kept] for c in checks]
        self._keep(name, "", {"checks": told}, seconds)

    def _take(self, family: str, name: str) -> dict[str, Any] | None:
        line = self._lines.get((family, name))
        if line is not None:
            self.taken_up += 1
            self._count(line)
        return line

    def _keep(self, family: str, name: str, figures: Mapping[str, Any], seconds: float) -> None:
        line = {"set": family, "name": name, **figures}
        line |= {"seconds": round(seconds, 3), "code": state_of_code()}
        self._count(line)
        self._append(line)

    def _count(self, line: Mapping[str, Any]) -> None:
        self.seconds += line["seconds"]
        self.codes.add(line["code"])

    def _append(self, line: Mapping[str, Any]) -> None:
        if self.path is None:
            return
        text = json.dumps({**line, "settings": self.settings}) + "\n"
        with self.path.open("ab+") as file:
            if file.tell() and (file.seek(-1, os.SEEK_END), file.read(1))[1] != b"\n":
                file.write(b"\n")  # behind a line that was cut off
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())

    def _read(self, path: Path) -> None:
        if not path.exists():
            return
        for text in path.read_text(encoding="utf-8", errors="replace").splitlines():
            try:
                line = json.loads(text)
            except ValueError:  # cut off when the run was
                continue
            if line["settings"] != self.settings:
                continue
            if "begun" in line:
                self._lines.clear()
            else:
                self._lines[line["set"], line["name"]] = line

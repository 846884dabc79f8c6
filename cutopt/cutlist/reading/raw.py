"""A day as words: what the readers of files and of JSON hand over, before it has a meaning."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from cutopt.cutlist.part import Day
from cutopt.records import Fault, Place, Table

__all__ = ["RawDay", "Reading"]


@dataclass(frozen=True, slots=True)
class RawDay:
    """One day before its words are understood.

    Attributes
    ----------
    name
        The folder's or workbook's name.
    config
        day.toml: nested mappings of words and numbers (floats as `Decimal`).
    stock
        stock.csv; None where it is absent.
    cuts
        The cut lists.
    faults, warnings
        What is wrong already with the files themselves (encoding, limits, rows too long).
    config_name, stock_name, cuts_name
        How faults name day.toml, stock.csv, and what all names of cut lists begin with.
    config_rows
        The line of a dotted key of day.toml, such as `lumber.kerf`, where it is known.
    """

    name: str
    config: Mapping[str, Any]
    stock: Table | None
    cuts: tuple[Table, ...]
    faults: tuple[Fault, ...] = ()
    warnings: tuple[Fault, ...] = ()
    config_name: str = "day.toml"
    stock_name: str = "stock.csv"
    cuts_name: str = "cuts"
    config_rows: Mapping[str, int] = field(default_factory=dict)

    def is_broken(self, name: str) -> bool:
        """Whether a file of this name is known to have lost something already."""
        return any(f.place.file == name for f in self.faults)

    def under(self, prefix: str) -> RawDay:
        """The same day with `prefix/` before every name of a file."""

        def table(t: Table) -> Table:
            return dataclasses.replace(t, name=f"{prefix}/{t.name}")

        def fault(f: Fault) -> Fault:
            place = Place(f"{prefix}/{f.place.file}", f.place.row, f.place.column)
            return dataclasses.replace(f, place=place)

        return dataclasses.replace(
            self,
            stock=None if self.stock is None else table(self.stock),
            cuts=tuple(table(t) for t in self.cuts),
            faults=tuple(fault(f) for f in self.faults),
            warnings=tuple(fault(f) for f in self.warnings),
            config_name=f"{prefix}/{self.config_name}",
            stock_name=f"{prefix}/{self.stock_name}",
            cuts_name=f"{prefix}/{self.cuts_name}",
        )


@dataclass(frozen=True, slots=True)
class Reading:
    """Days read without a fault, and what a person should look at before they are cut."""

    days: tuple[Day, ...]
    warnings: tuple[Fault, ...]

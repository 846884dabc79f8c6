"""A table as read from a csv file, a workbook sheet or a JSON list: words, not yet meanings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

__all__ = ["Row", "Table"]


@dataclass(frozen=True, slots=True)
class Row:
    """One line: `line` as an editor counts (the header is 1), `cells` by column name, stripped."""

    line: int
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """`name` is how faults name it (`stock.csv`, `cuts/walls.csv`); `columns` in file order.

    `header` is the line of the header, 0 where there is none (a JSON list).
    """

    name: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    header: int = 1

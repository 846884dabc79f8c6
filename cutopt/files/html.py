"""HTML from elements, so that every word from a file is escaped unless it is known to be markup."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.draw import safe

__all__ = ["Column", "Markup", "el", "join", "kind_of", "table"]

_LONG_MARK = 16
_LONG_WORD = re.compile(r"[^\s-]{20}")


class Markup(str):
    """Text that is HTML already; every other string is escaped."""

    __slots__ = ()


def join(*children: str | None) -> Markup:
    """Children one behind the other, escaped where they are no markup; None is left out."""
    return Markup(
        "".join(
            child if isinstance(child, Markup) else safe(child)
            for child in children
            if child is not None
        )
    )


def el(name: str, *children: str | None, **attributes: str | None) -> Markup:
    """An element. Attributes: `class_` and `for_` lose the underscore, `aria_label` gets hyphens.

    An attribute of None is left out.
    """
    words = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{safe(value)}"'
        for key, value in attributes.items()
        if value is not None
    )
    return Markup(f"<{name}{words}>{join(*children)}</{name}>")


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its head, and of what kind its cells are.

    `n` is for figures, `m` for a measure, `l` for several, `k` for marks, empty for words.
    """

    head: str
    kind: str = ""


def table(
    caption: str,
    columns: Sequence[Column],
    rows: Sequence[Sequence[str]],
    foot: Sequence[str] | None = None,
) -> Markup:
    """A table whose first column heads its rows, with a caption."""
    head = el("tr", *(el("th", c.head, scope="col", class_=c.kind or None) for c in columns))
    return el(
        "table",
        el("caption", caption),
        el("thead", head),
        el("tbody", *(_row(columns, row) for row in rows)),
        el("tfoot", _row(columns, foot)) if foot is not None else None,
    )


def kind_of(column: Column, cell: str) -> str | None:
    """The class of a cell: its column's kind; `w` for words so long that they must break."""
    if column.kind in ("", "k") and not isinstance(cell, Markup):
        if _LONG_WORD.search(cell):
            return "w"
        if len(cell) > _LONG_MARK:
            return None
    return column.kind or None


def _row(columns: Sequence[Column], cells: Sequence[str]) -> Markup:
    made = [
        el("th", cell, scope="row", class_=kind_of(column, cell))
        if index == 0
        else el("td", cell, class_=kind_of(column, cell))
        for index, (column, cell) in enumerate(zip(columns, cells, strict=True))
    ]
    return el("tr", *made)

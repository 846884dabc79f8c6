"""Patterns and ways to joint runs as a covering model."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from cutopt.solve.covering import Column, Covering
from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Ints, Model, Pattern

__all__ = ["covering_of"]


def covering_of(
    model: Model,
    columns: Sequence[Pattern | RunColumn],
    copies: Ints,
    exactly: Collection[int] = (),
) -> Covering:
    """The model of these columns; kinds that may not be cut once too often among `exactly`."""
    return Covering(
        model.need,
        [s.available for s in model.stocks],
        [_column(c) for c in columns],
        copies,
        frozenset({*exactly, *np.flatnonzero(model.tight).tolist()}),
    )


def _column(column: Pattern | RunColumn) -> Column:
    if isinstance(column, Pattern):
        return Column(column.cuts, column.cost, stock=column.stock)
    return Column(tuple((i, -q) for i, q in column.cuts), column.cost, unit=column.unit)

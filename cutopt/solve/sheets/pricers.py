"""Which pricers a model takes: by stages, by first cut, and by whether parts keep factory edges."""

from __future__ import annotations

from cutopt.solve.sheets.edged import EdgedStripPricer
from cutopt.solve.sheets.edged_stacks import EdgedStackPricer
from cutopt.solve.sheets.few_strips import FewStripPricer
from cutopt.solve.sheets.limit import TRIES
from cutopt.solve.sheets.model import Bench, Model
from cutopt.solve.sheets.pricing import StackPricer, StripPricer

__all__ = ["pricers_of"]

#: Up to so many parts of a sheet the tables of two stages count them; beyond, they hardly bind.
_COUNTED = 16


def pricers_of(model: Model) -> tuple[list[StripPricer], list[StackPricer]]:
    """Two-stage pricers of every bench and axis, and three-stage ones where the rule allows."""
    strips = [_strips_of(b)(model, b, axis) for b in model.benches for axis in b.axes]
    stacks = [
        (EdgedStackPricer if b.edged else StackPricer)(model, b, axis)
        for b in model.benches
        if b.stages >= 3
        for axis in b.axes
    ]
    for pricer in (*strips, *stacks):
        # Where parts are few, a pricing tries several prices of a part.
        if pricer.bench.max_parts:
            pricer.effort *= 1 + TRIES
    return strips, stacks


def _strips_of(bench: Bench) -> type[StripPricer]:
    if bench.edged:
        return EdgedStripPricer
    return FewStripPricer if 0 < bench.max_parts <= _COUNTED else StripPricer

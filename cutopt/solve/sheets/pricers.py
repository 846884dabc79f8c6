"""Which pricers a model takes: by stages, by first cut, and by whether parts keep factory edges."""

from __future__ import annotations

from cutopt.solve.sheets.edged import EdgedStripPricer
from cutopt.solve.sheets.edged_stacks import EdgedStackPricer
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pricing import StackPricer, StripPricer

__all__ = ["pricers_of"]


def pricers_of(model: Model) -> tuple[list[StripPricer], list[StackPricer]]:
    """Two-stage pricers of every bench and axis, and three-stage ones where the rule allows."""
    strips = [
        (EdgedStripPricer if b.edged else StripPricer)(model, b, axis)
        for b in model.benches
        for axis in b.axes
    ]
    stacks = [
        (EdgedStackPricer if b.edged else StackPricer)(model, b, axis)
        for b in model.benches
        if b.stages >= 3
        for axis in b.axes
    ]
    return strips, stacks

"""One kind alone on a sheet: the patterns to begin with."""

from __future__ import annotations

from cutopt.materials import Edge
from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.model import Model, Variant
from cutopt.solve.sheets.pattern import Pattern, dearest

__all__ = ["alone"]


def alone(model: Model, sheet: int, variant: Variant) -> tuple[Pattern, int] | None:
    """As many of a variant as a sheet gives, and how many that are; None where it gives none."""
    stock, bench = model.sheets[sheet], model.bench_of[sheet]
    along, across = stock.length // variant.length, stock.width // variant.width
    edge = model.kinds[variant.kind].edge
    if edge is Edge.BOTH:
        across = min(across, variant.width == stock.width)
    elif edge:
        across = min(across, (edge in stock.edges.squared) + (edge in stock.edges.far))
    if not along or not across:
        return None
    axis, part = bench.axes[0], ((variant.kind, variant.turned),)
    strips = ((part,) * along,) * across if axis is Axis.RIP else ((part,) * across,) * along
    pattern, n = Pattern(sheet, axis, strips), along * across
    if bench.max_parts and n > bench.max_parts:
        n = bench.max_parts
        pattern = dearest(pattern, [1] * len(model.kinds), n)
    return pattern, n

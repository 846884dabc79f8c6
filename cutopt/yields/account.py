"""Where the material of a plan goes, exactly: every stick and sheet accounted for to the count."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from cutopt.materials import Kind, Rules
from cutopt.measure import feet, percent, square_feet
from cutopt.plan import Layout, MaterialPlan, Plan

__all__ = ["YieldLine", "yields"]


@dataclass(frozen=True, slots=True)
class YieldLine:
    """One material: feet of lumber or square feet of sheets, and money, all exact.

    `input` is the sum of all the others. `scrap` is what the saw reports later; a plan has none.
    `cost_waste` is the part of `cost_in` that is neither in parts nor in kept drops.
    """

    material: str
    input: Fraction
    parts: Fraction
    kerf: Fraction
    trim: Fraction
    kept_drop: Fraction
    waste_drop: Fraction
    scrap: Fraction
    cost_in: Fraction
    cost_waste: Fraction

    @property
    def yield_percent(self) -> Decimal:
        """Parts / (input − kept drops), percent to four places."""
        return percent(self.parts, self.input - self.kept_drop)

    @property
    def waste_percent(self) -> Decimal:
        """What yield leaves of a hundred; 0 where nothing went in."""
        return 100 - self.yield_percent if self.input else Decimal(0)


def yields(plan: Plan, rules: Rules) -> tuple[YieldLine, ...]:
    """One line per material of the plan."""
    return tuple(_line(m, rules) for m in plan.materials)


def _line(material: MaterialPlan, rules: Rules) -> YieldLine:
    whole = parts = trim = kept = waste = 0
    cost = wasted = Fraction(0)
    for layout in material.layouts:
        size, in_parts, in_trim, in_kept, in_waste = _measures(layout, material, rules)
        whole += size * layout.count
        parts += in_parts * layout.count
        trim += in_trim * layout.count
        kept += in_kept * layout.count
        waste += in_waste * layout.count
        spent = layout.offer.cost * layout.count
        cost += spent
        wasted += spent * (size - in_parts - in_kept) / size
    show = feet if material.kind is Kind.LUMBER else square_feet
    return YieldLine(
        material=material.material,
        input=show(whole),
        parts=show(parts),
        kerf=show(whole - parts - trim - kept - waste),
        trim=show(trim),
        kept_drop=show(kept),
        waste_drop=show(waste),
        scrap=Fraction(0),
        cost_in=cost,
        cost_waste=wasted,
    )


def _measures(
    layout: Layout, material: MaterialPlan, rules: Rules
) -> tuple[int, int, int, int, int]:
    """Size, parts, trim, kept and waste drops of one piece of stock, in counts (or squared)."""
    offer = layout.offer
    if offer.width is None:
        return (
            offer.length,
            sum(p.length for p in layout.parts),
            material.head_trim,
            sum(d.length for d in layout.drops if d.kept),
            sum(d.length for d in layout.drops if not d.kept),
        )
    edge = 0 if _full_span(layout) else rules.for_sheets(offer.material).edge_trim
    area = offer.length * offer.width
    return (
        area,
        sum(p.length * (p.width or 0) for p in layout.parts),
        area - (offer.length - 2 * edge) * (offer.width - 2 * edge),
        sum(d.length * (d.width or 0) for d in layout.drops if d.kept),
        sum(d.length * (d.width or 0) for d in layout.drops if not d.kept),
    )


def _full_span(layout: Layout) -> bool:
    return any(p.full_span for p in layout.parts)

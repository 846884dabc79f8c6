"""How a part may lie on a sheet beside fitting it: no rip too narrow, factory edges kept."""

from __future__ import annotations

from cutopt.materials import Edge, Edges, Offer, Rules

__all__ = ["edges_left", "has_edge", "may_lie", "rips"]


def edges_left(offer: Offer, rules: Rules) -> Edges:
    """The factory edges that parts of an offer can keep: none where edges are trimmed off."""
    return Edges.NONE if rules.for_sheets(offer.material).edge_trim else offer.edges


def rips(across: int, offer: Offer, rules: Rules) -> bool:
    """Whether a part may measure so much across the sheet.

    What is as wide as its stock is not ripped; all else must be `least_rip` wide or more.
    """
    rule = rules.for_sheets(offer.material)
    return across >= rule.least_rip or (not rule.edge_trim and across == offer.width)


def has_edge(edge: Edge, across: int, offer: Offer, rules: Rules) -> bool:
    """Whether a part of this width, its length along the sheet, can keep what it asks for."""
    edges = edges_left(offer, rules)
    if edge is Edge.BOTH:
        return edges is Edges.BOTH and across == offer.width
    return edge is Edge.NONE or edge in edges.squared | edges.far


def may_lie(along: int, across: int, edge: Edge, offer: Offer, rules: Rules) -> bool:
    """Whether one part of this extent can be cut from a sheet of the offer at all."""
    trim = 2 * rules.for_sheets(offer.material).edge_trim
    fits = along <= offer.length - trim and across <= (offer.width or 0) - trim
    return fits and rips(across, offer, rules) and has_edge(edge, across, offer, rules)

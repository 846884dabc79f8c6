"""Factory long edges: which a sheet has, and which a part asks for.

A sheet's long edges run along its length: the squared edge at y = 0, the far edge at y = width.
Of a tongue-and-groove sheet the groove lies at the squared edge, the tongue at the far one.
"""

from __future__ import annotations

from enum import StrEnum

__all__ = ["Edge", "Edges"]


class Edge(StrEnum):
    """Which factory long edges a sheet part asks for.

    `ONE` takes either; `TONGUE` and `GROOVE` that side of a tongue-and-groove sheet; for `BOTH`
    the part is as wide as its sheet.
    """

    NONE = ""
    ONE = "one"
    BOTH = "both"
    TONGUE = "tongue"
    GROOVE = "groove"


class Edges(StrEnum):
    """Which long edges of a sheet are factory.

    `ONE` is the squared edge, and square-edged; `GROOVE` the squared edge with its groove;
    `TONGUE` the far edge with its tongue.
    """

    BOTH = "both"
    ONE = "one"
    NONE = "none"
    TONGUE = "tongue"
    GROOVE = "groove"

    @property
    def squared(self) -> frozenset[Edge]:
        """What a part may ask for that lies flush with the squared edge."""
        if self in (Edges.BOTH, Edges.GROOVE):
            return frozenset((Edge.ONE, Edge.GROOVE))
        return frozenset((Edge.ONE,)) if self is Edges.ONE else frozenset()

    @property
    def far(self) -> frozenset[Edge]:
        """What a part may ask for that lies flush with the far edge."""
        if self in (Edges.BOTH, Edges.TONGUE):
            return frozenset((Edge.ONE, Edge.TONGUE))
        return frozenset()

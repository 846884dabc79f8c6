"""Carts by what they lack: those that lack the same neighbours close together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeAlias

from cutopt.saw.stacks.bits import members

__all__ = ["Groups", "grouped", "opened"]

#: What carts lack (neighbours that are not open yet, themselves among them) → these carts.
Groups: TypeAlias = dict[int, int]


def grouped(near: Sequence[int], carts: int) -> Groups:
    """The groups of these carts before any is open; neighbours outside are left out."""
    groups: Groups = {}
    for cart in members(carts):
        lacks = near[cart] & carts
        groups[lacks] = groups.get(lacks, 0) | 1 << cart
    return groups


def opened(groups: Groups, new: int) -> tuple[Groups, int]:
    """The groups once `new` are open, and the carts that lack nothing any more."""
    left = ~new
    rest: Groups = {}
    gone = 0
    for lacks, carts in groups.items():
        lacks &= left
        if not lacks:
            gone |= carts
        elif lacks in rest:
            rest[lacks] |= carts
        else:
            rest[lacks] = carts
    return rest, gone

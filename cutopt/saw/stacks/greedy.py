"""A first order: close next the cart that opens the fewest."""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.saw.stacks.bits import members
from cutopt.saw.stacks.groups import grouped, opened

__all__ = ["fewest_new"]


def fewest_new(near: Sequence[int], carts: int, enough: int = 0) -> tuple[int, tuple[int, ...]]:
    """The best of one greedy order from every cart: most open at once, and the closing order.

    Next comes the move that opens fewest carts, of these the one that closes most, of these the
    first by number. The first order with at most `enough` open ends it.
    """
    start = grouped(near, carts)
    best = carts.bit_count() + 1
    order: list[int] = []
    for first in sorted(start):
        if best <= enough:
            break
        groups, count, peak, sets = start, 0, 0, list[int]()
        new = first
        while True:
            peak = max(peak, count + new.bit_count())
            if peak >= best:
                break
            closing = groups[new]
            groups, gone = opened(groups, new)
            count += new.bit_count() - gone.bit_count()
            sets += (closing, gone & ~closing)
            if not groups:
                best, order = peak, sets
                break
            new = min(groups, key=lambda a: (a.bit_count(), -groups[a].bit_count(), a))
    if not carts:
        return 0, ()
    return best, tuple(cart for closed in order for cart in members(closed))

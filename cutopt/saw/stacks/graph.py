"""From products and their carts to a graph of carts, and from an order of carts to its peak.

Two carts are neighbours where a product serves both. Only the graph matters for the fewest carts
open at once: it is the graph's pathwidth plus one (Linhares and Yanasse, Computers & Operations
Research 29, 2002, for the link between open stacks and the known layout problems; from memory). So
products of a single cart and products whose carts another product serves too vanish by
themselves: they add no edge.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import TypeAlias

from cutopt.saw.stacks.bits import bits_of, members

__all__ = ["Needs", "graph_of", "parts_of", "peak_of", "products_in", "read_needs", "within"]

#: The carts of each product: bits of an int, or their numbers from 0.
Needs: TypeAlias = Sequence[int | Collection[int]]


def read_needs(needs: Needs) -> tuple[int, ...]:
    """The carts of each product as bits.

    Raises
    ------
    ValueError
        Where a product's carts are negative; every such product is named.
    """
    read: list[int] = []
    faults: list[str] = []
    for number, carts in enumerate(needs):
        if isinstance(carts, int):
            bits, bad = carts, carts < 0
        else:
            bad = any(c < 0 for c in carts)
            bits = 0 if bad else bits_of(carts)
        if bad:
            faults.append(f"product {number}: read {carts!r}; carts are counted from 0")
        read.append(bits)
    if faults:
        raise ValueError("; ".join(faults))
    return tuple(read)


def graph_of(needs: Iterable[int]) -> tuple[int, ...]:
    """Each cart's neighbours, itself among them; 0 for a cart that no product serves."""
    near: list[int] = []
    for product in set(needs):
        near += [0] * (product.bit_length() - len(near))
        for cart in members(product):
            near[cart] |= product
    return tuple(near)


def within(near: Sequence[int], carts: int) -> tuple[int, ...]:
    """The graph of some carts alone: what they are with the other carts' parts left out."""
    return tuple(n & carts if carts >> c & 1 else 0 for c, n in enumerate(near))


def parts_of(near: Sequence[int]) -> list[int]:
    """The connected parts, by their lowest cart: each is cut by itself, one after another."""
    parts = []
    left = bits_of(c for c, n in enumerate(near) if n)
    while left:
        part, edge = 0, left & -left
        while edge:
            part |= edge
            grown = 0
            for cart in members(edge):
                grown |= near[cart]
            edge = grown & ~part
        parts.append(part)
        left &= ~part
    return parts


def products_in(needs: Sequence[int], closing: Sequence[int]) -> tuple[int, ...]:
    """The products in the order in which these carts close; those of no cart last.

    Each cart in turn gets all of its products that are not cut yet.
    """
    rank = {cart: at for at, cart in enumerate(closing)}
    last = len(rank)
    first = [min((rank.get(c, last) for c in members(p)), default=last) for p in needs]
    return tuple(sorted(range(len(needs)), key=lambda p: (first[p], p)))


def peak_of(needs: Sequence[int], order: Sequence[int]) -> int:
    """Most carts open at once when the products are cut in this order.

    By the definition alone: a cart is open from the first of its products to the last.
    """
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for at, product in enumerate(order):
        for cart in members(needs[product]):
            first.setdefault(cart, at)
            last[cart] = at
    change = [0] * (len(order) + 1)
    for cart, at in first.items():
        change[at] += 1
        change[last[cart] + 1] -= 1
    peak = count = 0
    for step in change:
        count += step
        peak = max(peak, count)
    return peak

"""Lower bounds on the carts open at once, from the graph alone.

Open carts = pathwidth + 1 >= treewidth + 1, so every lower bound on treewidth is one here.
"""

from __future__ import annotations

from collections.abc import Sequence

from cutopt.saw.stacks.bits import members

__all__ = ["clique_of", "contraction_bound"]


def clique_of(near: Sequence[int], carts: int) -> int:
    """A large clique among these carts: all of its carts are open at once in any order.

    Greedy from every cart, next the one that keeps most candidates. Every pair shares a product;
    that all are open at once follows since intervals that meet in pairs have a common point
    (Helly's theorem on a line).
    """
    best = 0
    for start in members(carts):
        clique, left = 1 << start, near[start] & carts & ~(1 << start)
        while left:
            chosen = max(members(left), key=lambda c: ((left & near[c]).bit_count(), -c))
            clique |= 1 << chosen
            left &= near[chosen] & ~(1 << chosen)
        if clique.bit_count() > best.bit_count():
            best = clique
    return best


def contraction_bound(near: Sequence[int], carts: int) -> int:
    """Contraction degeneracy plus one: the cart of least degree joined to a neighbour, repeated.

    The rule MMD+ with "least common neighbours" (Bodlaender, Koster and Wolle, Contraction and
    treewidth lower bounds, Journal of Graph Algorithms and Applications 10, 2006; from memory).
    Never below the degeneracy bound, since every minor has a cart of at most that degree.
    """
    graph = {c: near[c] & carts & ~(1 << c) for c in members(carts)}
    best = 0
    while graph:
        cart = min(graph, key=lambda c: (graph[c].bit_count(), c))
        around = graph.pop(cart)
        best = max(best, around.bit_count())
        if not around:
            continue
        into = min(members(around), key=lambda c: ((graph[c] & around).bit_count(), c))
        for other in members(around):
            graph[other] &= ~(1 << cart)
            if other != into:
                graph[other] |= 1 << into
        graph[into] |= around & ~(1 << into)
    return best + 1 if carts else 0

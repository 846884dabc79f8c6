"""Open stacks by other means than the product's: for tests, small instances alone."""

from __future__ import annotations

import json
import random
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations
from pathlib import Path

DATA = Path(__file__).parents[1] / "data" / "open_stacks.jsonl"


@dataclass(frozen=True)
class Published:
    """An instance with its optimum; `needs` as the product takes it."""

    name: str
    needs: tuple[tuple[int, ...], ...]
    open_stacks: int


def published() -> list[Published]:
    """The instances of `tests/saw/data/README.md`."""
    found = []
    for line in DATA.read_text(encoding="utf-8").splitlines():
        row = json.loads(line)
        carts: list[list[int]] = [[] for _ in range(row["products"])]
        for cart, products in enumerate(row["orders"]):
            for product in products:
                carts[product].append(cart)
        found.append(Published(row["name"], tuple(map(tuple, carts)), row["open_stacks"]))
    return found


def open_at_most(needs: Sequence[Sequence[int]], order: Sequence[int]) -> int:
    """Most carts open at once, counted product by product."""
    peak = 0
    for at in range(len(order)):
        before = {c for p in order[: at + 1] for c in needs[p]}
        after = {c for p in order[at:] for c in needs[p]}
        peak = max(peak, len(before & after))
    return peak


def by_all_orders(needs: Sequence[Sequence[int]]) -> int:
    """The fewest over every order of the products."""
    return min(open_at_most(needs, order) for order in permutations(range(len(needs))))


def by_sets_of_products(needs: Sequence[Sequence[int]]) -> int:
    """The fewest by dynamic programming over which products are cut.

    From the definition: while a product is cut, a cart is open where it has a product among those
    cut (this one counted) and one among those not cut before.
    """
    count = len(needs)
    carts = [sum(1 << c for c in set(own)) for own in needs]
    served = [0] * (1 << count)
    for some in range(1, 1 << count):
        low = some & -some
        served[some] = served[some ^ low] | carts[low.bit_length() - 1]
    whole = (1 << count) - 1
    best = [0] * (1 << count)
    for some in range(1, 1 << count):
        least = None
        for product in range(count):
            if some >> product & 1:
                before = some ^ (1 << product)
                now = (served[some] & served[whole ^ before]).bit_count()
                value = max(best[before], now)
                least = value if least is None else min(least, value)
        best[some] = least or 0
    return best[whole]


def by_pathwidth(needs: Sequence[Sequence[int]]) -> int:
    """Pathwidth of the graph of carts plus one, by dynamic programming over sets of carts.

    Vertex separation over subsets (Bodlaender, Fomin, Koster, Kratsch and Thilikos, A note on exact
    algorithms for vertex ordering problems on graphs, Theory of Computing Systems 50, 2012; from
    memory): the carts of a set that have a neighbour outside it.
    """
    carts = sorted({c for own in needs for c in own})
    if not carts:
        return 0
    at = {c: i for i, c in enumerate(carts)}
    near = [0] * len(carts)
    for own in needs:
        bits = sum(1 << at[c] for c in set(own))
        for c in own:
            near[at[c]] |= bits & ~(1 << at[c])
    best = [0] * (1 << len(carts))
    for some in range(1, 1 << len(carts)):
        edge = sum(1 for c in range(len(carts)) if some >> c & 1 and near[c] & ~some)
        last = min(best[some ^ (1 << c)] for c in range(len(carts)) if some >> c & 1)
        best[some] = max(edge, last)
    return best[-1] + 1


def made(
    seed: int, carts: int, products: int, most: int, least: int = 1
) -> tuple[tuple[int, ...], ...]:
    """Products that serve `least` to `most` carts each, at random."""
    r = random.Random(seed)
    sizes = [r.randint(least, min(most, carts)) for _ in range(products)]
    return tuple(tuple(r.sample(range(carts), size)) for size in sizes)

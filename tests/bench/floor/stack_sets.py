"""Instances of open stacks: the published ones, and made ones of the literature's classes.

The classes take after those of the Constraint Modelling Challenge 2005, as read off its published
instances: `problem` each cart wants each product with one probability, `wbo` each product serves
so many carts, `wbp` each cart wants so many products, `wbop` both, `sp` sparse and square.
`random` and `plant` are ours: carts in the order of building, most products shared by carts near
each other, some by any.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tests.saw.stacks.reference import published

__all__ = ["SETS", "Instance", "StackSet"]

Products = tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Instance:
    """The carts of each product; `optimum` where it is published."""

    name: str
    needs: Products
    optimum: int | None = None

    @property
    def carts(self) -> int:
        """Carts that have a product."""
        return len({c for own in self.needs for c in own})


@dataclass(frozen=True)
class StackSet:
    """`make` gives the instances: a sample or all, and the seed to begin with."""

    about: str
    make: Callable[[bool, int], list[Instance]]


def _wbo(r: random.Random, carts: int, products: int, each: int) -> Products:
    """Each product serves so many carts."""
    return tuple(tuple(r.sample(range(carts), each)) for _ in range(products))


def _wbp(r: random.Random, carts: int, products: int, each: int) -> Products:
    """Each cart wants so many products."""
    wanted: list[list[int]] = [[] for _ in range(products)]
    for cart in range(carts):
        for product in r.sample(range(products), each):
            wanted[product].append(cart)
    return tuple(map(tuple, wanted))


def _wbop(r: random.Random, carts: int, products: int, each: int) -> Products:
    """Each cart wants so many products, and each product serves as many carts as any other."""
    slots = [p for p in range(products) for _ in range(carts * each // products)]
    r.shuffle(slots)
    wanted: list[set[int]] = [set() for _ in range(products)]
    for at, product in enumerate(slots):
        wanted[product].add(at * carts // len(slots))
    return tuple(tuple(sorted(own)) for own in wanted)


def _problem(r: random.Random, carts: int, products: int, percent: int) -> Products:
    """Each cart wants each product with one probability."""
    return tuple(
        tuple(c for c in range(carts) if r.randrange(100) < percent) for _ in range(products)
    )


def _sp(r: random.Random, carts: int, products: int, most: int) -> Products:
    """Products of one to `most` carts."""
    return tuple(tuple(r.sample(range(carts), r.randint(1, most))) for _ in range(products))


def _random(r: random.Random, carts: int, products: int, most: int) -> Products:
    """Products of two to `most` carts."""
    return tuple(tuple(r.sample(range(carts), r.randint(2, most))) for _ in range(products))


def _plant(r: random.Random, carts: int, products: int, percent: int) -> Products:
    """Products of one to four carts within six of each other; so many percent of any carts."""
    found = []
    for _ in range(products):
        size = r.choice((1, 1, 2, 2, 3, 4))
        middle = r.randrange(carts)
        near = range(max(0, middle - 6), min(carts, middle + 7))
        found.append(tuple(r.sample(range(carts) if r.randrange(100) < percent else near, size)))
    return tuple(found)


_Maker = Callable[[random.Random, int, int, int], Products]


def _made(
    name: str, maker: _Maker, cells: Sequence[tuple[int, int, int]], each: int
) -> Callable[[bool, int], list[Instance]]:
    """Instances of every cell (carts, products, parameter), `each` of it; a sample: one of each."""

    def make(quick: bool, seed: int) -> list[Instance]:
        found = []
        for carts, products, number in cells:
            for copy in range(1 if quick else each):
                label = f"{name}-{carts}x{products}-{number}-{seed + copy}"
                found.append(Instance(label, maker(random.Random(label), carts, products, number)))
        return found

    return make


def _published(quick: bool, seed: int) -> list[Instance]:
    return [Instance(i.name, i.needs, i.open_stacks) for i in published()]


_SQUARES = ((30, 30), (30, 15), (40, 40), (40, 20), (50, 50), (50, 25))
_WIDE = ((30, 60), (40, 80), (50, 100))

SETS = {
    "published": StackSet("published, with their optimum", _published),
    "plant": StackSet(
        "20 to 40 carts, 100 to 300 products; the number: percent shared by any carts",
        _made(
            "plant",
            _plant,
            [(c, p, far) for c in (20, 30, 40) for p in (100, 200, 300) for far in (0, 5, 10, 30)],
            5,
        ),
    ),
    "wbo": StackSet(
        "each product serves so many carts",
        _made("wbo", _wbo, [(*s, k) for s in (*_SQUARES, *_WIDE) for k in (2, 3, 4, 6)], 3),
    ),
    "wbp": StackSet(
        "each cart wants so many products",
        _made("wbp", _wbp, [(*s, k) for s in (*_SQUARES, *_WIDE) for k in (2, 3, 4)], 3),
    ),
    "wbop": StackSet(
        "each cart wants so many products, all serving as many carts",
        _made("wbop", _wbop, [(*s, k) for s in (*_SQUARES, *_WIDE) for k in (2, 4)], 3),
    ),
    "problem": StackSet(
        "each cart wants each product with so many percent",
        _made("problem", _problem, [(*s, k) for s in _SQUARES for k in (5, 8, 12, 20)], 3),
    ),
    "sp": StackSet(
        "square, products of one to so many carts",
        _made("sp", _sp, [(n, n, k) for n in (25, 40, 50) for k in (4, 5, 6)], 3),
    ),
    "random": StackSet(
        "products of two to so many carts",
        _made("random", _random, [(*s, k) for s in (*_SQUARES, *_WIDE) for k in (3, 4)], 3),
    ),
    "beyond": StackSet(
        "more carts than a floor has, to see where it ends",
        _made("beyond", _sp, [(75, 75, 4), (75, 75, 7), (100, 100, 4), (100, 100, 8)], 2),
    ),
}

"""The fewest carts that must be open at once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from cutopt.saw.stacks.bounds import clique_of, contraction_bound
from cutopt.saw.stacks.graph import Needs, graph_of, parts_of, peak_of, products_in, read_needs
from cutopt.saw.stacks.greedy import fewest_new
from cutopt.saw.stacks.meter import Meter
from cutopt.saw.stacks.search import decide

__all__ = ["Part", "Stacks", "fewest_open", "parts_bounded"]


@dataclass(frozen=True, slots=True)
class Stacks:
    """Bounds on the carts open at once, and an order that needs no more than the upper one.

    Attributes
    ----------
    lower, upper
        No order needs fewer than `lower`; this one needs `upper`.
    carts
        In the order in which they close, those with products.
    products
        All of them, in the order of cutting.
    work
        States looked at.
    """

    lower: int
    upper: int
    carts: tuple[int, ...]
    products: tuple[int, ...]
    work: int

    @property
    def proved(self) -> bool:
        """Whether no order needs fewer."""
        return self.lower == self.upper


@dataclass(slots=True)
class Part:
    """A connected part of the graph: its carts, bounds and the best closing order so far."""

    carts: int
    lower: int
    upper: int
    closing: tuple[int, ...]


def parts_bounded(near: tuple[int, ...]) -> list[Part]:
    """The connected parts, each bounded from below by the graph, from above by greedy orders."""
    parts = []
    for carts in parts_of(near):
        lower = clique_of(near, carts).bit_count()
        upper, closing = fewest_new(near, carts, lower)
        if lower < upper:
            lower = max(lower, contraction_bound(near, carts))
        parts.append(Part(carts, lower, upper, closing))
    return parts


def fewest_open(
    needs: Needs, *, work: int = 200_000, stopped: Callable[[], bool] | None = None
) -> Stacks:
    """Find an order of products with the fewest carts open at once, and prove it as far as may be.

    Parameters
    ----------
    needs
        The carts of each product, as bits of an int or as numbers from 0.
    work
        States that may be looked at; some 150,000 take a second at 50 carts.
    stopped
        A guard, asked every few hundred states.

    Raises
    ------
    ValueError
        Where a cart is negative.
    """
    read = read_needs(needs)
    near = graph_of(read)
    parts = parts_bounded(near)
    meter = Meter(work, stopped)
    for part in _widest_first(parts):
        _improve(near, part, _lower(parts), meter)
    closing = tuple(cart for part in parts for cart in part.closing)
    order = products_in(read, closing)
    upper = peak_of(read, order)
    return Stacks(_lower(parts), upper, closing, order, meter.spent)


def _lower(parts: list[Part]) -> int:
    return max((p.lower for p in parts), default=0)


def _widest_first(parts: list[Part]) -> list[Part]:
    return sorted(parts, key=lambda p: (-p.upper, -p.lower))


def _improve(near: tuple[int, ...], part: Part, enough: int, meter: Meter) -> None:
    """Lower a part's upper bound until proved, or as low as another part needs anyway.

    The last, fruitless search is the proof. Where work runs out before it, a quarter of it is kept
    to raise the lower bound from below: smaller limits fail sooner.
    """
    down = meter.part(meter.left - meter.left // 4)
    while part.upper > max(part.lower, enough):
        answer = decide(near, part.carts, part.upper - 1, down)
        if answer.holds is None:
            break
        if answer.holds:
            part.upper -= 1
            part.closing = answer.closing
        else:
            part.lower = part.upper
    meter.join(down)
    up = meter.part(meter.left)
    while part.upper > max(part.lower, enough):
        answer = decide(near, part.carts, max(part.lower, enough), up)
        if answer.holds is None:
            break
        if answer.holds:
            part.upper = max(part.lower, enough)
            part.closing = answer.closing
        else:
            part.lower = max(part.lower, enough) + 1
    meter.join(up)

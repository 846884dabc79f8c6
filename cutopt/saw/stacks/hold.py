"""Whether a limit on open carts can be kept: met, impossible, or undecided."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from cutopt.saw.stacks.bits import members
from cutopt.saw.stacks.bounds import clique_of
from cutopt.saw.stacks.fewest import Part, parts_bounded
from cutopt.saw.stacks.graph import Needs, graph_of, peak_of, products_in, read_needs
from cutopt.saw.stacks.meter import Meter
from cutopt.saw.stacks.search import decide
from cutopt.saw.stacks.shrink import Blocking, shrink

__all__ = ["Held", "Verdict", "can_hold"]


class Verdict(Enum):
    """What was found out about a limit."""

    MET = "met"
    IMPOSSIBLE = "impossible"
    UNDECIDED = "undecided"


@dataclass(frozen=True, slots=True)
class Held:
    """Whether at most `most` carts can be open at once.

    Attributes
    ----------
    verdict
        Met by `products`, proved impossible, or work ran out first.
    most
        The limit asked for.
    carts, products, peak
        The best order known, whatever the verdict: carts as they close, products as they are cut,
        and how many carts it has open at once.
    blocking
        Where impossible: carts whose parts alone, without any other cart's, need more than `most`.
        Ascending.
    minimal
        Whether it was proved that without any one of them the limit could be kept.
    work
        States looked at.
    """

    verdict: Verdict
    most: int
    carts: tuple[int, ...]
    products: tuple[int, ...]
    peak: int
    blocking: tuple[int, ...]
    minimal: bool
    work: int


def can_hold(
    needs: Needs,
    most: int,
    *,
    work: int = 200_000,
    shrink_work: int | None = None,
    stopped: Callable[[], bool] | None = None,
) -> Held:
    """Find an order with at most `most` carts open at once, or carts that make it impossible.

    Parameters
    ----------
    needs
        The carts of each product, as bits of an int or as numbers from 0.
    most
        Carts that may be open at once.
    work
        States that may be looked at to decide.
    shrink_work
        The same for making the set of blocking carts small once the limit is proved impossible;
        as much as `work` where not given.
    stopped
        A guard, asked every few hundred states.

    Raises
    ------
    ValueError
        Where a cart or `most` is negative.
    """
    if most < 0:
        raise ValueError(f"most: read {most}; a limit is 0 or more")
    read = read_needs(needs)
    near = graph_of(read)
    parts = parts_bounded(near)
    meter = Meter(work, stopped)
    blocked = _blocked(near, parts, most, meter)
    closing = tuple(cart for part in parts for cart in part.closing)
    order = products_in(read, closing)
    peak = peak_of(read, order)
    blocking = Blocking(0, False)
    spent = meter.spent
    if blocked is not None:
        verdict = Verdict.IMPOSSIBLE
        more = Meter(work if shrink_work is None else shrink_work, stopped)
        blocking = shrink(near, blocked, most, more)
        spent += more.spent
    else:
        verdict = Verdict.MET if peak <= most else Verdict.UNDECIDED
    carts = tuple(members(blocking.carts))
    return Held(verdict, most, closing, order, peak, carts, blocking.minimal, spent)


def _blocked(near: tuple[int, ...], parts: list[Part], most: int, meter: Meter) -> int | None:
    """The carts of a part that can't keep the limit; parts that can get an order that does."""
    for part in parts:
        if part.lower > most:
            clique = clique_of(near, part.carts)
            return clique if clique.bit_count() > most else part.carts
    for part in sorted(parts, key=lambda p: (p.carts.bit_count(), p.carts)):
        if part.upper <= most:
            continue
        answer = decide(near, part.carts, most, meter)
        if answer.holds:
            part.upper, part.closing = most, answer.closing
        elif answer.holds is False:
            return part.carts
    return None

"""Few carts that already make a limit impossible."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.saw.stacks.bits import bits_of, members
from cutopt.saw.stacks.bounds import clique_of, contraction_bound
from cutopt.saw.stacks.graph import parts_of, within
from cutopt.saw.stacks.greedy import fewest_new
from cutopt.saw.stacks.meter import Meter
from cutopt.saw.stacks.search import decide

__all__ = ["Blocking", "shrink"]


@dataclass(frozen=True, slots=True)
class Blocking:
    """Carts that can't keep the limit by themselves; `minimal`: any fewer of them can, proved."""

    carts: int
    minimal: bool


def shrink(near: Sequence[int], carts: int, most: int, meter: Meter) -> Blocking:
    """Leave out carts as long as it stays proved that the rest can't keep the limit.

    Runs of carts are tried first, half of them, then shorter ones, down to one by one, those with
    fewest neighbours first. Leaving out is monotone: a cart without which the limit is kept stays
    needed whatever else goes. So one pass over single carts, each answered, makes it minimal. A
    clique of one cart more than the limit is minimal as it stands.

    Parameters
    ----------
    near
        Each cart's neighbours, itself among them.
    carts
        Proved impossible under `most`.
    meter
        What may be spent; where it runs out the set is what it was by then.
    """
    order = sorted(members(carts), key=lambda c: ((near[c] & carts).bit_count(), c))
    length = max(1, len(order) // 2)
    unknown = False
    while True:
        at = 0
        while at < len(order):
            if _is_clique(near, carts) and len(order) == most + 1:
                return Blocking(carts, True)
            run = order[at : at + length]
            without = carts & ~bits_of(run)
            if not meter.spend(1):
                return Blocking(carts, False)
            blocked = _blocked(near, without, most, meter)
            if blocked:
                carts = blocked
                at = sum(carts >> c & 1 for c in order[:at])
                order = [c for c in order if carts >> c & 1]
                continue
            unknown = unknown or (length == 1 and blocked is None)
            at += length
        if length == 1:
            return Blocking(carts, not unknown)
        length //= 2


def _is_clique(near: Sequence[int], carts: int) -> bool:
    return all(near[c] & carts == carts for c in members(carts))


def _blocked(near: Sequence[int], carts: int, most: int, meter: Meter) -> int | None:
    """Carts among these that can't keep the limit; 0 where all can, None where undecided."""
    own = within(near, carts)
    open_parts = []
    for part in parts_of(own):
        clique = clique_of(own, part)
        if clique.bit_count() > most:
            return bits_of(sorted(members(clique))[: most + 1])
        if fewest_new(own, part, most)[0] <= most:
            continue
        if contraction_bound(own, part) > most:
            return part
        open_parts.append(part)
    for part in open_parts:
        own_share = meter.part(max(1, meter.left // 4))
        answer = decide(own, part, most, own_share)
        meter.join(own_share)
        if answer.holds is None:
            return None
        if not answer.holds:
            return part
    return 0

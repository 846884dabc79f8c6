"""What a mill does without a planner: first-fit and best-fit decreasing, and a greedy.

All three are run on counts, equal pieces together, so that a million pieces take no longer than a
thousand; the plans are those of the textbook, piece by piece.
"""

from __future__ import annotations

import bisect
from collections.abc import Callable, Iterator
from fractions import Fraction

from tests.bench.lumber.task import Filled, Task

__all__ = ["best_fit", "first_fit", "greedy"]

#: How many equal sticks, room left in each, parts in each, what they are.
_Bins = tuple[int, int, int, tuple[tuple[int, int], ...]]


def first_fit(task: Task) -> list[Filled] | None:
    """Longest first, each in the first stick with room; on the best single size of stick."""
    return _best_single(task, lambda bins: range(len(bins)))


def best_fit(task: Task) -> list[Filled] | None:
    """Longest first, each in the stick with least room that holds it; on the best single size."""
    return _best_single(task, lambda bins: sorted(range(len(bins)), key=lambda k: (bins[k][1], k)))


_Order = Callable[[list[_Bins]], "Iterator[int] | range | list[int]"]


def _best_single(task: Task, order: _Order) -> list[Filled] | None:
    plans: list[tuple[Fraction, list[Filled]]] = []
    for k, stick in enumerate(task.sticks):
        bins = _packed(task, k, order)
        if bins is None or (
            stick.available is not None and sum(b[0] for b in bins) > stick.available
        ):
            continue
        cost = sum((n * task.cost(k, room - task.kerf) for n, room, _, _ in bins), Fraction(0))
        plans.append((cost, [Filled(k, cuts, n) for n, _, _, cuts in bins]))
    return min(plans, key=lambda p: p[0])[1] if plans else None


def _packed(task: Task, stick: int, order: _Order) -> list[_Bins] | None:
    """Equal sticks in the order in which they were opened; None where a part fits none.

    A stick that takes one of several equal pieces takes as many of them as it holds: it was the
    first (or the fullest) that fits, and stays so. So equal sticks stay together but for one.
    """
    whole = task.sticks[stick].usable + task.kerf
    most = task.most or task.pieces
    bins: list[_Bins] = []
    for i, (length, qty) in enumerate(task.parts):
        weight = length + task.kerf
        if weight > whole:
            return None
        placed: dict[int, list[_Bins]] = {}
        for k in order(bins):
            if not qty:
                break
            n, room, parts, cuts = bins[k]
            each = min(room // weight, most - parts)
            if each <= 0:
                continue
            placed[k] = list(_shared(n, room, parts, cuts, i, weight, each, qty))
            qty -= min(qty, each * n)
        bins = [b for k, old in enumerate(bins) for b in placed.get(k, [old])]
        each = min(whole // weight, most)
        if qty:
            new = -(-qty // each)
            bins += _shared(new, whole, 0, (), i, weight, each, qty)
    return bins


def _shared(
    n: int,
    room: int,
    parts: int,
    cuts: tuple[tuple[int, int], ...],
    i: int,
    weight: int,
    each: int,
    qty: int,
) -> Iterator[_Bins]:
    """`qty` pieces given to n equal sticks, `each` to every one as long as they last."""
    full, rest = divmod(min(qty, each * n), each)
    if full:
        yield full, room - each * weight, parts + each, (*cuts, (i, each))
    if rest:
        yield 1, room - rest * weight, parts + rest, (*cuts, (i, rest))
    if n > full + (rest > 0):
        yield n - full - (rest > 0), room, parts, cuts


def greedy(task: Task) -> list[Filled] | None:
    """One stick after the other, filled by falling length, of the size that costs least per length.

    Cost is less the credit for a kept drop, length that of the parts. Where the same filling would
    be chosen again it is, all at once.
    """
    weights = [length + task.kerf for length, _ in task.parts]
    falling = [-w for w in weights]
    left = [n for _, n in task.parts]
    had = [s.available for s in task.sticks]
    fills: dict[int, tuple[tuple[tuple[int, int], ...], Fraction]] = {}
    plan: list[Filled] = []
    live = [i for i, n in enumerate(left) if n]
    while live:
        for k in range(len(task.sticks)):
            if had[k] != 0 and k not in fills:
                fills[k] = _filled(task, k, weights, falling, left)
        chances = [
            (rate, -task.sticks[k].length, k)
            for k, (cuts, rate) in fills.items()
            if cuts and had[k] != 0
        ]
        if not chances:
            return None
        _, _, k = min(chances)
        cuts = fills[k][0]
        times = _times(dict(cuts), [f for f, _ in fills.values()], left)
        stock = had[k]
        if stock is not None:
            times = min(times, stock)
            had[k] = stock - times
        plan.append(Filled(k, cuts, times))
        for i, q in cuts:
            left[i] -= q * times
        changed = {i for i, _ in cuts}
        fills = {
            s: (f, rate)
            for s, (f, rate) in fills.items()
            if not any(i in changed and left[i] < q for i, q in f)
        }
        live = [i for i in live if left[i]]
    return plan


def _times(
    chosen: dict[int, int], fills: list[tuple[tuple[int, int], ...]], left: list[int]
) -> int:
    """How often the filling is taken before any size of stick would be filled otherwise."""
    times = min(left[i] // q for i, q in chosen.items())
    for fill in fills:
        for i, q in fill:
            if i in chosen:
                times = min(times, 1 + max(0, left[i] - q) // chosen[i])
    return max(1, times)


def _filled(
    task: Task, stick: int, weights: list[int], falling: list[int], left: list[int]
) -> tuple[tuple[tuple[int, int], ...], Fraction]:
    """What goes into a stick by falling length, and what a unit of that costs."""
    room = task.sticks[stick].usable + task.kerf
    parts = task.most or task.pieces
    cuts: list[tuple[int, int]] = []
    i = 0
    while parts:
        i = max(i, bisect.bisect_left(falling, -room))
        if i >= len(weights):
            break
        q = min(left[i], room // weights[i], parts)
        if q:
            cuts.append((i, q))
            room -= q * weights[i]
            parts -= q
        i += 1
    used = sum(q * task.parts[i][0] for i, q in cuts)
    rate = task.cost(stick, room - task.kerf) / used if used else Fraction(0)
    return tuple(cuts), rate

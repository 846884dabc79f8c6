"""What no order can do better: open carts by open stacks, set-ups by counting.

A stick opens every cart that alone needs one of its kinds, and, where a kind comes from one single
stick of all, every cart that needs it, whoever gets which piece. Carts open between two such
sticks stand open in every order, so that a limit below the fewest open stacks can't be met.
"""

from __future__ import annotations

from cutopt.saw.running.work import Work

__all__ = ["needs_of", "setup_bound_within"]


def needs_of(work: Work) -> list[int]:
    """Per job the carts, as bits, that each of its sticks serves in every order."""
    demand = work.demand > 0
    takers = demand.sum(axis=0).tolist()
    sticks = [0] * len(work.kinds)
    for job in work.jobs:
        for k in set(job.kinds):
            sticks[k] += job.count
    carts = [
        sum(1 << c for c in range(len(work.carts)) if demand[c, k])
        if takers[k] == 1 or sticks[k] == 1
        else 0
        for k in range(len(work.kinds))
    ]
    found = []
    for job in work.jobs:
        served = 0
        for k in set(job.kinds):
            served |= carts[k]
        found.append(served)
    return found


def setup_bound_within(work: Work, limit: int) -> int:
    """Milliseconds of set-ups that no order with at most `limit` open carts can do without.

    A cart with pieces of several materials stays open over at least one change of material for
    each further one, and at most `limit` carts are open at a change: so there are as many changes
    as the carts' further materials need, `limit` at a time. The same holds for stock: a cart needs
    a size where one of its kinds is cut from no other. 0 is no limit.
    """
    seconds = work.saw.seconds
    if not work.jobs:
        return 0
    counts = [len(set(column.tolist())) for column in work.classes.T]
    if limit:
        for level in (0, 1):
            counts[level] = max(counts[level], 1 + -(-_further(work, level) // limit))
    materials, stocks, patterns = counts
    stocks = max(stocks, materials)
    # A set-up for a material is one for stock too, and one for stock one for stops.
    return (
        seconds.stop * max(patterns, stocks)
        + (seconds.stock - seconds.stop) * stocks
        + (seconds.material - seconds.stock) * materials
    )


def _further(work: Work, level: int) -> int:
    """How many materials (level 0) or stocks (1) carts need beyond one each, all carts together."""
    sources: list[set[int]] = [set() for _ in work.kinds]
    for job, code in zip(work.jobs, work.classes[:, level].tolist(), strict=True):
        for k in set(job.kinds):
            sources[k].add(code)
    total = 0
    for row in work.demand:
        needed = {next(iter(sources[k])) for k in row.nonzero()[0].tolist() if len(sources[k]) == 1}
        total += max(0, len(needed) - 1)
    return total

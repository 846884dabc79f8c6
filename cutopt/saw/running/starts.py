"""Orders to begin from, and the plain ones that a saw floor would use without this room.

All are lists of (job, sticks).
"""

from __future__ import annotations

from collections import defaultdict

from cutopt.saw.running.work import Work

__all__ = ["by_stock", "longest_first", "plan_order", "section_by_section", "waves"]

Listed = list[tuple[int, int]]


def plan_order(work: Work) -> Listed:
    """As the plan has them: material by material, longest stock first, like patterns together."""
    return [(j, job.count) for j, job in enumerate(work.jobs)]


def longest_first(work: Work) -> Listed:
    """Material by material, the layout with the longest part first."""

    def key(j: int) -> tuple[int, int, int]:
        return (int(work.classes[j, 0]), -max(p.along for p in work.jobs[j].spots), j)

    return [(j, work.jobs[j].count) for j in sorted(range(len(work.jobs)), key=key)]


def by_stock(work: Work) -> Listed:
    """Material by material, stock by stock, pattern by pattern: the fewest set-ups there can be."""

    def key(j: int) -> tuple[int, ...]:
        return (*(int(c) for c in work.classes[j]), j)

    return [(j, work.jobs[j].count) for j in sorted(range(len(work.jobs)), key=key)]


def section_by_section(work: Work) -> Listed:
    """Cart by cart as wanted; each layout with the first cart that it was planned for."""
    return waves(work, 1)


def waves(work: Work, width: int) -> Listed:
    """Carts as wanted, `width` at a time; within a wave by material and stock, there and back.

    Every other wave runs backwards, so that it begins with the material and stock with which the
    one before it ended.
    """
    found: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for j, job in enumerate(work.jobs):
        for cart, sticks in job.homes:
            found[cart // width][j] += sticks
    order: Listed = []
    for turn, wave in enumerate(sorted(found)):
        jobs = sorted(found[wave], key=lambda j: (*work.classes[j].tolist(), j))
        if turn % 2:
            jobs.reverse()
        for j in jobs:
            if order and order[-1][0] == j:
                order[-1] = (j, order[-1][1] + found[wave][j])
            else:
                order.append((j, found[wave][j]))
    return order

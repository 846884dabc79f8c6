"""Pieces given to sections once the order is chosen: who is served first gets the first cut.

The k-th piece cut of a kind goes to the cart whose cumulative demand, carts in their ranking,
contains k; within a cart by mark. Sticks of a run with the same labels make one layout.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace

from cutopt.plan import Layout, Placed, Plan
from cutopt.saw.running.work import Ints, Kind, Work

__all__ = ["layouts_of_runs", "plan_of_runs"]


def layouts_of_runs(
    plan: Plan, work: Work, runs: Sequence[tuple[int, int]], ranking: Ints
) -> list[list[Layout]]:
    """Per run its layouts with their final sections, named by material in the order of cutting.

    Parameters
    ----------
    plan
        The plan that the work was made of: its labels are dealt out anew.
    work, runs, ranking
        What is cut, in which order, and the carts as they are served.
    """
    labels = _labels(plan, work, ranking)
    named: dict[str, int] = defaultdict(int)
    found = []
    for index, count in runs:
        job = work.jobs[index]
        made: list[tuple[tuple[Placed, ...], int]] = []
        for _ in range(count):
            parts = tuple(
                _labelled(spot, next(labels[kind]))
                for spot, kind in zip(job.spots, job.kinds, strict=True)
            )
            if made and made[-1][0] == parts:
                made[-1] = (parts, made[-1][1] + 1)
            else:
                made.append((parts, 1))
        layouts = []
        for parts, sticks in made:
            named[job.material] += 1
            layouts.append(
                Layout(
                    id=f"{job.material}-{named[job.material]}",
                    pattern=job.pattern,
                    count=sticks,
                    offer=job.offer,
                    source=job.source,
                    parts=parts,
                    drops=job.drops,
                )
            )
        found.append(layouts)
    return found


def plan_of_runs(plan: Plan, work: Work, layouts: Sequence[Sequence[Layout]]) -> Plan:
    """The plan with the layouts of the runs, in their order, in place of those it had."""
    of_material: dict[str, list[Layout]] = defaultdict(list)
    for run in layouts:
        for lay in run:
            of_material[lay.offer.material].append(lay)
    cut = {job.material for job in work.jobs}
    return replace(
        plan,
        materials=tuple(
            replace(m, layouts=tuple(of_material[m.material])) if m.material in cut else m
            for m in plan.materials
        ),
    )


def _labels(plan: Plan, work: Work, ranking: Ints) -> dict[int, Iterator[Placed]]:
    """Per kind its parts as labels, in the order in which they are dealt out."""
    kinds = {kind: i for i, kind in enumerate(work.kinds)}
    rank = {(work.carts[c].section, work.carts[c].jig): at for at, c in enumerate(ranking.tolist())}
    cut = {job.material for job in work.jobs}
    found: dict[int, list[tuple[Placed, int]]] = defaultdict(list)
    for m in plan.materials:
        if m.material in cut:
            for lay in m.layouts:
                for p in lay.parts:
                    found[kinds[Kind.of(m.material, p)]].append((p, lay.count))

    def key(item: tuple[Placed, int]) -> tuple[object, ...]:
        p = item[0]
        run = (p.run or "", -1 if p.run_at is None else p.run_at)
        return (rank[p.section, p.jig], p.mark, *run, p.asked, p.need is None, p.need or 0)

    return {kind: _each(sorted(parts, key=key)) for kind, parts in found.items()}


def _each(parts: Sequence[tuple[Placed, int]]) -> Iterator[Placed]:
    for part, count in parts:
        for _ in range(count):
            yield part


def _labelled(spot: Placed, label: Placed) -> Placed:
    return replace(label, x=spot.x, y=spot.y)

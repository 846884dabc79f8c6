"""What one saw has to cut: jobs that serve carts, pieces that are equal told by their kind.

A cart collects the parts of one section for one jig. A kind is what pieces must share so that one
may be given for another: the material they are cut from, the finished size, how they lie on a
sheet and its factory edges. Which material the drawing asked for, which run a piece belongs to and
where along it goes with the label, not with the piece: every label was planned on the material it
lies on, so any piece of the kind serves it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from cutopt.materials import Edge, Offer
from cutopt.plan import Drop, Layout, Placed, Plan, Source
from cutopt.saw.saws import Saw

__all__ = ["Cart", "Ints", "Job", "Kind", "Work", "work_of"]

Ints = npt.NDArray[np.int64]
#: The day's time allowed is its work and least set-ups, and this share more.
_ALLOWED_PERCENT = 110
#: Carts' worth of work that is cut before the line takes the first.
_LEAD_CARTS = 3


@dataclass(frozen=True, slots=True)
class Cart:
    """The parts of one section for one jig; `need` is the least of theirs, None where none has."""

    section: str
    jig: str
    need: int | None

    @property
    def wanted(self) -> tuple[bool, int, str, str]:
        """What carts are ranked by: `need`, those without last, then section and jig."""
        return (self.need is None, self.need or 0, self.section, self.jig)


@dataclass(frozen=True, slots=True, order=True)
class Kind:
    """What pieces share that can be given for each other. Lengths in counts of 1/1600 mm."""

    material: str
    length: int
    width: int
    turned: bool
    full_span: bool
    edge: str

    @classmethod
    def of(cls, material: str, part: Placed) -> Kind:
        """The kind of a part where it lies."""
        return cls(
            material, part.length, part.width or 0, part.turned, part.full_span, part.edge.value
        )

    @property
    def keeps_edge(self) -> bool:
        """Whether it keeps a factory edge of its sheet."""
        return self.edge != Edge.NONE.value


@dataclass(frozen=True, slots=True)
class Job:
    """Equal cutting: `count` pieces of one offer, from one source, to one pattern.

    `spots` are the parts of the first such layout: where they lie holds for all, whose they are
    does not. `kinds` are indices of kinds, spot by spot. `homes` holds how many of the sticks the
    plan cut for which cart: the one wanted first of those that alone need a kind, else of all.
    """

    material: str
    offer: Offer
    source: Source
    pattern: str
    count: int
    spots: tuple[Placed, ...]
    kinds: tuple[int, ...]
    drops: tuple[Drop, ...]
    homes: tuple[tuple[int, int], ...] = ()

    @property
    def stock(self) -> tuple[int, int]:
        """Length and width of the stock, 0 for no width: what the saw is set to."""
        return (self.offer.length, self.offer.width or 0)


@dataclass(frozen=True)
class Work:
    """All that one saw cuts of a plan.

    `carts` stand in the order in which they are wanted; `demand[c, k]` pieces of kind k go to
    cart c. Jobs stand in the order of the plan.
    """

    saw: Saw
    carts: tuple[Cart, ...]
    kinds: tuple[Kind, ...]
    jobs: tuple[Job, ...]
    demand: Ints

    @cached_property
    def stick_time(self) -> Ints:
        """Milliseconds for one stick of each job, set-up apart."""
        s = self.saw.seconds
        return np.array([s.stick + s.cut * len(j.spots) for j in self.jobs], np.int64)

    @cached_property
    def classes(self) -> Ints:
        """Per job three numbers, equal where no set-up is needed: material, stock, pattern."""
        rows = []
        materials: dict[object, int] = {}
        stocks: dict[object, int] = {}
        patterns: dict[object, int] = {}
        for j in self.jobs:
            m = materials.setdefault(j.material, len(materials))
            s = stocks.setdefault((j.material, *j.stock), len(stocks))
            p = patterns.setdefault((j.material, *j.stock, j.pattern), len(patterns))
            rows.append((m, s, p))
        return np.array(rows, np.int64).reshape(-1, 3)

    @cached_property
    def cutting_time(self) -> int:
        """Milliseconds of all sticks, set-ups apart."""
        return sum(int(t) * j.count for t, j in zip(self.stick_time, self.jobs, strict=True))

    @cached_property
    def setup_bound(self) -> int:
        """Milliseconds of set-ups that no order can do without.

        Every material, every stock size and every pattern is set up for once at least, the first
        of the day included; a set-up for a material is one for its stock and pattern too.
        """
        if not self.jobs:
            return 0
        m, s, p = (len(set(column.tolist())) for column in self.classes.T)
        t = self.saw.seconds
        return t.material * m + t.stock * (s - m) + t.stop * (p - s)

    @cached_property
    def due(self) -> Ints:
        """When each cart should be full, in milliseconds from the start.

        The time allowed for the day is the work, the least set-ups and a tenth more. The line
        takes it in step with the carts' shares of the pieces, in the order wanted, once the first
        three carts' worth lies ready: a cart is due when the share of all carts up to it and of
        those three has passed. Carts of the same `need` are due together, with the last of them.
        """
        pieces = self.demand.sum(axis=1)
        total = int(pieces.sum())
        count = len(self.carts)
        if not count:
            return np.zeros(0, np.int64)
        allowed = (self.cutting_time + self.setup_bound) * _ALLOWED_PERCENT // 100
        upto = np.cumsum(pieces).tolist()
        for i in range(count - 2, -1, -1):
            need = self.carts[i].need
            if need is not None and need == self.carts[i + 1].need:
                upto[i] = upto[i + 1]
        # In whole numbers: (upto + 3 × total / count) / (total + 3 × total / count).
        whole = total * (count + _LEAD_CARTS)
        return np.array(
            [allowed * (u * count + _LEAD_CARTS * total) // whole for u in upto], np.int64
        )


def work_of(plan: Plan, saw: Saw, materials: Iterable[str]) -> Work:
    """What a saw has to cut of a plan.

    Parameters
    ----------
    plan
        Its layouts' own sections say only who needs what, not who gets which piece.
    saw
        The saw.
    materials
        The codes that it cuts.
    """
    wanted = set(materials)
    layouts = [
        (m.material, lay) for m in plan.materials if m.material in wanted for lay in m.layouts
    ]
    carts = _carts(layouts)
    index = {(c.section, c.jig): i for i, c in enumerate(carts)}
    kinds: dict[Kind, int] = {}
    jobs: dict[tuple[object, ...], list[tuple[str, Layout]]] = defaultdict(list)
    of_job: dict[tuple[object, ...], tuple[int, ...]] = {}
    needs: dict[tuple[int, int], int] = defaultdict(int)
    for material, lay in layouts:
        spots = _by_place(lay.parts)
        which = tuple(kinds.setdefault(Kind.of(material, p), len(kinds)) for p in spots)
        key = (material, lay.offer.row, lay.source, lay.pattern, which, lay.drops)
        jobs[key].append((material, lay))
        of_job[key] = which
        for kind, part in zip(which, spots, strict=True):
            needs[index[part.section, part.jig], kind] += lay.count
    demand = np.zeros((len(carts), len(kinds)), np.int64)
    for (cart, kind), pieces in needs.items():
        demand[cart, kind] = pieces
    alone = (demand > 0).sum(axis=0) == 1
    made = []
    for job_key, members in jobs.items():
        material, lay = members[0]
        count = sum(other.count for _, other in members)
        homes: dict[int, int] = defaultdict(int)
        for _, other in members:
            parts = _by_place(other.parts)
            owners = [index[p.section, p.jig] for p in parts]
            own = [c for c, k in zip(owners, of_job[job_key], strict=True) if alone[k]]
            homes[min(own or owners)] += other.count
        made.append(
            Job(
                material=material,
                offer=lay.offer,
                source=lay.source,
                pattern=lay.pattern,
                count=count,
                spots=_by_place(lay.parts),
                kinds=of_job[job_key],
                drops=lay.drops,
                homes=tuple(sorted(homes.items())),
            )
        )
    return Work(saw, carts, tuple(kinds), tuple(made), demand)


def _by_place(parts: Sequence[Placed]) -> tuple[Placed, ...]:
    return tuple(sorted(parts, key=lambda p: (p.y, p.x)))


def _carts(layouts: Sequence[tuple[str, Layout]]) -> tuple[Cart, ...]:
    needs: dict[tuple[str, str], int | None] = {}
    for _, lay in layouts:
        for p in lay.parts:
            key = (p.section, p.jig)
            known = needs.get(key)
            given = [n for n in (known, p.need) if n is not None]
            needs[key] = min(given) if given else None
    carts = (Cart(section, jig, need) for (section, jig), need in needs.items())
    return tuple(sorted(carts, key=lambda c: c.wanted))

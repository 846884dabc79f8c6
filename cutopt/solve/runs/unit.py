"""What is priced as one: a jointed run, or runs whose joints must keep clear of each other.

All measures are whole numbers of one grid (counts of 1/1600 mm where they come from cut lists).
A run may be joined at `first` + k × `step` strictly inside it; its start and end are no joints, so
`first` = 0 means that the first joint may lie at `step`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from cutopt.cutlist import Part, Rule
from cutopt.materials import Edge, Rules
from cutopt.solve.demand import Piece, run_name

__all__ = ["Cut", "Joints", "Member", "Run", "Unit", "lengths", "pieces_of", "units_of"]

#: The joints of each run of a unit, ascending.
Joints = tuple[tuple[int, ...], ...]


class Cut(NamedTuple):
    """A piece that a run may be made of: pieces with equal cuts are one item of the solver.

    `edge` is for parts that are no pieces of a run.
    """

    length: int
    width: int | None
    turn: bool
    materials: tuple[str, ...]
    edge: Edge = Edge.NONE


@dataclass(frozen=True, order=True)
class Run:
    """One jointed run, whoever it is for.

    Parameters
    ----------
    length
        The whole run, above 0.
    first, step
        Joints are allowed at `first` + k × `step`, k = 0, 1, ...; `step` above 0.
    least
        No piece may be shorter, unless the run is one piece.
    stricter
        (material, least) of those of the materials whose own shortest piece is longer: shorter
        pieces of the run come from the others.
    longest
        The longest piece that any stock offered can give; 0 where none fits.
    width, turn, materials
        As in `Cut`; -1 stands for no width, so that runs can be put in order.
    """

    length: int
    first: int
    step: int
    least: int
    longest: int
    width: int = -1
    turn: bool = False
    materials: tuple[str, ...] = ()
    stricter: tuple[tuple[str, int], ...] = ()

    @cached_property
    def start(self) -> int:
        """The first place inside the run, wherever the run ends."""
        return self.first if self.first > 0 else self.step

    @cached_property
    def count(self) -> int:
        """How many places there are inside the run."""
        return max(0, (self.length - 1 - self.start) // self.step + 1)

    @property
    def places(self) -> range:
        """Where a joint may lie, ascending."""
        return range(self.start, self.start + self.count * self.step, self.step)

    @cached_property
    def multiples(self) -> tuple[int, int]:
        """The shortest and the longest piece between two joints, in steps; empty where reversed."""
        return max(1, -(-self.least // self.step)), self.longest // self.step

    def cut(self, length: int) -> Cut:
        """A piece of the run, or the whole run."""
        return self._cut(length, self.materials) if length == self.length else self.piece(length)

    def piece(self, length: int) -> Cut:
        """One piece of several."""
        barred = {m for m, least in self.stricter if length < least}
        return self._cut(length, tuple(m for m in self.materials if m not in barred))

    def _cut(self, length: int, materials: tuple[str, ...]) -> Cut:
        width = None if self.width < 0 else self.width
        turn = self.turn and width is not None and length != width
        return Cut(length, width, turn, materials)

    def fits(self, length: int) -> bool:
        """Whether a run of several pieces may hold one of this length."""
        return max(1, self.least) <= length <= self.longest

    @cached_property
    def piece_lengths(self) -> tuple[int, ...]:
        """Every length of a piece in any way to make the run, ascending."""
        found = {self.length} if self.length <= self.longest else set()
        n, (low, high) = self.count, self.multiples
        at = self.start + self.step * np.arange(n, dtype=np.int64)
        lead = (at >= max(1, self.least)) & (at <= self.longest)
        rest = self.length - at
        tail = (rest >= max(1, self.least)) & (rest <= self.longest)
        ahead, back = lead.copy(), tail.copy()
        for k in range(n):
            if ahead[k]:
                ahead[k + low : k + high + 1] = True
        for k in range(n - 1, -1, -1):
            back[k] |= bool(back[k + low : k + high + 1].any())
        found.update(at[lead & back].tolist())
        found.update(rest[tail & ahead].tolist())
        found.update(
            m * self.step for m in range(low, min(high, n - 1) + 1) if (ahead[:-m] & back[m:]).any()
        )
        return tuple(sorted(found))


class Member(NamedTuple):
    """A run of the cut lists: one copy (from 1) of a row."""

    part: Part
    copy: int

    @property
    def name(self) -> str:
        """The run's name in the plan."""
        return run_name(self.part.mark, self.copy)


@dataclass(frozen=True)
class Unit:
    """Runs that are joined together: one alone, a mated pair, or more that hang together by mates.

    Parameters
    ----------
    runs
        In a fixed order, so that equal units compare equal.
    clear
        (i, j, clearance), i < j: any joint of run i and any of run j lie at least `clearance`
        (above 0) apart.
    members
        For each copy of the unit the cut lists' run behind each of `runs`.
    missing
        Marks named as mates that no jointed run of the same section has.
    """

    runs: tuple[Run, ...]
    clear: tuple[tuple[int, int, int], ...] = ()
    members: tuple[tuple[Member, ...], ...] = ()
    missing: tuple[str, ...] = ()

    @property
    def copies(self) -> int:
        """How many equal units are wanted."""
        return len(self.members)

    def keeps(self, joints: Joints) -> bool:
        """Whether all clearances are kept."""
        return all(
            abs(x - y) >= gap for i, j, gap in self.clear for x in joints[i] for y in joints[j]
        )

    def allows(self, joints: Joints) -> bool:
        """Whether these joints keep every rule: places, lengths of pieces, clearances."""
        for run, at in zip(self.runs, joints, strict=True):
            ends = (0, *at, run.length)
            pieces = [b - a for a, b in pairwise(ends)]
            if any(x < run.first or (x - run.first) % run.step for x in at):
                return False
            if at and not all(run.fits(p) for p in pieces):
                return False
            if not at and run.length > run.longest:
                return False
        return self.keeps(joints)

    def cuts(self, joints: Joints) -> dict[Cut, int]:
        """The pieces that these joints make, with how many of each."""
        made: dict[Cut, int] = defaultdict(int)
        for run, at in zip(self.runs, joints, strict=True):
            ends = (0, *at, run.length)
            for a, b in pairwise(ends):
                made[run.cut(b - a)] += 1
        return dict(made)


def lengths(unit: Unit) -> tuple[Cut, ...]:
    """Every piece that can occur in the unit's runs (clearances left out), in order."""
    cuts = {run.cut(length) for run in unit.runs for length in run.piece_lengths}
    return tuple(sorted(cuts, key=lambda c: (c.length, c.width or 0, c.turn, c.materials)))


def pieces_of(
    unit: Unit,
    joints: Joints,
    members: Sequence[Member],
    chosen: Sequence[Sequence[tuple[str, ...]]] | None = None,
) -> list[Piece]:
    """The pieces of one copy of the unit, each with its run's name and where along it starts.

    `chosen`: for each run the materials that each of its pieces is left with; None for all that
    may give a piece of its length.
    """
    pieces: list[Piece] = []
    for r, (run, at, member) in enumerate(zip(unit.runs, joints, members, strict=True)):
        part = member.part
        for k, (a, b) in enumerate(pairwise((0, *at, run.length))):
            allowed = run.cut(b - a).materials if chosen is None else chosen[r][k]
            named = tuple(m for m in part.materials if m in allowed)
            pieces.append(Piece(part, b - a, part.width, 1, named, member.name, a))
    return pieces


def units_of(
    parts: Iterable[Part], rules: Rules, longest: Callable[[Part], int]
) -> tuple[Unit, ...]:
    """The jointed runs of cut lists, gathered into units; other parts are passed over.

    Runs are mated copy by copy, within a section: the second copy with the second. Rows with the
    same section and mark count their copies on. It is enough that one of two runs names the
    other; where both do, the larger clearance holds. A copy whose mate has fewer copies stands
    alone. Each piece of a run may come from any of its materials, whose own `joint_min_piece` it
    must keep.

    Parameters
    ----------
    parts
        Rows of the cut lists, in their order.
    rules
        The shop's rules, for `joint_min_piece`.
    longest
        The longest piece for a row that the stock offered can give, 0 for none.

    Returns
    -------
    tuple of Unit
        In the order in which the cut lists first name a run of each.
    """
    rows = [p for p in parts if p.rule is Rule.JOINTED and p.joints is not None]
    members: dict[tuple[str, str, int], Member] = {}
    count: dict[tuple[str, str], int] = defaultdict(int)
    for part in rows:
        for _ in range(part.qty):
            count[part.section, part.mark] += 1
            copy = count[part.section, part.mark]
            members[part.section, part.mark, copy] = Member(part, copy)
    keys = list(members)
    index = {key: i for i, key in enumerate(keys)}
    gaps: dict[tuple[int, int], int] = {}
    missing: dict[int, str] = {}
    root = list(range(len(keys)))

    def find(i: int) -> int:
        while root[i] != i:
            root[i] = root[root[i]]
            i = root[i]
        return i

    for (section, mark, copy), i in index.items():
        joints = members[section, mark, copy].part.joints
        if joints is None or joints.mate is None or joints.clear <= 0:
            continue
        if (section, joints.mate) not in count or joints.mate == mark:
            missing[i] = joints.mate
            continue
        j = index.get((section, joints.mate, copy))
        if j is None:
            continue
        pair = (min(i, j), max(i, j))
        gaps[pair] = max(gaps.get(pair, 0), joints.clear)
        a, b = sorted((find(i), find(j)))
        root[b] = a
    groups: dict[int, list[int]] = defaultdict(list)
    for i in range(len(keys)):
        groups[find(i)].append(i)
    edges: dict[int, dict[tuple[int, int], int]] = defaultdict(dict)
    for pair, gap in gaps.items():
        edges[find(pair[0])][pair] = gap
    units: dict[Unit, list[tuple[Member, ...]]] = defaultdict(list)
    made: dict[int, Run] = {}
    for first, group in groups.items():
        runs = []
        for i in group:
            part = members[keys[i]].part
            if id(part) not in made:
                made[id(part)] = _run(part, rules, longest(part))
            runs.append(made[id(part)])
        order = _order(runs, group, edges[first])
        at = {group[o]: k for k, o in enumerate(order)}
        clear = sorted(
            (min(at[i], at[j]), max(at[i], at[j]), gap) for (i, j), gap in edges[first].items()
        )
        absent = tuple(sorted({missing[i] for i in group if i in missing}))
        unit = Unit(tuple(runs[o] for o in order), tuple(clear), (), absent)
        units[unit].append(tuple(members[keys[group[o]]] for o in order))
    return tuple(Unit(u.runs, u.clear, tuple(m), u.missing) for u, m in units.items())


def _run(part: Part, rules: Rules, longest: int) -> Run:
    joints = part.joints
    if joints is None:
        raise ValueError(f"{part.place}: no joints for the jointed run {part.mark}")
    own = {m: rules.for_lumber(m).joint_min_piece for m in part.materials}
    least = min(own.values())
    return Run(
        length=part.length,
        first=joints.first,
        step=joints.step,
        least=least,
        longest=longest,
        width=-1 if part.width is None else part.width,
        turn=part.turn,
        materials=tuple(sorted(own)),
        stricter=tuple(sorted((m, n) for m, n in own.items() if n > least)),
    )


def _order(
    runs: Sequence[Run], group: Sequence[int], edges: dict[tuple[int, int], int]
) -> list[int]:
    """An order of the runs by what they are and what they are mated with, not by their names."""
    if len(group) == 1:
        return [0]
    beside: dict[int, list[tuple[int, Run]]] = {k: [] for k in range(len(group))}
    place = {i: k for k, i in enumerate(group)}
    for (i, j), gap in edges.items():
        beside[place[i]].append((gap, runs[place[j]]))
        beside[place[j]].append((gap, runs[place[i]]))
    return sorted(range(len(group)), key=lambda k: (runs[k], sorted(beside[k]), k))

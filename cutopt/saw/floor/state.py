"""A released plan while it is cut: what is needed, every piece of stock of every ticket, the
journal.

A `State` is a value: nothing changes it, every action makes another. What was made and what lies on
the rack is read from the entries alone; of a piece of stock the state says only whether it is cut.
Joints of runs and rows of ceilings stay as they were released: their pieces are needed one by one.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from functools import cached_property

from cutopt.cutlist import Part, Rule
from cutopt.materials import Edge, Edges, Kind, Offer, Rules
from cutopt.measure import Unit
from cutopt.plan import Layout, Placed, Plan, Problem, Source
from cutopt.records import CutoptError
from cutopt.saw.floor.entries import Entry, EntryKind, standing

__all__ = [
    "FloorError",
    "Key",
    "Needed",
    "Piece",
    "State",
    "Status",
    "Stick",
    "key_of",
    "piece_of_row",
    "release",
]

#: What tells pieces apart: section, jig, mark, material asked, length, width, run, where in it,
#: whether it is a row of a ceiling, edge.
Key = tuple[str, str, str, str, int, int | None, str | None, int | None, bool, str]


class FloorError(CutoptError, ValueError):
    """What was told of the saw floor can't have happened; says what would be right."""


class Status(StrEnum):
    """How far a piece of stock is."""

    NOT_CUT = "not cut"
    AT_SAW = "at a saw"
    CUT = "cut"
    OBSOLETE = "obsolete"


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece that a jig waits for: a part, a piece of a run or a row of a ceiling.

    Measures are counts of 1/1600 mm; `material` is what the cut list asks for, `alt` what the
    drawing allows beside it. A row of a ceiling is `full_span`; its `edge` is `BOTH` where it is
    as wide as its board, `ONE` where it is ripped.
    """

    section: str
    jig: str
    mark: str
    material: str
    length: int
    width: int | None
    turn: bool = False
    alt: tuple[str, ...] = ()
    need: int | None = None
    run: str | None = None
    run_at: int | None = None
    full_span: bool = False
    edge: Edge = Edge.NONE

    @property
    def key(self) -> Key:
        """What tells it from others; turning, alternates and need may change in a revision."""
        edge = "" if self.full_span else self.edge.value
        return (
            *(self.section, self.jig, self.mark, self.material, self.length, self.width),
            *(self.run, self.run_at, self.full_span, edge),
        )

    @property
    def materials(self) -> tuple[str, ...]:
        """What it may be cut from."""
        return (self.material, *self.alt)

    def placed(self, x: int, y: int = 0, turned: bool = False) -> Placed:
        """It, at a place on stock."""
        return Placed(
            section=self.section,
            jig=self.jig,
            mark=self.mark,
            asked=self.material,
            length=self.length,
            width=self.width,
            x=x,
            y=y,
            turned=turned,
            run=self.run,
            run_at=self.run_at,
            need=self.need,
            full_span=self.full_span,
            edge=Edge.NONE if self.full_span else self.edge,
        )


def key_of(part: Placed) -> Key:
    """The key of the piece that a placed part is."""
    return (
        *(part.section, part.jig, part.mark, part.asked, part.length, part.width),
        *(part.run, part.run_at, part.full_span, part.edge.value),
    )


@dataclass(frozen=True, slots=True)
class Needed:
    """So many equal pieces."""

    piece: Piece
    qty: int


@dataclass(frozen=True, slots=True)
class Stick:
    """One piece of stock of a ticket, stick or sheet. `layout` has a count of one.

    `drop` is the number of the entry that kept it, where it is a drop from the rack; `station` the
    saw that it lies on. Where a trouble made it another, `planned` is the layout that it had: what
    it has again once that is taken back.
    """

    id: str
    layout: Layout
    status: Status = Status.NOT_CUT
    drop: int | None = None
    station: str = ""
    planned: Layout | None = None

    @property
    def material(self) -> str:
        """What it is of."""
        return self.layout.offer.material


@dataclass(frozen=True)
class State:
    """All that is known of the cutting of a released plan.

    Parameters
    ----------
    plant, days, unit, rules, offers
        As in the problem that was planned; `rules` may have changed since (a new blade).
    needed
        Every piece that the sections need, made or not.
    sticks
        In cutting order. Obsolete ones stay where they were.
    entries
        The journal.
    waiting
        Jigs that are down.
    boards
        (material, length) of ceiling boards that the released plan uses: no others are bought.
    lists
        Digests of the cut lists in force, oldest first.
    serial
        How many layouts were made after release: the next is named by it.
    """

    plant: str
    days: tuple[date, ...]
    unit: Unit
    rules: Rules
    offers: tuple[Offer, ...]
    needed: tuple[Needed, ...]
    sticks: tuple[Stick, ...]
    entries: tuple[Entry, ...] = ()
    waiting: tuple[str, ...] = ()
    boards: tuple[tuple[str, int], ...] = ()
    lists: tuple[str, ...] = ()
    serial: int = 0

    @cached_property
    def standing(self) -> tuple[Entry, ...]:
        """The entries that hold."""
        return standing(self.entries)

    @cached_property
    def pieces(self) -> Mapping[Key, Piece]:
        """Pieces by key."""
        return {n.piece.key: n.piece for n in self.needed}

    @cached_property
    def wanted(self) -> Counter[Key]:
        """How many of each piece the sections need in all."""
        counts: Counter[Key] = Counter()
        for n in self.needed:
            counts[n.piece.key] += n.qty
        return counts

    @cached_property
    def made(self) -> Counter[Key]:
        """How many of each piece were made and hold, needed or not."""
        parts = (e.part for e in self.standing if e.part is not None)
        return Counter(key_of(p) for p in parts)

    @cached_property
    def on_saws(self) -> Counter[Key]:
        """Pieces that come from stock which lies on a saw."""
        return self._parts(Status.AT_SAW)

    @cached_property
    def planned(self) -> Counter[Key]:
        """Pieces in layouts that are not cut."""
        return self._parts(Status.NOT_CUT)

    def _parts(self, status: Status) -> Counter[Key]:
        return Counter(key_of(p) for s in self.sticks if s.status is status for p in s.layout.parts)

    @cached_property
    def left(self) -> Counter[Key]:
        """Pieces that are neither made nor on a saw. Not to be changed."""
        return self.wanted - self.made - self.on_saws

    @cached_property
    def missing(self) -> tuple[Needed, ...]:
        """Pieces that nothing which is made, on a saw or planned will give, in their order."""
        return self.of_counts(self.left - self.planned)

    def of_counts(self, counts: Mapping[Key, int]) -> tuple[Needed, ...]:
        """Counts of pieces with the pieces, in their order; none of what is zero or below."""
        found: dict[Key, Needed] = {}
        for n in self.needed:
            key = n.piece.key
            if key not in found and counts.get(key, 0) > 0:
                found[key] = Needed(n.piece, counts[key])
        return tuple(found.values())

    @cached_property
    def rack(self) -> Mapping[int, Entry]:
        """Kept drops that lie on the rack, by the number of the entry that kept them."""
        taken = {e.issued.drop for e in self.standing if e.issued is not None}
        return {
            e.number: e for e in self.standing if e.kind is EntryKind.KEPT and e.number not in taken
        }

    @cached_property
    def free_rack(self) -> Mapping[int, Entry]:
        """Those of them that no layout is planned for."""
        planned = {s.drop for s in self.sticks if s.status is Status.NOT_CUT}
        return {n: e for n, e in self.rack.items() if n not in planned}

    @cached_property
    def issued(self) -> Counter[tuple[int, Source]]:
        """Pieces of stock issued, by row of stock.csv and where they come from."""
        return Counter(
            (e.issued.offer.row, e.issued.source)
            for e in self.standing
            if e.issued is not None and e.issued.drop is None
        )

    @cached_property
    def tongued(self) -> frozenset[str]:
        """Materials whose tongues and grooves are told apart."""
        asked = (n.piece for n in self.needed if n.piece.edge in (Edge.TONGUE, Edge.GROOVE))
        codes = {m for p in asked for m in p.materials}
        codes |= {o.material for o in self.offers if o.edges in (Edges.TONGUE, Edges.GROOVE)}
        return frozenset(codes)

    @cached_property
    def groups(self) -> Mapping[str, frozenset[str]]:
        """By material, all that may stand in for one another through alternates, itself too."""
        of = {o.material: frozenset((o.material,)) for o in self.offers}
        for n in self.needed:
            joined = frozenset().union(*(of.get(m, frozenset((m,))) for m in n.piece.materials))
            if len(joined) > 1:
                of.update(dict.fromkeys(joined, joined))
        return of

    def with_layouts(self, sticks: tuple[Stick, ...], serial: int) -> State:
        """The same with other layouts not cut: what is cut or on a saw must be as it was.

        What does not hang on those layouts is not worked out again.
        """
        after = replace(self, sticks=sticks, serial=serial)
        for name in _KEPT:
            if name in self.__dict__:
                after.__dict__[name] = self.__dict__[name]
        return after

    def stick(self, name: str) -> Stick:
        """A piece of stock by its id. Raises FloorError where there is none."""
        found = self._index.get(name)
        if found is None:
            raise FloorError(f"no piece of stock is named {name!r} on this floor")
        return self.sticks[found]

    @cached_property
    def _index(self) -> Mapping[str, int]:
        return {s.id: i for i, s in enumerate(self.sticks)}

    def place_of(self, name: str) -> int:
        """Where in the cutting order a piece of stock stands."""
        self.stick(name)
        return self._index[name]

    def with_stick(self, stick: Stick) -> State:
        """The same with one piece of stock in another condition."""
        at = self.place_of(stick.id)
        return replace(self, sticks=(*self.sticks[:at], stick, *self.sticks[at + 1 :]))


#: What a state has worked out that its layouts not cut have no part in.
_KEPT = (
    *("standing", "pieces", "wanted", "made", "on_saws", "left", "rack", "issued", "tongued"),
    "groups",
)


class _Rows:
    """Rows of the cut lists that a placed part may be of."""

    def __init__(self, problem: Problem) -> None:
        self.lumber = {o.material for o in problem.offers if o.kind is Kind.LUMBER}
        self.by: dict[tuple[object, ...], list[Part]] = {}
        for row in problem.parts:
            self.by.setdefault(self._key(row), []).append(row)

    def _key(self, row: Part) -> tuple[object, ...]:
        head = (row.section, row.jig, row.mark, row.material, row.rule)
        if row.rule is Rule.JOINTED:
            return head
        if row.rule is Rule.FULL_SPAN:
            return (*head, row.length)
        width = None if row.material in self.lumber else row.width
        return (*head, row.length, width, row.edge)

    def of(self, part: Placed) -> list[Part]:
        """Those that ask for it."""
        head = (part.section, part.jig, part.mark, part.asked)
        if part.run is not None:
            return self.by.get((*head, Rule.JOINTED), [])
        if part.full_span:
            return self.by.get((*head, Rule.FULL_SPAN, part.length), [])
        return self.by.get((*head, Rule.PART, part.length, part.width, part.edge), [])


def release(problem: Problem, plan: Plan, digest: str = "") -> State:
    """The state of a plan that was just released: nothing is cut.

    Parameters
    ----------
    problem, plan
        As planned and checked. Parts that could not be planned are needed and missing from the
        start, but for runs and ceilings, whose joints and rows nobody has laid: these are left to
        a plan of their own.
    digest
        That of the cut lists (`revise.digest`), so that the same list is known again.
    """
    rows = _Rows(problem)
    counts: dict[Piece, int] = {}
    sticks: list[Stick] = []
    boards: set[tuple[str, int]] = set()
    for material in plan.materials:
        for layout in material.layouts:
            for part in layout.parts:
                piece = _piece(part, rows, layout.offer.width)
                counts[piece] = counts.get(piece, 0) + layout.count
                if part.full_span:
                    boards.add((layout.offer.material, layout.offer.length))
            one = replace(layout, count=1)
            sticks += [Stick(f"{layout.id}/{n}", one) for n in range(1, layout.count + 1)]
        for missing in material.unplanned:
            row = next(
                p
                for p in problem.parts
                if (p.section, p.mark, p.length) == (missing.section, missing.mark, missing.length)
                and p.material == material.material
            )
            if row.rule is Rule.PART:
                piece = piece_of_row(row, lumber=row.material in rows.lumber)
                counts[piece] = counts.get(piece, 0) + missing.qty
    return State(
        plant=problem.days[0].plant,
        days=tuple(day.date for day in problem.days),
        unit=problem.unit,
        rules=problem.rules,
        offers=problem.offers,
        needed=tuple(Needed(piece, n) for piece, n in counts.items()),
        sticks=tuple(sticks),
        boards=tuple(sorted(boards)),
        lists=(digest,) if digest else (),
    )


def piece_of_row(row: Part, lumber: bool) -> Piece:
    """The piece that an ordinary row of a cut list asks for."""
    return Piece(
        *(row.section, row.jig, row.mark, row.material, row.length),
        width=None if lumber else row.width,
        turn=row.turn,
        alt=row.alt,
        need=row.need,
        edge=row.edge,
    )


def _piece(part: Placed, rows: _Rows, board: int | None) -> Piece:
    """Where several rows ask for it, what all of them allow."""
    of = rows.of(part)
    if not of:
        raise FloorError(f"{part.mark} for {part.section}: in the plan, and in no cut list")
    needs = [r.need for r in of if r.need is not None]
    edge = part.edge
    if part.full_span:
        edge = Edge.BOTH if part.width == board else Edge.ONE
    return Piece(
        *(part.section, part.jig, part.mark, part.asked, part.length, part.width),
        turn=all(r.turn for r in of),
        alt=tuple(m for m in of[0].alt if all(m in r.alt for r in of)),
        need=part.need if part.need is not None else min(needs, default=None),
        run=part.run,
        run_at=part.run_at,
        full_span=part.full_span,
        edge=edge,
    )

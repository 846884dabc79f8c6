"""What is left to cut: the pieces that are missing, the stock less what was issued, the rack; as a
problem of its own and a plan for it, and what the independent checker says of that.

The pieces of a run and the rows of a ceiling are asked for one by one: a piece of a run as a part
whose mark tells where it belongs, a row as a part that keeps its factory edges. Only where edge
trim would take those away is a row asked for as a field of that one row.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from cutopt.cutlist import Day, Part, Rule
from cutopt.materials import Edge, Kind, Offer
from cutopt.plan import (
    Layout,
    MaterialPlan,
    Placed,
    Plan,
    Problem,
    Source,
    Status,
    Stop,
    Unplanned,
)
from cutopt.plan.check import check_plan
from cutopt.plan.document import plan_document
from cutopt.plan.value import drop_credit
from cutopt.records import Place
from cutopt.saw.floor import state as floor
from cutopt.saw.floor.state import Key, Needed, Piece, State, Stick, key_of

__all__ = ["Rest", "check_rest", "missing", "rack_offers", "rest_problem", "surplus", "waits"]

_NEVER = "not planned"


def left(state: State) -> Counter[Key]:
    """Pieces that are neither made nor on a saw."""
    return Counter(state.left)


def missing(state: State) -> tuple[Needed, ...]:
    """Pieces that nothing which is made, on a saw or planned will give, in their order."""
    return state.missing


def surplus(state: State) -> Counter[Key]:
    """Pieces that layouts not yet cut would give beyond what is needed."""
    return state.planned - state.left


def waits(state: State, stick: Stick) -> bool:
    """Whether every part of a layout is for a jig that is down."""
    return bool(state.waiting) and all(p.jig in state.waiting for p in stick.layout.parts)


@dataclass(frozen=True)
class RackRows:
    """Drops on the rack as rows of stock: equal ones are one row.

    `offers` in the order of the rows, `of` the row by the entry that kept a drop.
    """

    offers: tuple[Offer, ...]
    of: Mapping[int, int]

    @cached_property
    def drops(self) -> Mapping[int, tuple[int, ...]]:
        """The entries of a row, first kept first."""
        rows: dict[int, list[int]] = defaultdict(list)
        for number, row in self.of.items():
            rows[row].append(number)
        return {row: tuple(numbers) for row, numbers in rows.items()}


def rack_offers(
    state: State, materials: Collection[str] | None = None, free: bool = False
) -> RackRows:
    """Rows that the day may use for what lies on the rack (with `free`, is not planned for).

    Their numbers follow those of stock.csv: a row is named by the first drop on it.
    """
    base = max((o.row for o in state.offers), default=1)
    rows: dict[Offer, int] = {}
    counts: Counter[int] = Counter()
    of: dict[int, int] = {}
    for number, entry in sorted((state.free_rack if free else state.rack).items()):
        if entry.kept is None:
            continue
        offer = entry.kept.offer
        if materials is not None and offer.material not in materials:
            continue
        row = rows.setdefault(offer, base + number)
        counts[row] += 1
        of[number] = row
    offers = tuple(replace(o, row=row, on_hand=counts[row]) for o, row in rows.items())
    return RackRows(offers, of)


def stock_left(state: State, planned: bool = False) -> tuple[Offer, ...]:
    """The rows of stock.csv less what was issued (with `planned`, less what layouts take too).

    What the mill sells at least was bought with the plan: nothing asks for it again. Of a ceiling
    board only lengths that the released plan uses can still be bought.
    """
    taken: Counter[tuple[int, Source]] = Counter(state.issued)
    if planned:
        for stick in state.sticks:
            if stick.status is floor.Status.NOT_CUT and stick.drop is None:
                taken[stick.layout.offer.row, stick.layout.source] += 1
    ceilings = {n.piece.material for n in state.needed if n.piece.full_span}
    found = []
    for offer in state.offers:
        limit = offer.limit
        if limit is not None:
            limit = max(0, limit - taken[offer.row, Source.BUY])
        few = offer.material in ceilings and state.rules.for_ceiling(offer.material).order_lengths
        if few and (offer.material, offer.length) not in state.boards:
            limit = 0
        on_hand = max(0, offer.on_hand - taken[offer.row, Source.ON_HAND])
        found.append(replace(offer, on_hand=on_hand, limit=limit, min_order=0))
    return tuple(found)


def coded_mark(piece: Piece) -> str:
    """The mark in a problem of the rest: that of a piece of a run tells where it belongs."""
    return piece.mark if piece.run is None else f"{piece.run} @ {piece.run_at}"


class Rest:
    """The rest of some materials as a problem, with a plan of the layouts that are not cut.

    Parameters
    ----------
    state
        A released plan while it is cut.
    materials
        Those to look at, None for all; taken together with all that they may change places with.
    without_waiting
        Leave out what waits for a jig that is down.
    """

    def __init__(
        self,
        state: State,
        materials: Iterable[str] | None = None,
        without_waiting: bool = False,
    ) -> None:
        self.state = state
        names = {o.material for o in state.offers}
        if materials is not None:
            names &= {x for m in materials for x in state.groups.get(m, frozenset())}
        self.materials = names
        self.without_waiting = without_waiting
        self.rack = rack_offers(state, names)

    def _in(self, needed: Needed) -> bool:
        piece = needed.piece
        waiting = self.without_waiting and piece.jig in self.state.waiting
        return piece.material in self.materials and not waiting

    def problem(self, pieces: Iterable[Needed] | None = None) -> Problem:
        """The day that is left (or only `pieces` of it) against the stock that is left."""
        if pieces is None:
            pieces = self.state.of_counts(self.state.left)
        stock = [o for o in stock_left(self.state) if o.material in self.materials]
        return self.of(pieces, (*stock, *self.rack.offers))

    def of(self, pieces: Iterable[Needed], offers: Iterable[Offer]) -> Problem:
        """Pieces against offers, under the rules in force."""
        rows = [self.row(n, i) for i, n in enumerate(pieces, start=2) if self._in(n)]
        s = self.state
        day = Day("rest", s.plant, s.days[0], s.unit, s.rules, tuple(offers), tuple(rows))
        return Problem((day,))

    def row(self, needed: Needed, line: int = 0) -> Part:
        """A piece as a row of a cut list."""
        piece = needed.piece
        trimmed = piece.full_span and self.state.rules.for_sheets(piece.material).edge_trim
        return Part(
            place=Place("rest", line),
            section=piece.section,
            jig=piece.jig,
            mark=coded_mark(piece),
            material=piece.material,
            length=piece.length,
            width=piece.width,
            qty=needed.qty,
            turn=piece.turn,
            rule=Rule.FULL_SPAN if trimmed else Rule.PART,
            alt=piece.alt,
            need=piece.need,
            edge=Edge.NONE if trimmed else piece.edge,
        )

    def plan(self) -> Plan:
        """The layouts that are not cut as a plan of `problem()`; what is missing is left out."""
        sticks: dict[str, list[Stick]] = defaultdict(list)
        for stick in self.state.sticks:
            if stick.status is floor.Status.NOT_CUT:
                sticks[stick.material].append(stick)
        lacking: dict[str, list[Needed]] = defaultdict(list)
        for n in missing(self.state):
            if self._in(n):
                lacking[n.piece.material].append(n)
        order = dict.fromkeys(o.material for o in self.state.offers)
        plans = [
            self._material(m, sticks[m], lacking[m])
            for m in order
            if m in self.materials and (sticks[m] or lacking[m])
        ]
        return Plan(
            self.state.unit, tuple(plans), self.state.plant, (self.state.days[0].isoformat(),)
        )

    def _material(
        self, material: str, sticks: Iterable[Stick], lacking: Iterable[Needed]
    ) -> MaterialPlan:
        counts: dict[tuple[object, ...], list[Layout]] = {}
        for stick in sticks:
            layout = self._layout(stick)
            if layout is not None:
                key = (layout.offer.row, layout.source, layout.parts, layout.drops)
                counts.setdefault(key, []).append(layout)
        patterns: dict[tuple[object, ...], str] = {}
        layouts = []
        for n, same in enumerate(counts.values(), start=1):
            one = same[0]
            pattern = patterns.setdefault(places_of(one), f"{material}-P{len(patterns) + 1}")
            layouts.append(replace(one, id=f"{material}-{n}", pattern=pattern, count=len(same)))
        rules = self.state.rules
        kind = next(o.kind for o in self.state.offers if o.material == material)
        lumber, sheets = rules.for_lumber(material), rules.for_sheets(material)
        cost = sum((lay.offer.cost * lay.count for lay in layouts), Fraction(0))
        credit = sum(
            (drop_credit(lay.offer, d, rules) * lay.count for lay in layouts for d in lay.drops),
            Fraction(0),
        )
        left_out = tuple(
            Unplanned(
                *(n.piece.section, coded_mark(n.piece), n.piece.length, n.piece.width),
                n.qty,
                _NEVER,
            )
            for n in lacking
        )
        return MaterialPlan(
            material=material,
            kind=kind,
            kerf=lumber.kerf if kind is Kind.LUMBER else sheets.kerf,
            head_trim=lumber.head_trim if kind is Kind.LUMBER else 0,
            layouts=tuple(layouts),
            cost=cost,
            drop_credit=credit,
            joints=0,
            joint_cost=Fraction(0),
            bound=min(Fraction(0), cost - credit),
            status=Status.BEST_FOUND if layouts else Status.INFEASIBLE,
            stop=Stop.WORK,
            unplanned=left_out,
            stack=lumber.stack if kind is Kind.LUMBER else sheets.stack,
        )

    def _layout(self, stick: Stick) -> Layout | None:
        """As the problem of the rest has it; None where only waiting jigs need its parts."""
        if self.without_waiting and waits(self.state, stick):
            return None
        layout = stick.layout
        offer = layout.offer
        if stick.drop is not None:
            offer = replace(offer, row=self.rack.of.get(stick.drop, 0))
        parts = tuple(self._placed(p) for p in layout.parts)
        return replace(layout, offer=offer, parts=parts)

    def _placed(self, part: Placed) -> Placed:
        piece = self.state.pieces.get(key_of(part))
        if piece is None:
            return part
        row = self.row(Needed(piece, 1), 0)
        return replace(
            part,
            mark=row.mark,
            run=None,
            run_at=None,
            full_span=row.rule is Rule.FULL_SPAN,
            edge=row.edge,
        )

    def piece(self, part: Placed) -> Piece:
        """The piece that a part of a plan of the rest is."""
        key = (part.section, part.jig, part.mark, part.asked, part.length, part.width)
        return self._coded[key, part.edge.value]

    @cached_property
    def _coded(self) -> Mapping[tuple[tuple[object, ...], str], Piece]:
        found: dict[tuple[tuple[object, ...], str], Piece] = {}
        for n in self.state.needed:
            row = self.row(n, 0)
            key = (row.section, row.jig, row.mark, row.material, row.length, row.width)
            found[key, row.edge.value] = n.piece
        return found


def places_of(layout: Layout) -> tuple[object, ...]:
    """What makes a pattern: the places of the parts and the size of the stock."""
    places = sorted((p.x, p.y, p.along, p.across) for p in layout.parts)
    return (layout.offer.material, layout.offer.length, layout.offer.width, tuple(places))


def rest_problem(
    state: State, materials: Iterable[str] | None = None, without_waiting: bool = False
) -> Problem:
    """A problem of what is left: pieces neither made nor on a saw, stock less what was issued,
    the drops on the rack.

    Parameters as of `Rest`.
    """
    return Rest(state, materials, without_waiting).problem()


def check_rest(state: State, materials: Iterable[str] | None = None) -> list[str]:
    """What the independent checker finds wrong with the layouts not yet cut; nothing if all holds.

    What is missing and waits for a jig that is down is no fault; other missing pieces are one
    where stock is left that they could be cut from.
    """
    rest = Rest(state, materials)
    counts = left(state)
    for n in missing(state):
        if n.piece.jig in state.waiting:
            counts[n.piece.key] -= n.qty
    asked = rest.problem(state.of_counts(counts))
    plan = rest.plan()
    if state.waiting:
        plan = replace(plan, materials=tuple(_without(m, state) for m in plan.materials))
        plan = replace(plan, materials=tuple(m for m in plan.materials if _says(m)))
    if not plan.materials:
        return []
    return check_plan(asked.days, plan_document(plan))


def _says(plan: MaterialPlan) -> bool:
    return bool(plan.layouts or plan.unplanned)


def _without(plan: MaterialPlan, state: State) -> MaterialPlan:
    """A plan without what is left out for a jig that is down."""
    waiting = {
        (n.piece.section, coded_mark(n.piece), n.piece.length, n.piece.width)
        for n in state.needed
        if n.piece.jig in state.waiting
    }
    kept = tuple(u for u in plan.unplanned if (u.section, u.mark, u.length, u.width) not in waiting)
    return replace(plan, unplanned=kept)

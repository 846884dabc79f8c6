"""What a group's solver hands back, and how that becomes the plans of its materials.

A solver speaks in patterns over items. Which section and mark each cut piece goes to is decided
here, after the patterns: a stud is a stud.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutopt.cutlist import Rule
from cutopt.materials import Kind, Offer
from cutopt.plan import (
    Drop,
    Group,
    Layout,
    MaterialPlan,
    Placed,
    Shortage,
    Source,
    Status,
    Stop,
    Unplanned,
)
from cutopt.plan.shortage import dearest
from cutopt.plan.value import drop_credit
from cutopt.solve.demand import Item, Piece

__all__ = ["Outcome", "Spot", "Use", "material_plans"]


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a piece of item `item` (an index) lies on the stock, from the squared head and edge."""

    item: int
    x: int
    y: int = 0
    turned: bool = False


@dataclass(frozen=True, slots=True)
class Use:
    """`count` pieces of stock of one offer, each cut to the same spots and drops."""

    offer: Offer
    spots: tuple[Spot, ...]
    drops: tuple[Drop, ...]
    count: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """A group's result. The uses cut every item exactly as often as its demand.

    `bound` is a proved lower bound in dollars on the objective of the whole group (stock cost
    less drop credit plus joint cost), over the parts that could be planned. `unplanned` holds the
    asked material beside each, `shortages` the material whose plan is to name it.
    """

    items: tuple[Item, ...]
    uses: tuple[Use, ...]
    bound: Fraction
    stop: Stop
    seconds: float
    unplanned: tuple[tuple[str, Unplanned], ...] = ()
    cutting_rule: str = ""
    shortages: tuple[tuple[str, Shortage], ...] = ()


class _Queue:
    """The pieces of one item, first wanted first, handed out in order."""

    def __init__(self, item: Item) -> None:
        self._pieces = list(item.pieces)
        self._left = [p.qty for p in item.pieces]
        self._at = 0

    def offer(self, spots: int, copies: int) -> tuple[list[Piece], int]:
        """Pieces for `spots` places on each stick and for how many equal sticks they last."""
        chosen: list[Piece] = []
        last = copies
        i = self._at
        while len(chosen) < spots:
            left = self._left[i]
            if left:
                places = min(spots - len(chosen), left)
                chosen += [self._pieces[i]] * places
                last = min(last, left // places)
            i += 1
        return chosen, last

    def take(self, spots: int, copies: int) -> None:
        """Hand out what `offer` showed, `copies` times."""
        need = spots
        i = self._at
        while need:
            left = self._left[i]
            if left:
                places = min(need, left)
                self._left[i] -= places * copies
                need -= places
            i += 1
        while self._at < len(self._left) and not self._left[self._at]:
            self._at += 1


def material_plans(group: Group, outcome: Outcome) -> tuple[MaterialPlan, ...]:
    """The plans of the group's materials, in its order, from a solver's outcome.

    On hand stock is used before bought. Layouts with the same places on the same size of stock
    share a pattern. The group's bound is shared out over its materials so that the sum is kept.
    """
    layouts = _layouts(group, outcome)
    plans = [_material_plan(group, outcome, m, layouts[m]) for m in group.materials]
    used = [p for p in plans if p.layouts or p.unplanned]
    objective = sum((p.objective for p in used), Fraction(0))
    slack = max(Fraction(0), objective - outcome.bound)
    names = tuple(p.material for p in used)
    shared: list[MaterialPlan] = []
    for p in used:
        part = slack * p.objective / objective if objective > 0 else Fraction(0)
        bound = p.objective - part
        exact = part == 0
        if not p.layouts and p.unplanned:
            status = Status.INFEASIBLE
        else:
            status = Status.OPTIMAL if exact else Status.BEST_FOUND
        shared.append(
            MaterialPlan(
                material=p.material,
                kind=p.kind,
                kerf=p.kerf,
                head_trim=p.head_trim,
                layouts=p.layouts,
                cost=p.cost,
                drop_credit=p.drop_credit,
                joints=p.joints,
                joint_cost=p.joint_cost,
                bound=bound,
                status=status,
                stop=_stop(outcome.stop, exact),
                seconds=outcome.seconds,
                unplanned=p.unplanned,
                surplus=p.surplus,
                stack=p.stack,
                joint_with=tuple(n for n in names if n != p.material) if len(names) > 1 else (),
                cutting_rule=outcome.cutting_rule,
                shortages=dearest(s for m, s in outcome.shortages if m == p.material),
            )
        )
    return tuple(shared)


def _stop(stop: Stop, exact: bool) -> Stop:
    """Proved is what meets its bound and nothing else: the money decides, not the search."""
    if stop is Stop.NOTHING_TO_CUT:
        return stop
    if exact:
        return Stop.PROVED
    return Stop.WORK if stop is Stop.PROVED else stop


def _material_plan(
    group: Group, outcome: Outcome, material: str, layouts: Sequence[Layout]
) -> MaterialPlan:
    lumber = group.rules.for_lumber(material)
    sheets = group.rules.for_sheets(material)
    surplus = tuple(
        (o, beyond)
        for o, _, _, beyond in _purchases(group, outcome)
        if beyond and o.material == material
    )
    cost = sum((lay.offer.cost * lay.count for lay in layouts), Fraction(0))
    cost += sum((o.cost * n for o, n in surplus), Fraction(0))
    credit = sum(
        (
            drop_credit(lay.offer, drop, group.rules) * lay.count
            for lay in layouts
            for drop in lay.drops
        ),
        Fraction(0),
    )
    # Every piece of a run but the one at its start begins at a joint.
    joints = sum(lay.count for lay in layouts for p in lay.parts if p.run_at)
    return MaterialPlan(
        material=material,
        kind=group.kind,
        kerf=lumber.kerf if group.kind is Kind.LUMBER else sheets.kerf,
        stack=max(1, lumber.stack if group.kind is Kind.LUMBER else sheets.stack),
        head_trim=lumber.head_trim if group.kind is Kind.LUMBER else 0,
        layouts=tuple(layouts),
        cost=cost,
        drop_credit=credit,
        joints=joints,
        joint_cost=joints * Fraction(lumber.joint_price),
        bound=Fraction(0),
        status=Status.BEST_FOUND,
        stop=outcome.stop,
        unplanned=tuple(u for m, u in outcome.unplanned if m == material),
        surplus=surplus,
    )


def _purchases(group: Group, outcome: Outcome) -> list[tuple[Offer, int, int, int]]:
    """Of every offer: pieces bought, cut from the yard, and bought beyond what is cut.

    Where the mill sells no fewer than `min_order`, what must be bought is cut before the yard's.
    """
    cut: dict[int, int] = defaultdict(int)
    for use in outcome.uses:
        cut[use.offer.row] += use.count
    found = []
    for o in group.offers:
        bought = o.bought(cut[o.row])
        from_yard = max(0, cut[o.row] - bought)
        found.append((o, bought, from_yard, from_yard + bought - cut[o.row]))
    return found


def _layouts(group: Group, outcome: Outcome) -> dict[str, list[Layout]]:
    queues = [_Queue(item) for item in outcome.items]
    on_hand = {o.row: from_yard for o, _, from_yard, _ in _purchases(group, outcome)}
    patterns: dict[tuple[object, ...], str] = {}
    counts: dict[str, int] = defaultdict(int)
    made: dict[str, list[Layout]] = {m: [] for m in group.materials}
    for use in sorted(outcome.uses, key=lambda u: _cutting_order(u, outcome.items)):
        material = use.offer.material
        pattern = patterns.setdefault(
            _places(use, outcome.items), f"{material}-P{counts[material] + 1}"
        )
        counts[material] = max(counts[material], int(pattern.rsplit("P", 1)[1]))
        spots: dict[int, int] = defaultdict(int)
        for spot in use.spots:
            spots[spot.item] += 1
        left = use.count
        while left:
            from_yard = on_hand[use.offer.row]
            copies = min(left, from_yard) if from_yard else left
            source = Source.ON_HAND if from_yard else Source.BUY
            chosen: dict[int, list[Piece]] = {}
            for item, n in spots.items():
                chosen[item], copies = queues[item].offer(n, copies)
            for item, n in spots.items():
                queues[item].take(n, copies)
            if from_yard:
                on_hand[use.offer.row] -= copies
            taken = {item: iter(pieces) for item, pieces in chosen.items()}
            placed = tuple(_placed(next(taken[spot.item]), spot) for spot in use.spots)
            made[material].append(
                Layout(
                    id=f"{material}-{len(made[material]) + 1}",
                    pattern=pattern,
                    count=copies,
                    offer=use.offer,
                    source=source,
                    parts=placed,
                    drops=use.drops,
                )
            )
            left -= copies
    return made


def _placed(piece: Piece, spot: Spot) -> Placed:
    part = piece.part
    return Placed(
        section=part.section,
        jig=part.jig,
        mark=part.mark,
        asked=part.material,
        length=piece.length,
        width=piece.width,
        x=spot.x,
        y=spot.y,
        turned=spot.turned,
        run=piece.run,
        run_at=piece.run_at,
        need=part.need,
        full_span=part.rule is Rule.FULL_SPAN,
        edge=part.edge,
    )


def _extent(spot: Spot, items: Sequence[Item]) -> tuple[int, int]:
    item = items[spot.item]
    across = item.width or 0
    return (across, item.length) if spot.turned else (item.length, across)


def _places(use: Use, items: Sequence[Item]) -> tuple[object, ...]:
    places = sorted((s.x, s.y, *_extent(s, items)) for s in use.spots)
    return (use.offer.material, use.offer.length, use.offer.width, tuple(places))


def _cutting_order(use: Use, items: Sequence[Item]) -> tuple[object, ...]:
    """Longest stock first, then by the places: like set-ups lie side by side."""
    places = tuple((-e[0], -e[1], s.x, s.y) for s in use.spots for e in [_extent(s, items)])
    return (use.offer.material, -use.offer.length, -(use.offer.width or 0), places, use.offer.row)

"""Missing pieces cut again: from drops on the rack, then within the rest of the plan, then from
new stock, and only where none of this does by planning the rest of their materials anew.

Sticks from drops and from new stock are planned by the solver at least cost; pieces are put into
drops of layouts not yet cut where they leave least. Sheets, few at a time, are filled one by one,
the largest piece first: the solver would take longer for a few than for a day. All of it is
counted work (looks of a search whether to go on); the solver's clock is a guard that it does not
come near.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.materials import Kind, Offer
from cutopt.plan import Layout, MaterialPlan, Problem, Source
from cutopt.saw.floor.bench import Bench
from cutopt.saw.floor.lay import empty, put, worth
from cutopt.saw.floor.rest import (
    Rest,
    missing,
    rack_offers,
    stock_left,
    waits,
)
from cutopt.saw.floor.settle import settled
from cutopt.saw.floor.state import FloorError, Needed, Piece, State, Stick, key_of
from cutopt.saw.floor.usable import offered
from cutopt.solve import no_report, solve_group

__all__ = ["Unmet", "recovered", "replanned"]

#: Guard of the clock on one call of the solver, in seconds.
_GUARD = 20.0
#: How often a search may look whether to go on. Sheets look often, between short steps; behind so
#: many looks come steps of seconds that settle orders which differ by a dollar.
_LOOKS = {Kind.LUMBER: 20, Kind.SHEET: 600}
_SEED = 1


@dataclass(frozen=True, slots=True)
class Unmet:
    """Pieces that can't be cut from what is left, and why."""

    needed: Needed
    reason: str


def recovered(
    state: State,
    behind: str | None = None,
    usable: Sequence[int] = (),
    whole: bool = True,
) -> tuple[State, tuple[Unmet, ...]]:
    """Every missing piece planned, but for those that wait for a jig that is down.

    Parameters
    ----------
    state
        What is cut or on a saw stays as it is.
    behind
        New layouts come behind this piece of stock in cutting order; else last.
    usable
        Entries that kept what is usable of damaged stock: offered to pieces of other layouts too,
        where that saves stock.
    whole
        Where pieces are still missing, plan the rest of their materials anew.

    Returns
    -------
    state, unmet
        What no stock is left for is told with the reason.
    """
    state = settled(state)
    unmet: list[Unmet] = []
    for group in _groups(state, _lacking(state), usable):
        state = _from_drops(state, group, behind)
        state = _into_layouts(state, group)
        state = offered(state, [n for n in usable if n in state.free_rack], group, behind)
        state = _from_stock(state, group, behind)
        reasons: dict[object, str] = {}
        if whole and any(_of(state, group)):
            state, reasons = _anew(state, group)
        for n in _of(state, group):
            reason = reasons.get(n.piece.key, "no stock is left that it could be cut from")
            unmet.append(Unmet(n, reason))
    return state, tuple(unmet)


def _lacking(state: State) -> list[Needed]:
    return [n for n in missing(state) if n.piece.jig not in state.waiting]


def _of(state: State, group: frozenset[str]) -> list[Needed]:
    """What a group lacks, one entry for each piece kind."""
    return [n for n in _lacking(state) if n.piece.material in group]


def _groups(state: State, lacking: Iterable[Needed], usable: Iterable[int]) -> list[frozenset[str]]:
    codes = [n.piece.material for n in lacking]
    kept = (state.rack.get(n) for n in usable)
    codes += [e.kept.offer.material for e in kept if e is not None and e.kept is not None]
    return list(dict.fromkeys(state.groups.get(m, frozenset((m,))) for m in codes))


def _kind(state: State, group: frozenset[str]) -> Kind:
    return next(o.kind for o in state.offers if o.material in group)


def _singles(needed: Iterable[Needed]) -> list[Piece]:
    """Every piece by itself, the largest first."""
    pieces = [n.piece for n in needed for _ in range(n.qty)]
    return sorted(pieces, key=lambda p: (-p.length * (p.width or 1), -p.length))


def _from_drops(state: State, group: frozenset[str], behind: str | None) -> State:
    lacking = _of(state, group)
    rack = rack_offers(state, group, free=True)
    if not lacking or not rack.offers:
        return state
    if _kind(state, group) is Kind.SHEET:
        return _sheets_from_drops(state, lacking, rack.of, behind)
    none = tuple(_none_of(o) for o in stock_left(state) if o.material in group)
    problem = Rest(state, group).of(lacking, (*none, *rack.offers))
    return _with_plans(state, group, _solved(problem), behind)


def _none_of(offer: Offer) -> Offer:
    return replace(offer, on_hand=0, limit=0)


class _Looks:
    """Ends a search once it has looked so often whether to go on: the same work on any machine."""

    def __init__(self, most: int) -> None:
        self.left = most

    def __call__(self) -> bool:
        self.left -= 1
        return self.left < 0


def _solved(problem: Problem) -> tuple[MaterialPlan, ...]:
    found: list[MaterialPlan] = []
    for group in problem.groups:
        found += solve_group(group, _GUARD, _SEED, _Looks(_LOOKS[group.kind]), no_report)
    return tuple(found)


def _with_plans(
    state: State,
    group: frozenset[str],
    plans: Iterable[MaterialPlan],
    behind: str | None,
) -> State:
    """New pieces of stock for the layouts of a plan of the rest."""
    bench = Bench(state)
    for layout, drop in _unrolled(state, group, plans):
        bench.add(layout, drop, behind)
    return bench.state()


def _unrolled(
    state: State, group: frozenset[str], plans: Iterable[MaterialPlan]
) -> list[tuple[Layout, int | None]]:
    """Each layout of a plan of the rest copy by copy, in the words of the floor; its drop."""
    rest = Rest(state, group)
    rack = rack_offers(state, group, free=True)
    waiting = {row: list(numbers) for row, numbers in rack.drops.items()}
    offers = {o.row: o for o in state.offers}
    found: list[tuple[Layout, int | None]] = []
    for plan in plans:
        for layout in plan.layouts:
            parts = tuple(rest.piece(p).placed(p.x, p.y, p.turned) for p in layout.parts)
            for _ in range(layout.count):
                drop: int | None = None
                row = layout.offer.row
                if row in waiting:
                    drop = waiting[row].pop(0)
                    offer, source = _drop_offer(state, drop), Source.ON_HAND
                else:
                    offer, source = offers[row], layout.source
                made = replace(layout, count=1, offer=offer, source=source, parts=parts)
                found.append((made, drop))
    return found


def _drop_offer(state: State, drop: int) -> Offer:
    kept = state.rack[drop].kept
    if kept is None:
        raise FloorError(f"entry {drop} keeps no drop")
    return kept.offer


def _sheets_from_drops(
    state: State, lacking: Iterable[Needed], rack: Iterable[int], behind: str | None
) -> State:
    """Piece by piece, the largest first, into the smallest drop that takes it."""
    bench = Bench(state)
    free = {n: state.rack[n].kept for n in rack}
    opened: dict[int, Layout] = {}
    for piece in _singles(lacking):
        choices: list[tuple[int, int, Layout]] = []
        refused: set[Offer] = set()
        for number, kept in free.items():
            if kept is None or (number not in opened and kept.offer in refused):
                continue
            before = opened.get(number) or empty(kept.offer, Source.ON_HAND, state.rules)
            after = put(before, piece, state.rules)
            if after is not None:
                size = sum(d.length * (d.width or 0) for d in before.drops)
                choices.append((size, number, after))
            elif number not in opened:
                refused.add(kept.offer)
        if choices:
            _, number, after = min(choices, key=lambda c: c[:2])
            opened[number] = after
    for number, layout in opened.items():
        bench.add(layout, number, behind)
    return bench.state()


def _into_layouts(state: State, group: frozenset[str]) -> State:
    """Piece by piece into the drop of a layout not yet cut where least is left, waste first."""
    lacking = _of(state, group)
    if not lacking:
        return state
    bench = Bench(state)
    refused: set[tuple[object, ...]] = set()
    for piece in _singles(lacking):
        best: tuple[tuple[bool, int], Stick, Layout] | None = None
        for stick in bench.open(group):
            layout = stick.layout
            if not layout.drops or waits(state, stick):
                continue
            fresh = stick.id in bench.fresh
            size = (stick.id if fresh else layout.pattern, layout.offer.row, piece.key)
            if size in refused:
                continue
            kept = any(d.kept for d in layout.drops)
            mark = (kept, sum(d.length * (d.width or 1) for d in layout.drops))
            if best is not None and mark >= best[0]:
                continue
            after = put(layout, piece, state.rules)
            if after is None:
                refused.add(size)
            else:
                best = (mark, stick, after)
        if best is not None:
            bench.change(best[1], best[2])
    return bench.state()


def _from_stock(state: State, group: frozenset[str], behind: str | None) -> State:
    lacking = _of(state, group)
    if not lacking:
        return state
    stock = tuple(o for o in stock_left(state, planned=True) if o.material in group)
    if _kind(state, group) is Kind.SHEET:
        return _sheets_from_stock(state, lacking, stock, behind)
    problem = Rest(state, group).of(lacking, stock)
    return _with_plans(state, group, _solved(problem), behind)


def _sheets_from_stock(
    state: State, lacking: Iterable[Needed], stock: Sequence[Offer], behind: str | None
) -> State:
    """Sheet by sheet, each the one on which a dollar brings most parts, the largest piece first."""
    bench = Bench(state)
    offers = {o.row: o for o in state.offers}
    left: dict[tuple[int, Source], int | None] = {}
    for offer in stock:
        left[offer.row, Source.ON_HAND] = offer.on_hand
        left[offer.row, Source.BUY] = offer.limit
    pieces = _singles(lacking)
    while pieces:
        first, best = pieces[0], None
        for (row, source), n in left.items():
            if n == 0 or offers[row].material not in first.materials:
                continue
            made, rest = _filled(empty(offers[row], source, state.rules), pieces, state)
            if len(rest) == len(pieces) or first in rest[:1]:
                continue
            area = sum(p.along * p.across for p in made.parts)
            mark = (Fraction(offers[row].cost, area), row, source is Source.BUY)
            if best is None or mark < best[0]:
                best = (mark, made, rest)
        if best is None:
            pieces = pieces[1:]
            continue
        _, made, pieces = best
        key = (made.offer.row, made.source)
        n = left[key]
        left[key] = None if n is None else n - 1
        bench.add(made, None, behind)
    return bench.state()


def _filled(layout: Layout, pieces: Sequence[Piece], state: State) -> tuple[Layout, list[Piece]]:
    """As many of the pieces as it takes, and the others."""
    rest: list[Piece] = []
    refused: set[tuple[object, ...]] = set()
    for i, piece in enumerate(pieces):
        size = (piece.length, piece.width, piece.turn, piece.materials, piece.edge, piece.full_span)
        made = None if size in refused else put(layout, piece, state.rules)
        if made is None:
            refused.add(size)
            rest.append(piece)
            if i == 0:
                return layout, list(pieces)
        else:
            layout = made
    return layout, rest


def replanned(
    state: State, materials: Iterable[str], at_any_cost: bool = False
) -> tuple[State, tuple[Unmet, ...]]:
    """The layouts not yet cut of some materials planned anew by the solver, with what is missing.

    What waits for a jig that is down is left out: layouts that hold nothing else stay, and what
    else held some of it leaves it missing until the jig is up again.

    Layouts that come out as they were keep their names. A plan that is no cheaper and has no more
    pieces is left aside, unless `at_any_cost`.
    """
    state = settled(state)
    unmet: list[Unmet] = []
    for group in dict.fromkeys(state.groups.get(m, frozenset((m,))) for m in materials):
        state, reasons = _anew(state, group, at_any_cost)
        unmet += [
            Unmet(n, reasons.get(n.piece.key, "no stock is left that it could be cut from"))
            for n in _of(state, group)
        ]
    return state, tuple(unmet)


def _anew(
    state: State, group: frozenset[str], at_any_cost: bool = False
) -> tuple[State, dict[object, str]]:
    bench = Bench(state)
    open_ = [s for s in bench.open(group) if not waits(state, s)]
    names = {s.id for s in open_}
    base = replace(state, sticks=tuple(s for s in state.sticks if s.id not in names))
    rest = Rest(base, group, without_waiting=True)
    stock = [o for o in stock_left(base, planned=True) if o.material in group]
    rack = rack_offers(base, group, free=True)
    problem = rest.of(base.of_counts(base.left - base.planned), (*stock, *rack.offers))
    if not problem.parts:
        return state, {}
    plans = _solved(problem)
    reasons = _reasons(state, rest, plans)
    lacking = sum(n.qty for n in _of(state, group))
    now = (lacking, sum((worth(s.layout, state.rules) for s in open_), Fraction(0)))
    left_out = sum(u.qty for p in plans for u in p.unplanned)
    then = (left_out, sum((p.cost - p.drop_credit for p in plans), Fraction(0)))
    if left_out > lacking or (then >= now and not at_any_cost):
        return state, reasons
    old: dict[tuple[object, ...], list[Stick]] = {}
    for stick in open_:
        old.setdefault(_same(stick.layout, stick.drop), []).append(stick)
    fresh = []
    for layout, drop in _unrolled(base, group, plans):
        match = old.get(_same(layout, drop))
        if match:
            match.pop(0)
        else:
            fresh.append((layout, drop))
    gone = [s for same in old.values() for s in same]
    anchor = min(gone, key=lambda s: state.place_of(s.id), default=None)
    for stick in gone:
        bench.drop(stick)
    for layout, drop in fresh:
        bench.add(layout, drop, anchor.id if anchor else None)
    return bench.state(), reasons


def _reasons(state: State, rest: Rest, plans: Iterable[MaterialPlan]) -> dict[object, str]:
    """Why pieces are left out, by their keys."""
    coded = {}
    for n in state.needed:
        row = rest.row(n)
        coded[row.section, row.mark, row.length, row.width] = n.piece.key
    found: dict[object, str] = {}
    for plan in plans:
        for u in plan.unplanned:
            key = coded.get((u.section, u.mark, u.length, u.width))
            if key is not None:
                found[key] = u.reason
    return found


def _same(layout: Layout, drop: int | None) -> tuple[object, ...]:
    offer = layout.offer
    stock = offer if drop is not None else offer.row
    parts = Counter((key_of(p), p.x, p.y, p.turned) for p in layout.parts)
    return (stock, layout.source, frozenset(parts.items()), frozenset(layout.drops))

"""What else goes wrong at the saw, and what the floor wants otherwise: each its own action.

Wrong stock, a blade with another kerf, a full rack, a jig that is down, a part in a rush, an entry
made by mistake, a plan made anew. What is cut or lies on a saw is never moved; only what an action
itself is about may be.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import replace

from cutopt.materials import Kind, Offer, Rules
from cutopt.plan import Layout, Source
from cutopt.records import PlanFaulty
from cutopt.saw.floor.account import issue_entry, scrap_entry
from cutopt.saw.floor.bench import Bench
from cutopt.saw.floor.changes import changes
from cutopt.saw.floor.cutting import recorded, taken_back
from cutopt.saw.floor.entries import By, Entry, EntryKind, Reason, part_size, reversal
from cutopt.saw.floor.lay import relaid
from cutopt.saw.floor.outcome import Outcome, outcome, without_ghosts
from cutopt.saw.floor.recover import replanned
from cutopt.saw.floor.rest import check_rest, missing, stock_left, waits
from cutopt.saw.floor.state import FloorError, State, Status, Stick, key_of

__all__ = [
    "jig_down",
    "jig_up",
    "kerf_changed",
    "plan_anew",
    "rack_full",
    "rush",
    "undo",
    "wrong_stock",
]


def undo(state: State, name: str, by: By, reason: Reason = Reason.MISTAKE) -> Outcome:
    """What was told of a piece of stock is taken back by reversals: it is not cut.

    Layouts that were to be cut from its drops are planned again. Raises FloorError where it is not
    cut and on no saw, or a drop of it was issued since.
    """
    material = state.stick(name).material
    return outcome(state, taken_back(state, name, by, reason), name, at_least=(material,))


def rack_full(state: State, numbers: Collection[int], by: By) -> Outcome:
    """Drops that the rack has no room for, by the entries that kept them, are scrap.

    Raises FloorError where one of them does not lie on the rack.
    """
    entries: list[Entry] = []
    for number in numbers:
        entry = state.rack.get(number)
        if entry is None:
            raise FloorError(f"entry {number} keeps no drop that lies on the rack")
        entries.append(reversal(entry, by, Reason.RACK_FULL))
        entries += scrap_entry(entry.stock, entry.amount, Reason.RACK_FULL, by)
    return outcome(state, recorded(state, entries))


def wrong_stock(state: State, name: str, row: int, by: By) -> Outcome:
    """Another piece of stock than the layout's was laid on the saw: a 14 for a 12.

    The one that was meant lies in the yard still. As many parts of the layout as the other takes
    are cut from it; what it does not take is planned again.

    Parameters
    ----------
    name, by
        The piece of stock, not cut or on a saw with nothing cut from it yet; who saw it.
    row
        The row of stock.csv that the pulled piece is of.

    Raises
    ------
    FloorError
        Where something was cut from it already, or the row is none, or has no piece left.
    """
    stick = state.stick(name)
    if stick.status not in (Status.NOT_CUT, Status.AT_SAW):
        raise FloorError(f"{name} is {stick.status.value}: take it back first")
    of = [e for e in state.standing if e.stock == name]
    if any(e.kind is not EntryKind.ISSUED for e in of):
        raise FloorError(f"{name}: something was cut from it already")
    offer = next((o for o in state.offers if o.row == row), None)
    if offer is None or offer.kind is not stick.layout.offer.kind:
        raise FloorError(f"row {row} is no {stick.layout.offer.kind.value} of stock.csv")
    have = next(o for o in stock_left(state) if o.row == row)
    if have.available == 0:
        raise FloorError(f"row {row} of stock.csv has no piece left that could have been pulled")
    source = Source.ON_HAND if have.on_hand else Source.BUY
    fits = _most(state, replace(stick.layout, source=source), offer, state.rules)
    entries = [reversal(e, by, Reason.WRONG_STOCK) for e in of]
    entries.append(issue_entry(name, offer, source, by))
    now = replace(
        stick,
        status=Status.AT_SAW,
        station=by.station,
        layout=fits,
        planned=stick.planned or stick.layout,
    )
    told = recorded(state.with_stick(now), entries)
    return outcome(state, told, name, at_least=(stick.material, offer.material))


def _most(state: State, layout: Layout, offer: Offer, rules: Rules) -> Layout:
    """The layout on other stock, with as much of its parts as that takes.

    On a stick the choice of the greatest length in all; on a sheet the smallest go first.
    """
    known = state.pieces
    parts = [p for p in layout.parts if offer.material in known[key_of(p)].materials]
    choices: Iterable[Sequence[int]]
    if offer.kind is Kind.LUMBER:
        choices = _by_length([p.length for p in parts])
    else:
        order = sorted(range(len(parts)), key=lambda i: part_size(parts[i]))
        choices = [sorted(order[n:]) for n in range(len(parts))]
    for choice in choices:
        if choice:
            made = relaid(replace(layout, parts=tuple(parts[i] for i in choice)), offer, rules)
            if made is not None:
                return made
    whole = relaid(replace(layout, parts=()), offer, rules)
    if whole is None:
        raise FloorError(f"{offer.material} of row {offer.row} is too small to be cut at all")
    return whole


def _by_length(lengths: Sequence[int]) -> list[tuple[int, ...]]:
    """Choices of parts from the greatest sum down: for each sum one, with the fewest parts."""
    best: dict[int, tuple[int, ...]] = {0: ()}
    for i, length in enumerate(lengths):
        for total, chosen in sorted(best.items(), reverse=True):
            more = (*chosen, i)
            if total + length not in best or len(more) < len(best[total + length]):
                best[total + length] = more
    return [chosen for _, chosen in sorted(best.items(), reverse=True)]


def kerf_changed(state: State, kerf: int, materials: Collection[str]) -> Outcome:
    """Another blade: from now on these materials lose `kerf` (counts) at every cut.

    Every layout of theirs that is not cut is laid anew. Its name stays, its stops move; where it no
    longer fits, the smallest part that lets the others fit is taken off and planned again.
    """
    if kerf < 0:
        raise FloorError(f"a kerf of {kerf}, right is zero or more")
    rules = state.rules
    known = {o.material: o.kind for o in state.offers}
    if unknown := sorted(set(materials) - set(known)):
        raise FloorError(f"{unknown[0]} is no material of stock.csv")
    lumber, sheets = dict(rules.lumber_of), dict(rules.sheets_of)
    for material in materials:
        if known[material] is Kind.LUMBER:
            lumber[material] = replace(rules.for_lumber(material), kerf=kerf)
        else:
            sheets[material] = replace(rules.for_sheets(material), kerf=kerf)
    rules = replace(rules, lumber_of=lumber, sheets_of=sheets)
    told = replace(state, rules=rules)
    bench = Bench(told)
    for stick in bench.open(frozenset(materials)):
        layout = stick.layout
        made = relaid(layout, layout.offer, rules)
        if made is not None:
            bench.move_stops(stick, made)
            continue
        less = _one_less(layout, rules)
        if less is None:
            bench.drop(stick)
        else:
            bench.change(stick, less)
    return outcome(state, bench.state(), at_least=tuple(materials))


def _one_less(layout: Layout, rules: Rules) -> Layout | None:
    """The layout without its smallest part that lets the others fit, or without more of them."""
    order = sorted(range(len(layout.parts)), key=lambda i: part_size(layout.parts[i]))
    for i in order:
        parts = tuple(p for k, p in enumerate(layout.parts) if k != i)
        made = relaid(replace(layout, parts=parts), layout.offer, rules) if parts else None
        if made is not None:
            return made
    if len(order) <= 1:
        return None
    rest = tuple(p for k, p in enumerate(layout.parts) if k != order[0])
    return _one_less(replace(layout, parts=rest), rules)


def jig_down(state: State, jig: str, apart: Collection[str] = ()) -> Outcome:
    """A jig is down: its parts wait.

    Layouts that none of its parts are in come first, then those that hold others too, then those
    that hold nothing else. With `apart` the layouts of these materials are planned anew without
    its parts, which are missing until the jig is up.

    Raises FloorError where no part is for such a jig.
    """
    if all(n.piece.jig != jig for n in state.needed):
        raise FloorError(f"no part is for a jig {jig!r}")
    told = replace(state, waiting=tuple(sorted({*state.waiting, jig})))
    if apart:
        told, _ = replanned(told, apart, at_any_cost=True)

    def rank(stick: Stick) -> int:
        if waits(told, stick):
            return 2
        return int(any(p.jig in told.waiting for p in stick.layout.parts))

    return outcome(state, _ordered(told, rank))


def _ordered(state: State, rank: Callable[[Stick], int]) -> State:
    """Layouts not cut in the order of their rank, in the places that such have now."""
    open_ = iter(sorted((s for s in state.sticks if s.status is Status.NOT_CUT), key=rank))
    sticks = tuple(next(open_) if s.status is Status.NOT_CUT else s for s in state.sticks)
    return replace(state, sticks=sticks)


def jig_up(state: State, jig: str) -> Outcome:
    """A jig works again: what waited for it is planned, where it was left missing.

    Raises FloorError where it was not down.
    """
    if jig not in state.waiting:
        raise FloorError(f"{jig!r} is not down")
    told = replace(state, waiting=tuple(j for j in state.waiting if j != jig))
    return outcome(state, told)


def rush(state: State, section: str, mark: str, more: int = 0) -> Outcome:
    """A part is wanted now: the layouts that give it come first.

    With `more` so many pieces are needed beyond those that were. Raises FloorError where no piece
    has this mark in this section.
    """
    told = state
    if more:
        told = _with_more(state, section, mark, more)
    keys = {n.piece.key for n in told.needed if (n.piece.section, n.piece.mark) == (section, mark)}
    if not keys:
        raise FloorError(f"no part {mark!r} is needed for {section!r}")
    planned = outcome(state, told)

    def rank(stick: Stick) -> int:
        return int(all(key_of(p) not in keys for p in stick.layout.parts))

    after = _ordered(planned.after, rank)
    return replace(planned, after=after, changes=changes(state, after))


def _with_more(state: State, section: str, mark: str, more: int) -> State:
    found = [
        i
        for i, n in enumerate(state.needed)
        if (n.piece.section, n.piece.mark) == (section, mark) and n.piece.run is None
    ]
    if len(found) != 1 or state.needed[found[0]].piece.full_span or more < 0:
        raise FloorError(
            f"{more} more of {mark!r} for {section!r}: {len(found)} kinds of part have this mark, "
            "right is one that is no run and no ceiling"
        )
    at = found[0]
    n = state.needed[at]
    grown = replace(n, qty=n.qty + more)
    return replace(state, needed=(*state.needed[:at], grown, *state.needed[at + 1 :]))


def plan_anew(state: State, materials: Collection[str]) -> Outcome:
    """The layouts not cut of some materials planned anew, all together, where that is cheaper.

    Raises PlanFaulty where the checker finds a fault in them.
    """
    lacking = missing(state)
    after, unmet = replanned(state, materials)
    after = without_ghosts(state, after)
    faults = check_rest(after, materials)
    if faults:
        raise PlanFaulty(faults)
    return Outcome(after, (), lacking, unmet, changes(state, after))

"""What the layouts not yet cut must give up: pieces nobody needs, or that may no longer be cut so,
and stock that is not there.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from cutopt.plan import Source
from cutopt.saw.floor.bench import Bench
from cutopt.saw.floor.lay import without
from cutopt.saw.floor.rest import stock_left, surplus
from cutopt.saw.floor.state import Key, State, Status, Stick, key_of

__all__ = ["settled"]


def settled(state: State, whole: bool = False) -> State:
    """The state with layouts that need no more than there is and make no more than is needed.

    What they gave up that is needed is missing then. With `whole` a layout that some of its parts
    are taken off is given up altogether, so that what is left of many may be put together.
    """
    return _without_surplus(_without_unfit(_within_stock(state)), whole)


def _within_stock(state: State) -> State:
    """Layouts whose stock or drop is gone are obsolete, the last in order first.

    Where a piece can be bought instead of taken from the yard, or the other way round, only that
    changes.
    """
    stock = {o.row: o for o in stock_left(state)}
    free: dict[tuple[int, Source], int | None] = {}
    for row, offer in stock.items():
        free[row, Source.ON_HAND] = offer.on_hand
        free[row, Source.BUY] = offer.limit
    bench = Bench(state)
    drops: set[int] = set()
    kinds = {o.material for o in state.offers}
    changed = False
    for stick in tuple(bench.open(frozenset(kinds))):
        if stick.drop is not None:
            if stick.drop not in state.rack or stick.drop in drops:
                bench.drop(stick)
                changed = True
            drops.add(stick.drop)
            continue
        row, source = stick.layout.offer.row, stick.layout.source
        if not _take(free, row, source):
            other = Source.BUY if source is Source.ON_HAND else Source.ON_HAND
            changed = True
            if _take(free, row, other):
                bench.move_stops(stick, replace(stick.layout, source=other))
            else:
                bench.drop(stick)
    return bench.state() if changed else state


def _take(free: dict[tuple[int, Source], int | None], row: int, source: Source) -> bool:
    left = free.get((row, source), 0)
    if left is None:
        return True
    if left <= 0:
        return False
    free[row, source] = left - 1
    return True


def _without_unfit(state: State) -> State:
    """Parts that lie turned, or in a material, as their rows no longer allow are taken off."""
    bench = Bench(state)
    changed = False
    for stick in state.sticks:
        if stick.status is not Status.NOT_CUT:
            continue
        gone = []
        for i, part in enumerate(stick.layout.parts):
            piece = state.pieces.get(key_of(part))
            if piece is None:
                continue
            turned = part.turned and not piece.turn and part.length != part.width
            if turned or stick.material not in piece.materials:
                gone.append(i)
        if gone:
            changed = True
            _take_off(bench, state, stick, gone)
    return bench.state() if changed else state


def _take_off(bench: Bench, state: State, stick: Stick, gone: Sequence[int]) -> None:
    made = without(stick.layout, gone, state.rules)
    if made is None:
        bench.drop(stick)
    else:
        bench.change(stick, made)


def _without_surplus(state: State, whole: bool) -> State:
    """Pieces that nobody needs are taken off the layouts, whole layouts first, the last first."""
    beyond = +surplus(state)
    if not beyond:
        return state
    bench = Bench(state)
    sticks = [s for s in reversed(state.sticks) if s.status is Status.NOT_CUT]
    mixed: list[Stick] = []
    for stick in sticks:
        parts = Counter(key_of(p) for p in stick.layout.parts)
        if all(beyond[key] >= n for key, n in parts.items()):
            beyond -= parts
            bench.drop(stick)
        else:
            mixed.append(stick)
    for stick in mixed:
        if not beyond:
            break
        gone = _indexes(stick, beyond)
        if gone:
            beyond -= Counter(key_of(stick.layout.parts[i]) for i in gone)
            if whole:
                bench.drop(stick)
            else:
                _take_off(bench, state, stick, gone)
    return bench.state()


def _indexes(stick: Stick, beyond: Counter[Key]) -> list[int]:
    left = Counter(beyond)
    found = []
    for i, part in enumerate(stick.layout.parts):
        if left[key_of(part)] > 0:
            left[key_of(part)] -= 1
            found.append(i)
    return found

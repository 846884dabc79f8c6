"""What is usable of damaged stock, offered to smaller pieces that other layouts would give.

Moving a piece from one layout to another only pays where something comes of it: a missing piece
takes its place, a whole piece of stock need not be cut, or what stays of it becomes worth keeping.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutopt.plan import Layout, Source
from cutopt.saw.floor.bench import Bench
from cutopt.saw.floor.lay import empty, put, without
from cutopt.saw.floor.rest import missing, waits
from cutopt.saw.floor.state import Piece, State, Stick, key_of

__all__ = ["fitting", "offered"]


def fitting(state: State, number: int) -> tuple[Piece, ...]:
    """The pieces still needed that a drop on the rack would take, the largest first.

    Those that are missing come before those that layouts not yet cut would give.
    """
    entry = state.rack.get(number)
    if entry is None or entry.kept is None:
        return ()
    layout = empty(entry.kept.offer, Source.ON_HAND, state.rules)
    lacking = {n.piece.key for n in missing(state)}
    keys = [n.piece for n in state.needed if n.piece.key in lacking or state.planned[n.piece.key]]
    found = [p for p in keys if put(layout, p, state.rules) is not None]
    return tuple(sorted(found, key=lambda p: (p.key not in lacking, *_largest(p))))


def offered(
    state: State, numbers: Sequence[int], group: frozenset[str], behind: str | None
) -> State:
    """The state with pieces moved onto usable drops (by the entries that kept them) where it pays.

    Missing pieces come first, longest first; then whole layouts that need not be cut; then drops
    that become worth keeping.
    """
    for number in numbers:
        entry = state.free_rack.get(number)
        if entry is None or entry.kept is None or entry.kept.offer.material not in group:
            continue
        fresh = empty(entry.kept.offer, Source.ON_HAND, state.rules)
        bench = Bench(state)
        layout = _in_place(state, bench, group, fresh)
        layout = _freed(state, bench, group, layout)
        layout = _keepable(state, bench, group, layout)
        if layout.parts:
            bench.add(layout, number, behind)
            state = bench.state()
    return state


def _largest(piece: Piece) -> tuple[int, int]:
    return (-piece.length * (piece.width or 1), -piece.length)


def _movable(
    state: State, bench: Bench, group: frozenset[str], layout: Layout
) -> Iterator[tuple[Stick, int, Layout]]:
    """Parts of open layouts that the usable drop takes beside what it has, the largest first.

    Of equal ones the one in the last layout, which nobody has looked at yet.
    """
    seen: dict[tuple[object, ...], tuple[Stick, int, Layout] | None] = {}
    for stick in reversed(tuple(bench.open(group))):
        if waits(state, stick) or stick.id in bench.fresh:
            continue
        for i, part in enumerate(stick.layout.parts):
            piece = state.pieces[key_of(part)]
            kind = (stick.layout.pattern, stick.drop is None, stick.layout.offer.row, piece.key)
            if kind not in seen:
                made = put(layout, piece, state.rules)
                seen[kind] = None if made is None else (stick, i, made)
    yield from sorted(
        (s for s in seen.values() if s is not None),
        key=lambda s: _largest(state.pieces[key_of(s[0].layout.parts[s[1]])]),
    )


def _in_place(state: State, bench: Bench, group: frozenset[str], layout: Layout) -> Layout:
    """A missing piece takes the place of a smaller one, which goes onto the usable drop."""
    lacking = [
        n.piece
        for n in missing(state)
        if n.piece.material in group and n.piece.jig not in state.waiting
        for _ in range(n.qty)
    ]
    for piece in sorted(lacking, key=_largest):
        for stick, i, made in _movable(state, bench, group, layout):
            rest = without(stick.layout, [i], state.rules)
            if rest is None and len(stick.layout.parts) == 1:
                rest = empty(stick.layout.offer, stick.layout.source, state.rules)
            after = None if rest is None else put(rest, piece, state.rules)
            if after is not None:
                bench.change(stick, after)
                layout = made
                break
    return layout


def _freed(state: State, bench: Bench, group: frozenset[str], layout: Layout) -> Layout:
    """Layouts all of whose parts the usable drop takes, the longest stock first."""
    sticks = sorted(bench.open(group), key=lambda s: (-s.layout.offer.length, -_used(s)))
    for stick in sticks:
        if waits(state, stick) or stick.id in bench.fresh or stick.drop is not None:
            continue
        made: Layout | None = layout
        for part in sorted(stick.layout.parts, key=lambda p: -p.length):
            made = put(made, state.pieces[key_of(part)], state.rules) if made else None
        if made is not None:
            bench.drop(stick)
            layout = made
    return layout


def _used(stick: Stick) -> int:
    return sum(p.length * (p.width or 1) for p in stick.layout.parts)


def _keepable(state: State, bench: Bench, group: frozenset[str], layout: Layout) -> Layout:
    """A part whose going makes a drop worth keeping where there was none."""
    for stick, i, made in _movable(state, bench, group, layout):
        if any(d.kept for d in stick.layout.drops):
            continue
        rest = without(stick.layout, [i], state.rules)
        if rest is not None and any(d.kept for d in rest.drops):
            bench.change(stick, rest)
            return made
    return layout

"""Can these carts be closed with at most so many open? Depth-first over the order of closing.

Customer search after Chu and Stuckey (Minimizing the maximum number of open stacks by customer
search, Principles and Practice of Constraint Programming 2009; from memory). A state is the set of
closed carts; to close the next one, all of its products are cut, which opens its neighbours. Carts
that lack the same neighbours close together, so a state keeps its carts in groups by what they
lack. `open` are the carts open between two moves; a move that opens `new` carts has open + |new|
at its worst.

What prunes, with why it loses nothing (N[X]: the closed neighbourhood of X; what is open after X
is closed, f(X) = |N[X] - X|, is submodular):

* Memo: a set of closed carts that failed once fails always.
* Subset: of two moves the one that opens a subset of the other's carts is as good.
* Definite: a move that, none opening less than a part of it, closes as many as it opens. For any
  order from here, the same order with this move first is nowhere worse, by submodularity, as the
  move's f is least among all sets between before and after.
* Better: where after move q a move p opens a single cart, p is definite there. If p could have
  been made before q and q after it, q has no chance that p has not.
* Dead: a move after which nothing can be closed within the limit.

Every state looked at counts as work, and so does every move weighed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

from cutopt.saw.stacks.bits import members
from cutopt.saw.stacks.groups import Groups, grouped, opened
from cutopt.saw.stacks.meter import Meter

__all__ = ["Answer", "decide"]

#: (net change of `open`, carts opened, what is opened, what is closed)
_Move: TypeAlias = tuple[int, int, int, int]
#: Linked list of sets closed, the latest first: (earlier, set).
_Trail: TypeAlias = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """`holds` is None where work ran out; `closing`: the carts in the order of closing."""

    holds: bool | None
    closing: tuple[int, ...] = ()


class _State:
    """Between two moves."""

    __slots__ = ("closed", "groups", "moves", "open", "trail")

    def __init__(self, closed: int, open_: int, groups: Groups, trail: _Trail) -> None:
        self.closed = closed
        self.open = open_
        self.groups = groups
        self.trail = trail
        self.moves: list[_Move] = []

    def play(self, new: int, closing: int) -> None:
        """Open `new`, then close what lacks nothing any more, `closing` before the others."""
        rest, gone = opened(self.groups, new)
        self.groups = rest
        self.closed |= gone
        self.open += new.bit_count() - gone.bit_count()
        self.trail = (self.trail, closing)
        if gone != closing:
            self.trail = (self.trail, gone & ~closing)

    def settle(self, most: int) -> None:
        """Make the moves that open a single cart: each is definite, in any order."""
        while self.open < most:
            single = [lacks for lacks in self.groups if not lacks & (lacks - 1)]
            if not single:
                return
            new = closing = 0
            for lacks in single:
                new |= lacks
                closing |= self.groups[lacks]
                self.trail = (self.trail, self.groups[lacks])
            rest, gone = opened(self.groups, new)
            self.groups = rest
            self.closed |= gone
            self.open += new.bit_count() - gone.bit_count()
            if gone != closing:
                self.trail = (self.trail, gone & ~closing)


def decide(near: Sequence[int], carts: int, most: int, meter: Meter) -> Answer:
    """Close all of `carts` with at most `most` open at once, or prove that none can.

    Parameters
    ----------
    near
        Each cart's neighbours, itself among them; those outside `carts` are left out.
    carts
        Which carts there are.
    most
        Open at once.
    meter
        What may be spent. A failed search remembers every closed set that it tried, some hundred
        bytes each.
    """
    failed: set[int] = set()
    stack: list[_State] = []
    state: _State | None = _State(0, 0, grouped(near, carts), ())
    while True:
        if state is not None:
            spent = _expand(state, most, failed)
            if not state.groups:
                meter.spend(spent)
                return Answer(True, _closing(state.trail))
            if not meter.spend(spent):
                return Answer(None)
            if state.moves:
                stack.append(state)
            else:
                failed.add(state.closed)
        if not stack:
            return Answer(False)
        state = stack[-1]
        if not state.moves:
            failed.add(state.closed)
            stack.pop()
            state = None
            continue
        _, _, new, closing = state.moves.pop()
        if state.closed | closing in failed:
            state = None
            continue
        state = _State(state.closed, state.open, state.groups, state.trail)
        state.play(new, closing)


def _expand(state: _State, most: int, failed: set[int]) -> int:
    """Make definite moves, then weigh what is left into `state.moves`, worst first; its work.

    No moves and groups left: the state fails.
    """
    work = 0
    while True:
        state.settle(most)
        work += 1
        if not state.groups or state.closed in failed:
            return work
        room = most - state.open
        near: list[tuple[int, int, int]] = []
        far: list[tuple[int, int]] = []
        for lacks, carts in state.groups.items():
            count = lacks.bit_count()
            if count <= room:
                near.append((count, lacks, carts))
            else:
                far.append((count, lacks))
        near.sort()
        least, definite = _least(near)
        if definite is None:
            break
        state.play(definite[2], definite[3])
    work += len(least)
    if len(state.groups) > 1:
        least = [m for m in _better(least, room) if _alive(m, room, near, far) and not m[0] >= room]
    state.moves = sorted((m for m in least if state.closed | m[3] not in failed), reverse=True)
    return work


def _least(near: Sequence[tuple[int, int, int]]) -> tuple[list[_Move], _Move | None]:
    """The moves of which none opens a part of another's carts, and a definite one among them.

    `near`: (carts opened, what is opened, what is closed), fewest opened first.
    """
    least: list[_Move] = []
    for count, new, closing in near:
        outside = ~new
        for other in least:
            if not other[2] & outside:
                break
        else:
            move = (count - closing.bit_count(), count, new, closing)
            if move[0] <= 0:
                return least, move
            least.append(move)
    return least, None


def _better(moves: Sequence[_Move], room: int) -> list[_Move]:
    """Moves without those that another stands for.

    Twice over the list: each is held against those kept before it, then, from the end, against all
    that are still kept; so whoever goes leaves one behind that stands for it.
    """
    kept: list[_Move] = []
    for move in moves:
        if not _stood_for(move, kept, room):
            kept.append(move)
    after: list[_Move] = []
    while kept:
        move = kept.pop()
        if not (_stood_for(move, kept, room) or _stood_for(move, after, room)):
            after.append(move)
    return after


def _stood_for(move: _Move, others: Sequence[_Move], room: int) -> bool:
    """Whether one of the others would follow as a single cart and could come first."""
    net, _, new, _ = move
    if net >= room:
        return False
    outside = ~new
    for other in others:
        then = other[2] & outside
        if not then & (then - 1) and (new & ~other[2]).bit_count() <= room - other[0]:
            return True
    return False


def _alive(
    move: _Move,
    room: int,
    near: Sequence[tuple[int, int, int]],
    far: Sequence[tuple[int, int]],
) -> bool:
    """Whether anything can be closed after a move."""
    net, count, new, _ = move
    room -= net
    outside = ~new
    for _, lacks, _ in near:
        if lacks != new and (lacks & outside).bit_count() <= room:
            return True
    reach = room + count
    return any(c <= reach and (lacks & outside).bit_count() <= room for c, lacks in far)


def _closing(trail: _Trail) -> tuple[int, ...]:
    """The carts of a trail in the order of closing."""
    sets: list[int] = []
    while trail:
        sets.append(trail[1])
        trail = trail[0]
    return tuple(cart for carts in reversed(sets) for cart in members(carts))

"""Can these carts be closed with at most so many open? Depth-first over the order of closing.

Customer search after Chu and Stuckey (Minimizing the maximum number of open stacks by customer
search, Principles and Practice of Constraint Programming 2009; from memory). A state is the set of
closed carts; to close the next one, all of its products are cut, which opens its neighbours. Carts
that lack the same neighbours close together, so a state keeps its carts in groups by what they
lack. `open` are the carts open between two moves; a move that opens `new` carts has open + |new|
at its worst.

What prunes, with why it loses nothing (N[X]: the closed neighbourhood of X; what is open after X
is closed, f(X) = |N[X] - X|, is submodular):

* Memo: what failed once fails always. Carts close as soon as they can, so what was opened by now
  tells what is closed.
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

from cutopt.saw.stacks.bits import bits_of, members
from cutopt.saw.stacks.groups import Groups, grouped, opened
from cutopt.saw.stacks.meter import Meter

__all__ = ["Answer", "decide"]

#: (net change of `open`, carts opened, what is opened)
_Move: TypeAlias = tuple[int, int, int]
#: Linked list of sets opened, the latest first: (earlier, set).
_Trail: TypeAlias = tuple[Any, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """`holds` is None where work ran out; `closing`: the carts in the order of closing."""

    holds: bool | None
    closing: tuple[int, ...] = ()


class _State:
    """Between two moves: what is open or closed by now, and the groups of the other carts."""

    __slots__ = ("groups", "moves", "open", "opened", "trail")

    def __init__(self, opened_: int, open_: int, groups: Groups, trail: _Trail) -> None:
        self.opened = opened_
        self.open = open_
        self.groups = groups
        self.trail = trail
        #: Still to be tried, the best last: what each opens, and what follows as single carts.
        self.moves: list[tuple[int, int]] = []

    def play(self, new: int, single: int = 0) -> None:
        """Open `new`, then the carts of `single` one by one, and close what lacks nothing more."""
        self.groups, gone = opened(self.groups, new | single)
        self.opened |= new | single
        self.open += new.bit_count() + single.bit_count() - gone.bit_count()
        if new:
            self.trail = (self.trail, new)
        while single:
            low = single & -single
            self.trail = (self.trail, low)
            single ^= low

    def settle(self, most: int) -> None:
        """Make the moves that open a single cart: each is definite, in any order."""
        while self.open < most:
            single = 0
            for lacks in self.groups:
                if not lacks & (lacks - 1):
                    single |= lacks
            if not single:
                return
            self.play(0, single)


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
                return Answer(True, _closing(near, carts, state.trail))
            if not meter.spend(spent):
                return Answer(None)
            if state.moves:
                stack.append(state)
            else:
                failed.add(state.opened)
        if not stack:
            return Answer(False)
        state = stack[-1]
        if not state.moves:
            failed.add(state.opened)
            stack.pop()
            state = None
            continue
        new, single = state.moves.pop()
        if state.opened | new | single in failed:
            state = None
            continue
        state = _State(state.opened, state.open, state.groups, state.trail)
        state.play(new, single)


def _expand(state: _State, most: int, failed: set[int]) -> int:
    """Make definite moves, then weigh what is left into `state.moves`, worst first; its work.

    No moves and groups left: the state fails.
    """
    work = 0
    while True:
        state.settle(most)
        work += 1
        if not state.groups or state.opened in failed:
            return work
        room = most - state.open
        near: list[tuple[int, int]] = []
        far: list[tuple[int, int]] = []
        for lacks in state.groups:
            count = lacks.bit_count()
            (near if count <= room else far).append((count, lacks))
        near.sort()
        least, definite = _least(near, state.groups)
        if not definite:
            break
        state.play(definite)
    work += len(least)
    if len(state.groups) == 1:
        state.moves = [(new, 0) for _, _, new in least]
        return work
    least = _better([m for m in least if m[0] < room], room)
    if least:
        # After a move nothing further away than this comes within reach.
        reach = room + max(count - net for net, count, _ in least)
        others = [lacks for _, lacks in near]
        others += [lacks for count, lacks in far if count <= reach]
        weighed = sorted(least, reverse=True)
        for net, _, new in weighed:
            alive, single = _after(new, room - net, others)
            if alive and state.opened | new | single not in failed:
                state.moves.append((new, single))
    return work


def _least(near: Sequence[tuple[int, int]], groups: Groups) -> tuple[list[_Move], int]:
    """The moves of which none opens a part of another's carts; what a definite one opens, or 0.

    `near`: (carts opened, what is opened), fewest opened first.
    """
    least: list[_Move] = []
    for count, new in near:
        outside = ~new
        for other in least:
            if not other[2] & outside:
                break
        else:
            net = count - groups[new].bit_count()
            if net <= 0:
                return least, new
            least.append((net, count, new))
    return least, 0


def _better(moves: Sequence[_Move], room: int) -> list[_Move]:
    """Moves without those that another stands for; each leaves room for a single cart.

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
    new = move[2]
    outside = ~new
    for net, _, other in others:
        then = other & outside
        if not then & (then - 1) and (new & ~other).bit_count() <= room - net:
            return True
    return False


def _after(new: int, room: int, others: Sequence[int]) -> tuple[bool, int]:
    """Whether anything can be closed after a move, and the carts that follow it singly."""
    outside = ~new
    single = 0
    alive = False
    for lacks in others:
        lacks &= outside
        if not lacks & (lacks - 1):
            single |= lacks
        elif not alive:
            alive = lacks.bit_count() <= room
    return alive or single != 0, single


def _closing(near: Sequence[int], carts: int, trail: _Trail) -> tuple[int, ...]:
    """The carts in the order in which they close along a trail."""
    sets: list[int] = []
    while trail:
        sets.append(trail[1])
        trail = trail[0]
    order: list[int] = []
    left, shut = carts, ~carts
    for new in reversed(sets):
        shut |= new
        now = [c for c in members(left) if not near[c] & ~shut]
        order += now
        left &= ~bits_of(now)
    return tuple(order)

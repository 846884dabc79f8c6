"""Every column that a better plan could use, listed for the exact end of a search.

With worths that no pattern passes, a plan costs what its pieces are worth plus what its columns
cost beyond their worth. So no column that costs more beyond its worth than the gap leaves can be
part of a better plan. All of this is in whole numbers.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np

from cutopt.solve.lumber.bound import Worths
from cutopt.solve.lumber.master import RunColumn
from cutopt.solve.lumber.model import Cuts, Ints, Model, Pattern
from cutopt.solve.lumber.pricing import PatternPricer
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.runs import Run, Unit

__all__ = ["TooManyError", "list_patterns", "list_ways"]

#: Contents of sticks that are held at once for each pattern that is asked for: some can hold more.
_CONTENTS = 3
#: The most ways of one run that are listed.
_MOST_WAYS = 4_000
#: The most joints looked at on the way.
_MOST_STEPS = 100_000
#: The most pairs of ways that are held against each other.
_MOST_PAIRS = 200_000


class TooManyError(Exception):
    """More columns than asked for: nothing can be proved from a part of them."""


def list_patterns(pricer: PatternPricer, worths: Worths, slack: int, most: int) -> list[Pattern]:
    """Every pattern that costs at most `slack` beyond its worth.

    Patterns to which a piece could be added on the same stick at the same cost are left out.

    Raises
    ------
    TooManyError
        There are more than `most`.
    """
    found: list[Pattern] = []
    for g in range(len(pricer.model.grids)):
        found += _of_grid(pricer, worths, g, slack, most - len(found))
    return found


def _of_grid(pricer: PatternPricer, worths: Worths, g: int, slack: int, most: int) -> list[Pattern]:
    model = pricer.model
    grid = model.grids[g]
    stocks = model.stocks_of[g]
    room = max(model.stocks[k].room for k in stocks)
    # The least that a stick costs by what it uses, a limited one with what it is worth to have it.
    far = np.iinfo(np.int64).max // 4
    least = np.full(room + 1, far, np.int64)
    for k in stocks:
        cost = worths.costs[k] + worths.gain[k]
        np.minimum(least[: len(cost)], cost, out=least[: len(cost)])
    # By kind, how far the rest can get below its cost from each place: exact, so that the search
    # below enters nothing that leads nowhere.
    kinds, weights = grid.kinds.tolist(), grid.weight.tolist()
    copies = [
        int(min(pricer.most_copies[i], room // w)) for i, w in zip(kinds, weights, strict=True)
    ]
    ahead: list[Ints] = [-least]
    for i, w, n in zip(reversed(kinds), reversed(weights), reversed(copies), strict=True):
        ahead.append(_with(ahead[-1], int(worths.piece[i]), w, n))
    ahead.reverse()
    used, value, parts, last = (np.zeros(1, np.int64) for _ in range(4))
    # What was put in: the contents before, and how many of which kind more; 0 is nothing.
    before, piece, number = (np.zeros(1, np.int64) for _ in range(3))
    for at, (i, w) in enumerate(zip(kinds, weights, strict=True)):
        p = int(worths.piece[i])
        grown = [(used, value, parts, last)]
        for q in range(1, copies[at] + 1):
            u, v, count = used + q * w, value + q * p, parts + q
            fits = u <= room if grid.most is None else (u <= room) & (count <= grid.most)
            if not fits.any():
                break
            u, v, count, old = u[fits], v[fits], count[fits], last[fits]
            good = v + ahead[at + 1][u] >= -slack
            u, v, count, old = u[good], v[good], count[good], old[good]
            grown.append((u, v, count, len(before) + np.arange(len(u))))
            before = np.concatenate([before, old])
            piece = np.concatenate([piece, np.full(len(u), i)])
            number = np.concatenate([number, np.full(len(u), q)])
        good = value + ahead[at + 1][used] >= -slack
        grown[0] = (used[good], value[good], parts[good], last[good])
        used, value, parts, last = (np.concatenate(c) for c in zip(*grown, strict=True))
        if len(used) > _CONTENTS * most + 10_000:
            raise TooManyError
    found: list[Pattern] = []
    chain = list(zip(before.tolist(), piece.tolist(), number.tolist(), strict=True))
    for place, worth, end in zip(used.tolist(), value.tolist(), last.tolist(), strict=True):
        cuts: list[tuple[int, int]] = []
        while end:
            end, i, q = chain[end]
            cuts.append((i, q))
        if cuts:
            cuts.reverse()
            _close(model, worths, g, slack, place, worth, tuple(cuts), pricer.most_copies, found)
            if len(found) > most:
                raise TooManyError
    return found


def _with(ahead: Ints, p: int, w: int, n: int) -> Ints:
    """How far the rest gets where up to `n` pieces of a kind may be put in first."""
    best = ahead.copy()
    q = 1
    while n > 0:
        q = min(q, n)
        if q * w < len(best):
            np.maximum(best[: -q * w], best[q * w :] + q * p, out=best[: -q * w])
        n -= q
        q *= 2
    return best


def _close(
    model: Model,
    worths: Worths,
    g: int,
    slack: int,
    used: int,
    value: int,
    cuts: Cuts,
    most_copies: Ints,
    found: list[Pattern],
) -> None:
    """The sticks from which a content is worth cutting."""
    best_free: Fraction | None = None
    choices: list[tuple[Fraction, int, Pattern]] = []
    for k in model.stocks_of[g]:
        stock = model.stocks[k]
        if used > stock.room:
            continue
        if int(worths.costs[k][used]) + worths.gain[k] - value > slack:
            continue
        pattern = model.pattern(k, cuts)
        choices.append((pattern.cost, k, pattern))
        if stock.available is None and (best_free is None or pattern.cost < best_free):
            best_free = pattern.cost
    taken_free = False
    for cost, k, pattern in sorted(choices, key=lambda c: c[:2]):
        if model.stocks[k].available is None:
            if taken_free:
                continue
            taken_free = True
        elif best_free is not None and cost >= best_free:
            continue
        if not _can_hold_more(model, pattern, most_copies):
            found.append(pattern)


def _can_hold_more(model: Model, pattern: Pattern, most_copies: Ints) -> bool:
    """Whether a piece fits beside at no cost."""
    stock = model.stocks[pattern.stock]
    grid = model.grids[stock.grid]
    count = dict(pattern.cuts)
    if grid.most is not None and sum(count.values()) >= grid.most:
        return False
    rest = stock.room - pattern.used
    for i, w in zip(grid.kinds.tolist(), grid.weight.tolist(), strict=True):
        if (
            w <= rest
            and not model.tight[i]
            and model.allows(pattern.stock, pattern.used + w)
            and count.get(i, 0) < most_copies[i]
            and model.cost(pattern.stock, pattern.used + w) == pattern.cost
        ):
            return True
    return False


def list_ways(runs: RunPricer, worths: Worths, slack: int, most: int) -> list[RunColumn]:
    """Every way to joint a unit that costs at most `slack` beyond its worth, one for equal pieces.

    Raises
    ------
    TooManyError
        There are more than `most`, or more are to be looked at than is worth the while.
    """
    if not len(runs):
        return []
    pieces = runs.pieces(worths.piece, worths.scale)
    found: dict[tuple[int, Cuts], RunColumn] = {}
    for u, unit in enumerate(runs.units):
        reach = worths.unit[u] + slack
        ways = [_Ways(runs, run, pieces) for run in unit.runs]
        rest = reach - sum(w.least for w in ways)
        # With nothing to keep clear of, the pieces between joints may stand in any order.
        lists = [w.all(rest + w.least, len(ways) == 1) for w in ways]
        for way in _together(unit, lists, reach):
            column = runs.column(u, tuple(j for _, j, _ in way), [o for *_, o in way])
            before = found.setdefault((u, column.cuts), column)
            if column.cost < before.cost:
                found[u, column.cuts] = column
        if len(found) > most:
            raise TooManyError
    return list(found.values())


#: The value of a way to make a run, its joints, the options of its pieces behind them.
_Way = tuple[int, tuple[int, ...], tuple[int, ...]]


def _together(unit: Unit, lists: Sequence[Sequence[_Way]], reach: int) -> Iterator[list[_Way]]:
    """One way of each run, with every clearance kept, of at most this value together."""
    least = [min((v for v, *_ in some), default=0) for some in lists]
    ahead = [sum(least[r:]) for r in range(len(lists) + 1)]
    clear = [[(i, gap) for i, j, gap in unit.clear if j == r] for r in range(len(lists))]
    looked = 0

    def more(chosen: list[_Way], value: int) -> Iterator[list[_Way]]:
        nonlocal looked
        r = len(chosen)
        if r == len(lists):
            yield chosen
            return
        looked += len(lists[r]) if r else 0
        if looked > _MOST_PAIRS:
            raise TooManyError
        for way in lists[r]:
            if value + way[0] + ahead[r + 1] > reach:
                continue
            if all(abs(x - y) >= gap for i, gap in clear[r] for x in chosen[i][1] for y in way[1]):
                yield from more([*chosen, way], value + way[0])

    return more([], 0)


class _Ways:
    """The ways of one run: what the rest costs at least from each place."""

    def __init__(
        self, runs: RunPricer, run: Run, pieces: Sequence[tuple[int, list[tuple[int, int]]]]
    ) -> None:
        self.run = run
        self.ends = [*run.places, run.length]
        index = runs.pricer.index
        #: By length, what it costs at the run's start, and behind a joint by option.
        self.value = {n: pieces[index[run.cut(n)]] for n in run.piece_lengths}
        n = len(self.ends)
        self.rest: list[int | None] = [None] * n
        self.rest[n - 1] = 0
        self.next: list[list[tuple[int, int, int]]] = [[] for _ in range(n)]
        for k in range(n - 2, -1, -1):
            self._look(k, self.ends[k])
        self.start: list[tuple[int, int]] = []
        totals = []
        for j in range(n):
            found, rest = self._piece(0, j), self.rest[j]
            if found is not None and rest is not None:
                self.start.append((j, found[0]))
                totals.append(found[0] + rest)
        self.least = min(totals)

    def _piece(self, start: int, j: int) -> tuple[int, list[tuple[int, int]]] | None:
        length = self.ends[j] - start
        whole = start == 0 and j == len(self.ends) - 1
        return self.value.get(length) if whole or self.run.fits(length) else None

    def _look(self, k: int, start: int) -> None:
        best: int | None = None
        for j in range(k + 1, len(self.ends)):
            found, rest = self._piece(start, j), self.rest[j]
            if found is not None and rest is not None:
                for value, option in found[1]:
                    self.next[k].append((j, value, option))
                    best = value + rest if best is None else min(best, value + rest)
        self.rest[k] = best

    def all(self, reach: int, ordered: bool) -> list[_Way]:
        """Every way of at most this value.

        `ordered`: of ways that differ in the order of the pieces between joints alone, one.
        """
        found: list[_Way] = []
        last = len(self.ends) - 1
        walk: list[tuple[int, int, tuple[int, int], tuple[int, ...], tuple[int, ...]]]
        walk = [(j, v, (0, 0), (), ()) for j, v in self.start]
        steps = 0
        while walk:
            j, value, before, joints, options = walk.pop()
            rest = self.rest[j]
            if rest is None or value + rest > reach:
                continue
            if j == last:
                found.append((value, joints, options))
            steps += 1
            if len(found) > _MOST_WAYS or steps > _MOST_STEPS:
                raise TooManyError
            here = (*joints, self.ends[j])
            for to, v, option in self.next[j]:
                piece = (self.ends[to] - self.ends[j], option)
                if to == last or piece >= before:
                    kept = piece if ordered else (0, 0)
                    walk.append((to, value + v, kept, here, (*options, option)))
        return found

"""Which lengths to buy: every choice bounded at once, the promising ones searched.

Once it is decided what is bought from, and nothing runs out, each row takes the cheapest board
that covers it and each field the cheapest mix. What does run out, or must be bought in numbers,
has a price; at the best prices found every choice has a bound, and only those below the best plan
are searched, the lowest first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from cutopt.solve.ceiling.listed import Listed
from cutopt.solve.ceiling.model import BoardModel
from cutopt.solve.ceiling.rounding import Rounder
from cutopt.solve.ceiling.states import (
    Option,
    Prices,
    Relaxed,
    governed,
    options_of,
)
from cutopt.solve.ceiling.table import Table
from cutopt.solve.ceiling.tree import Found, Tree, settle
from cutopt.solve.search import Watch

__all__ = ["least_cost", "search"]

#: Work of a relaxation that is bounded once to say what one more length would save.
_QUICK = 30_000_000
#: Nodes of the search where lengths are not chosen first, of one choice, of all choices.
_NODES = 400
_NODES_EACH = 60
_NODES_ALL = 600
#: Steps of the prices, and how many without gain halve them.
_STEPS = 200
_PATIENCE = 8
#: Choices that are searched one by one (times variables), and that are tried for a plan before.
_SEARCHED = 200
_SEARCHING = 1_500_000
_ONE_OF = 8
_TRIED = 40
#: Work of the steps, in numbers touched.
_PRICING = 300_000_000
#: Variables of a model that is still given to the general solver.
_SETTLED = 3_000
#: Variables × nodes of one search.
_WORK = 400_000


def search(build: BoardModel, watch: Watch) -> Found:
    """The best plan of the model and its bound."""
    tree = Tree(build.model)
    rounder = Rounder(build)
    relaxation = _relaxation(build)
    if relaxation is None:
        found = tree.search(rounder.rounded, build.round_up, _NODES, watch)
        return settle(build.model, found, watch)
    return _Lengths(build, relaxation, tree, rounder, watch).search()


def least_cost(build: BoardModel) -> int | None:
    """What every choice of lengths costs at least, in the model's unit; None where that takes long.

    Lengths of one material alone, and not too many choices of them, can be bounded at once.
    """
    relaxation = _relaxation(build)
    if relaxation is None or relaxation.effort > _QUICK:
        return None
    relaxation.price(Prices())
    return relaxation.least()


def _relaxation(build: BoardModel) -> Table | Listed | None:
    material = governed(build)
    options = None if material is None else options_of(build, material)
    if material is None or options is None:
        return None
    for room in (Table, Listed):
        if room.fits(build, material, options):
            return room(build, material, options)
    return None


class _Lengths:
    """One search over the lengths of a material."""

    def __init__(
        self,
        build: BoardModel,
        relaxation: Table | Listed,
        tree: Tree,
        rounder: Rounder,
        watch: Watch,
    ) -> None:
        self.build, self.relaxation, self.tree = build, relaxation, tree
        self.rounder, self.watch = rounder, watch
        self.best: tuple[int, tuple[int, ...]] | None = None
        self.bound = 0
        self.prices = self.now = Prices()
        self.tried: set[tuple[tuple[int, ...], tuple[int, ...]]] = set()
        self.free = frozenset(
            i
            for i in build.used
            if build.group.offers[i].material not in build.lengths and i not in build.opened
        )

    def search(self) -> Found:
        build = self.build
        self._step()
        if self._done():
            return self._found(0)
        self.relaxation.price(self.prices)
        nodes, least, chosen = 0, None, 0
        # Where rows are told apart the model is one of several that are solved.
        size = len(build.model.cost) * (1 if build.plain else _ONE_OF)
        most = max(10 if build.plain else 2, min(_SEARCHED, _SEARCHING // size))
        each = max(1, min(_NODES_EACH, _WORK // size))
        for bound, choice in self.relaxation.ranking():
            bound = build.round_up(max(bound, self.bound))
            if self.best is not None and bound >= self.best[0]:
                least = bound if least is None else min(least, bound)
                break
            if chosen >= most or nodes >= each * 10 or self.watch.stop():
                least = bound if least is None else min(least, bound)
                break
            chosen += 1
            self._try(self.relaxation.relaxed(choice))
            if self.best is not None and bound >= self.best[0]:
                continue
            found = self.tree.search(
                self.rounder.rounded,
                build.round_up,
                each,
                self.watch,
                self._fixed(choice),
                None if self.best is None else self.best[0],
            )
            nodes += found.nodes
            self._take(found)
            if found.bound is not None:
                open_at = max(bound, found.bound)
                least = open_at if least is None else min(least, open_at)
        if self.best is None:
            return settle(build.model, Found(None, 0, least or 0, nodes), self.watch)
        if least is not None:
            self.bound = max(self.bound, min(least, self.best[0]))
        else:
            self.bound = self.best[0]
        if size > _SETTLED:
            return self._found(nodes)
        return settle(build.model, self._found(nodes), self.watch)

    def _found(self, nodes: int) -> Found:
        if self.best is None:
            return Found(None, 0, self.bound, nodes)
        return Found(self.best[1], self.best[0], min(self.bound, self.best[0]), nodes)

    def _done(self) -> bool:
        return self.best is not None and self.bound >= self.best[0]

    def _take(self, found: Found) -> None:
        if found.values is not None and (self.best is None or found.cost < self.best[0]):
            self.best = (found.cost, found.values)

    def _try(self, relaxed: Relaxed) -> None:
        """The plan that a relaxation leans to."""
        opened = frozenset(i for i, bought in relaxed.states if bought) | self.free
        key = (tuple(sorted(opened)), relaxed.laid)
        if key in self.tried:
            return
        self.tried.add(key)
        copies = zip(self.build.fields, relaxed.laid, strict=True)
        laid = [[f.copies if j == n else 0 for j in range(len(f.mixes))] for f, n in copies]
        trial = self.rounder.whole(laid, opened)
        cost = None if trial is None else self.tree.checked(trial)
        if trial is not None and cost is not None and (self.best is None or cost < self.best[0]):
            self.best = (cost, tuple(trial))

    def _step(self) -> None:
        """Prices on what limits the choices, each step towards what is used too much."""
        steps = max(2, min(_STEPS, _PRICING // max(1, self.relaxation.effort)))
        pace, idle, now = 1.0, 0, self.prices
        for n in range(steps):
            self.now = now
            self.relaxation.price(now)
            if self.relaxation.least() is None:
                return
            relaxed = self.relaxation.relaxed()
            bound = self.build.round_up(max(relaxed.bound, 0))
            if bound > self.bound or not n:
                self.bound, self.prices, idle = max(bound, self.bound), now, 0
            else:
                idle += 1
                if idle >= _PATIENCE:
                    pace, idle = pace / 2, 0
            if len(self.tried) < _TRIED:
                self._try(relaxed)
            slack = self._slack(relaxed)
            if self._done() or not slack or self.watch.stop():
                return
            goal = relaxed.bound * 1.01 if self.best is None else self.best[0]
            norm = sum(float(v) ** 2 for v in slack.values())
            step = pace * max(goal - relaxed.bound, 1) / norm
            now = self._moved(now, slack, step)

    def _slack(self, relaxed: Relaxed) -> dict[tuple[int, bool, bool], int]:
        """Per tie, boards used beyond it (least orders: boards lacking); those that are kept and
        have no price are left out. Keys are (offer, bought, whether it is the least order)."""
        found: dict[tuple[int, bool, bool], int] = {}
        for state in relaxed.states:
            i, bought = state
            o = self.build.group.offers[i]
            used = relaxed.used.get(state, 0)
            if not bought or o.limit is not None:
                over = used - o.on_hand - (o.limit or 0 if bought else 0)
                if over > 0 or (over < 0 and self.now.tie.get(state)):
                    found[i, bought, False] = over
            if bought and i in self.build.opened:
                lack = o.min_order - used
                if lack > 0 or (lack < 0 and self.now.share.get(i, 0)):
                    found[i, bought, True] = lack
        return found

    def _moved(self, now: Prices, slack: dict[tuple[int, bool, bool], int], step: float) -> Prices:
        tie, share = dict(now.tie), dict(now.share)
        for (i, bought, least), over in slack.items():
            if least:
                moved = share.get(i, 0) + int(step * over)
                share[i] = min(max(moved, 0), self.build.costs[i])
            else:
                tie[i, bought] = max(0, tie.get((i, bought), 0) + int(step * over))
        return replace(now, tie=tie, share=share)

    def _fixed(self, choice: Sequence[Option]) -> dict[int, int]:
        """The model's variables as a choice sets them."""
        build = self.build
        opened = {i for o in choice for i in o.opened}
        counted = {
            (build.group.offers[i].material, build.group.offers[i].length) for i in opened
        } | build.forced
        fixed = {y: int(key in counted) for key, y in build.bought.items()}
        return fixed | {z: int(i in opened) for i, z in build.opened.items()}

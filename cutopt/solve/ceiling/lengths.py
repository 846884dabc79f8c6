"""Which lengths to buy: every choice bounded at once, the promising ones searched.

Once the lengths are chosen and none runs out, each row takes the cheapest board that covers it and
each field the cheapest mix: that cost is exact. Boards on hand of other lengths can lower it, each
by no more than it saves on the dearest row that it covers. So every choice has a bound, and only
those below the best plan are searched.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from math import comb

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.ceiling.model import BoardModel, Rounder
from cutopt.solve.ceiling.tree import Found, Tree, settle
from cutopt.solve.search import Watch

__all__ = ["least_cost", "search"]

Ints = NDArray[np.int64]

#: Most choices of lengths that are looked at one by one.
_CHOICES = 20_000
#: And most that are bounded to say what one more length would save.
_QUICK = 1_500
#: Nodes of the search where lengths are not chosen first, of one choice, of all choices.
_NODES = 400
_NODES_EACH = 60
_NODES_ALL = 600
#: Stands for a row that nothing covers; times the rows of a field it still fits.
_NONE = 10**14


def search(build: BoardModel, watch: Watch) -> Found:
    """The best plan of the model and its bound."""
    tree = Tree(build.model)
    rounder = Rounder(build)
    choices = _choices(build, _CHOICES)
    if choices is not None:
        return choices.search(tree, rounder, watch)
    found = tree.search(rounder.rounded, build.round_up, _NODES, watch)
    return settle(build.model, found, watch)


def least_cost(build: BoardModel) -> int | None:
    """What every choice of lengths costs at least, in the model's unit; None where that takes long.

    Lengths of one material alone, and not too many choices of them, can be bounded at once.
    """
    choices = _choices(build, _QUICK)
    return None if choices is None else min((b for b, _, _ in choices.bounds()), default=None)


def _choices(build: BoardModel, many: int) -> _Choices | None:
    """All choices of lengths, where one material alone has them and there are not too many."""
    materials = [m for m in build.lengths if any(name == m for name, _ in build.bought)]
    if len(materials) != 1 or build.shorts:
        return None
    offered = sorted(length for name, length in build.bought if name == materials[0])
    most = max(0, min(build.lengths[materials[0]], len(offered)))
    if comb(len(offered), most) > many:
        return None
    return _Choices(build, materials[0], offered, most)


class _Choices:
    """All choices of `most` of the `offered` lengths of one material."""

    def __init__(self, build: BoardModel, material: str, offered: list[int], most: int) -> None:
        self.build, self.material, self.offered, self.most = build, material, offered, most
        offers, m = build.group.offers, build.model
        self.keys = list(build.rows)
        at = {key: n for n, key in enumerate(self.keys)}
        column = {length: n for n, length in enumerate(offered)}
        #: Cost of a row by length bought, and of what needs no length of this material.
        self.bought: Ints = np.full((len(offered), len(self.keys)), _NONE, dtype=np.int64)
        self.other: Ints = np.full(len(self.keys), _NONE, dtype=np.int64)
        #: Boards on hand: offer, column of its length, and what each row costs with it.
        self.on_hand: list[tuple[int, int, Ints]] = []
        for i in build.used:
            o = offers[i]
            costs = np.full(len(self.keys), _NONE, dtype=np.int64)
            for key, n in at.items():
                if (i, key[2]) in build.cut and o.material == key[0] and o.width == key[1]:
                    costs[n] = m.cost[build.cut[i, key[2]]]
            if not (costs < _NONE).any():
                continue
            if o.material != material:
                self.other = np.minimum(self.other, costs)
                continue
            if o.limit != 0:
                c = column[o.length]
                self.bought[c] = np.minimum(self.bought[c], costs)
            if o.on_hand:
                self.on_hand.append((o.on_hand, column[o.length], costs))
        widest = max(len(mix.rows) for f in build.fields for mix in f.mixes)
        mixes = [(f, mix) for f in build.fields for mix in f.mixes]
        self.row_of: NDArray[np.intp] = np.zeros((len(mixes), widest), dtype=np.intp)
        self.times: Ints = np.zeros((len(mixes), widest), dtype=np.int64)
        for n, (f, mix) in enumerate(mixes):
            for k, (width, rows) in enumerate(mix.rows):
                self.row_of[n, k] = at[mix.material, width, f.span]
                self.times[n, k] = rows
        self.credit: Ints = np.array(
            [m.cost[v] for variables in build.laid for v in variables], dtype=np.int64
        )
        sizes = [len(f.mixes) for f in build.fields]
        self.begin = np.cumsum([0, *sizes[:-1]])
        self.copies: Ints = np.array([f.copies for f in build.fields], dtype=np.int64)

    def _sets(self) -> Iterator[tuple[int, ...]]:
        forced = {n for n, x in enumerate(self.offered) if (self.material, x) in self.build.forced}
        for chosen in combinations(range(len(self.offered)), self.most):
            if forced <= set(chosen):
                yield chosen

    def _rows(self, chosen: tuple[int, ...]) -> Ints:
        if not chosen:
            return self.other
        rows: Ints = np.minimum(self.other, self.bought[list(chosen)].min(axis=0))
        return rows

    def _mixes(self, rows: Ints) -> Ints:
        costs: Ints = (self.times * rows[self.row_of]).sum(axis=1) + self.credit
        return costs

    def bounds(self) -> list[tuple[int, int, tuple[int, ...]]]:
        """(bound, cost if nothing runs out, choice) of every choice, the lowest bound first.

        A cost of `_NONE` says that what is bought covers not every field. Choices whose rows even
        the boards on hand are too few for are left out.
        """
        found = []
        for chosen in self._sets():
            rows = self._rows(chosen)
            cost = self._cost(rows)
            others = [(n, costs) for n, column, costs in self.on_hand if column not in chosen]
            if cost >= _NONE:
                bare = rows >= _NONE
                # Only boards on hand cover these rows.
                least = np.minimum.reduceat(
                    (self.times * bare[self.row_of]).sum(axis=1), self.begin
                )
                there = sum(n for n, costs in others if (costs[bare] < _NONE).any())
                if int(least @ self.copies) > there:
                    continue
                for _, costs in others:
                    rows = np.where(bare, np.minimum(rows, costs), rows)
            bound = self._cost(rows)
            if bound >= _NONE:
                continue
            for boards, costs in others:
                covered = (costs < _NONE) & (rows < _NONE)
                gain = np.maximum(rows - costs, 0)[covered].max(initial=0)
                bound -= boards * int(gain)
            found.append((self.build.round_up(max(bound, 0)), cost, chosen))
        return sorted(found)

    def _cost(self, rows: Ints) -> int:
        per = np.minimum.reduceat(self._mixes(rows), self.begin)
        if (per >= _NONE).any():
            return _NONE
        return int(per @ self.copies)

    def search(self, tree: Tree, rounder: Rounder, watch: Watch) -> Found:
        """Plain plans of the cheapest choices first, then the tree where it may gain."""
        build = self.build
        best: tuple[int, tuple[int, ...]] | None = None
        ranked = self.bounds()
        for _, cost, chosen in sorted(ranked, key=lambda r: r[1])[:_NODES_EACH]:
            if cost >= _NONE or (best is not None and cost >= best[0]):
                break
            trial = rounder.whole(self._laid(chosen), self._names(chosen))
            checked = None if trial is None else tree.checked(trial)
            better = checked is not None and (best is None or checked < best[0])
            if trial is not None and checked is not None and better:
                best = (checked, tuple(trial))
        nodes = 0
        bounds: list[int] = []
        for bound, _, chosen in ranked:
            if best is not None and bound >= best[0]:
                break
            if nodes >= _NODES_ALL or watch.stop():
                bounds.append(bound)
                continue
            names = self._names(chosen)
            fixed = {y: int(key in names) for key, y in build.bought.items()}
            found = tree.search(
                rounder.rounded,
                build.round_up,
                _NODES_EACH,
                watch,
                fixed,
                None if best is None else best[0],
            )
            nodes += found.nodes
            if found.values is not None and (best is None or found.cost < best[0]):
                best = (found.cost, found.values)
            if found.bound is not None:
                bounds.append(max(bound, found.bound))
        least = min(bounds, default=None if best is None else best[0])
        if best is None:
            return settle(build.model, Found(None, 0, least or 0, nodes), watch)
        found = Found(
            best[1], best[0], min(best[0], least if least is not None else best[0]), nodes
        )
        return settle(build.model, found, watch)

    def _names(self, chosen: tuple[int, ...]) -> set[tuple[str, int]]:
        return {(self.material, self.offered[c]) for c in chosen}

    def _laid(self, chosen: tuple[int, ...]) -> list[list[int]]:
        """Every field in its cheapest mix."""
        costs = self._mixes(self._rows(chosen)).tolist()
        laid: list[list[int]] = []
        at = 0
        for f in self.build.fields:
            here = costs[at : at + len(f.mixes)]
            at += len(f.mixes)
            cheapest = here.index(min(here))
            laid.append([f.copies if j == cheapest else 0 for j in range(len(here))])
        return laid

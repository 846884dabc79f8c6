"""Whole plans of a ceiling model from what a relaxation or a choice of lengths leans on."""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet

import numpy as np
from numpy.typing import NDArray

from cutopt.solve.ceiling.model import BoardModel

__all__ = ["Rounder"]

_PLENTY = 10**9


class Rounder:
    """Whole values from a relaxation's: offers it leans on, whole mixes, boards as they last."""

    def __init__(self, build: BoardModel) -> None:
        self.build = build
        #: Kinds of rows, longest spans first, widest rows first.
        self._order = sorted(build.rows, key=lambda key: (-key[2], -key[3], key))

    def rounded(self, values: NDArray[np.float64]) -> list[int] | None:
        """Values near a relaxation's; None where boards are too few."""
        build = self.build
        laid: list[list[int]] = []
        for variables, f in zip(build.laid, build.fields, strict=True):
            n = [int(values[v] + 1e-6) for v in variables]
            rest = [values[v] - k for v, k in zip(variables, n, strict=True)]
            short = round(values[build.short[len(laid)]])
            for _ in range(f.copies - short - sum(n)):
                j = max(range(len(n)), key=lambda j: rest[j])
                n[j] += 1
                rest[j] -= 1
            laid.append(n)
        return self.whole(laid, self._leaning(values))

    def whole(self, laid: Sequence[Sequence[int]], opened: AbstractSet[int]) -> list[int] | None:
        """Values for mixes and offers to buy from that are decided; None where boards lack."""
        build, m = self.build, self.build.model
        whole = [0] * len(m.cost)
        for variables, f, n, short in zip(build.laid, build.fields, laid, build.short, strict=True):
            for v, k in zip(variables, n, strict=True):
                whole[v] = k
            whole[short] = f.copies - sum(n)
        if not self._cut(whole, opened):
            return None
        for key in build.forced:
            whole[build.bought[key]] = 1
        return whole

    def _leaning(self, values: NDArray[np.float64]) -> set[int]:
        """What is bought: as many lengths as may be, those that the relaxation leans on most."""
        build = self.build
        leaning = sorted((-float(values[y]), key) for key, y in build.bought.items())
        chosen: set[tuple[str, int]] = set()
        for material, most in build.lengths.items():
            keys = [key for _, key in leaning if key[0] == material]
            chosen |= set(keys[: max(most, 0)])
        opened = set()
        for i in build.used:
            o = build.group.offers[i]
            if o.material in build.lengths and (o.material, o.length) not in chosen:
                continue
            if i not in build.opened or values[build.opened[i]] > 0.4:
                opened.add(i)
        return opened

    def _cut(self, whole: list[int], opened: AbstractSet[int]) -> bool:
        """Boards for the rows, longest spans first, the cheapest that last; False if too few."""
        build = self.build
        offers = build.group.offers
        left: dict[int, int] = {}
        for i in build.used:
            o = offers[i]
            more = 0
            if i in opened:
                more = _PLENTY if o.limit is None else o.limit
                more = 0 if more < o.min_order else more
            left[i] = o.on_hand + more
        used = dict.fromkeys(left, 0)
        for key in self._order:
            wanted = sum(whole[v] * n for v, n in build.rows[key].items())
            for i, v in build.fitting[key]:
                n = min(wanted, left[i])
                whole[v] = n
                left[i] -= n
                used[i] += n
                wanted -= n
            if wanted:
                return False
        self._fill(whole, used)
        for i, n in used.items():
            o = offers[i]
            if n <= o.on_hand:
                continue
            if (o.material, o.length) in build.bought:
                whole[build.bought[o.material, o.length]] = 1
            if i in build.opened:
                whole[build.opened[i]] = 1
                whole[build.surplus[i]] = max(0, o.min_order - n)
        return True

    def _fill(self, whole: list[int], used: dict[int, int]) -> None:
        """Boards that the mill's least order makes us buy anyway take the place of others."""
        build = self.build
        offers = build.group.offers
        for i in build.opened:
            spare = offers[i].min_order - used[i]
            if used[i] <= offers[i].on_hand or spare <= 0:
                continue
            for key in self._order:
                fitting = build.fitting[key]
                mine = next((v for j, v in fitting if j == i), None)
                for j, v in reversed(fitting):
                    # No board of another least order is saved, nor one that costs nothing.
                    if mine is None or j == i or j in build.opened or spare <= 0:
                        continue
                    n = min(spare, whole[v])
                    whole[v] -= n
                    whole[mine] += n
                    used[j] -= n
                    used[i] += n
                    spare -= n

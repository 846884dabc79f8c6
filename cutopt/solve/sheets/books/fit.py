"""One sheet filled: with what is worth most of some parts, or with all of them."""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

import numpy as np

from cutopt.solve.sheets.arrange import shelved
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.layout import table_of
from cutopt.solve.sheets.limit import Pricer
from cutopt.solve.sheets.pattern import Pattern, counts, trimmed
from cutopt.solve.sheets.points import Ints

if TYPE_CHECKING:
    from cutopt.solve.sheets.books.exchange import Work

__all__ = ["Fitter"]


class Fitter:
    """Patterns of the parts that are left, two-stage ones and shelves of stacks."""

    def __init__(self, generator: Generator, work: Work) -> None:
        self.generator, self.work = generator, work
        self._pricers: dict[int, list[Pricer]] = {}
        for pricer in generator.strips:
            for q in pricer.bench.sheets:
                self._pricers.setdefault(q, []).append(pricer)
        self._areas = np.array(generator.model.areas, dtype=np.int64)
        self._known: dict[tuple[int, bytes], Pattern | None] = {}

    def fill(self, worth: Ints, need: Ints, sheet: int, rng: random.Random) -> Pattern | None:
        """A pattern that cuts nothing beyond `need`; None where nothing of it fits."""
        pricers = self._pricers.get(sheet)
        if not pricers or not need.any():
            return None
        self.work.spent += 1
        pattern = trimmed(rng.choice(pricers).fill(worth, need, sheet), need.tolist())
        return pattern if pattern.strips else None

    def all_of(self, parts: Ints, sheet: int) -> Pattern | None:
        """A pattern that cuts exactly these parts; None where none was found."""
        key = (sheet, parts.tobytes())
        if key not in self._known:
            self._known[key] = self._all(parts, sheet)
        return self._known[key]

    def _all(self, parts: Ints, sheet: int) -> Pattern | None:
        model = self.generator.model
        stock, bench = model.sheets[sheet], model.bench_of[sheet]
        lies = {v.kind for v in bench.variants}
        if not lies.issuperset(np.flatnonzero(parts).tolist()):
            return None
        number = int(parts.sum())
        if int(parts @ self._areas) > stock.length * stock.width or (
            bench.max_parts and number > bench.max_parts
        ):
            return None
        self.work.spent += 1
        unturned = {v.kind for v in bench.variants if not v.turned}
        if not bench.edged and unturned.issuperset(np.flatnonzero(parts).tolist()):
            table = table_of(model, sheet, self.generator.rules)
            kinds = [k for k in np.flatnonzero(parts).tolist() for _ in range(int(parts[k]))]
            found = shelved(kinds, table)
            if found is not None:
                return Pattern(sheet, *found)
        for pricer in self._pricers.get(sheet, ()):
            self.work.spent += 1
            pattern = pricer.fill(np.maximum(self._areas, 1), parts, sheet)
            if (counts(pattern, len(parts)) == parts).all():
                return pattern
        return None

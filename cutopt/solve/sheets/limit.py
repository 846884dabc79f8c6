"""Most parts of one sheet: dearest patterns within it, and what none of them exceeds.

Let every part cost λ. Then no pattern of at most M parts is worth more than the dearest one at the
worths less λ, and λ × M; the λ that makes this least lies where patterns of more and of fewer parts
than M meet, and is found by going from crossing to crossing. Worths and λ are integers: the bound
rests on no float. The patterns on the way are cut down to their M dearest parts.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from cutopt.solve.sheets.model import Bench
from cutopt.solve.sheets.pattern import Pattern, counts, dearest
from cutopt.solve.sheets.points import Ints

__all__ = ["LOOK", "TRIES", "Priced", "Pricer", "go_on"]

#: Steps of a table from one look at the watch to the next.
LOOK = 32

#: Prices of a part that are tried for one sheet, and for one pattern that is built up.
TRIES = 8
_HALVINGS = 3


@dataclass(frozen=True, slots=True)
class Priced:
    """`value` bounds the worth of every pattern of the rule on the pattern's sheet."""

    value: int
    pattern: Pattern


def go_on() -> None:
    """Nobody waits."""


class Pricer(ABC):
    """Finds dearest patterns of a bench by its rule; the bench's most parts are kept here."""

    bench: Bench
    #: About how many numbers one pricing touches: the measure of work.
    effort: int
    #: Called now and then in a long pricing; raises `LateError` where it is to be given up.
    look: Callable[[], None] = staticmethod(go_on)

    @abstractmethod
    def unlimited(self, worth: Ints, most: Ints, open_sheets: Sequence[bool]) -> list[Priced]:
        """As `price`, with any number of parts."""

    @abstractmethod
    def _filled_up(self, worth: Ints, need: Ints, sheet: int) -> Pattern:
        """As `fill`, with any number of parts."""

    def price(self, worth: Ints, most: Ints, open_sheets: Sequence[bool]) -> list[Priced]:
        """The best pattern per open sheet that has one of some worth; several where parts are few.

        Parameters
        ----------
        worth, most
            Per kind: what one is worth, and how often it can be of use; shape (kinds,).
        open_sheets
            Which sheets can still be had.
        """
        found = self.unlimited(worth, most, open_sheets)
        limit = self.bench.max_parts
        if not limit:
            return found
        over = {p.pattern.sheet: p for p in found if _parts(p.pattern, worth) > limit}
        if not over:
            return found
        search = _Search(worth, limit, list(over.values()))
        asked = [q in over for q in range(len(open_sheets))]
        for _ in range(TRIES):
            self.look()
            price = search.next()
            if price is None:
                break
            less = np.maximum(worth - price, 0)
            search.note(price, self.unlimited(less, most, asked) if less.any() else [])
        return [p for p in found if p.pattern.sheet not in over] + search.found()

    def fill(self, worth: Ints, need: Ints, sheet: int) -> Pattern:
        """A pattern that cuts nothing beyond `need`: strip by strip, the highest of the best."""
        pattern = self._filled_up(worth, need, sheet)
        limit = self.bench.max_parts
        if not limit or _parts(pattern, worth) <= limit:
            return pattern
        best = dearest(pattern, worth.tolist(), limit)
        low, high = 0, int(worth.max())
        for _ in range(_HALVINGS):
            price = (low + high) // 2
            less = np.maximum(worth - price, 0)
            if price == low or not less.any():
                break
            pattern = self._filled_up(less, need, sheet)
            few = dearest(pattern, worth.tolist(), limit)
            if _worth(few, worth) > _worth(best, worth):
                best = few
            low, high = (price, high) if _parts(pattern, worth) > limit else (low, price)
        return best


def _parts(pattern: Pattern, worth: Ints) -> int:
    return int(counts(pattern, len(worth)).sum())


def _worth(pattern: Pattern, worth: Ints) -> int:
    return int(counts(pattern, len(worth)) @ worth)


@dataclass(slots=True)
class _Sheet:
    """What is known of one sheet: the bound, and the patterns nearest the best price of a part.

    `many` is (worth, parts) of a pattern of more parts than the limit, `few` of one with no more.
    `within` are patterns of no more, with their worths: no single one is the best in every master.
    """

    bound: int
    many: tuple[int, int]
    few: tuple[int, int]
    within: dict[Pattern, int]
    tried: set[int]
    done: bool = False


class _Search:
    """The prices of a part tried so far; each is tried for all sheets at once."""

    def __init__(self, worth: Ints, limit: int, over: Sequence[Priced]) -> None:
        self.worth, self.limit = worth, limit
        self.sheets: dict[int, _Sheet] = {}
        for p in over:
            few = dearest(p.pattern, worth.tolist(), limit)
            many = (_worth(p.pattern, worth), _parts(p.pattern, worth))
            # No pattern is worth more than its parts at the dearest one's worth.
            bound = min(p.value, limit * int(worth.max()))
            within = {few: _worth(few, worth)}
            self.sheets[p.pattern.sheet] = _Sheet(bound, many, (0, 0), within, {0})

    def next(self) -> int | None:
        """A price worth trying; None where none is."""
        for sheet in self.sheets.values():
            if sheet.done:
                continue
            (dear, many), (cheap, few) = sheet.many, sheet.few
            price = (dear - cheap) // (many - few)
            if price not in sheet.tried:
                return price
            if price + 1 not in sheet.tried:
                return price + 1
            sheet.done = True
        return None

    def note(self, price: int, found: Sequence[Priced]) -> None:
        """What the sheets' dearest patterns are at worths less `price`."""
        by_sheet = {p.pattern.sheet: p for p in found}
        for q, sheet in self.sheets.items():
            sheet.tried.add(price)
            p = by_sheet.get(q)
            value = p.value if p else 0
            sheet.bound = min(sheet.bound, value + price * self.limit)
            if p is None:
                continue
            n, w = _parts(p.pattern, self.worth), _worth(p.pattern, self.worth)
            (dear, many), (cheap, few) = sheet.many, sheet.few
            if n > self.limit and w - price * n > dear - price * many:
                sheet.many = (w, n)
            elif n <= self.limit and w - price * n > cheap - price * few:
                sheet.few = (w, n)
            fewer = dearest(p.pattern, self.worth.tolist(), self.limit)
            sheet.within[fewer] = worthy = _worth(fewer, self.worth)
            if worthy >= sheet.bound:
                sheet.done = True

    def found(self) -> list[Priced]:
        """The patterns within the limit, dearest first, each with its sheet's bound."""
        return [
            Priced(sheet.bound, pattern)
            for sheet in self.sheets.values()
            for pattern, _ in sorted(sheet.within.items(), key=lambda w: -w[1])
        ]

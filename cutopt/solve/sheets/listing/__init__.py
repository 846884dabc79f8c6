"""Every pattern that can be in a plan that costs less: for small orders, where that proves them.

In any plan below a known cost each pattern's cost exceeds its worth by less than what lies between
that cost and the bound that the worths prove. All such patterns that cut nothing beyond the demand
are listed in arrays: stacks, strips of them, strips side by side. At each step only what can still
become worth enough is held. Integers throughout.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from cutopt.plan.guillotine import Axis
from cutopt.solve.sheets.listing.fill import FullError
from cutopt.solve.sheets.listing.patterns import Piled, pile
from cutopt.solve.sheets.listing.same import Book, Counts, Keys, first_of_each, keys_for
from cutopt.solve.sheets.listing.strips import Asked, strips_of
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.pricing import StackPricer, StripPricer

__all__ = ["FullError", "Listing", "list_patterns"]


@dataclass(frozen=True, slots=True)
class Listing:
    """Maximal patterns: what they cut, shape (patterns, kinds), and their sheets, (patterns,).

    `held` tells the work: strips and patterns that were held on the way.
    """

    cuts: Ints
    sheet: Ints
    make: Callable[[int], Pattern]
    held: int = 0


def list_patterns(
    model: Model,
    pricers: Sequence[StripPricer | StackPricer],
    worth: Ints,
    need: Ints,
    least: Callable[[int], int],
    most: int,
) -> Listing:
    """List the patterns that are worth enough.

    What could hold a wanted part more on the same sheet is left out, as is what an unlimited sheet
    that costs no more holds as well.

    Parameters
    ----------
    pricers
        Those whose tables together hold every pattern of the rule.
    worth, need
        Per kind: what one is worth, and how many are wanted; shape (kinds,).
    least
        By sheet, the least worth of a pattern that may be in a better plan; above 0.
    most
        Strips or patterns that may be held at once.

    Raises
    ------
    FullError
        There are more.
    """
    keys = keys_for(len(need))
    held = 0
    by_sheet: dict[int, list[tuple[Piled, StripPricer | StackPricer]]] = {}
    for pricer in pricers:
        lengths: dict[int, list[Asked]] = {}
        for q in pricer.bench.sheets:
            sheet = model.sheets[q]
            along, across = sheet.length, sheet.width
            if pricer.axis is not Axis.RIP:
                along, across = across, along
            lengths.setdefault(along, []).append(Asked(q, across, least(q)))
        for along, asked in lengths.items():
            strips = strips_of(pricer, along, asked, worth, need, keys, most)
            if strips is None:
                continue
            held += strips.held
            for a in asked:
                piled = pile(strips, a, need, most)
                held += len(piled.before)
                by_sheet.setdefault(a.sheet, []).append((piled, pricer))
    return replace(_maximal(model, by_sheet, need, keys), held=held)


def _maximal(
    model: Model,
    by_sheet: dict[int, list[tuple[Piled, StripPricer | StackPricer]]],
    need: Ints,
    keys: Keys,
) -> Listing:
    """What no other pattern makes pointless."""
    books: list[tuple[int, Book]] = []
    cuts: list[Counts] = []
    sheets: list[Ints] = []
    sources: list[Ints] = []
    places: list[Ints] = []
    together = [(q, p, pricer) for q, piles in by_sheet.items() for p, pricer in piles]
    number = {id(p): n for n, (_, p, _) in enumerate(together)}
    order = sorted(by_sheet, key=lambda q: (model.sheets[q].cost, -model.sheets[q].length, q))
    for q in order:
        piles = by_sheet[q]
        rows = np.concatenate([p.counts for p, _ in piles])
        sums = np.concatenate([p.sums for p, _ in piles])
        source = np.concatenate([np.full(len(p.last), number[id(p)]) for p, _ in piles])
        at = np.concatenate([np.arange(len(p.last)) for p, _ in piles])
        kept = first_of_each(rows, sums, source)
        rows, sums, source, at = rows[kept], sums[kept], source[kept], at[kept]
        book = Book.of(rows, sums)
        pointless = np.zeros(len(rows), dtype=bool)
        cheaper = [b for other, b in books if model.sheets[other].available is None]
        for known in cheaper:
            pointless |= known.holds(rows, sums)
        for i, key in enumerate(keys):
            open_rows = np.flatnonzero((rows[:, i] < need[i]) & ~pointless)
            if not len(open_rows):
                continue
            for known in (book, *cheaper):
                hit = known.holds(rows[open_rows], sums[open_rows] + key, i)
                pointless[open_rows[hit]] = True
        books.append((q, book))
        good = np.flatnonzero(~pointless)
        cuts.append(rows[good])
        sheets.append(np.full(len(good), q, dtype=np.int64))
        sources.append(source[good])
        places.append(at[good])
    if not cuts:
        nothing: list[Pattern] = []
        empty = np.zeros(0, dtype=np.int64)
        return Listing(np.zeros((0, len(need)), dtype=np.int64), empty, nothing.__getitem__)
    source, place = np.concatenate(sources), np.concatenate(places)

    def make(n: int) -> Pattern:
        q, piled, pricer = together[source[n]]
        return Pattern(q, pricer.axis, piled.make(int(place[n])))

    return Listing(np.concatenate(cuts).astype(np.int64), np.concatenate(sheets), make)

"""Small kinds laid into what other parts leave: a plan of some kinds made one of all.

Where kinds are worth next to nothing, since they find room in the waste of others anyway, a search
over the others alone has far fewer patterns. Its plan is then filled up sheet by sheet: of all
patterns that keep what the sheet cuts, the one that holds most area of the small kinds beside it,
by the same tables that price patterns.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

import numpy as np

from cutopt.solve.sheets.columns import Generator, Room
from cutopt.solve.sheets.cover import together
from cutopt.solve.sheets.dive import Draft, take
from cutopt.solve.sheets.pattern import Pattern, counts
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.shelves import shelved_rest

__all__ = ["filled_up"]

#: A small part counts for at most this share of what the least other part counts for.
_SMALL = 1_000


def filled_up(generator: Generator, used: Iterable[tuple[Pattern, int]], small: Ints) -> Draft:
    """A plan of all kinds from one without the `small` ones; sheets are added where need be.

    Parameters
    ----------
    generator
        With plain pricing; its model says what is needed.
    used
        Patterns and how many sheets are cut by each.
    small
        Per kind: whether it is left to be laid into waste; shape (kinds,).
    """
    room, draft = generator.room(), Draft()
    for pattern, count in used:
        left = count
        while left:
            fuller = _fuller(generator, room, pattern, small) if room.need[small].any() else pattern
            cuts = np.minimum(counts(fuller, len(small)), room.need)
            beside = np.flatnonzero(cuts * small)
            times = min([left, *(int(room.need[i] // cuts[i]) for i in beside)])
            for _ in range(times):
                chosen = take(generator, room, fuller, 1)
                if chosen.cuts.any():
                    draft.chosen.append(chosen)
            left -= times
    if room.need.any():
        draft.chosen += shelved_rest(generator, room)
    draft.chosen = together(draft.chosen)
    return draft


def _fuller(generator: Generator, room: Room, pattern: Pattern, small: Ints) -> Pattern:
    """The pattern with more small parts beside what it cuts; itself where nothing fits."""
    areas = np.array(generator.model.areas, dtype=np.int64)
    kept = np.minimum(counts(pattern, len(small)), room.need) * ~small
    most = np.where(small, room.need, kept)
    # Areas are counted coarsely enough for the tables.
    unit = max(1, int(areas.max()) // _SMALL)
    area = np.maximum(areas // unit, 1)
    worth = np.where(small, area, area * int(area.max()) * _SMALL)
    only = [q == pattern.sheet for q in range(len(generator.model.sheets))]
    best, most_area = pattern, Fraction(0)
    for found in generator.priced(worth, most, only):
        cuts = np.minimum(counts(found.pattern, len(small)), most)
        if (cuts[~small] >= kept[~small]).all() and (cuts * areas)[small].sum() > most_area:
            best, most_area = found.pattern, Fraction(int((cuts * areas)[small].sum()))
    return best

"""A small order settled: every pattern that a better plan could use, and a search over them.

Patterns are listed that cost little more than they are worth at the duals that prove the bound: no
plan within that little of the bound uses any other. A search over them, proved in integers, finds
the best such plan or that there is none. Then the bound rises, and more is listed.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import floor

import numpy as np

from cutopt.solve.covering import Column, Covering, Ended, branch, step_of
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.counted import countable, few_counts, settle_by_counts
from cutopt.solve.sheets.cover import together
from cutopt.solve.sheets.dive import Draft, take
from cutopt.solve.sheets.listing import FullError, Listing, list_patterns
from cutopt.solve.sheets.points import Ints
from cutopt.solve.sheets.ruled import list_ruled
from cutopt.solve.sheets.waste import filled_up

__all__ = ["Settled", "search_all", "settle"]

#: How far above the bound plans are looked for at first, as a share of it.
_FIRST = Fraction(1, 1_000)
#: By how much further each time, while a list is shorter than so many patterns.
_STEPS = ((500, Fraction(4)), (2_000, Fraction(2)), (10_000, Fraction(7, 5)))
_LAST_STEP = Fraction(6, 5)
#: Patterns or strips that may be held at once.
_MOST = 300_000
#: Steps of the listing where parts keep edges or sheets give few.
_NODES = 60_000
#: Rounds in which the share is taken back because too much would be held.
_RETREATS = 4
#: Seconds of a usual machine for a strip or pattern held, and for an entry of the tables.
_HELD, _ENTRY = 5e-6, 4e-9
#: Seconds that a search of one count takes at least.
_SEARCH = 0.05
#: Share of the work for the counts of sheets, where they are not few.
_COUNTING = 0.5
#: Kinds worth less than this share of their area's worth lie in what others leave.
_WORTHLESS = 0.05
#: Less than any two plans' costs differ by.
_CENT = Fraction(1, 10**6)


@dataclass(frozen=True, slots=True)
class Settled:
    """The best plan found, if any is cheaper than what was known, and what any plan costs.

    `failed` is the cost below which there was too much to list or to search.
    """

    draft: Draft | None
    bound: Fraction
    failed: Fraction | None = None


def settle(
    generator: Generator, cost: Fraction, bound: Fraction, work: float, most: int = _MOST
) -> Settled:
    """Plans cheaper than `cost`, from the bound up.

    Parameters
    ----------
    generator
        With the certificate of its bound; no jointed runs, no credit for drops.
    cost
        What the best plan known costs.
    bound
        What any plan costs at least, rounded up.
    work
        The most that all searches may take, in seconds of a usual machine: counted, not timed.
    most
        Patterns or strips that may be held at once.
    """
    certificate = generator.certificate
    best: Draft | None = None
    if certificate is None or not certificate.unit:
        return Settled(None, bound)
    few = few_counts(generator.model, bound)
    single = any(s.available is not None for s in generator.model.sheets)
    if (few or single) and countable(generator.model, cost) and not generator.model.counted:
        share = work if few else work * _COUNTING
        counted = settle_by_counts(generator, cost, bound, share, _within)
        if counted.draft is not None:
            return Settled(counted.draft, counted.bound)
        bound, work = counted.bound, work - (share - counted.work)
        if bound < cost and counted.stuck and few:
            # What is too much for the sheets of one count is too much for all.
            return Settled(None, bound)
    proved = certificate.bound
    first = Fraction(0) if len({s.cost for s in generator.model.sheets}) == 1 else proved * _FIRST
    reach = max(first, generator.round_up(bound) - proved + _CENT)
    done, tall = Fraction(0), None
    retreats = 0
    wanted = generator.model.need
    tables = _ENTRY * sum(p.effort for p in generator.proving())
    while bound < cost and work > 0 and not generator.watch.stop():
        reach = min(reach, cost - proved)
        work -= tables
        listing = _listed(generator, reach, wanted, most)
        if listing is None:
            # Too much at once: not so far, or without what lies in waste anyway.
            work -= most * _HELD / 3
            retreats += 1
            tall = reach
            reach = done + (reach - done) / 2
            if retreats <= _RETREATS and proved + reach > bound:
                continue
            fewer = _worthy(generator)
            if (fewer == wanted).all():
                break
            wanted, retreats, tall = fewer, 0, None
            reach = max(proved * _FIRST, bound - proved + _CENT)
            continue
        work -= listing.held * _HELD
        below = proved + reach
        ended = _searched(generator, listing, reach, below, work, wanted)
        work -= ended.work
        whole = wanted is generator.model.need
        if ended.used is not None and whole:
            best = _draft(generator, listing, ended.used)
            cost = min(cost, best.cost)
        bound = max(bound, min(cost, generator.round_up(ended.bound)))
        if not ended.complete:
            tall = reach
            break
        if ended.used is not None and not whole:
            laid = [(listing.make(n), count) for n, count in enumerate(ended.used) if count]
            draft = filled_up(generator, laid, (generator.model.need > 0) & (wanted == 0))
            best = draft if draft.cost < cost else best
            break
        done = reach
        step = next((s for n, s in _STEPS if len(listing.sheet) < n), _LAST_STEP)
        reach = max(reach * step, bound - proved + _CENT)
        if tall is not None:
            reach = min(reach, (done + tall) / 2)
    return Settled(best, bound, None if tall is None else proved + tall)


def search_all(generator: Generator, below: Fraction, work: float, most: int) -> Draft | None:
    """The best plan found below a cost among all patterns, where they are no more than `most`."""
    certificate = generator.certificate
    if certificate is None or not certificate.unit:
        return None
    need = generator.model.need
    listing = _listed(generator, below, need, most)
    if listing is None or not len(listing.sheet):
        return None
    ended = _searched(generator, listing, below, below, work, need)
    return None if ended.used is None else _draft(generator, listing, ended.used)


def _worthy(generator: Generator) -> Ints:
    """What is wanted, without the kinds that find room in the waste of others."""
    model, certificate = generator.model, generator.certificate
    worth = np.array(certificate.worth if certificate else model.need, dtype=np.float64)
    areas = np.array(model.areas, dtype=np.float64)
    rate = float(worth @ model.need) / float(areas @ model.need)
    return np.where(worth < _WORTHLESS * rate * areas, 0, model.need)


def _within(generator: Generator, cost: Fraction, work: float) -> tuple[Draft | None, bool, float]:
    """A plan of a cost where none is cheaper: the plan, whether that is settled, and the work."""
    certificate = generator.certificate
    if certificate is None or not certificate.unit:
        return None, False, 0.0
    reach = cost - certificate.bound + _CENT
    need = generator.model.need
    listing = _listed(generator, reach, need)
    if listing is None:
        return None, False, _MOST * _HELD / 3
    # Plans cost a whole number of times this one's cost: once, or too much.
    ended = _searched(generator, listing, reach, cost + _CENT, work, need, cost)
    draft = None if ended.used is None else _draft(generator, listing, ended.used)
    tables = _ENTRY * sum(p.effort for p in generator.proving())
    return draft, ended.complete, _SEARCH + tables + ended.work + listing.held * _HELD


def _listed(generator: Generator, reach: Fraction, need: Ints, most: int = _MOST) -> Listing | None:
    certificate, model = generator.certificate, generator.model
    if certificate is None:
        return None

    def least(sheet: int) -> int:
        slack = model.sheets[sheet].cost + certificate.gains[sheet] - reach
        # A pattern of a plan within reach is worth more than this.
        return max(0, floor(slack * certificate.unit) + 1)

    worth = np.array(certificate.worth, dtype=np.int64)
    try:
        if model.ruled:
            return list_ruled(model, generator.proving(), worth, need, least, _NODES)
        return list_patterns(model, generator.proving(), worth, need, least, most)
    except FullError:
        return None


def _searched(
    generator: Generator,
    listing: Listing,
    reach: Fraction,
    below: Fraction,
    work: float,
    need: Ints,
    step: Fraction | None = None,
) -> Ended:
    model, certificate = generator.model, generator.certificate
    columns = [
        Column(tuple((int(i), int(row[i])) for i in np.flatnonzero(row)), model.sheets[q].cost, q)
        for q, row in zip(listing.sheet.tolist(), listing.cuts, strict=True)
    ]
    # One more than wanted of a kind worth as much would take a plan out of reach.
    worth = certificate.worth if certificate else ()
    unit = certificate.unit if certificate else Fraction(1)
    exactly = frozenset(i for i, w in enumerate(worth) if w > reach * unit)
    nothing = np.zeros(0, dtype=np.int64)
    available = [s.available for s in model.sheets]
    hint = np.array([float(w / unit) for w in worth])
    covering = Covering(need, available, columns, nothing, exactly, hint)
    return branch(covering, below, step or step_of(columns), work, generator.watch)


def _draft(generator: Generator, listing: Listing, used: list[int]) -> Draft:
    room = generator.room()
    draft = Draft()
    for n, count in enumerate(used):
        for _ in range(count):
            chosen = take(generator, room, listing.make(n), 1)
            if chosen.cuts.any():
                draft.chosen.append(chosen)
    draft.chosen = together(draft.chosen)
    return draft

"""Orders of few sheets, settled by how many of each are bought: cost by cost, count by count.

Where whole sheets make coarse steps of cost, a bound lies far below the next plan and too many
patterns would have to be listed. With the counts of the sheets fixed, worths of its own prove most
of them too few at once, and little is left to list for the others. Any worths, priced exactly, bar
more than the counts that they were made for: a plan's sheets must hold what its parts are worth.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.dive import Chosen, Draft
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern

__all__ = ["Counted", "few_counts", "settle_by_counts"]

Counts = tuple[int, ...]

#: Sizes of sheets, sheets in all, and counts of one cost, that are looked at one by one.
_SIZES = 4
_SHEETS = 20
_COUNTS = 40
#: Seconds of a usual machine for one count's worths, and for an entry of its tables.
_WORK, _ENTRY = 0.03, 2e-8
_ROUNDS = 500
_CENT = Fraction(1, 10**6)


@dataclass(frozen=True, slots=True)
class Counted:
    """The best plan, if one was found below the cost that was known; and the bound.

    `stuck` says that one count was too much to settle.
    """

    draft: Draft | None
    bound: Fraction
    work: float
    stuck: bool = False


def few_counts(model: Model, bound: Fraction) -> bool:
    """Whether so few sheets of so few sizes are cut that their counts can be looked at."""
    least = min(s.cost for s in model.sheets)
    return least > 0 and len(model.sheets) <= _SIZES and bound <= _SHEETS * least


def settle_by_counts(
    generator: Generator,
    cost: Fraction,
    bound: Fraction,
    work: float,
    search: Callable[[Generator, Fraction, float], tuple[Draft | None, bool, float]],
) -> Counted:
    """The least cost at which some counts of sheets hold the order.

    Parameters
    ----------
    generator
        With its bound; no jointed runs, no credit for drops.
    cost, bound
        Of the best plan known; of any plan.
    work
        The most that it may take, in seconds of a usual machine: counted, not timed.
    search
        Looks for a plan of at most a cost from a generator's sheets: the plan, whether it is
        settled, and the work.
    """
    model = generator.model
    barred: list[tuple[list[int], int]] = []
    while bound < cost and work > 0 and not generator.watch.stop():
        some = _of_cost(model, bound)
        if len(some) > _COUNTS:
            break
        for counts in some:
            if any(_short(counts, held, asked) for held, asked in barred):
                continue
            alone = _alone(generator, counts, bound)
            work -= _WORK + _ENTRY * sum(p.effort for p in alone.proving())
            if alone.bound > bound:
                barred += _held(generator, alone)
                continue
            draft, settled, spent = search(alone, bound, work)
            work -= spent
            if draft is not None:
                return Counted(_put_back(draft, counts), bound, work)
            if not settled:
                return Counted(None, bound, work, stuck=True)
        bound = min(cost, generator.round_up(bound + _CENT))
    return Counted(None, bound, work)


def _of_cost(model: Model, cost: Fraction) -> list[Counts]:
    """Every count of sheets that costs just this and is as large as all parts."""
    area = sum(n * a for n, a in zip(model.need.tolist(), model.areas, strict=True))
    sheets = model.sheets

    def more(q: int, left: Fraction, room: int) -> Iterator[Counts]:
        if q == len(sheets):
            if not left and room >= area:
                yield ()
            return
        sheet = sheets[q]
        most = int(left / sheet.cost)
        if sheet.available is not None:
            most = min(most, sheet.available)
        for n in range(most + 1):
            for rest in more(q + 1, left - n * sheet.cost, room + n * sheet.length * sheet.width):
                yield (n, *rest)

    found: list[Counts] = []
    for counts in more(0, cost, 0):
        found.append(counts)
        if len(found) > _COUNTS:
            break
    return found


def _short(counts: Sequence[int], held: Sequence[int], asked: int) -> bool:
    """Whether the sheets hold less, by some worths, than the parts are worth."""
    return sum(n * h for n, h in zip(counts, held, strict=True)) < asked


def _alone(generator: Generator, counts: Counts, enough: Fraction) -> Generator:
    """A generator for just these sheets, with its bound."""
    model = generator.model
    kept = [q for q, n in enumerate(counts) if n]
    number = {q: i for i, q in enumerate(kept)}
    benches = [
        replace(b, sheets=tuple(number[q] for q in b.sheets if q in number)) for b in model.benches
    ]
    alone = Model(
        model.kinds,
        tuple(replace(model.sheets[q], available=counts[q]) for q in kept),
        tuple(b for b in benches if b.sheets),
        model.most,
    )
    made = Generator(alone, generator.jointed, generator.rules, generator.watch)
    made.start()
    made.root(_ROUNDS, closing=False, enough=enough)
    return made


def _held(generator: Generator, alone: Generator) -> list[tuple[list[int], int]]:
    """By the worths of a proof, what any sheet holds at most and what all parts are worth."""
    certificate = alone.certificate
    if certificate is None:
        return []
    worth = list(certificate.worth)
    held = generator.most_held(worth)
    asked = sum(n * w for n, w in zip(generator.model.need.tolist(), worth, strict=True))
    return [(held, asked)]


def _put_back(draft: Draft, counts: Counts) -> Draft:
    """The plan with the sheets numbered as they were."""
    kept = [q for q, n in enumerate(counts) if n]
    return Draft(
        [
            Chosen(
                Pattern(kept[c.pattern.sheet], c.pattern.axis, c.pattern.strips),
                c.cuts,
                c.cost,
                c.count,
            )
            for c in draft.chosen
        ],
        list(draft.ways),
    )

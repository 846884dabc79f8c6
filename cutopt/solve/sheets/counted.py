"""Which sheets a plan cuts, how many of each, before how: a bound that fractions don't weaken.

For any worths of the parts that are priced exactly, a plan's sheets must hold together what its
parts are worth. Counts of sheets that keep all such rows found so far are chosen at the least cost,
in whole numbers. Where they can't hold the order even in fractions, that gives worths of its own,
hence a further row (Benders, Numerische Mathematik 4, 1962); where they might, the patterns that
such a plan could use are listed and searched. What the counts cost bounds every plan.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.cover import whole_costs
from cutopt.solve.sheets.dive import Chosen, Draft
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern, trimmed
from cutopt.solve.sheets.tally import Counts, Tally

__all__ = ["Counted", "countable", "few_counts", "settle_by_counts"]

#: Sizes and sheets in all that are few.
_SIZES = 4
_SHEETS = 20
#: Most counts of one size beside each other, over all sizes.
_CHOICES = 600
#: Seconds of a usual machine for one count's worths, and for an entry of its tables.
_WORK, _ENTRY = 0.03, 2e-9
_ROUNDS = 500
#: Of the work that is left, what one count may take.
_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class Counted:
    """The best plan, if one was found below the cost that was known; and the bound.

    `stuck` says that a count of the bound's cost was too much to settle.
    """

    draft: Draft | None
    bound: Fraction
    work: float
    stuck: bool = False


def countable(model: Model, cost: Fraction) -> bool:
    """Whether the counts of sheets that cost no more can be looked at."""
    return all(s.cost > 0 for s in model.sheets) and sum(_most(model, cost)) <= _CHOICES


def few_counts(model: Model, bound: Fraction) -> bool:
    """Whether so few sheets of so few sizes are cut that their counts alone may settle it."""
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
    tally = _tally(generator, cost)
    _hold(tally, generator, generator)
    aside: Fraction | None = None
    while bound < cost and work > 0 and not generator.watch.stop():
        before = tally.work
        chosen, reached, settled = tally.next(work, generator.watch)
        work -= tally.work - before
        if aside is not None and reached > aside:
            return Counted(None, bound, work, stuck=True)
        bound = max(bound, min(cost, generator.round_up(reached)))
        if chosen is None or not settled:
            break
        spent = _cost(generator.model, chosen)
        alone = _alone(generator, chosen, spent)
        work -= _WORK + _ENTRY * sum(p.effort for p in alone.proving())
        if alone.bound > spent:
            _hold(tally, generator, alone)
            continue
        draft, settled, used = search(alone, spent, work * _SHARE)
        work -= used
        if draft is not None:
            return Counted(_put_back(draft, chosen), bound, work)
        if not settled:
            # Other counts of the same cost may be easier, and a plan of them as good.
            aside = reached
        tally.bar(chosen)
    return Counted(None, bound, work, stuck=aside is not None)


def _tally(generator: Generator, cost: Fraction) -> Tally:
    """The counts that cost less, and that are as large as all parts."""
    model = generator.model
    costs = [s.cost for s in model.sheets]
    tally = Tally(costs, _most(model, cost), cost, whole_costs(costs)[1])
    need = model.need.tolist()
    tally.ask(
        [s.length * s.width for s in model.sheets],
        sum(n * a for n, a in zip(need, model.areas, strict=True)),
    )
    return tally


def _cost(model: Model, counts: Counts) -> Fraction:
    return sum((n * s.cost for n, s in zip(counts, model.sheets, strict=True)), Fraction(0))


def _hold(tally: Tally, generator: Generator, proof: Generator) -> None:
    """By the worths of a proof, what any sheet holds at most and what all parts are worth."""
    certificate = proof.certificate
    if certificate is None:
        return
    worth = list(certificate.worth)
    need = generator.model.need.tolist()
    tally.ask(generator.most_held(worth), sum(n * w for n, w in zip(need, worth, strict=True)))


def _most(model: Model, cost: Fraction) -> list[int]:
    """Of each sheet, how many a plan of no more than a cost can have."""
    pieces = int(model.need.sum())
    most = []
    for sheet in model.sheets:
        n = min(int(cost / sheet.cost), pieces)
        most.append(n if sheet.available is None else min(n, sheet.available))
    return most


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
    for column in generator.master.columns:
        pattern = column.pattern
        if pattern.sheet in number:
            same = Pattern(number[pattern.sheet], pattern.axis, pattern.strips)
            made.master.add(made.column(trimmed(same, model.most)))
    made.root(_ROUNDS, closing=False, enough=enough)
    return made


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

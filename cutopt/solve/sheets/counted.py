"""Which sheets a plan cuts, how many of each, before how: a bound that fractions don't weaken.

For any worths of the parts that are priced exactly, a plan's sheets must hold together what its
parts are worth. Counts of sheets that keep all such rows found so far are chosen at the least cost,
in whole numbers. Where they can't hold the order even in fractions, that gives worths of its own,
hence a further row (Benders, Numerische Mathematik 4, 1962); where they might, the patterns that
such a plan could use are listed and searched. What the counts cost bounds every plan.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from cutopt.solve.covering import Column, Covering, branch, step_of
from cutopt.solve.search import Watch
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.dive import Chosen, Draft
from cutopt.solve.sheets.model import Model
from cutopt.solve.sheets.pattern import Pattern, trimmed

__all__ = ["Counted", "countable", "few_counts", "settle_by_counts"]

Counts = tuple[int, ...]

#: Sizes and sheets in all that are few.
_SIZES = 4
_SHEETS = 20
#: Most counts of one size beside each other, over all sizes.
_CHOICES = 600
#: What the sheets must hold is divided into so many parts.
_FINE = 1 << 20
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
    counts = _Counts(generator, cost)
    counts.hold(generator)
    while bound < cost and work > 0 and not generator.watch.stop():
        chosen, reached, spent = counts.least(cost, work, generator.watch)
        work -= spent
        bound = max(bound, min(cost, generator.round_up(reached)))
        if chosen is None:
            break
        alone = _alone(generator, chosen, bound)
        work -= _WORK + _ENTRY * sum(p.effort for p in alone.proving())
        if alone.bound > bound:
            counts.hold(alone)
            continue
        draft, settled, spent = search(alone, bound, work)
        work -= spent
        if draft is not None:
            return Counted(_put_back(draft, chosen), bound, work)
        if not settled:
            return Counted(None, bound, work, stuck=True)
        counts.bar(chosen)
    return Counted(None, bound, work)


def _most(model: Model, cost: Fraction) -> list[int]:
    """Of each sheet, how many a plan of no more than a cost can have."""
    pieces = int(model.need.sum())
    most = []
    for sheet in model.sheets:
        n = min(int(cost / sheet.cost), pieces)
        most.append(n if sheet.available is None else min(n, sheet.available))
    return most


class _Counts:
    """Counts of sheets, rows that every plan's counts keep, and the cheapest that keep them.

    "So many of this size" is a column, at most one of each size; a row asks for what the sheets
    hold at least, or that they be more than some counts that were refuted.
    """

    def __init__(self, generator: Generator, cost: Fraction) -> None:
        self.generator = generator
        self.model = generator.model
        most = _most(self.model, cost)
        #: Size and number of each column.
        self.choices = [(q, n) for q, top in enumerate(most) for n in range(1, top + 1)]
        self.rows: list[tuple[list[int], int]] = []
        need, areas = self.model.need.tolist(), self.model.areas
        self._ask(
            [s.length * s.width for s in self.model.sheets],
            sum(n * a for n, a in zip(need, areas, strict=True)),
        )

    def hold(self, proof: Generator) -> None:
        """By the worths of a proof, what any sheet holds at most and what all parts are worth."""
        certificate = proof.certificate
        if certificate is None:
            return
        worth = list(certificate.worth)
        held = self.generator.most_held(worth)
        asked = sum(n * w for n, w in zip(self.model.need.tolist(), worth, strict=True))
        self._ask(held, asked)

    def _ask(self, held: Sequence[int], asked: int) -> None:
        if asked <= 0:
            return
        # Rounded so that no counts are barred that might do.
        fine = min(asked, _FINE)
        each = [-(-h * fine // asked) for h in held]
        self.rows.append(([min(fine, n * each[q]) for q, n in self.choices], fine))

    def bar(self, counts: Counts) -> None:
        """These counts were refuted, and so were all that are no more of any size."""
        self.rows.append(([int(n > counts[q]) for q, n in self.choices], 1))

    def least(
        self, below: Fraction, work: float, watch: Watch
    ) -> tuple[Counts | None, Fraction, float]:
        """The cheapest counts below a cost, what any plan costs at least, and the work."""
        sheets = self.model.sheets
        columns = [
            Column(
                tuple((r, row[j]) for r, (row, _) in enumerate(self.rows) if row[j]),
                n * sheets[q].cost,
                q,
            )
            for j, (q, n) in enumerate(self.choices)
        ]
        need = np.array([asked for _, asked in self.rows], dtype=np.int64)
        worth = np.array([float(below) / asked for asked in need.tolist()]) / len(need)
        nothing = np.zeros(0, dtype=np.int64)
        covering = Covering(need, [1] * len(sheets), columns, nothing, worth=worth)
        ended = branch(covering, below, step_of(columns), work, watch)
        if not ended.complete or ended.used is None:
            return None, below if ended.complete else ended.bound, ended.work
        chosen = [0] * len(sheets)
        for (q, n), used in zip(self.choices, ended.used, strict=True):
            chosen[q] += n * used
        cost = sum((n * s.cost for n, s in zip(chosen, sheets, strict=True)), Fraction(0))
        return tuple(chosen), cost, ended.work


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

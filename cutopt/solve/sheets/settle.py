"""A small order settled: a covering model over every pattern that a better plan could use."""

from __future__ import annotations

from fractions import Fraction
from math import ceil, floor

import numpy as np

from cutopt.solve.milp import Model as IntegerModel
from cutopt.solve.milp import Row, solve_integer
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.cover import together, whole_costs
from cutopt.solve.sheets.dive import Draft, take
from cutopt.solve.sheets.listing import list_patterns
from cutopt.solve.sheets.ruled import list_ruled

__all__ = ["settle"]

_NODES = 5_000
#: Patterns that are still put in one model.
_MOST = 4_000


def settle(
    generator: Generator, cost: Fraction, bound: Fraction, nodes: int
) -> tuple[Draft | None, bool]:
    """A plan cheaper than `cost`, if there is one; and whether that is settled.

    Parameters
    ----------
    generator
        With the certificate of its bound; no jointed runs, no credit for drops.
    cost
        What the best plan known costs.
    bound
        What any plan costs at least, rounded up.
    nodes
        Most steps of the listing.
    """
    certificate, model = generator.certificate, generator.model
    if certificate is None or not certificate.unit:
        return None, False
    gap = cost - certificate.bound

    def least(sheet: int) -> int:
        slack = model.sheets[sheet].cost + certificate.gains[sheet] - gap
        # A pattern of a cheaper plan is worth more than this; where it costs less than the gap, it
        # may hold nothing but parts that are worth nothing.
        return max(0, floor(slack * certificate.unit) + 1)

    worth = np.array(certificate.worth, dtype=np.int64)
    if model.ruled:
        listing = list_ruled(model, generator.proving(), worth, model.need, least, nodes)
    else:
        listing = list_patterns(generator.proving(), worth, model.need, least, nodes)
    if not listing.complete or len(listing.patterns) > _MOST:
        return None, False
    if not listing.patterns:
        return None, True
    exact, unit = whole_costs([model.sheets[p.sheet].cost for p, _ in listing.patterns])
    rows: list[Row] = []
    for i, need in enumerate(model.need.tolist()):
        terms = {n: cut[i] for n, (_, cut) in enumerate(listing.patterns) if cut[i]}
        if not terms:
            return None, True
        rows.append(Row(terms, lower=need))
    for q, sheet in enumerate(model.sheets):
        terms = {n: 1 for n, (p, _) in enumerate(listing.patterns) if p.sheet == q}
        if sheet.available is not None and terms:
            rows.append(Row(terms, upper=sheet.available))
    # Costs below the best plan's: the bound as a row helps the search to its end.
    rows.append(Row(dict(enumerate(exact)), lower=ceil(bound / unit), upper=ceil(cost / unit) - 1))
    answer = solve_integer(IntegerModel(exact, rows), generator.watch.left(), nodes=_NODES)
    if answer.values is None:
        return None, answer.solved
    room = generator.room()
    draft = Draft()
    for (pattern, _), count in zip(listing.patterns, answer.values, strict=True):
        for _ in range(count):
            chosen = take(generator, room, pattern, 1)
            if chosen.cuts.any():
                draft.chosen.append(chosen)
    draft.chosen = together(draft.chosen)
    return draft, answer.solved

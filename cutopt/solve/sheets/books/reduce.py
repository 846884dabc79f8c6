"""A plan of sheets with fewer set-ups and books for the same parts, within a share of its cost."""

from __future__ import annotations

import random
from contextlib import suppress
from fractions import Fraction

import numpy as np

from cutopt.materials import Rules
from cutopt.solve.search import LateError, Watch
from cutopt.solve.sheets.books.exact import fewest
from cutopt.solve.sheets.books.exchange import Exchange, Work
from cutopt.solve.sheets.books.gather import gathered
from cutopt.solve.sheets.books.key import Key, Keys, Plan
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.dive import Chosen, Draft
from cutopt.solve.sheets.pattern import Pattern
from cutopt.solve.sheets.points import Ints

__all__ = ["fewer_setups"]

#: Patterns filled, for each set-up and at most: where the plan may be no dearer, and where it may.
_EACH, _MOST = 4, 60
_WIDE_EACH, _WIDE_MOST = 20, 600
#: Patterns in the integer model at the end, and its nodes.
_LISTED, _WIDE_LISTED = (60, 5), (120, 5)


def fewer_setups(
    generator: Generator,
    draft: Draft,
    rules: Rules,
    watch: Watch,
    seed: int,
    work: int | None = None,
) -> Draft:
    """The same parts from fewer different layouts, then from fewer books, then for less.

    Parameters
    ----------
    generator
        With the certificate of its bound, which stays what it is.
    draft
        A whole plan. Its ways to joint the runs are kept.
    work
        Patterns that may be filled; None for the usual.

    Returns
    -------
    Draft
        Never more set-ups than before, at most dearer by the least `setup_tolerance` of its
        materials.

    Raises
    ------
    RuntimeError
        What was found does not keep the parts, the sheets or the money: a defect.
    """
    keys = Keys(generator, rules)
    plan: Plan = {}
    for c in draft.chosen:
        plan[c.pattern] = plan.get(c.pattern, 0) + c.count
    plan = _unified(plan, keys)
    tolerance = min(
        Fraction(rules.for_sheets(s.material).setup_tolerance) for s in generator.model.sheets
    )
    if len(plan) > 1 and watch.stop() is None:
        if work is None:
            each, most = (_WIDE_EACH, _WIDE_MOST) if tolerance > 0 else (_EACH, _MOST)
            work = min(most, each * len(plan))
        cost = _cost(plan, keys)
        rng = random.Random(seed)  # noqa: S311 - a search, not a secret
        allowed = max(cost, draft.cost * (1 + tolerance) - (draft.cost - cost))
        exchange = Exchange(keys, plan, _worth(generator), allowed, rng, Work(work), watch)
        with suppress(LateError), generator.looking():
            exchange.run()
        plan = _unified(exchange.now, keys)
        listed, nodes = _WIDE_LISTED if tolerance > 0 else _LISTED
        if watch.stop() is None:
            need = sum((c.cuts * c.count for c in draft.chosen), generator.model.need * 0)
            patterns = _short_list(generator, keys, plan, listed)
            made = fewest(keys, patterns, need, allowed, plan, nodes, watch.left())
            # The model counts in rounded money and in floats: what it found is costed exactly.
            if made is not None and _cost(made, keys) <= allowed:
                plan = _unified(made, keys)
        with suppress(LateError), generator.looking():
            generator.look()
            plan = gathered(keys, plan, exchange.fitter, rules, rng)
    found = Draft(
        [Chosen(p, keys.column(p).cuts, keys.column(p).cost, n) for p, n in plan.items()],
        list(draft.ways),
    )
    _verify(generator, draft, found, tolerance)
    return found


def _cost(plan: Plan, keys: Keys) -> Fraction:
    return sum((keys.column(p).cost * n for p, n in plan.items()), Fraction(0))


def _short_list(generator: Generator, keys: Keys, plan: Plan, most: int) -> list[Pattern]:
    """The plan's own patterns, those looked at, and of all columns those that cost least beyond
    what they are worth.
    """
    worth = _worth(generator)
    unit = generator.certificate.unit if generator.certificate else Fraction(0)

    def over(pattern: Pattern) -> float:
        column = keys.column(pattern)
        return float(column.cost) - float(column.cuts @ worth) / (float(unit) or 1.0)

    listed = dict.fromkeys(plan)
    seen = sorted(keys.known, key=over)[:most]
    listed |= dict.fromkeys(seen)
    pool = sorted(
        (c.pattern for c in generator.master.columns if c.pattern not in listed), key=over
    )
    return [*listed, *pool[: max(0, most - len(listed))]]


def _worth(generator: Generator) -> Ints:
    """What the parts are worth in the least-cost plan; by area where nothing is proved."""
    worth = np.array(generator.model.areas, dtype=np.int64)
    certificate = generator.certificate
    if certificate is not None and any(certificate.worth):
        worth = np.array(certificate.worth, dtype=np.int64)
    return np.maximum(worth, 1)


def _unified(plan: Plan, keys: Keys) -> Plan:
    """One tree for each set-up: the one that earns most by its drops, then of most sheets."""
    best: dict[Key, tuple[Fraction, int, Pattern]] = {}
    for pattern, n in plan.items():
        key = keys.of(pattern)
        sheet = keys.model.sheets[pattern.sheet]
        earned = sheet.cost - keys.column(pattern).cost
        rank = (-earned / sheet.credit if sheet.credit else Fraction(0), -n)
        if key not in best or rank < best[key][:2]:
            best[key] = (*rank, pattern)
    made: Plan = {}
    for pattern, n in plan.items():
        tree = best[keys.of(pattern)][2]
        same = Pattern(pattern.sheet, tree.axis, tree.strips)
        made[same] = made.get(same, 0) + n
    return made


def _verify(generator: Generator, draft: Draft, found: Draft, tolerance: Fraction) -> None:
    """In whole numbers and fractions alone."""
    left = sum((c.cuts * c.count for c in draft.chosen), generator.model.need * 0)
    left = left - sum(c.cuts * c.count for c in found.chosen)
    if left.any():
        raise RuntimeError("a plan with fewer set-ups cuts other parts")
    for q, sheet in enumerate(generator.model.sheets):
        used = sum(c.count for c in found.chosen if c.pattern.sheet == q)
        if sheet.available is not None and used > sheet.available:
            raise RuntimeError("a plan with fewer set-ups takes more sheets than there are")
    if found.cost > draft.cost * (1 + tolerance):
        raise RuntimeError(f"a plan with fewer set-ups costs {found.cost}, had {draft.cost}")

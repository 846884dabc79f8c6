"""Where kept drops earn credit: bounds against every way to cut tiny sheets."""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction
from itertools import product

import numpy as np
import pytest

from cutopt.materials import FirstCut, SheetRules
from cutopt.plan import Group
from cutopt.plan.guillotine import Axis, first_axes
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.search import Watch
from cutopt.solve.sheets import credit, solve_sheets
from cutopt.solve.sheets.credit import CreditPricer
from cutopt.solve.sheets.model import Model, model_of, want_of
from tests.solve.sheets.all_trees import Part, most_kept
from tests.solve.sheets.shop import check, cost_of, make

SCALE = 10**6
PRICE = 20


def _model(group: Group) -> Model:
    pieces = [Piece(p, p.length, p.width, p.qty, p.materials) for p in group.parts]
    return model_of(group, {want_of(i): i.demand for i in items_of(pieces)}, {})


def _random(rng: random.Random, most: int) -> tuple[Group, tuple[int, int], SheetRules]:
    size = rng.choice([(12, 8), (10, 10), (14, 7), (11, 9)])
    rules = SheetRules(
        kerf=rng.choice([0, 1]),
        stages=rng.choice([2, 3]),
        first_cut=rng.choice(list(FirstCut)),
        keep_drop=(rng.randint(2, 5), rng.randint(2, 5)),
        drop_value=rng.choice([Decimal("0.5"), Decimal("0.9"), Decimal(1)]),
    )
    parts = [
        (rng.randint(2, 7), rng.randint(2, 5), rng.randint(1, 2), rng.random() < 0.3)
        for _ in range(rng.randint(1, most))
    ]
    return make(parts, [(*size, PRICE, None)], rules), size, rules


def _kept(
    parts: Sequence[Part], size: tuple[int, int], rules: SheetRules, axes: Sequence[Axis]
) -> int:
    return most_kept(parts, *size, rules.kerf, axes, rules.stages, rules.keep_drop)


@pytest.mark.parametrize("rough", [False, True])
def test_no_pattern_with_its_drops_is_worth_more_than_the_table_says(
    rough: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    if rough:
        # Measures rounded as where there are too many places: the bound is weaker, not wrong.
        monkeypatch.setattr(credit, "_PLACES", 2)
        monkeypatch.setattr(credit, "_ROUGH", 5)
    rng = random.Random(5)
    for _ in range(30):
        group, size, rules = _random(rng, 3)
        model = _model(group)
        whole = size[0] * size[1]
        worth = np.array(
            [int(a * PRICE * SCALE / whole * rng.uniform(0.6, 1.4)) for a in model.areas]
        )
        for axis in first_axes(rules.first_cut):
            pricer = CreditPricer(model, model.benches[0], axis, SCALE, rules.keep_drop)
            bound = max(p.value for p in pricer.price(worth, np.array(model.most), [True]))
            for cut in product(*(range(n + 1) for n in model.most)):
                parts = [
                    (k.length, k.width, k.turn)
                    for k, n in zip(model.kinds, cut, strict=True)
                    for _ in range(n)
                ]
                if not 0 < len(parts) <= 4:
                    continue
                kept = _kept(parts, size, rules, [axis])
                if kept >= 0:
                    drops = model.benches[0].credit * SCALE * kept
                    assert int(np.array(cut) @ worth) + drops <= bound


def _sharings(pieces: Sequence[Part]) -> Iterator[list[list[Part]]]:
    """Every way to part the pieces among sheets."""
    if not pieces:
        yield []
        return
    first, *rest = pieces
    for sheets in _sharings(rest):
        yield [[first], *sheets]
        for i, sheet in enumerate(sheets):
            yield [*sheets[:i], [first, *sheet], *sheets[i + 1 :]]


@pytest.mark.parametrize("seed", range(6))
def test_tiny_days_lie_between_their_bound_and_the_least_there_is(seed: int) -> None:
    rng = random.Random(seed)
    group, size, rules = _random(rng, 2)
    outcome = solve_sheets(group, Watch(30), 1)
    check(group, outcome)
    pieces = [(p.length, p.width, p.turn) for p in group.parts for _ in range(p.qty)]
    axes = first_axes(rules.first_cut)
    whole = size[0] * size[1]
    least: Fraction | None = None
    for sheets in _sharings(pieces):
        kept = [_kept(sorted(s), size, rules, axes) for s in sheets]
        if min(kept) >= 0:
            drops = Fraction(rules.drop_value) * PRICE * sum(kept) / whole
            cost = PRICE * len(sheets) - drops
            least = cost if least is None else min(least, cost)
    assert least is not None
    assert outcome.bound <= least <= cost_of(group, outcome)


def test_a_day_whose_drops_are_known_is_proved_nearly() -> None:
    # One part of 60 x 48 to a sheet of 96 x 48 by the inch, four of them: each leaves 36 x 48 to
    # keep, at half its price: 4 x (20 - 0.5 x 20 x 36 / 96) = 65.
    inch = 1600
    rules = SheetRules(kerf=0, keep_drop=(24 * inch, 24 * inch), drop_value=Decimal("0.5"))
    group = make([(60 * inch, 48 * inch, 4, False)], [(96 * inch, 48 * inch, 20, None)], rules)
    outcome = solve_sheets(group, Watch(30), 1)
    check(group, outcome)
    assert cost_of(group, outcome) == 65
    assert 65 - outcome.bound < Fraction(1, 100)

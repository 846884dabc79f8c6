"""The exact end and what leads to it, against a general-purpose integer model (scipy, HiGHS)."""

from __future__ import annotations

import random
from fractions import Fraction

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp  # type: ignore[import-untyped]

from cutopt.measure import INCH
from cutopt.plan import Stop
from cutopt.solve import covering as tree
from cutopt.solve.covering.cuts import row_of, violated
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.lumber.columns import Generator
from cutopt.solve.lumber.correct import correct
from cutopt.solve.lumber.covering import covering_of
from cutopt.solve.lumber.draft import tidy, wanted
from cutopt.solve.lumber.model import Model, Pattern, model_of
from cutopt.solve.lumber.runs import RunPricer
from cutopt.solve.runs import Pricer
from cutopt.solve.search import Watch
from tests.solve.lumber.groups import day_of, faults, group_of, offer, part, rules, solved

SIXTEENTH = INCH // 16


def _model(day: object) -> tuple[Model, RunPricer]:
    group = group_of(day)  # type: ignore[arg-type]
    items = items_of(Piece(p, p.length, None, p.qty, p.materials) for p in group.parts)
    model = model_of(group, items)
    return model, RunPricer(group, Pricer([]), model)


def _triplets(rng: random.Random, sticks: int) -> tuple[Model, list[Pattern]]:
    """Sticks cut in three without a drop, and every pattern of three that leaves none.

    The triplets of Falkenauer (J. Heuristics 2, 1996), small.
    """
    room, sizes = 200, []
    for _ in range(sticks):
        one = rng.randint(76, 98)
        two = rng.randint(50, (room - one) // 2)
        sizes += [one, two, room - one - two]
    parts = [part(s * SIXTEENTH, sizes.count(s), mark=f"P{s}") for s in sorted(set(sizes))]
    model, _ = _model(day_of(parts, [offer(room * SIXTEENTH, "1")], rules()))
    weight = model.grids[0].weight.tolist()
    kinds = range(len(weight))
    full = model.stocks[0].room
    columns = []
    for i in kinds:
        for j in kinds[i:]:
            for k in kinds[j:]:
                cuts: dict[int, int] = {}
                for kind in (i, j, k):
                    cuts[kind] = cuts.get(kind, 0) + 1
                if weight[i] + weight[j] + weight[k] <= full and all(
                    n <= model.need[kind] for kind, n in cuts.items()
                ):
                    columns.append(model.pattern(0, cuts))
    return model, columns


@pytest.mark.parametrize("seed", range(12))
def test_branches_on_triplets_end_where_a_general_model_ends(seed: int) -> None:
    rng = random.Random(seed)
    model, columns = _triplets(rng, rng.randint(5, 9))
    # Some patterns fewer: then the best is no longer known beforehand.
    columns = [c for c in columns if rng.random() < 0.6]
    alone = [model.pattern(0, {i: 1}) for i in range(len(model.kinds))]
    columns += [c for c in alone if c not in columns]
    matrix = np.zeros((len(model.kinds), len(columns)))
    for j, c in enumerate(columns):
        for i, q in c.cuts:
            matrix[i, j] = q
    least = milp(
        np.ones(len(columns)),
        constraints=LinearConstraint(matrix, model.need, np.inf),
        integrality=np.ones(len(columns)),
        bounds=Bounds(0, np.inf),
    )
    covering = covering_of(model, columns, np.zeros(0, np.int64))
    ended = tree.branch(covering, Fraction(1000), Fraction(1), 60.0, Watch(60))
    assert ended.complete
    assert ended.bound == round(least.fun)
    assert ended.used is not None
    assert (matrix @ np.array(ended.used) >= model.need).all()
    # One less is proved to be out of reach, cuts and pairs included.
    again = tree.branch(covering, ended.bound, Fraction(1), 60.0, Watch(60))
    assert again.complete
    assert again.used is None


@pytest.mark.parametrize("seed", range(20))
def test_a_cut_holds_for_every_whole_plan_and_is_broken_by_the_point_it_was_made_for(
    seed: int,
) -> None:
    rng = np.random.default_rng(seed)
    matrix = rng.integers(-1, 3, (7, 40))
    whole = rng.integers(0, 3, (500, 40))
    point = rng.random(40) * (rng.random(40) < 0.3)
    need = np.maximum(np.ceil(matrix @ point - 1e-9).astype(np.int64), 0)
    plans = [x for x in whole if (matrix @ x >= need).all()]
    for cut in violated(matrix, need, point, set()):
        coefficients, low = row_of(cut, matrix, need)
        assert coefficients @ point < low
        assert all(coefficients @ x >= low for x in plans)


def test_cuts_are_found_where_they_are_known() -> None:
    # Three pieces, any two of which fill a stick: one and a half sticks by halves, two in truth.
    matrix = np.array([[1, 1, 0], [1, 0, 1], [0, 1, 1]])
    need = np.ones(3, np.int64)
    cut = ((0, 1, 2), (1, 1, 1), 2)
    assert cut in violated(matrix, need, np.full(3, 0.5), set())
    assert violated(matrix, need, np.full(3, 0.5), {cut}) == []


@pytest.mark.parametrize("seed", range(8))
def test_corrected_values_cut_what_is_wanted(seed: int) -> None:
    rng = random.Random(seed)
    parts = [part(rng.randint(60, 900) * SIXTEENTH, rng.randint(1, 9)) for _ in range(15)]
    offers = [
        offer(96 * INCH, "4.00", 0, 20),
        offer(144 * INCH, "6.10"),
        offer(60 * INCH, "2", 3, 0),
    ]
    model, runs = _model(day_of(parts, offers, rules(kerf=INCH // 8)))
    generator = Generator(model, runs, Watch(60))
    draft = correct(generator, random.Random(seed), 3, 500, Fraction(0))
    assert draft is not None
    assert draft.whole
    made = np.zeros(len(model.need), np.int64)
    for pattern, n in draft.patterns.items():
        assert model.fits(pattern.stock, pattern.cuts)
        for i, q in pattern.cuts:
            made[i] += q * n
    assert (made == wanted(model, {})).all()
    for k, stock in enumerate(model.stocks):
        used = sum(n for p, n in draft.patterns.items() if p.stock == k)
        assert stock.available is None or used <= stock.available


def test_a_fine_grid_is_priced_roughly_first_and_proved_exactly() -> None:
    rng = random.Random(3)
    cell = 16  # 0.01 mm
    parts = [part(rng.randint(20_000, 300_000) * cell, rng.randint(1, 4)) for _ in range(12)]
    offers = [offer(609_600 * cell, "11.00"), offer(365_760 * cell, "6.00")]
    day = day_of(parts, offers, rules(kerf=300 * cell))
    model, runs = _model(day)
    generator = Generator(model, runs, Watch(60))
    assert generator.rough is not None
    assert max(s.room for s in generator.rough.model.stocks) < max(s.room for s in model.stocks)
    outcome = solved(day)
    assert outcome.stop is Stop.PROVED
    assert not faults(day, outcome)


def test_pieces_that_move_to_a_limited_stick_keep_its_limit() -> None:
    # Two sticks of 120 each lose a piece too many; one stick of 48 can be had for what is left.
    parts = [part(40 * INCH, 2, mark="A"), part(60 * INCH, 2, mark="B")]
    offers = [offer(120 * INCH, "10"), offer(48 * INCH, "1", 1, 0)]
    model, _ = _model(day_of(parts, offers, rules()))
    long = model.pattern(0, {1: 1, 0: 1})
    less = model.wanting(np.array([0, 2]))
    patterns, short = tidy(less, less.need, {long: 2})
    assert not short
    assert sum(n for p, n in patterns.items() if p.stock == 1) <= 1
    assert sum(q * n for p, n in patterns.items() for i, q in p.cuts if i == 1) == 2


def test_a_plan_whose_gap_is_only_rounding_is_proved() -> None:
    # The credit of a drop has no common step that worths on a grid can meet.
    parts = [part(31 * INCH, 3), part(47 * INCH, 2)]
    day = day_of(
        parts,
        [offer(97 * INCH, "4.37"), offer(145 * INCH, "6.61")],
        rules(kerf=INCH // 8, keep_drop=INCH, drop_value="0.5"),
    )
    outcome = solved(day)
    assert outcome.stop is Stop.PROVED


def test_a_search_counts_its_work_the_same_every_time() -> None:
    rng = random.Random(5)
    parts = [part(rng.randint(200, 1500) * SIXTEENTH, rng.randint(1, 9)) for _ in range(30)]
    model, runs = _model(day_of(parts, [offer(96 * INCH, "4"), offer(192 * INCH, "8.10")], rules()))
    work = set()
    for _ in range(2):
        generator = Generator(model, runs, Watch(60))
        generator.root(100, 1e-7)
        work.add((generator.work, generator.master.solves))
    assert len(work) == 1

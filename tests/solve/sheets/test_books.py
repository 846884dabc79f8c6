"""Fewer set-ups and books of sheets: the same parts, the same cost, worked out by hand and at
random.
"""

from __future__ import annotations

import random
from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pytest

from cutopt.materials import Rules, SheetRules
from cutopt.plan import Group
from cutopt.plan.books import books, books_text
from cutopt.plan.guillotine import Axis
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.outcome import material_plans
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from cutopt.solve.sheets.books import fewer_setups
from cutopt.solve.sheets.books.exact import fewest
from cutopt.solve.sheets.books.key import Keys
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.dive import Chosen, Draft
from cutopt.solve.sheets.jointed import Jointed
from cutopt.solve.sheets.layout import lay
from cutopt.solve.sheets.model import model_of, want_of
from cutopt.solve.sheets.pattern import Pattern
from tests.solve.sheets.shop import check, cost_of, make


def _generator(group: Group) -> Generator:
    pieces = [Piece(p, p.length, p.width, p.qty, p.materials) for p in group.parts]
    model = model_of(group, {want_of(i): i.demand for i in items_of(pieces)}, {})
    jointed = Jointed([], group.rules)
    jointed.bind(model.kind_of, len(model.kinds))
    generator = Generator(model, jointed, group.rules, Watch(30))
    generator.start()
    return generator


def _draft(generator: Generator, *layouts: tuple[Pattern, int]) -> Draft:
    chosen = []
    for pattern, n in layouts:
        column = generator.column(pattern)
        chosen.append(Chosen(pattern, column.cuts, column.cost, n))
    return Draft(chosen, [])


def _row(*kinds: int) -> Pattern:
    return Pattern(0, Axis.RIP, (tuple(((k, False),) for k in kinds),))


def _counts(draft: Draft) -> list[tuple[int, list[int]]]:
    return sorted((c.count, c.cuts.tolist()) for c in draft.chosen)


def test_three_layouts_become_two_of_the_same_parts() -> None:
    # Kinds by falling length: 50, 45, 44, 40, all 48 wide; 96 along. As found 50 + 40, 50 + 45 and
    # 44 + 40: the pair 50 + 40 can be cut twice, 45 + 44 are left for the third sheet.
    group = make(
        [(50, 48, 2, False), (45, 48, 1, False), (44, 48, 1, False), (40, 48, 2, False)],
        [(96, 48, 20, None)],
        SheetRules(kerf=0),
    )
    generator = _generator(group)
    draft = _draft(generator, (_row(0, 3), 1), (_row(0, 1), 1), (_row(2, 3), 1))
    found = fewer_setups(generator, draft, group.rules, Watch(30), 1)
    assert _counts(found) == [(1, [0, 1, 1, 0]), (2, [1, 0, 0, 1])]
    assert found.cost == draft.cost


def test_equal_parts_of_equal_sheets_are_cut_by_one_tree() -> None:
    group = make([(40, 20, 2, False), (30, 20, 2, False)], [(96, 48, 20, None)], SheetRules(kerf=0))
    generator = _generator(group)
    stacked = Pattern(0, Axis.RIP, ((((0, False),),), (((1, False),),)))
    draft = _draft(generator, (_row(0, 1), 1), (stacked, 1))
    found = fewer_setups(generator, draft, group.rules, Watch(30), 1)
    assert [(c.count, c.cuts.tolist()) for c in found.chosen] == [(2, [1, 1])]


def test_a_set_up_may_cost_what_the_tolerance_allows_and_no_more() -> None:
    # One sheet holds all four, or each pair a sheet; with two sheets there would be one set-up as
    # well, for twice the money.
    group = make([(48, 24, 4, False)], [(96, 48, 20, None)], SheetRules(kerf=0))
    generator = _generator(group)
    four = Pattern(0, Axis.RIP, ((((0, False),), ((0, False),)),) * 2)
    found = fewer_setups(generator, _draft(generator, (four, 1)), group.rules, Watch(30), 1)
    assert _counts(found) == [(1, [4])]


def test_the_model_pays_for_each_set_up_and_each_book_once() -> None:
    # Six of 50 and six of 40: 6 sheets of 50 + 40 are one set-up; in books of 4 that is 2 books.
    # The same in two set-ups of 5 and 1 would be 3 books.
    rules = SheetRules(kerf=0, stack=4)
    group = make([(50, 48, 6, False), (40, 48, 6, False)], [(96, 48, 20, None)], rules)
    generator = _generator(group)
    keys = Keys(generator, group.rules)
    now = {_row(0, 1): 4, _row(0): 2, _row(1, 1): 1}
    patterns = [*now, _row(1)]
    made = fewest(keys, patterns, generator.model.need, Fraction(1000), now, 50)
    assert made == {_row(0, 1): 6}
    assert keys.measure(made) == (1, 2)
    assert keys.measure(now) == (3, 3)


@pytest.mark.parametrize(
    ("count", "stack", "told", "text"),
    [
        (97, 3, ((32, 3), (1, 1)), "32x3+1x1"),
        (6, 3, ((2, 3),), "2x3"),
        (2, 3, ((1, 2),), "1x2"),
        (2, 1, ((2, 1),), "2x1"),
    ],
)
def test_books_in_words(count: int, stack: int, told: object, text: str) -> None:
    assert books(count, stack) == told
    assert books_text(count, stack) == text


def _random(rng: random.Random, rules: SheetRules) -> Group:
    parts = [
        (rng.randint(10, 60), rng.randint(8, 30), rng.randint(1, 4), rng.random() < 0.3)
        for _ in range(rng.randint(3, 6))
    ]
    sheets = [(96, 48, 20, None), (120, 48, 24, rng.choice([None, 2]))]
    return make(parts, sheets[: rng.randint(1, 2)], rules)


def _setups(group: Group, rules: SheetRules) -> tuple[int, Fraction, Fraction]:
    group = replace(group, rules=Rules(sheets=rules, lumber=group.rules.lumber))
    outcome = solve_sheets(group, Watch(30), 1)
    check(group, outcome)
    plans = material_plans(group, outcome)
    patterns = {layout.pattern for plan in plans for layout in plan.layouts}
    return len(patterns), cost_of(group, outcome), outcome.bound


def test_random_days_keep_their_parts_their_bound_and_the_tolerance() -> None:
    rng = random.Random(3)
    for _ in range(3):
        rules = SheetRules(
            kerf=rng.choice([0, 1]),
            stages=rng.choice([2, 3]),
            stack=rng.choice([1, 3]),
            max_parts=rng.choice([0, 0, 5]),
        )
        group = _random(rng, rules)
        setups, cost, bound = _setups(group, rules)
        wide = replace(rules, setup_tolerance=Decimal("0.1"))
        least, dearer, same = _setups(group, wide)
        assert bound == same
        assert bound <= cost
        assert dearer <= cost * Fraction(11, 10)
        assert least <= setups


def test_the_same_seed_gives_the_same_plan() -> None:
    rng = random.Random(4)
    rules = SheetRules(kerf=1, setup_tolerance=Decimal("0.05"))
    group = _random(rng, rules)
    one, two = (solve_sheets(group, Watch(30), 5) for _ in range(2))
    assert one.uses == two.uses


def test_the_waste_of_two_sheets_is_laid_together() -> None:
    # 50 + 30 leave 16 of 96 and 46 + 19 leave 31. 50 + 46 fill a sheet: of the other 47 are kept.
    group = make(
        [(50, 48, 1, False), (46, 48, 1, False), (30, 48, 1, False), (19, 48, 1, False)],
        [(96, 48, 20, None)],
        SheetRules(kerf=0, keep_drop=(24, 24)),
    )
    generator = _generator(group)
    draft = _draft(generator, (_row(0, 2), 1), (_row(1, 3), 1))
    found = fewer_setups(generator, draft, group.rules, Watch(30), 1)
    assert _counts(found) == [(1, [0, 0, 1, 1]), (1, [1, 1, 0, 0])]
    drops = [
        (d.length, d.width)
        for c in found.chosen
        for d in lay(c.pattern, generator.model, group.rules)[1]
        if d.kept
    ]
    assert drops == [(47, 48)]

"""Orders of sheets of one price, where plans differ by whole sheets.

Wood-industry orders of Macedo, Alves and Valério de Carvalho (Computers & Operations Research 37,
2010): guillotine cuts without a limit of stages, no kerf, no turning. Optima are from the tables of
H. Becker's thesis; three stages suffice for them.
"""

from __future__ import annotations

import json
import random
from pathlib import Path

import numpy as np
import pytest

from cutopt.materials import SheetRules
from cutopt.plan import Group, Problem, Stop
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.dive import dive
from cutopt.solve.sheets.fewest import fewest, one_price
from cutopt.solve.sheets.jointed import Jointed
from cutopt.solve.sheets.model import model_of, want_of
from cutopt.solve.sheets.waste import filled_up
from tests.bench.sheets.sets import SETS
from tests.solve.sheets.shop import Asked, Had, check, cost_of, make

DATA = Path(__file__).parents[2] / "bench" / "data" / "sheets.jsonl"
ORDERS = {d["name"]: d for d in map(json.loads, DATA.read_text(encoding="utf-8").splitlines())}


def _order(name: str) -> tuple[Group, int]:
    """The order in three stages, and the fewest sheets that it can take."""
    order = ORDERS[name]
    rules = SheetRules(kerf=0, stages=3, keep_drop=(10**6, 1))
    parts = [(a, b, n, order["turn"]) for a, b, n in order["parts"]]
    return make(parts, [(order["length"], order["width"], 1, None)], rules), order["best"]


def _generator(parts: list[Asked], sheets: list[Had], rules: SheetRules) -> Generator:
    group = make(parts, sheets, rules)
    pieces = [Piece(p, p.length, p.width, p.qty, p.materials) for p in group.parts]
    need = {want_of(i): i.demand for i in items_of(pieces)}
    jointed = Jointed([], group.rules)
    model = model_of(group, need, {})
    jointed.bind(model.kind_of, len(model.kinds))
    generator = Generator(model, jointed, group.rules, Watch(20))
    generator.start()
    generator.root(500)
    return generator


@pytest.mark.parametrize("name", ["wood-A17", "wood-A15", "wood-A20"])
def test_the_last_sheet_is_saved(name: str) -> None:
    group, least = _order(name)
    outcome = solve_sheets(group, Watch(60), 1)
    check(group, outcome)
    assert cost_of(group, outcome) == outcome.bound == least


@pytest.mark.parametrize("seed", range(6))
def test_a_plan_only_gets_better_and_keeps_to_what_is_wanted(seed: int) -> None:
    rng = random.Random(seed)
    parts = [(rng.randint(4, 18), rng.randint(4, 14), rng.randint(2, 9), False) for _ in range(9)]
    generator = _generator(parts, [(36, 24, 5, None)], SheetRules(kerf=0, stages=2 + seed % 2))
    assert one_price(generator)
    first = dive(generator, generator.room(), rng, 6, deep=False)
    bound = generator.rounded_bound()
    found = fewest(generator, first, bound, rng, True)
    found = fewest(generator, found, bound, rng, False)
    assert bound <= found.cost <= first.cost
    cut = sum((c.cuts * c.count for c in found.chosen), start=0 * generator.model.need)
    assert (cut == generator.model.need).all()


def test_sheets_of_two_prices_are_left_alone() -> None:
    rules = SheetRules(kerf=0)
    assert not one_price(_generator([(4, 4, 3, False)], [(10, 8, 3, None), (9, 8, 2, None)], rules))
    free = [(10, 8, 0, None)]
    assert not one_price(_generator([(4, 4, 3, False)], free, rules))


def test_no_sheet_less_is_proved_though_the_programme_does_not_say_so() -> None:
    """Made orders of 500 and 1,500 pieces whose programmes round up to a sheet less than is needed.

    The patterns of a plan of so many sheets are few: all are listed, and none makes up the order.
    """
    days = {i.name: i.day for i in SETS["typical"].make(False, 0)}
    for name, least in (("floor-60x500-36", 270), ("floor-50x1500-18", 602)):
        (group,) = Problem((days[name],), ()).groups
        outcome = solve_sheets(group, Watch(60), 1)
        check(group, outcome)
        assert outcome.stop is Stop.PROVED
        assert sum(use.count for use in outcome.uses) == least


def test_small_parts_lie_in_the_waste_of_others() -> None:
    """Three strips of waste, 10 x 2, hold five of the small parts each."""
    sheets, rules = [(10, 10, 3, None)], SheetRules(kerf=0, stages=3, keep_drop=(10**6, 1))
    for count, most in ((15, 3), (16, 4)):
        generator = _generator([(10, 8, 3, False), (2, 2, count, False)], sheets, rules)
        worth, need = np.array([80, 0]), np.array([3, 0])
        large = generator.priced(worth, need, [True])[0].pattern
        draft = filled_up(generator, [(large, 3)], np.array([False, True]))
        cut = sum((c.cuts * c.count for c in draft.chosen), start=0 * generator.model.need)
        assert cut.tolist() == [3, count]
        assert sum(c.count for c in draft.chosen) == most

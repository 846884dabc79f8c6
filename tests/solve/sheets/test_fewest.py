"""Orders of sheets of one price, where plans differ by whole sheets.

Wood-industry orders of Macedo, Alves and Valério de Carvalho (Computers & Operations Research 37,
2010): guillotine cuts without a limit of stages, no kerf, no turning. Optima are from the tables of
H. Becker's thesis; three stages suffice for them.
"""

from __future__ import annotations

import json
import random
from pathlib import Path

import pytest

from cutopt.materials import SheetRules
from cutopt.plan import Group
from cutopt.solve.demand import Piece, items_of
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from cutopt.solve.sheets.columns import Generator
from cutopt.solve.sheets.dive import dive
from cutopt.solve.sheets.fewest import fewest, one_price
from cutopt.solve.sheets.jointed import Jointed
from cutopt.solve.sheets.model import model_of, want_of
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
    found = fewest(generator, first, bound, rng)
    assert bound <= found.cost <= first.cost
    cut = sum((c.cuts * c.count for c in found.chosen), start=0 * generator.model.need)
    assert (cut == generator.model.need).all()


def test_sheets_of_two_prices_are_left_alone() -> None:
    rules = SheetRules(kerf=0)
    assert not one_price(_generator([(4, 4, 3, False)], [(10, 8, 3, None), (9, 8, 2, None)], rules))
    free = [(10, 8, 0, None)]
    assert not one_price(_generator([(4, 4, 3, False)], free, rules))

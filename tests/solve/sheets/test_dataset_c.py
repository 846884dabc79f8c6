"""Small two-stage instances of "dataset C" with their optima.

Instances: Silva, Alvelos and Valério de Carvalho, European Journal of Operational Research 205
(2010), two stages with trimming, no kerf, no turning; optima as tabled by Becker, Araújo and
Buriol (LAGOS 2021). They are taken from the public-domain data that accompany H. Becker's thesis.
Those of the fifteen are kept here that take about a second or less.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from cutopt.materials import FirstCut, SheetRules
from cutopt.solve.search import Watch
from cutopt.solve.sheets import solve_sheets
from tests.solve.sheets.shop import check, cost_of, make

DATA = Path(__file__).parents[2] / "reference" / "data" / "sheets_small.jsonl"
CASES = [json.loads(line) for line in DATA.read_text(encoding="utf-8").splitlines()]


@pytest.mark.parametrize("case", CASES, ids=[c["name"] for c in CASES])
def test_the_published_optimum_is_met_and_proved(case: dict) -> None:  # type: ignore[type-arg]
    rules = SheetRules(
        kerf=0, stages=case["stages"], first_cut=FirstCut(case["first_cut"]), keep_drop=(10**6, 1)
    )
    parts = [(a, b, n, case["turn"]) for a, b, n in case["parts"]]
    group = make(parts, [(case["length"], case["width"], 1, None)], rules)
    outcome = solve_sheets(group, Watch(60), 1)
    check(group, outcome)
    assert case["proved"]
    assert cost_of(group, outcome) == case["best"] == outcome.bound

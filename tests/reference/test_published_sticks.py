"""Published one-dimensional instances: the fewest sticks, found and proved.

Data: the ESICUP data sets, CC0: Falkenauer U and T (J. Heuristics 2, 1996), Scholl 1 to 3 (Scholl,
Klein, Jürgens, C&OR 24, 1997), Schwerin and Wäscher (ITOR 4, 1997), Wäscher and Gau (OR Spektrum
18, 1996), Hard28 (Schoenfield; Belov and Scheithauer, EJOR 171, 2006). Decimal lengths scaled by
10. Optima: per-instance results of da Silva and Schouery, INFORMS J. Computing 2025, doi
10.1287/ijoc.2023.0399 (for Falkenauer also the figures in the files themselves).
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.solve.lumber.making import day, offer, part, rules, solved

DATA = Path(__file__).parent / "data" / "lumber_small.jsonl"
INSTANCES = [json.loads(line) for line in DATA.read_text(encoding="utf-8").splitlines()]


def test_there_are_enough_and_of_many_families() -> None:
    assert len(INSTANCES) >= 40
    assert len({e["family"] for e in INSTANCES}) >= 5


@pytest.mark.parametrize("instance", INSTANCES, ids=lambda e: str(e["name"]))
def test_the_fewest_sticks_are_found_and_proved(instance: dict[str, Any]) -> None:
    parts = [part(f"P{length}", length, n, cell=1) for length, n in instance["items"]]
    stock = offer(2, instance["capacity"], "1", cell=1)
    planned = solved(day((stock,), parts, rules(), unit="mm"))
    assert planned.objective == instance["optimum"]
    assert planned.bound == instance["optimum"]
    assert planned.optimal
    assert planned.plans[0].stop.value == "proved"

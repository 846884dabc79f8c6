"""Published one-dimensional instances: the fewest sticks, found and proved.

Data: the ESICUP data sets, CC0: Falkenauer U and T (J. Heuristics 2, 1996), Scholl 1 to 3 (Scholl,
Klein, Jürgens, C&OR 24, 1997), Schwerin and Wäscher (ITOR 4, 1997), Wäscher and Gau (OR Spektrum
18, 1996), Hard28 (Schoenfield; Belov and Scheithauer, EJOR 171, 2006). Decimal lengths scaled by
10. Optima: per-instance results of da Silva and Schouery, INFORMS J. Computing 2025, doi
10.1287/ijoc.2023.0399 (for Falkenauer also the figures in the files themselves).

All 104 are held and proved by `python -m tests.bench lumber --only published`; here the quick ones
and one of each hard class.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tests.solve.lumber.making import day, offer, part, rules, solved

DATA = Path(__file__).parent / "data" / "lumber.jsonl"
ALL = [json.loads(line) for line in DATA.read_text(encoding="utf-8").splitlines()]
#: Some seconds each; the bench proves them.
LONG = {"Hard28", "Scholl3", "T249", "T501"}
LONG_NAMES = {"N4W1B3R4"} | {f"Waescher_TEST{n}" for n in ("0097", "0075", "0068", "0095")}
ONE_OF_EACH = {"Hard28_BPP13", "HARD0", "t249_00", "t501_02"}
INSTANCES = [
    e
    for e in ALL
    if e["name"] in ONE_OF_EACH or not (e["family"] in LONG or e["name"] in LONG_NAMES)
]


def test_there_are_enough_and_of_many_families() -> None:
    assert len(ALL) == 104
    assert len(INSTANCES) >= 70
    assert {e["family"] for e in INSTANCES} == {e["family"] for e in ALL}


@pytest.mark.parametrize("instance", INSTANCES, ids=lambda e: str(e["name"]))
def test_the_fewest_sticks_are_found_and_proved(instance: dict[str, Any]) -> None:
    parts = [part(f"P{length}", length, n, cell=1) for length, n in instance["items"]]
    stock = offer(2, instance["capacity"], "1", cell=1)
    planned = solved(day((stock,), parts, rules(), unit="mm"))
    assert planned.objective == instance["optimum"]
    assert planned.bound == instance["optimum"]
    assert planned.optimal
    assert planned.plans[0].stop.value == "proved"

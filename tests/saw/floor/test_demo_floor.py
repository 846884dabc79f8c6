"""The demo days cut as planned: entries add up to yield.csv, the rack is the plan's, half a day
left passes the checker.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

from cutopt.files import outputs, read_days
from cutopt.measure import rounded
from cutopt.plan import Plan, Problem
from cutopt.saw.floor import balance, check_rest, cut_all, material_sums, missing, release
from cutopt.saw.floor.rest import rack_offers
from cutopt.solve import no_report, plan_of, solve_group
from cutopt.yields import rack, yields
from tests.saw.floor.days import BY

DEMO = Path(__file__).resolve().parents[3] / "demo_orders"
DAYS = sorted(path.name for path in DEMO.iterdir() if (path / "day.toml").is_file())
AMOUNTS = ("input", "parts", "kerf", "trim", "kept_drop", "waste_drop", "scrap")


def planned(day: str) -> tuple[Problem, Plan]:
    """A plan that is stopped at once: as whole and as right as any, only dearer."""
    reading = read_days([DEMO / day])
    problem = Problem(reading.days, reading.warnings)
    plans = [solve_group(g, 60, 1, lambda: True, no_report) for g in problem.groups]
    return problem, plan_of(problem, plans)


@pytest.mark.parametrize("day", DAYS)
def test_entries_add_up_to_the_yields_of_the_plan(day: str) -> None:
    problem, plan = planned(day)
    state = release(problem, plan)
    assert missing(state) == ()
    assert check_rest(state) == []
    names = [stick.id for stick in state.sticks]
    state = cut_all(state, names[::2], BY)
    assert check_rest(state) == []
    state = cut_all(state, names[1::2], BY)
    assert check_rest(state) == []
    assert not +state.wanted - state.made
    assert all(line.exact for line in balance(state.entries))
    sums = {line.material: line for line in material_sums(state.entries)}
    lines = [line for line in yields(plan, problem.rules) if line.input]
    assert [line.material for line in lines] == list(sums)
    for line in lines:
        for amount in AMOUNTS:
            assert getattr(sums[line.material], amount) == getattr(line, amount)
    ours = [
        (o.material, o.length, o.width, o.price, o.per, o.on_hand, o.lot, o.edges)
        for o in rack_offers(state).offers
    ]
    theirs = [
        (o.material, o.length, o.width, o.price, o.per, o.on_hand, o.lot, o.edges)
        for o in rack(problem, plan)
    ]
    assert sorted(map(str, ours)) == sorted(map(str, theirs))


def test_entries_add_up_to_yield_csv_as_written() -> None:
    problem, plan = planned(DAYS[0])
    state = release(problem, plan)
    state = cut_all(state, [stick.id for stick in state.sticks], BY)
    table = csv.DictReader(io.StringIO(outputs(problem, plan)["yield.csv"].decode()))
    written = {row["material"]: row for row in table if row["input"] != "0.000000"}
    for line in material_sums(state.entries):
        row = written.pop(line.material)
        for amount in AMOUNTS[1:]:
            assert row[amount] == f"{rounded(getattr(line, amount), 6):f}"
    assert not written

"""A plan read back from its files is the plan that was written, part by part."""

from __future__ import annotations

import pytest

from cutopt.cutlist import read_raw_days
from cutopt.files import outputs, parse_document, raw_day_from_files, tables_of
from cutopt.files.read_back import plan_from
from cutopt.plan import Problem
from cutopt.solve import Settings, solve
from tests.service.days import demo_files, small_files

LISTS = ("decks", "ceilings", "trusses", "ridges")


@pytest.mark.parametrize(
    "files", [small_files(), demo_files(lists=LISTS)], ids=["small", "demo lists"]
)
def test_every_layout_comes_back(files: dict[str, bytes]) -> None:
    reading = read_raw_days([raw_day_from_files("day", files)])
    problem = Problem(reading.days, reading.warnings)
    plan = solve(problem, Settings(seconds=20, seed=1, workers=1))
    written = outputs(problem, plan)
    cuts = tables_of({"cut_list.csv": written["cut_list.csv"]})["cut_list.csv"]
    back = plan_from(problem, parse_document(written["plan.json"]), cuts)
    assert [m.material for m in back.materials] == [m.material for m in plan.materials]
    assert sum(len(m.layouts) for m in back.materials) > 3
    for found, told in zip(back.materials, plan.materials, strict=True):
        assert found.layouts == told.layouts
        for name in ("kind", "kerf", "head_trim", "joints", "status", "stop", "stack", "surplus"):
            assert getattr(found, name) == getattr(told, name)
    assert back.unit == plan.unit
    assert (back.plant, back.days) == (plan.plant, plan.days)

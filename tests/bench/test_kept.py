"""A bench whose run is broken off loses nothing, and says on its page what it was made of."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.bench.common import command as common
from tests.bench.common.kept import Kept
from tests.bench.common.measure import Row
from tests.bench.common.promises import Check
from tests.bench.sheets import command
from tests.bench.sheets.instance import Instance
from tests.bench.sheets.measure import measure
from tests.bench.sheets.plant import order
from tests.bench.sheets.sets import SETS, Set

SETTINGS = {"quick": True}


def little(name: str) -> Instance:
    return order(name, "small", "sheathing", 5, 12, 3, stages=2, cell="15 pieces, 1 sizes")


@pytest.fixture(scope="module")
def row() -> Row[Instance]:
    return measure(little("siding-15-2st-0rem-0"), "small")


def begun(path: Path | None, resume: bool, **settings: Any) -> Kept:
    kept = Kept(path, {**SETTINGS, **settings})
    kept.begin(resume)
    return kept


def test_a_row_comes_back_as_it_was(row: Row[Instance], tmp_path: Path) -> None:
    path = tmp_path / "new" / "rows.jsonl"
    row = replace(row, why={"CBC": "found nothing"}, ours=replace(row.ours, faults=("a fault",)))
    check = Check("x", "2", "1", False)
    first = begun(path, False)
    first.keep_row(row, 1.5)
    first.keep_checks("bounds", [check], 2.0)
    again = begun(path, True)
    assert again.row(row.instance, "small") == row
    assert again.row(row.instance, "dense") is None
    assert again.checks("bounds") == [check]
    assert again.checks("clock") is None
    assert (again.seconds, again.taken_up, again.codes) == (3.5, 2, first.codes)


def test_only_what_was_measured_alike_and_since_the_last_beginning_is_taken_up(
    row: Row[Instance], tmp_path: Path
) -> None:
    path = tmp_path / "rows.jsonl"
    begun(path, False).keep_row(row, 1)
    begun(path, False, quick=False)  # another run leaves it alone
    assert begun(path, True).row(row.instance, "small") is not None
    assert begun(path, True, quick=False).row(row.instance, "small") is None
    assert begun(path, False).row(row.instance, "small") is None
    assert begun(path, True).row(row.instance, "small") is None
    assert len(path.read_text().splitlines()) == 4  # nothing is taken away from the file
    assert begun(None, True).row(row.instance, "small") is None


def test_a_line_cut_off_is_passed_over(row: Row[Instance], tmp_path: Path) -> None:
    path = tmp_path / "rows.jsonl"
    kept = begun(path, False)
    kept.keep_row(row, 1)
    whole = path.read_bytes()
    path.write_bytes(whole + whole.splitlines()[1][:100])
    again = begun(path, True)
    assert again.row(row.instance, "small") == row
    other = replace(row, instance=replace(row.instance, name="other"))
    again.keep_row(other, 1)
    assert begun(path, True).row(other.instance, "small") == other


def test_a_busy_full_run_goes_on_where_it_was_broken_off_and_writes_its_page(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    def one(name: str) -> Set:
        return Set(lambda quick, shift: [little(name)], f"of {name}", 10)

    bench = command._Sheets
    sets = {"days": one("a-1-2st-0rem-0"), "small": one("b-1-2st-0rem-0")}
    for name in sets:
        monkeypatch.setitem(SETS, name, sets[name])
    monkeypatch.setattr(bench, "sets", sets)
    monkeypatch.setattr(bench, "others", {"bounds": lambda words: [Check("y", "2", "2", True)]})
    monkeypatch.setattr(common, "RESULTS", tmp_path / "results")
    monkeypatch.setattr(common, "ROOT", tmp_path)
    seen: list[str] = []

    def broken(instance: Instance, name: str, *more: Any, **settings: Any) -> Row[Instance]:
        if name == "days" and len(seen) == 1:
            raise KeyboardInterrupt
        seen.append(name)
        return measure(instance, name, heuristics=False)

    monkeypatch.setattr(bench, "warm_up", lambda self: None)
    monkeypatch.setattr(command, "measure", broken)
    asked = ["--busy", "--first", "bounds", "small"]
    with pytest.raises(KeyboardInterrupt):
        command.main(asked)
    kept = tmp_path / "out" / "bench" / "sheets.jsonl"
    names = [json.loads(line).get("set") for line in kept.read_text().splitlines()]
    assert names == [None, "bounds", "small"]
    assert not (tmp_path / "results").exists()
    seen.append("goes on")
    assert command.main([*asked, "--resume"]) == 0
    assert seen == ["small", "goes on", "days"]
    said = capsys.readouterr().out
    assert "bounds: taken up" in said
    assert "2 figures of them taken up" in said
    page = (tmp_path / "results" / "sheets.md").read_text(encoding="utf-8")
    assert "Other work: ran beside it on the same cores, so CPU seconds are judged" in page
    assert "thrice that on a busy machine" in page
    assert "Seconds are CPU seconds" in page
    assert "in parts: 2 figures were taken up" in page
    assert page.index("### days") < page.index("### small")  # the page keeps its own order
    assert "| y | 2 | 2 | ok |" in page

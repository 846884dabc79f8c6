"""The command `python -m tests.bench sheets`: its table, its page, its exit code."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from tests.bench.common.promises import Check
from tests.bench.sheets import command
from tests.bench.sheets.instance import Instance
from tests.bench.sheets.measure import measure
from tests.bench.sheets.plant import ceilings, order
from tests.bench.sheets.promises import checks_of_rows
from tests.bench.sheets.report import head, line_of, write_page
from tests.bench.sheets.sets import SETS, Set


def little(name: str = "siding-15-2st-0rem-0", set_name: str = "small") -> Instance:
    return order(name, set_name, "sheathing", 5, 12, 3, stages=2, cell="15 pieces, 1 sizes")


def test_a_row_has_every_figure_and_ratios_of_one_or_more() -> None:
    row = measure(little(), "small")
    assert row.ours.bound <= row.ours.objective
    assert not row.ours.faults
    names = ["next fit", "next fit, sorted", "first fit", "first fit, sorted"]
    assert set(row.costs) == set(names)
    assert all((row.ratio(name) or 0) >= 1 for name in row.costs)
    assert row.ratio("CBC") is None
    assert len(line_of(row, names)) == len(head(names))
    fields = measure(ceilings("c", "ceilings", 6, 1, step=6), "ceilings")
    assert set(fields.costs) == {"one size", "mix first"}


def test_promises_are_kept_or_not() -> None:
    row = measure(little(), "small", heuristics=False)
    good = checks_of_rows([row])
    assert all(c.kept for c in good), good

    def short(row: object, **more: bool) -> set[str]:
        return {c.name for c in checks_of_rows([row], **more) if not c.kept}  # type: ignore[list-item]

    worse = replace(row.ours, objective=row.ours.bound * Fraction(102, 100), optimal=False)
    assert short(replace(row, ours=worse)) == {"small orders: proved optimal", "small orders: gap"}
    slow = replace(row, ours=replace(row.ours, wall=11.0))
    assert "small orders: seconds" in short(slow)
    assert not short(slow, cpu=True)
    above = replace(row, instance=replace(row.instance, optimum=row.ours.bound - 1))
    assert short(above) == {"bounds above, or plans below, what is known"}
    freer = replace(row, instance=replace(above.instance, freer=True))
    assert not short(freer)
    dear = replace(row, costs={"first fit": row.ours.bound / 2})
    assert len(short(dear)) == 2
    faulty = replace(row, ours=replace(row.ours, faults=("a fault",)))
    assert short(faulty) == {"plans that do not check"}


def test_published_instances_are_all_there() -> None:
    known = [i for name in ("dataset-c", "wood") for i in SETS[name].make(False, 0)]
    assert len(known) == 37
    assert sum(i.optimum is not None for i in known) == 30
    assert all(i.optimum for i in known if i.family == "dataset-c")
    assert all(i.freer == (i.family == "wood") for i in known)


def test_sets_are_as_large_as_promised_and_the_models_see_what_exists() -> None:
    for name, own in SETS.items():
        if name == "large":  # ten thousand pieces, never modelled
            assert not own.modelled
            continue
        made = own.make(False, 0)
        names = {i.name for i in made}
        assert set(own.modelled) <= names, name
        assert len(names) == len(made), name
        if name == "typical":
            assert len(made) == 40
            assert {i.sizes for i in made} == {1}
            assert {i.pieces for i in made} == {500, 1000, 1500, 2000}
        if name == "small":
            assert len(made) == 120


def test_the_page_names_every_instance_and_its_plots_are_drawings(tmp_path: Path) -> None:
    rows = [measure(little(), "small"), measure(little("other", "types"), "types")]
    rows.append(measure(ceilings("c", "ceilings", 6, 1, step=6, cell="both"), "ceilings"))
    rows[0].why["CBC"] = "found nothing"
    check = Check("some figure", "2", "1", False)
    write_page(tmp_path, rows, [check], {"Models": "none"})
    text = (tmp_path / "sheets.md").read_text(encoding="utf-8")
    assert "siding-15-2st-0rem-0" in text
    assert "| some figure | 2 | 1 | **falls short** |" in text
    assert "found nothing" in text
    for name in ("sheets_distance.svg", "sheets_growth.svg", "sheets_small.svg"):
        root = ET.parse(tmp_path / name).getroot()
        assert root.tag.endswith("svg")
        assert len(list(root)) > 5
        assert name in text


def test_the_command_says_so_where_a_figure_falls_short(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    words = ["--quick", "--only", "small", "--no-models", "--out", str(tmp_path)]
    one = Set(lambda quick, shift: [little()], "one that is proved", 10)
    monkeypatch.setitem(SETS, "small", one)
    assert command.main(words) == 0
    assert (tmp_path / "sheets.md").exists()
    said = capsys.readouterr().out
    assert "a sample" in said
    assert "ok    small orders: proved optimal: 1 of 1" in said
    assert command.main([*words, "--like", "nothing"]) == 0
    monkeypatch.setattr(command, "checks_of_rows", lambda rows, cpu: [Check("x", "2", "1", False)])
    assert command.main(words) == 1
    assert "SHORT x: 2 (required: 1)" in capsys.readouterr().out

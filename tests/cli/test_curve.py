"""`cutopt curve`: its table, its files, what it refuses."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest

from cutopt.cli import main
from tests.cli.conftest import CUTS

PLAIN = "".join(row for row in CUTS.splitlines(keepends=True) if "jointed" not in row)


def curve(*words: object) -> int:
    return main(["curve", *map(str, words), "--workers", "1"])


def test_where_nothing_is_jointed_it_says_so(
    day: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, svg = tmp_path / "new" / "c.csv", tmp_path / "c.svg"
    assert curve(day(cuts=PLAIN), "--of", "joints", "--out", out, "--svg", svg) == 0
    said = capsys.readouterr().out
    assert "2x4-SPF-2 has no jointed runs" in said
    assert f"written to {out}" in said
    # Sheets have no curve.
    assert "OSB" not in said
    assert out.read_text(encoding="utf-8").startswith("material,of,setting,joints,setups,sticks,")
    assert "Has no jointed runs" in svg.read_text(encoding="utf-8")


@pytest.mark.parametrize("of", ["joints", "setups"])
def test_the_points_as_a_table_and_as_files(
    day: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str], of: str
) -> None:
    folder = day()
    made = []
    for n in (1, 2):
        out, svg = tmp_path / f"c{n}.csv", tmp_path / f"c{n}.svg"
        words = ["curve", str(folder), "--of", of, "--out", str(out), "--svg", str(svg)]
        assert main([*words, "--workers", str(n)]) == 0
        made.append((out.read_bytes(), svg.read_bytes()))
    assert made[0] == made[1]
    rows = list(csv.DictReader(io.StringIO(made[0][0].decode(), newline="")))
    assert {r["of"] for r in rows} == {of}
    assert "yes" in {r["choice"] for r in rows}
    for row in rows:
        assert not row["bound"] or float(row["bound"]) <= float(row["objective"])
    assert ET.fromstring(made[0][1].decode()).tag.endswith("svg")
    said = capsys.readouterr().out
    assert rows[0]["setting"] in said
    pieces = "sticks" if of == "joints" else "pieces"
    for word in ("setting", "joints", "set-ups", pieces, "stock", "objective"):
        assert word in said


def test_faults_are_refused_as_by_plan(
    day: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = day()
    (folder / "day.toml").write_text("plant = 3\n", encoding="utf-8")
    assert curve(folder, "--of", "joints") == 2
    assert "day.toml:1:plant" in capsys.readouterr().err
    assert curve(tmp_path / "nothing", "--of", "joints") == 2


@pytest.mark.parametrize("word", ["--out", "--svg"])
def test_what_cant_be_written_is_told_before_the_search(
    day: Callable[..., Path], tmp_path: Path, capsys: pytest.CaptureFixture[str], word: str
) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    folder = day(cuts=PLAIN)
    for path in (tmp_path, tmp_path / "file" / "c"):
        assert curve(folder, "--of", "joints", word, path) == 2
        said = capsys.readouterr()
        assert word in said.err
        assert "jointed" not in said.out


@pytest.mark.parametrize("words", [[], ["--of", "cost"], ["--of", "joints", "--seconds", "0"]])
def test_wrong_words_are_told(day: Callable[..., Path], words: list[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        curve(day(), *words)
    assert ended.value.code == 2


def test_it_is_one_of_the_commands() -> None:
    command = Path(sys.executable).parent / "cutopt"
    said = subprocess.run([command, "--help"], capture_output=True, text=True, check=True).stdout
    for word in ("plan", "check", "curve", "serve"):
        assert word in said

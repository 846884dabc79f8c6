"""`cutopt plan --saws`: the running order beside the plan, the plan as the saws cut it."""

from __future__ import annotations

import csv
import io
from collections import Counter
from decimal import Decimal
from pathlib import Path

from cutopt.cli import main
from cutopt.files import parse_document

SAWS = """[all]
carts = 2
safe_hand = "16"

[saws."Wall saw"]
kind = "lumber"

[saws."Panel saw"]
kind = "sheet"
carts = 0
"""
#: Four carts that want wall parts, each a length of its own beside equal blocks.
CUTS = """section,jig,mark,material,length,width,qty,need
Alder,Wall table,STUD,2x4-SPF-2,92-5/8,,6,1
Alder,Wall table,BLOCK,2x4-SPF-2,14-1/2,,8,1
Birch,Wall table,POST,2x4-SPF-2,88,,6,2
Birch,Wall table,BLOCK,2x4-SPF-2,14-1/2,,8,2
Cedar,Wall table,KING,2x4-SPF-2,80-1/4,,6,3
Cedar,Wall table,BLOCK,2x4-SPF-2,14-1/2,,8,3
Alder,Deck station,DECK,OSB-7/16,47-7/8,23-7/8,7,1
"""


def rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def planned(day, tmp_path: Path, saws: str = SAWS, cuts: str = CUTS):  # type: ignore[no-untyped-def]
    """The exit code, the day's folder and the folder of the plan."""
    folder, out, file = day(cuts=cuts), tmp_path / "out", tmp_path / "saws.toml"
    file.write_text(saws, encoding="utf-8")
    words = ["plan", folder, "--out", out, "--workers", "1", "--saws", file]
    return main([str(word) for word in words]), folder, out


def test_every_layout_is_in_the_order_once_and_the_plan_checks(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    code, folder, out = planned(day, tmp_path)
    said = capsys.readouterr()
    assert code == 0
    assert main(["check", str(folder), "--plan", str(out / "plan.json")]) == 0
    document = parse_document((out / "plan.json").read_bytes())
    counts = {lay["id"]: lay["count"] for m in document["materials"] for lay in m["layouts"]}
    runs = rows(out / "running_order.csv")
    cut: Counter[str] = Counter()
    for run in runs:
        listed = [name.rsplit(" x", 1) for name in run["layouts"].split("; ")]
        assert sum(int(n) for _, n in listed) == int(run["count"])
        for name, n in listed:
            cut[name] += int(n)
    assert dict(cut) == counts
    for saw in ("Wall saw", "Panel saw"):
        own = [run for run in runs if run["saw"] == saw]
        assert [int(run["run"]) for run in own] == list(range(1, len(own) + 1))
        assert own[0]["setup"] == "material"
        ends = [Decimal(run["end"]) for run in own]
        assert ends == sorted(ends)
        assert [Decimal(run["begin"]) for run in own[1:]] == ends[:-1]
        assert saw in said.out


def test_carts_are_those_that_the_cut_list_serves(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    _, _, out = planned(day, tmp_path)
    carts = [(c["section"], c["jig"]) for c in rows(out / "carts.csv")]
    served = {(r["section"], r["jig"]) for r in rows(out / "cut_list.csv")}
    assert len(carts) == len(set(carts))
    assert set(carts) == served
    for cart in rows(out / "carts.csv"):
        assert 1 <= int(cart["first"]) <= int(cart["last"])


def test_what_is_known_of_the_limit_on_carts_is_told(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    planned(day, tmp_path)
    said = capsys.readouterr().out
    carts = [line for line in said.splitlines() if line.startswith("Wall saw: ")]
    assert any("the limit of 2 carts is met" in line for line in carts), said
    assert "Panel saw: at most 1 cart open, no limit is set" in said


def test_a_short_last_part_is_a_caution(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    """Blocks of 14-1/2 in alone on a stick: none of them is 16 in long."""
    blocks = "section,jig,mark,material,length,width,qty\nAlder,Wall,BLOCK,2x4-SPF-2,14-1/2,,16\n"
    _, _, out = planned(day, tmp_path, cuts=blocks)
    said = capsys.readouterr().out
    assert 'caution: 1 pattern ends with a part shorter than the safe hand distance of 16"' in said
    assert {run["short_end"] for run in rows(out / "running_order.csv")} == {"14.5"}


def test_faults_of_saws_toml_are_told_before_anything_is_planned(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    wrong = SAWS.replace("carts = 2", 'cartss = 2\nsafe_hand = "long"').replace(
        'safe_hand = "16"\n', ""
    )
    code, _, out = planned(day, tmp_path, saws=wrong)
    assert code == 2
    said = capsys.readouterr().err
    assert "cartss" in said
    assert "safe_hand" in said
    assert not out.exists()


def test_windows_are_planned_apart(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    code, folder, out = planned(day, tmp_path, saws=SAWS.replace("carts = 2", "window = 1", 1))
    assert code == 0
    assert "planning by windows" in capsys.readouterr().err
    assert main(["check", str(folder), "--plan", str(out / "plan.json")]) == 0
    # no stick serves two sections
    sections: dict[str, set[str]] = {}
    for row in rows(out / "cut_list.csv"):
        if row["material"] == "2x4-SPF-2":
            sections.setdefault(row["layout"], set()).add(row["section"])
    assert all(len(names) == 1 for names in sections.values())

"""saws.toml: every key has a default, every fault is told at once with its place."""

from __future__ import annotations

from pathlib import Path

import pytest

from cutopt.files.saws import read_saws_file
from cutopt.materials import Kind
from cutopt.measure import INCH
from cutopt.records import InputRefused
from cutopt.saw.saws import SAW_KEYS, Saw, materials_of, read_saws, usual_saws

DEMO = Path(__file__).parents[3] / "demo_orders" / "saws.toml"


def refused(text: str, **more: object) -> list[str]:
    with pytest.raises(InputRefused) as told:
        read_saws(text, "in", **more)  # type: ignore[arg-type]
    return [str(f) for f in told.value.faults]


def test_an_empty_file_means_the_usual_saws() -> None:
    assert read_saws("", "in") == usual_saws()
    carts = [s.carts for s in read_saws("[all]\ncarts = 5", "in")]
    assert carts == [5, 5]


def test_one_saw_changes_what_all_have() -> None:
    text = '[all]\ncarts = 5\ncut_seconds = 4.5\n[saws.A]\ncarts = 6\nsafe_hand = "300mm"\n'
    (saw,) = read_saws(text, "in")
    assert (saw.name, saw.carts, saw.seconds.cut, saw.safe_hand) == ("A", 6, 4_500, 300 * 1_600)
    assert saw.seconds.stick == Saw("A").seconds.stick


def test_the_demo_file_names_every_key_and_holds_the_defaults() -> None:
    text = DEMO.read_text(encoding="utf-8")
    assert all(key in text for key in SAW_KEYS)
    wall, floor, panel = read_saws_file(DEMO, "in")
    usual = Saw("")
    assert (wall.seconds, wall.weights, wall.carts) == (usual.seconds, usual.weights, usual.carts)
    assert wall.safe_hand == 12 * INCH
    assert (floor.kind, panel.kind) == (Kind.LUMBER, Kind.SHEET)


def test_every_fault_is_told_at_once() -> None:
    text = (
        "[all]\ncart = 8\nkind = 'sheet'\n[saws.A]\nmaterials = ['a', 'b']\nsetup_stop = 400\n"
        "[saws.B]\nmaterials = ['a']\ncut_seconds = 'x'\nsafe_hand = '1/0'\n[sawz]\n"
    )
    faults = refused(text)
    assert len(faults) == 7
    assert "saws.toml:2:all.cart: no such key, read 'cart'" in faults[0]
    assert "did you mean 'carts'?" in faults[0]
    assert any(f.startswith("saws.toml:8:saws.B.materials: already cut at A") for f in faults)
    assert any("take less than what they include" in f for f in faults)
    assert any("did you mean 'saws'?" in f for f in faults)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("carts = ", "not TOML"),
        ("[all]\ncarts = -1", "not a whole number"),
        ("[all]\ncarts = true", "not a whole number"),
        ("[all]\ncarts = 2.5", "not a whole number"),
        ("[all]\ncut_seconds = 0.0001", "too fine"),
        ("[all]\ncut_seconds = nan", "not a number"),
        ("[all]\ncut_seconds = 1e9", "out of range"),
        ("[all]\nweight_jigs = -1", "out of range"),
        ("all = 3", "not a table of keys"),
        ("saws = 3", "not a table of saws"),
        ("[saws]\nA = 3", "not a table of keys"),
        ("[saws.A]\nkind = 'sheets'", "did you mean 'sheet'?"),
        ("[saws.A]\nmaterials = 'a'", "not a list of materials"),
        ("[saws.A]\nmaterials = ['a', 'a']", "named twice"),
        ("[saws.A]\n[saws.B]", "a second saw for all other lumber"),
        ("#" * 70_000, "70000 characters"),
    ],
)
def test_what_is_wrong_is_told(text: str, word: str) -> None:
    assert any(word in f for f in refused(text))


def test_materials_are_held_against_the_stock() -> None:
    kinds = {"2x4": Kind.LUMBER, "OSB": Kind.SHEET}
    faults = refused("[saws.A]\nmaterials = ['2x5', 'OSB']", kinds=kinds)
    assert len(faults) == 2
    assert any("no such material" in f and "did you mean '2x4'?" in f for f in faults)
    assert any("a sheet at a lumber saw" in f for f in faults)


def test_a_saw_takes_what_it_names_else_what_is_left() -> None:
    saws = read_saws("[saws.A]\nmaterials = ['x']\n[saws.B]\n[saws.C]\nkind = 'sheet'", "in")
    kinds = [("x", Kind.LUMBER), ("y", Kind.LUMBER), ("z", Kind.SHEET)]
    assert [materials_of(s, saws, kinds) for s in saws] == [("x",), ("y",), ("z",)]


def test_a_file_that_cannot_be_read_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputRefused, match="can't be read"):
        read_saws_file(tmp_path / "saws.toml", "in")
    (tmp_path / "saws.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(InputRefused, match="not UTF-8"):
        read_saws_file(tmp_path / "saws.toml", "in")

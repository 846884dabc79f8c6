"""`cutopt plan` and `cutopt check` by their contract: files, figures, exit codes."""

from __future__ import annotations

import csv
import fcntl
import io
import os
import pty
import re
import signal
import struct
import subprocess
import sys
import termios
import time
from decimal import Decimal
from fractions import Fraction
from pathlib import Path

import pytest

from cutopt.cli import main
from cutopt.files import parse_document
from tests.cli.conftest import CUTS, DAY, STOCK

COMMAND = Path(sys.executable).parent / "cutopt"
DEMO = Path(__file__).resolve().parents[2] / "demo_orders"
FILES = {
    *("plan.json", "stock_order.csv", "cut_list.csv", "cuts.csv", "yield.csv", "rack.csv"),
    "report.html",
}


def plan(*words: object) -> int:
    return main(["plan", *map(str, words), "--workers", "1"])


def rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))


def test_a_day_in_and_every_file_out(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    folder, out = day(), tmp_path / "out"
    assert plan(folder, "--out", out) == 0
    assert {p.name for p in out.iterdir()} == FILES
    said = capsys.readouterr()
    for word in ("pieces", "bought", "cost", "bound", "gap", "yield", "waste", "2x4-SPF-2"):
        assert word in said.out
    document = parse_document((out / "plan.json").read_bytes())
    assert document["format"] == "cutopt-plan-1"
    assert [m["material"] for m in document["materials"]] == ["2x4-SPF-2", "OSB-7/16", "GYP-CLG"]
    assert main(["check", str(folder), "--plan", str(out / "plan.json")]) == 0


def test_the_written_yield_adds_up_to_the_last_digit(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    out = tmp_path / "out"
    plan(day(), "--out", out)
    for row in rows(out / "yield.csv"):
        names = ("parts", "kerf", "trim", "kept_drop", "waste_drop", "scrap")
        amounts = [Decimal(row[k]) for k in names]
        assert Decimal(row["input"]) == sum(amounts)
        assert Decimal(row["yield_percent"]) + Decimal(row["waste_percent"]) == 100
        base = Decimal(row["input"]) - Decimal(row["kept_drop"])
        assert abs(100 * amounts[0] / base - Decimal(row["yield_percent"])) < Decimal("0.001")


def test_the_order_and_the_cut_list_agree_with_the_plan(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    out = tmp_path / "out"
    plan(day(), "--out", out)
    document = parse_document((out / "plan.json").read_bytes())
    bought: dict[tuple[str, str], int] = {}
    parts: dict[str, int] = {}
    for material in document["materials"]:
        for layout in material["layouts"]:
            parts[layout["id"]] = len(layout["parts"])
            if layout["stock"]["source"] == "buy":
                key = (material["material"], str(layout["stock"]["length"]))
                bought[key] = bought.get(key, 0) + layout["count"]
    ordered = {
        (r["material"], r["length"]): int(r["pieces"]) for r in rows(out / "stock_order.csv")
    }
    assert ordered == bought
    listed: dict[str, int] = {}
    for row in rows(out / "cut_list.csv"):
        listed[row["layout"]] = listed.get(row["layout"], 0) + 1
    assert listed == parts


def test_the_same_seed_gives_the_same_files_on_one_and_on_two_workers(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    folder = day()
    for name, workers in (("one", "1"), ("two", "2")):
        code = subprocess.run(
            [COMMAND, "plan", folder, "--out", tmp_path / name, "--workers", workers],
            capture_output=True,
            check=False,
        ).returncode
        assert code == 0
    for file in FILES - {"report.html"}:
        one, two = ((tmp_path / n / file).read_bytes() for n in ("one", "two"))
        if file == "plan.json":
            one, two = (re.sub(rb'"seconds": [0-9.eE+-]+', b"", t) for t in (one, two))
        assert one == two, file


def test_faults_are_all_told_and_nothing_is_written(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    cuts = CUTS.replace("STUD,2x4-SPF-2", "STUD,2x4-SPF-3").replace("14-1/2,,9", "14-1/2,,-9")
    folder = day(day=DAY + "[lumber]\nkerff = 1\n", cuts=cuts)
    assert plan(folder, "--out", tmp_path / "out") == 2
    said = capsys.readouterr().err
    assert re.search(r"day\.toml.*kerff.*did you mean 'kerf'", said)
    assert re.search(r"cuts/all\.csv:2:material:.*2x4-SPF-3.*did you mean '2x4-SPF-2'", said)
    assert re.search(r"cuts/all\.csv:4:qty:.*-9", said)
    assert not (tmp_path / "out").exists()


def test_what_cannot_be_cut_is_named_and_the_rest_is_planned(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    cuts = CUTS + "Alder,Ceiling table,BIG,GYP-CLG,176,96,1,full-span,,,,\n"
    cuts += "Alder,Wall table,BEAM,2x4-SPF-2,130,,1,,,,,\n"
    folder, out = day(cuts=cuts), tmp_path / "out"
    assert plan(folder, "--out", out) == 3
    said = capsys.readouterr().err
    span = next(line for line in said.splitlines() if line.startswith("not cut") and "BIG" in line)
    for word in ("Alder", "176", "168"):
        assert word in span.replace("14'-8\"", "176").replace("14'-0\"", "168"), span
    assert any(line.startswith("not cut") and "BEAM" in line for line in said.splitlines())
    document = parse_document((out / "plan.json").read_bytes())
    missing = {u["mark"] for m in document["materials"] for u in m["unplanned"]}
    assert missing == {"BIG", "BEAM"}
    assert all(u["reason"] for m in document["materials"] for u in m["unplanned"])
    assert main(["check", str(folder), "--plan", str(out / "plan.json")]) == 0


def test_check_refuses_a_plan_that_was_touched(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    folder, out = day(), tmp_path / "out"
    plan(folder, "--out", out)
    text = (out / "plan.json").read_text(encoding="utf-8")
    (out / "plan.json").write_text(text.replace("92.625", "92.5", 1), encoding="utf-8")
    assert main(["check", str(folder), "--plan", str(out / "plan.json")]) == 4
    assert "STUD" in capsys.readouterr().out
    (out / "plan.json").write_text("{", encoding="utf-8")
    assert main(["check", str(folder), "--plan", str(out / "plan.json")]) == 2


def test_a_plan_that_does_not_check_is_not_written(day, tmp_path, monkeypatch, capsys) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setattr("cutopt.files.results.check_plan", lambda *_: ["a lie"])
    assert plan(day(), "--out", tmp_path / "out") == 4
    assert "a lie" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_several_days_are_planned_together(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    first = day("one")
    second = day("two", stock="", cuts=CUTS.replace("Alder", "Birch"))
    out = tmp_path / "out"
    assert plan(first, second, "--out", out) == 0
    document = parse_document((out / "plan.json").read_bytes())
    sections = {
        p["section"] for m in document["materials"] for lay in m["layouts"] for p in lay["parts"]
    }
    assert sections == {"Alder", "Birch"}
    assert main(["check", str(first), str(second), "--plan", str(out / "plan.json")]) == 0
    assert main(["check", str(first), "--plan", str(out / "plan.json")]) == 4


def test_stock_choice_of_the_army_course_through_the_command(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    # US Army course EN0069A pp. 95-96, no kerf there: two 3 ft 0 in come from the 8-ft board
    # (24 in left), not from the 10-ft (48 left); nine together from three 10-ft boards (computed
    # from it: 36 in left) rather than five 8-ft (156 left).
    rules = DAY + '[lumber]\nkerf = "0"\ndrop_value = 0\n'
    stock = (
        "material,kind,nominal,length,width,price,per\n"
        "2x4,lumber,2x4,96,,1,LF\n2x4,lumber,2x4,120,,1,LF\n"
    )
    for qty, order in ((2, {"96": 1}), (9, {"120": 3})):
        cuts = f"section,jig,mark,material,length,width,qty\nA,wall,P,2x4,36,,{qty}\n"
        folder = day(f"case{qty}", day=rules, stock=stock, cuts=cuts)
        assert plan(folder, "--out", tmp_path / f"out{qty}") == 0
        lines = rows(tmp_path / f"out{qty}" / "stock_order.csv")
        assert {r["length"]: int(r["pieces"]) for r in lines} == order


def test_a_day_in_millimetres_is_planned_in_millimetres(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    rules = DAY.replace('"in"', '"mm"') + '[lumber]\nkerf = "3.2"\n'
    stock = (
        "material,kind,nominal,length,width,price,per\n2x4,lumber,2x4,2438.4,,2,each\n"
        "2x4,lumber,2x4,10ft,,2.6,each\n"
    ).replace("10ft", '"10\'"')
    cuts = "section,jig,mark,material,length,width,qty\nA,wall,P,2x4,600.01,,9\n"
    folder, out = day(day=rules, stock=stock, cuts=cuts), tmp_path / "out"
    assert plan(folder, "--out", out) == 0
    document = parse_document((out / "plan.json").read_bytes())
    assert document["unit"] == "mm"
    part = document["materials"][0]["layouts"][0]["parts"][0]
    assert part["length"] == Decimal("600.01")


def test_progress_is_plain_lines_where_there_is_no_terminal(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    plan(day(), "--out", tmp_path / "out")
    said = capsys.readouterr().err
    assert re.search(r"^3/3 .+ objective [0-9.]+, bound [0-9.]+$", said, re.MULTILINE)


def test_progress_is_a_bar_on_a_terminal(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    leader, follower = pty.openpty()
    fcntl.ioctl(follower, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 100, 0, 0))
    process = subprocess.Popen(
        [COMMAND, "plan", day(), "--out", tmp_path / "out"],
        stdout=subprocess.DEVNULL,
        stderr=follower,
    )
    os.close(follower)
    said = b""
    while True:
        try:
            block = os.read(leader, 4096)
        except OSError:
            break
        if not block:
            break
        said += block
    assert process.wait(60) == 0
    assert b"\r" in said
    assert b"/3 [" in said


@pytest.mark.slow
def test_ctrl_c_gives_the_best_plan_so_far(tmp_path) -> None:  # type: ignore[no-untyped-def]
    day = DEMO / "2026-03-02"
    out = tmp_path / "out"
    process = subprocess.Popen(
        [COMMAND, "plan", day, "--out", out],
        stderr=subprocess.PIPE,
        text=True,
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    )
    time.sleep(1.0)
    process.send_signal(signal.SIGINT)
    start = time.monotonic()
    _, said = process.communicate(timeout=60)
    assert process.returncode == 0, said
    assert time.monotonic() - start < 15
    assert "interrupted" in said
    assert main(["check", str(day), "--plan", str(out / "plan.json")]) == 0


def test_a_workbook_is_a_day_as_well(tmp_path, day) -> None:  # type: ignore[no-untyped-def]
    openpyxl = pytest.importorskip("openpyxl")
    book = openpyxl.Workbook()
    book.remove(book.active)
    sheet = book.create_sheet("day")
    for line in (("key", "value"), ("plant", "Hask Lake"), ("date", "2026-03-02"), ("unit", "in")):
        sheet.append(line)
    for name, text in (("stock", STOCK), ("cuts", CUTS)):
        sheet = book.create_sheet(name)
        for row in csv.reader(io.StringIO(text)):
            sheet.append(row)
    path = tmp_path / "day.xlsx"
    book.save(path)
    assert plan(path, "--out", tmp_path / "a") == 0
    assert plan(day(), "--out", tmp_path / "b") == 0
    a, b = (
        parse_document((tmp_path / n / "plan.json").read_bytes())["materials"] for n in ("a", "b")
    )
    assert [Fraction(m["objective"]) for m in a] == [Fraction(m["objective"]) for m in b]


def test_bad_words_are_told_by_the_command(capsys) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(SystemExit) as stop:
        main(["plan", "nowhere", "--out", "x", "--seconds", "-1"])
    assert stop.value.code == 2
    assert "seconds" in capsys.readouterr().err


def test_a_folder_that_is_not_there_is_a_fault(tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    assert plan(tmp_path / "nowhere", "--out", tmp_path / "out") == 2
    assert "nowhere" in capsys.readouterr().err


def test_a_plan_says_of_which_day_it_is(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    folder, out = day(), tmp_path / "out"
    plan(folder, "--out", out)
    document = parse_document((out / "plan.json").read_bytes())
    assert (document["plant"], document["days"]) == ("Hask Lake Section Works", ["2026-03-02"])
    other = day("other", day=DAY.replace("03-02", "03-03"))
    capsys.readouterr()
    assert main(["check", str(other), "--plan", str(out / "plan.json")]) == 4
    said = capsys.readouterr().out
    assert said.count("\n") == 2, "one fault, and the count"
    assert "2026-03-02" in said
    assert "2026-03-03" in said


def test_where_the_plan_cannot_be_written_is_told_before_the_search(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    (tmp_path / "file").write_text("", encoding="utf-8")
    assert plan(day(), "--out", tmp_path / "file") == 2
    said = capsys.readouterr().err
    assert "a folder would be right" in said
    assert "1/3" not in said


def test_warnings_come_last_and_stand_in_the_report(day, tmp_path, capsys) -> None:  # type: ignore[no-untyped-def]
    cuts = CUTS + "Alder,Wall table,BLOCK,2x4-SPF-2,14-1/2,,9,,,,,\n"
    out = tmp_path / "out"
    assert plan(day(cuts=cuts), "--out", out) == 0
    warned = [w for w in capsys.readouterr().err.splitlines() if w.startswith("warning: ")]
    assert warned
    assert "BLOCK" in warned[-1]
    assert "To look at in what was sent" in (out / "report.html").read_text(encoding="utf-8")


def test_a_saw_can_tell_pieces_of_a_run_apart(day, tmp_path) -> None:  # type: ignore[no-untyped-def]
    out = tmp_path / "out"
    plan(day(), "--out", out)
    pieces = [r for r in rows(out / "cut_list.csv") if r["mark"] == "PLATE"]
    starts = sorted(Decimal(r["run_at"]) for r in pieces)
    assert starts[0] == 0
    assert len(set(starts)) == len(pieces) > 1
    assert {r["run"] for r in pieces} == {"PLATE"}
    decks = [r for r in rows(out / "cut_list.csv") if r["mark"] == "DECK"]
    assert all(Decimal(r["stop_across"]) > 0 for r in decks)


@pytest.mark.parametrize("stages", [2, 3])
@pytest.mark.parametrize("first", ["rip", "cross", "either"])
def test_kept_sheet_drops_earn_their_credit_and_the_plan_checks(  # type: ignore[no-untyped-def]
    day, tmp_path, stages, first
) -> None:
    # The over-length of a ceiling board goes to the rack here, below what the ceiling's own
    # search proved: the plan must not call itself proved then.
    rules = DAY + (
        f'[sheets]\nstages = {stages}\nfirst_cut = "{first}"\nkeep_drop = ["20", "8"]\n'
        "drop_value = 0.4\n[ceiling]\norder_lengths = 1\n"
    )
    folder, out = day(day=rules), tmp_path / "out"
    assert plan(folder, "--out", out) == 0
    document = parse_document((out / "plan.json").read_bytes())
    assert any(m["drop_credit"] > 0 for m in document["materials"] if m["kind"] == "sheet")
    for material in document["materials"]:
        proved = material["stop"] == "proved"
        assert proved == (material["objective"] == material["bound"])

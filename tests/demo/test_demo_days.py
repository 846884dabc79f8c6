"""The demo days: same bytes when written again, big enough, and cuttable from what is offered."""

from __future__ import annotations

import subprocess
import sys
from collections import defaultdict
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from tests.demo.reading import DAYS, DEMO, Day, inches, read_day


@pytest.fixture(scope="module", params=DAYS)
def day(request: pytest.FixtureRequest) -> Day:
    return read_day(DEMO / request.param)


def test_writing_again_gives_the_same_bytes(tmp_path: Path) -> None:
    subprocess.run([sys.executable, DEMO / "make_days.py", tmp_path], check=True)
    written = {
        p.relative_to(tmp_path): p.read_bytes() for p in tmp_path.rglob("*.*") if p.is_file()
    }
    kept = {
        p.relative_to(DEMO): p.read_bytes()
        for name in DAYS
        for p in (DEMO / name).rglob("*.*")
        if p.is_file()
    }
    assert written == kept


def test_a_day_is_big_enough(day: Day) -> None:
    assert len({r["section"] for r in day.cuts}) >= 5
    assert sum(int(r["qty"]) for r in day.cuts) >= 3000
    used = {r["material"] for r in day.cuts}
    assert len(used) >= 14
    assert used <= {o["material"] for o in day.stock}
    lumber = {o["nominal"] for o in day.stock if o["kind"] == "lumber" and o["material"] in used}
    assert len(lumber) >= 6
    assert {r["rule"] for r in day.cuts} == {"", "full-span", "jointed"}
    assert len({r["material"] for r in day.cuts if r["alt"]}) >= 2
    assert any(r["turn"] == "yes" for r in day.cuts)
    assert any(r["rule"] == "jointed" and r["width"] for r in day.cuts), "no ply strips"
    notes = " ".join(r["note"] for r in day.cuts if r["rule"] == "full-span")
    assert "flat" in notes
    assert "sloped" in notes
    assert all(o["on_hand"].isdigit() and o["bundle"].isdigit() for o in day.stock)
    rack = [o for o in day.stock if o["limit"] == "0"]
    assert len(rack) >= 5
    assert all(int(o["on_hand"]) for o in rack)
    assert any(o["limit"] not in ("", "0") for o in day.stock)


def test_a_mark_has_one_size_in_a_section(day: Day) -> None:
    sizes = defaultdict(set)
    for r in day.cuts:
        key = (r["section"], r["mark"], r["material"])
        sizes[key].add((inches(r["length"]), r["width"], r["rule"], r["alt"]))
    assert [k for k, v in sizes.items() if len(v) > 1] == []


def test_lengths_are_exact_at_a_thirty_second(day: Day) -> None:
    for r in day.cuts:
        for column in ("length", "width", "joint_first", "joint_step", "joint_clear"):
            if r[column]:
                assert (inches(r[column]) * 32).denominator == 1, r


def test_lists_are_written_in_several_ways() -> None:
    cuts = DEMO / DAYS[0] / "cuts"
    assert (cuts / "ceilings.csv").read_bytes().startswith(b"\xef\xbb\xbfsection,")
    text = "".join(p.read_text(encoding="utf-8-sig") for p in cuts.glob("*.csv"))
    for written in ('"7\'-8 5/8"""', "14-1/2", "113.5625", "161 15/16"):
        assert written in text, written


def test_every_section_is_on_one_day_only() -> None:
    names = [{r["section"] for r in read_day(DEMO / name).cuts} for name in DAYS]
    assert len(set.union(*names)) == sum(map(len, names))


def test_later_days_offer_nothing_that_the_first_does_not() -> None:
    first, *later = (read_day(DEMO / name).stock for name in DAYS)
    for stock in later:
        assert [o for o in stock if o not in first] == []
        assert len(stock) < len(first), "nothing was taken from the drop rack"


def test_plain_parts_fit_what_can_be_bought(day: Day) -> None:
    for r in day.cuts:
        length = inches(r["length"])
        for material in (r["material"], *filter(None, r["alt"].split(";"))):
            sizes = day.unlimited(material)
            if r["rule"] == "full-span":
                assert length <= max(a for a, _ in sizes), r
                assert r["width"] != ""
            elif r["width"]:
                wide = inches(r["width"])
                if r["rule"] == "jointed":
                    length = min(length, inches(day.rules["lumber"]["joint_min_piece"]))
                fits = any(length <= a and wide <= (b or 0) for a, b in sizes)
                turned = r["turn"] == "yes" and any(
                    wide <= a and length <= (b or 0) for a, b in sizes
                )
                assert fits or turned, r
            elif r["rule"] == "":
                assert length <= day.longest(material), r


def joints_clear_of_each_other(
    a: list[Fraction], b: list[Fraction], least: Fraction, most: Fraction, clear: Fraction
) -> tuple[list[Fraction], list[Fraction]] | None:
    """Joint places for two runs laid side by side, by depth-first search; a and b end with the end.

    The run that lags behind gets the next joint. Since no piece is shorter than ``clear``, only the
    last joint of the other run can be too near.
    """
    assert least >= clear

    @cache
    def rest(x: Fraction, y: Fraction) -> tuple[tuple[Fraction, ...], tuple[Fraction, ...]] | None:
        if x == a[-1] and y == b[-1]:
            return (), ()
        mine = x <= y if y < b[-1] else True
        if x == a[-1]:
            mine = False
        places, at, other, end = (a, x, y, b[-1]) if mine else (b, y, x, a[-1])
        for place in reversed(places):
            if not least <= place - at <= most:
                continue
            near = abs(place - other) < clear and 0 < other < end and place < places[-1]
            found = None if near else rest(place, y) if mine else rest(x, place)
            if found is not None:
                left, right = found
                return ((place, *left), right) if mine else (left, (place, *right))
        return None

    found = rest(Fraction(0), Fraction(0))
    return found and (list(found[0][:-1]), list(found[1][:-1]))


def places(r: dict[str, str]) -> list[Fraction]:
    first, step, length = (inches(r[c]) for c in ("joint_first", "joint_step", "length"))
    inner = [first + k * step for k in range(int((length - first) / step) + 1)]
    return [p for p in inner if p < length] + [length]


def test_runs_can_be_jointed(day: Day) -> None:
    runs = {(r["section"], r["mark"]): r for r in day.cuts if r["rule"] == "jointed"}
    least = inches(day.rules["lumber"]["joint_min_piece"])
    longer = chains = 0
    for (section, mark), r in runs.items():
        most = day.longest(r["material"])
        longer += inches(r["length"]) > most
        mate = runs.get((section, r["joint_mate"]))
        if r["joint_mate"]:
            assert mate is not None, r
            assert inches(r["joint_clear"]) == 24
            assert (mate["length"], mate["qty"]) == (r["length"], r["qty"])
            clear = inches(r["joint_clear"])
        else:
            mate, clear = r, Fraction(0)  # alone: beside itself, with nothing to keep clear of
        found = joints_clear_of_each_other(places(r), places(mate), least, most, clear)
        assert found is not None, r
        mine, other = found
        for at in (mine, other):
            ends = [Fraction(0), *at, inches(r["length"])]
            assert all(least <= q - p <= most for p, q in pairwise(ends))
        assert all(abs(p - q) >= clear for p in mine for q in other)
        # a third ply keeps clear of the second as the first does: it can take the first's joints
        if mate["joint_mate"] not in ("", mark):
            chains += 1
            first = runs[section, mate["joint_mate"]]
            assert places(first) == places(r)
    assert longer >= 20
    if day.rules["date"].day == 4:
        assert chains == 2, "three-ply ridges"


def test_joint_search_finds_nothing_where_nothing_is() -> None:
    ends = [Fraction(x) for x in (48, 96)]
    args = (Fraction(32), Fraction(60))
    assert joints_clear_of_each_other(ends, ends, *args, Fraction(0)) is not None
    assert joints_clear_of_each_other(ends, ends, *args, Fraction(24)) is None


def test_need_follows_the_line(day: Day) -> None:
    order = list(dict.fromkeys(r["section"] for r in day.cuts if r["file"] == "floors"))
    for r in day.cuts:
        assert int(r["need"]) // 10 == order.index(r["section"]) + 1, r
    station = defaultdict(set)
    for r in day.cuts:
        station[r["jig"]].add(int(r["need"]) % 10)
    assert [jig for jig, when in station.items() if len(when) != 1] == []

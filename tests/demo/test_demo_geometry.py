"""The demo days' framing against figures from outside, each with its source beside it."""

from __future__ import annotations

import importlib
import math
import sys
from collections.abc import Iterator
from fractions import Fraction as F
from itertools import pairwise
from types import SimpleNamespace

import pytest

from tests.demo.reading import DAYS, DEMO, Day, inches, read_day


@pytest.fixture(scope="module")
def framing() -> Iterator[SimpleNamespace]:
    """The modules of demo_orders/framing by name."""
    sys.path.insert(0, str(DEMO))
    names = ("boards", "cutlist", "floors", "lengths", "roofs", "sections", "walls")
    yield SimpleNamespace(**{n: importlib.import_module(f"framing.{n}") for n in names})
    sys.path.remove(str(DEMO))


@pytest.fixture(scope="module")
def days() -> dict[str, Day]:
    return {name: read_day(DEMO / name) for name in DAYS}


def part(day: Day, section: str, mark: str) -> tuple[F | int, int]:
    rows = [r for r in day.cuts if (r["section"], r["mark"]) == (section, mark)]
    assert len(rows) == 1, (section, mark, rows)
    return inches(rows[0]["length"]), int(rows[0]["qty"])


# --- outside figures for the geometry


@pytest.mark.parametrize(
    ("length", "step", "count"),
    # builder's guides: 32 ft at 16 o.c. 25 joists, at 12 o.c. 33; 20 ft 8 in at 16 o.c. 17
    [(384, 16, 25), (384, 12, 33), (248, 16, 17)],
)
def test_joist_counts(framing: SimpleNamespace, length: int, step: int, count: int) -> None:
    assert len(framing.floors.centres(F(length), F(step))) == count


def test_studs_of_a_bare_wall(framing: SimpleNamespace) -> None:
    centres = framing.walls.layout(F(480), F(16), F(16))
    assert len(centres) == 31  # 40 ft at 16 o.c. (computed: 480 / 16 + 1)
    # the first stud's mark is 15-1/4 from the end: US Navy manual 14044, p. 1-23
    assert centres[1] - F(3, 4) == F("15.25")


def test_stud_and_plates(framing: SimpleNamespace) -> None:
    for stud, wall in (("92.625", "97.125"), ("104.625", "109.125"), ("116.625", "121.125")):
        # precut studs and three 1-1/2 plates: published precut lengths, sum computed
        assert F(stud) + 3 * framing.walls.PLATE == F(wall)


def test_header_is_opening_and_three(framing: SimpleNamespace) -> None:
    assert framing.walls.header_length(F("60.5")) == F("63.5")  # Fine Homebuilding
    assert framing.walls.header_length(F(38)) == 41  # computed by the same rule


def test_door_rough_opening(framing: SimpleNamespace) -> None:
    door = framing.sections.SCHEDULE["D1"]
    assert (door.width, door.height) == (36 + 2, 80 + F("2.5"))  # published: width + 2, height + 2½
    assert framing.walls.jack(door.head) == F(81)  # header bottom less sole plate, computed
    assert framing.walls.cripple(F("92.625"), door.head, F("5.5")) == F("6.125")  # computed


@pytest.mark.parametrize(
    ("rise", "per_foot"),
    # framing-square table, rafter per foot of run
    [(3, 12.37), (4, 12.65), (5, 13.00), (6, 13.42), (7, 13.89)],
)
def test_rafter_per_foot(framing: SimpleNamespace, rise: int, per_foot: float) -> None:
    assert 12 * framing.lengths.secant(F(rise, 12)) == pytest.approx(per_foot, abs=0.006)


@pytest.mark.parametrize(
    ("span", "rise", "length"),
    [
        (16 * 12, 7, 111.125),  # US Navy manual 14044, fig. 2-17
        (25 * 12, 6, 167.75),  # Griffith, Estimating Lumber Quantities, by the table
        (2 * 124, 13, 182.79),  # US Army: run 10 ft 4 in
    ],
)
def test_rafters(framing: SimpleNamespace, span: int, rise: int, length: float) -> None:
    line = framing.roofs.common_rafter(F(span), F(rise, 12), F(0), F(0), F(0))
    assert float(line) == pytest.approx(length, abs=0.1)  # the table is rounded


def test_rafter_is_shortened_by_half_the_ridge(framing: SimpleNamespace) -> None:
    # 14044, fig. 2-19: half the ridge is 3/4 in of run; the tail is the table times the projection
    with_tail = framing.roofs.common_rafter(F(300), F(6, 12), F(12), F(3, 2), F(0))
    assert float(with_tail) == pytest.approx(167.705 - 0.75 * 13.42 / 12 + 13.42, abs=0.1)


def test_fink_on_centre_lines(framing: SimpleNamespace) -> None:
    truss = framing.roofs.fink(F(360), F(5, 12), depth=F(0), butt=F(0))
    assert truss.top_chord == pytest.approx(195)  # 30 ft at 5/12: published, and computed
    webs = {mark: length for mark, length, _ in truss.webs}
    assert webs["WEB-SHORT"] == pytest.approx(48.02, abs=0.01)
    assert webs["WEB-LONG"] == pytest.approx(96.05, abs=0.01)


def test_king_post_on_centre_lines(framing: SimpleNamespace) -> None:
    truss = framing.roofs.king_post(F(288), F(4, 12), depth=F(0), butt=F(0))
    assert truss.webs == (("KING-POST", pytest.approx(48), 1),)  # 24 ft at 4/12: computed
    real = framing.roofs.king_post(F(288), F(4, 12))
    assert real.webs[0][1] == pytest.approx(48 + 0.25 - 3.5)  # less the chord's depth: computed


def test_webs_stand_side_by_side(framing: SimpleNamespace) -> None:
    """A brace drawn corner by corner, its toe against the king post, has the length listed."""
    depth, butt = 3.5, 0.25
    for span, pitch in ((160, 6 / 12), (184, 6 / 12), (288, 4 / 12)):
        top_x, top_y = span / 4, butt + pitch * span / 4

        def corners(foot: float) -> tuple[list[tuple[float, float]], tuple[float, float]]:
            """Where the two edges cross the bottom chord and the top chord, and the axis."""
            run, rise = top_x - foot, top_y - depth  # noqa: B023
            long = math.hypot(run, rise)
            ux, uy = run / long, rise / long
            points = []
            for side in (-depth / 2, depth / 2):
                ex, ey = foot - uy * side, depth + ux * side  # a point of this edge
                t = (depth - ey) / uy
                points.append((ex + t * ux, ey + t * uy))
                t = (butt + pitch * ex - ey) / (uy - pitch * ux)  # noqa: B023
                points.append((ex + t * ux, ey + t * uy))
            return points, (ux, uy)

        low, high = top_x, span / 2
        for _ in range(80):  # the toe on the bottom chord touches the post's face
            foot = (low + high) / 2
            points, axis = corners(foot)
            toe = max(x for x, y in points if abs(y - depth) < 1e-9)
            low, high = (foot, high) if toe < span / 2 - depth / 2 else (low, foot)
        along = [x * axis[0] + y * axis[1] for x, y in points]
        truss = framing.roofs.king_post(F(span), F(pitch).limit_denominator(12), braces=True)
        length = {mark: size for mark, size, _ in truss.webs}["BRACE"]
        assert length == pytest.approx(max(along) - min(along), abs=1e-6)


def test_single_floor_sheets(framing: SimpleNamespace) -> None:
    # APA product guide: a sheet measures 95-7/8 and is laid with a 1/8 gap; T&G net face 47-1/2
    whole = F("95.875")
    assert framing.floors.deck_row(F(576), F(0)) == [whole] * 6
    half = F("47.875")
    assert framing.floors.deck_row(F(576), F(48)) == [half] + [whole] * 5 + [half]
    assert 2 * half + F(1, 8) == whole  # the two halves come out of one sheet
    assert F("47.5") == framing.floors.NET_FACE


def test_board_feet_of_a_stick(days: dict[str, Day]) -> None:
    # nominal inches x inches x feet / 12: US Navy basic engineering course; a 14-ft 2x4 computed
    for o in days[DAYS[0]].stock:
        if o["nominal"]:
            thick, wide = map(int, o["nominal"].split("x"))
            feet = F(thick * wide, 12) * inches(o["length"]) / 12
            if (o["nominal"], o["length"]) == ("2x4", "168"):
                assert feet == F(28, 3)
            if o["per"] == "MBF":
                assert 300 < float(o["price"]) < 1200  # invented prices, plausible only


# --- sections walked through by hand


def test_floor_of_a_48_ft_cabin(days: dict[str, Day]) -> None:
    day = days[DAYS[0]]
    # 48 ft at 16 o.c.: 36 spaces, 37 joists; 13 ft 4 in less four 1-1/2 rims is 12 ft 10 in
    assert part(day, "Alder Cabin", "JOIST") == (154, 37)
    # 36 bays in two rows: 2 short end bays and 2 beside doubled joists in each
    assert part(day, "Alder Cabin", "BLK") == (F("14.5"), 64)
    assert part(day, "Alder Cabin", "BLK-END") == (F("13.75"), 4)
    assert part(day, "Alder Cabin", "BLK-DBL") == (13, 4)
    assert part(day, "Alder Cabin", "RIM-A") == (576, 2)


def test_sidewall_of_a_48_ft_cabin(days: dict[str, Day]) -> None:
    day = days[DAYS[0]]
    # 37 layout studs, less those in the way of two N2, one D1 and one N1 with their jacks and kings
    taken = 0
    for at, width in ((48, 60.5), (192, 38), (288, 36.5), (432, 60.5)):
        left, right = at - 3, at + width + 3
        taken += sum(left < 16 * k + 0.75 and 16 * k - 0.75 < right for k in range(1, 36))
    assert part(day, "Alder Cabin", "W1-STUD") == (F("92.625"), 37 - taken)
    assert part(day, "Alder Cabin", "W1-KING") == (F("92.625"), 8)
    assert part(day, "Alder Cabin", "W1-JACK-N2") == (81, 4)
    assert part(day, "Alder Cabin", "W1-HEADER-N2") == (F("63.5"), 4)
    assert part(day, "Alder Cabin", "W1-CRIP-N2")[0] == F("92.625") - 81 - F("7.25")
    # window 48-1/2 high under a head at 82-1/2: two sills and the sole below 34
    assert part(day, "Alder Cabin", "W1-CRIP-LOW-N2")[0] == 34 - 3 - F("1.5")


def test_wall_parts_stack_up(days: dict[str, Day], framing: SimpleNamespace) -> None:
    """Jack + header + cripple = stud, for every opening of every level outer wall."""
    checked = 0
    for day in days.values():
        lengths = {(r["section"], r["mark"]): inches(r["length"]) for r in day.cuts}
        for (section, mark), jack in lengths.items():
            wall, _, tag = mark.partition("-JACK-")
            if not tag or (section, f"{wall}-STUD") not in lengths:
                continue
            opening = framing.sections.SCHEDULE[tag]
            over = lengths.get((section, f"{wall}-CRIP-{tag}"), 0)
            assert jack + opening.depth + over == lengths[section, f"{wall}-STUD"], (section, mark)
            checked += 1
    assert checked > 60


def test_raked_studs_rise_with_the_pitch(days: dict[str, Day]) -> None:
    day = days[DAYS[0]]
    heights = [
        inches(r["length"])
        for r in day.cuts
        if r["section"] == "Teal Bunkhouse" and r["mark"].startswith("W3L-STUD-")
    ]
    # 4/12 at 16 o.c.: 5-1/3 in from stud to stud, each rounded up to 1/16; ends are not on layout
    for low, high in pairwise(heights[1:-1]):
        assert abs(high - low - F(16, 3)) <= F(1, 16)
    # the wall stands: sole, stud and two sloped plates reach the rafter at the stud's high edge
    plates = 1.5 + 2 * 1.5 * (1 + (4 / 12) ** 2) ** 0.5
    reach = 91.125 + (4 / 12) * 1.5
    assert float(heights[0]) + plates == pytest.approx(reach, abs=1 / 8)


def test_sloped_ceiling_spans(days: dict[str, Day]) -> None:
    day = days[DAYS[0]]
    # horizontal from the inside of the sidewall to the beam, times the framing-square figure / 12
    level = 164 - 5.5 - 2 * 23 / 32
    assert float(part(day, "Classroom 8 East", "CEILING")[0]) == pytest.approx(
        level * 12.37 / 12, abs=0.1
    )
    level = 82 - 5.5 - 1.5
    assert float(part(day, "Teal Bunkhouse", "CEILING")[0]) == pytest.approx(
        level * 12.65 / 12, abs=0.1
    )


def test_trusses_of_a_cabin(days: dict[str, Day]) -> None:
    day = days[DAYS[0]]
    length, qty = part(day, "Birch Cabin", "TOP-CHORD")
    assert qty == 2 * (40 * 12 // 24 + 1)
    # half the span and the overhang by the 4/12 table, and the slant of the plumb cut
    assert float(length) == pytest.approx((80 + 10.5) * 12.65 / 12 + 3.5 / 3, abs=0.1)
    assert part(day, "Birch Cabin", "BOTTOM-CHORD") == (160, 21)
    assert part(day, "Birch Cabin", "KING-POST")[1] == 19  # gable trusses have studs instead


def test_sheets_cover_floor_walls_and_roof(days: dict[str, Day]) -> None:
    """Areas: pieces of a deck and their gaps fill the floor; siding fills a wall but openings."""
    for day in days.values():
        for section in {r["section"] for r in day.cuts}:
            rows = [r for r in day.cuts if r["section"] == section]
            deck = [r for r in rows if r["mark"].startswith("DECK-")]
            rim = next(inches(r["length"]) for r in rows if r["mark"] == "RIM-A")
            joist = next(inches(r["length"]) for r in rows if r["mark"] == "JOIST")
            laid = sum(
                (inches(r["length"]) + F(1, 8)) * inches(r["width"]) * int(r["qty"]) for r in deck
            )
            assert laid == rim * (joist + 6), section


def test_siding_fills_a_sidewall_but_for_its_openings(days: dict[str, Day]) -> None:
    rows = [
        r
        for r in days[DAYS[0]].cuts
        if r["section"] == "Alder Cabin" and r["file"] == "siding" and r["mark"][:3] == "W1-"
    ]
    laid = sum(inches(r["length"]) * inches(r["width"]) * int(r["qty"]) for r in rows)
    openings = 2 * F("60.5") * F("48.5") + 38 * F("82.5") + F("36.5") * F("48.5")
    assert laid == 576 * 104 - openings

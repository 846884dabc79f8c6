"""Curves of cost as drawings: every figure in them, nothing over anything else, well formed."""

from __future__ import annotations

import random
import xml.etree.ElementTree as ET
from fractions import Fraction
from itertools import combinations

import pytest

from cutopt.draw import curves_drawing
from cutopt.draw.canvas import Box, Canvas
from cutopt.draw.curve import curves_canvas
from cutopt.solve.curve import CurvePoint
from cutopt.solve.curves import Against, Curve

SVG = "{http://www.w3.org/2000/svg}"
LADDER = [("0.00", 486, "2001.15"), ("0.25", 319, "2010.35"), ("0.50", 220, "2022.80")]
LADDER += [("1.00", 149, "2039.25"), ("5.00", 77, "2093.50"), ("10.00", 77, "2093.50")]


def point(setting: str, joints: int, cost: str, setups: int = 20) -> CurvePoint:
    objective = Fraction(cost) + joints * Fraction(1, 2)
    return CurvePoint(setting, objective, Fraction(cost), setups, joints, 300)


def example() -> list[Curve]:
    prices = [point(f"joint price ${p}, no piece under 32 in", n, c) for p, n, c in LADDER]
    beaten = point("joint price $0.50, no piece under 48 in", 227, "2029.00")
    return [
        Curve(("2x6-SPF-2",), Against.JOINTS, (*prices, beaten), "so it is <&>"),
        Curve(("2x4", "2x8"), Against.JOINTS, (), "has no jointed runs: there is nothing to set"),
        Curve(("2x3-SPF-STUD",), Against.JOINTS, (prices[0],)),
    ]


def test_choices_are_what_no_other_beats_in_both() -> None:
    curve = example()[0]
    chosen = [p.setting for p in curve.choices]
    assert chosen == [curve.points[i].setting for i in (4, 3, 2, 1, 0)]
    beaten = set(curve.points) - set(curve.choices)
    for p in beaten:
        assert any(c.joints <= p.joints and c.cost <= p.cost for c in curve.choices)


def test_every_figure_is_in_the_drawing() -> None:
    drawing = ET.fromstring(curves_drawing(example()))
    words = [t.text or "" for t in drawing.iter(f"{SVG}text")]
    for text in ("2x6-SPF-2", "2x4, 2x8", "Joints", "Stock", "$2,093.50", "So it is <&>."):
        assert text in words
    assert "The upright scale begins at $2,000." in words
    assert "Has no jointed runs: there is nothing to set." in words
    # Two settings with the same figures share a number; six places are numbered.
    rings = list(drawing.iter(f"{SVG}circle"))
    assert sum(r.get("class") == "ring" for r in rings) == 6
    assert words.count("5") == 3
    desc = drawing.find(f"{SVG}desc")
    assert desc is not None
    assert "77 joints at $2,093.50" in (desc.text or "")
    assert drawing.find(f"{SVG}style") is not None
    assert curves_drawing(example()) == curves_drawing(example())


def test_against_set_ups_the_objective_is_drawn() -> None:
    points = (point("no dearer", 0, "100", 9), point("1 % dearer allowed", 0, "101", 5))
    words = curves_drawing([Curve(("2x4",), Against.SETUPS, points)])
    assert ">Set-ups<" in words
    assert ">Objective<" in words
    assert ET.fromstring(curves_drawing([])) is not None


@pytest.mark.parametrize("seed", range(20))
def test_nothing_lies_over_anything(seed: int) -> None:
    rng = random.Random(seed)
    points = tuple(
        point(
            f"joint price ${n}.00, no piece under {rng.randint(20, 99)} in",
            rng.randint(0, 10 ** rng.randint(1, 3)),
            str(rng.randint(1, 10 ** rng.randint(2, 6)) / Fraction(4)),
        )
        for n in range(rng.randint(1, 14))
    )
    canvas, (wide, high) = curves_canvas([Curve(("2x6-SPF-2",), Against.JOINTS, points)], "c")
    assert isinstance(canvas, Canvas)
    paper = Box(0, 0, wide, high)
    for text, box in canvas.texts:
        assert box.within(paper), text
    for (a, one), (b, two) in combinations(canvas.texts, 2):
        assert not one.touches(two), (a, b)


@pytest.mark.parametrize("cost", ["282.24", "148315.00", "1234567.89"])
def test_the_figures_of_board_lengths_stand_apart(cost: str) -> None:
    money = Fraction(cost)
    points = tuple(
        CurvePoint(f"at most {n} lengths", money - n, money - n, 6, 0, 1200, money - n, n)
        for n in (1, 2)
    )
    canvas, _ = curves_canvas([Curve(("GYP-CLG",), Against.LENGTHS, points)], "c")
    for (a, one), (b, two) in combinations(canvas.texts, 2):
        apart = Box(one.left - 2, one.top, one.right + 2, one.bottom)
        assert not (a.startswith("$") and apart.touches(two)), (a, b)

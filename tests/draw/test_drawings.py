"""Drawings of sticks and sheets: to scale, readable, well formed, the same every time."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cutopt.draw import named, sheet_drawing, stick_drawing
from cutopt.draw.canvas import Canvas
from cutopt.draw.sheet import sheet_canvas
from cutopt.draw.stick import stick_canvas
from cutopt.materials import SheetRules
from cutopt.measure import INCH, Unit, show_length
from cutopt.plan import Layout
from cutopt.plan.guillotine import Axis
from cutopt.plan.sequence import CutSequence, cut_sequence
from tests.draw.examples import (
    plan_of,
    sheet_layout,
    sheet_offer,
    sheets,
    stick_layout,
    stick_offer,
    sticks,
)
from tests.plan.random_sheets import random_layouts

NS = {"svg": "http://www.w3.org/2000/svg"}
UNITS: list[tuple[Unit, bool]] = [("in", False), ("in", True), ("mm", False)]


def every_canvas(unit: Unit, feet: bool) -> dict[str, tuple[Canvas, tuple[float, float]]]:
    made = {
        name: stick_canvas(layouts[0], plan, unit, feet, alike=layouts[1:])
        for name, (plan, layouts) in sticks().items()
    }
    for name, (_, rules, layouts) in sheets().items():
        made[name] = sheet_canvas(layouts[0], rules, unit, feet, alike=layouts[1:])
    return made


def every_drawing(unit: Unit = "in", feet: bool = False) -> dict[str, str]:
    made = {
        name: stick_drawing(layouts[0], plan, unit, feet, ident=f"s-{i}", alike=layouts[1:])
        for i, (name, (plan, layouts)) in enumerate(sticks().items())
    }
    for i, (name, (plan, rules, layouts)) in enumerate(sheets().items()):
        made[name] = sheet_drawing(
            layouts[0], plan, rules, unit, feet, ident=f"p-{i}", alike=layouts[1:]
        )
    return made


def cuts_of(layout: Layout, rules: SheetRules) -> CutSequence:
    sequence = cut_sequence(layout, rules)
    assert sequence is not None
    return sequence


def words_of(svg: str) -> list[str]:
    root = ET.fromstring(svg)
    return [t.text or "" for t in root.iterfind(".//svg:text", NS)]


def assert_readable(name: str, canvas: Canvas, size: tuple[float, float]) -> None:
    for (word, box), (other, second) in combinations(canvas.texts, 2):
        assert not box.touches(second), f"{name}: {word!r} touches {other!r}"
    for word, box in canvas.texts:
        assert box.left >= 0, f"{name}: {word!r} leaves the paper"
        assert box.top >= canvas.top, f"{name}: {word!r} leaves the paper"
        assert box.right <= size[0], f"{name}: {word!r} leaves the paper"
        assert box.bottom <= size[1], f"{name}: {word!r} leaves the paper"


@pytest.mark.parametrize(("unit", "feet"), UNITS)
def test_no_texts_touch_and_none_leaves_the_paper(unit: Unit, feet: bool) -> None:
    for name, (canvas, size) in every_canvas(unit, feet).items():
        assert_readable(name, canvas, size)


sticks_of_any_kind = st.lists(
    st.tuples(
        st.integers(min_value=2 * 16, max_value=120 * 16),
        st.text(alphabet="ABCWM-0123 iläß木", min_size=1, max_size=24),
        st.sampled_from(["Alder Cabin", "Classroom 8 East, lower", ""]),
    ),
    min_size=1,
    max_size=40,
)


@settings(max_examples=60, deadline=None)
@given(sticks_of_any_kind, st.sampled_from(UNITS), st.integers(min_value=0, max_value=16))
def test_any_stick_is_readable(
    drawn: list[tuple[int, str, str]], how: tuple[Unit, bool], trim: int
) -> None:
    offer, head = stick_offer(2, 20), trim * INCH // 16
    cuts, room = [], offer.length - head
    for sixteenths, mark, section in drawn:
        room -= sixteenths * INCH // 16 + INCH // 8
        if room < 0:
            break
        cuts.append((f"{sixteenths}/16", (section, "Wall table 1", mark)))
    layout = stick_layout("any", offer, cuts, head_trim=head)
    canvas, size = stick_canvas(layout, plan_of([layout], head_trim=head), *how)
    assert_readable("any", canvas, size)


strips_of_any_kind = st.lists(
    st.tuples(
        st.integers(min_value=12, max_value=20 * 16),
        st.lists(
            st.tuples(
                st.integers(min_value=16, max_value=60 * 16),
                st.integers(min_value=0, max_value=8),
                st.text(alphabet="ABCW-01 ß木", min_size=1, max_size=16),
            ),
            min_size=1,
            max_size=12,
        ),
    ),
    min_size=1,
    max_size=12,
)


@settings(max_examples=40, deadline=None)
@given(strips_of_any_kind, st.sampled_from(UNITS))
def test_any_sheet_is_readable(
    drawn: list[tuple[int, list[tuple[int, int, str]]]], how: tuple[Unit, bool]
) -> None:
    strips, high = [], 48 * 16
    for tall, row in drawn:
        high -= tall + 2
        if high < 0:
            break
        parts, room = [], 96 * 16
        for along, less, mark in row:
            room -= along + 2
            if room < 0:
                break
            turned = less == 1
            size = (along, max(8, tall - less))
            length, width = reversed(size) if turned else size
            words = ("Alder Cabin", "Sheathing table", mark)
            parts.append((f"{length}/16", f"{width}/16", turned, words))
        strips.append((f"{tall}/16", parts))
    rules = SheetRules()
    layout = sheet_layout("any", sheet_offer(7, "96", "48"), strips, rules=rules)
    canvas, size = sheet_canvas(layout, rules, *how)
    assert_readable("any", canvas, size)
    svg = sheet_drawing(layout, plan_of([layout]), rules, *how)
    assert svg.count('class="ring"') == len(cuts_of(layout, rules).cuts)


@settings(max_examples=40, deadline=None)
@given(random_layouts(scale=INCH), st.sampled_from(UNITS), st.booleans())
def test_any_way_of_cutting_a_sheet_is_readable(
    made: tuple[Layout, SheetRules], how: tuple[Unit, bool], turned: bool
) -> None:
    layout, rules = made
    if turned:
        parts = (replace(p, length=p.width, width=p.length, turned=True) for p in layout.parts)
        layout = replace(layout, parts=tuple(parts))  # type: ignore[arg-type]
    canvas, size = sheet_canvas(layout, rules, *how)
    assert_readable("any", canvas, size)
    words = {word for word, _ in canvas.texts}
    cuts = cuts_of(layout, rules)
    assert {str(cut.number) for cut in cuts.cuts} <= words
    named_so = "\n".join(words)
    for name in cuts.names:
        assert re.search(rf"(^|, ){name}($|[:,])|^P($|,)", named_so, re.MULTILINE), name


@pytest.mark.parametrize(("unit", "feet"), UNITS)
def test_every_drawing_is_well_formed_named_and_without_links(unit: Unit, feet: bool) -> None:
    for name, svg in every_drawing(unit, feet).items():
        root = ET.fromstring(svg)
        assert root.get("role") == "img"
        named = (root.get("aria-labelledby") or "").split()
        by_id = {e.get("id"): e for e in root.iter() if e.get("id")}
        assert [by_id[i].tag.rsplit("}", 1)[1] for i in named] == ["title", "desc"], name
        assert all((by_id[i].text or "").strip() for i in named)
        assert svg.count("http") == 1, "the namespace alone"
        assert "<script" not in svg
        assert not re.search(r"#[0-9a-f]{3,8}\b", svg), "colours come from the page alone"
        used = set(re.findall(r"url\(#([^)]+)\)", svg))
        assert used <= set(by_id)


def test_ids_are_unique_on_a_page_and_bytes_are_the_same_every_time() -> None:
    page = "".join(every_drawing().values())
    ids = re.findall(r' id="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    assert page == "".join(every_drawing().values())


def test_a_drawing_that_stands_alone_brings_its_colours() -> None:
    plan, layouts = sticks()["two studs"]
    svg = stick_drawing(layouts[0], plan, "in", style=True)
    for colour in ("#faf7f0", "#1c1b19", "#191815", "#f2eee4"):
        assert colour in svg
    ET.fromstring(svg)


@pytest.mark.parametrize("name", [n for n in sticks() if n != "tiny"])
def test_sticks_are_to_scale(name: str) -> None:
    plan, layouts = sticks()[name]
    root = ET.fromstring(stick_drawing(layouts[0], plan, "in"))
    boxes = [r for r in root.iterfind(".//svg:rect", NS) if r.get("class") == "part"]
    parts = sorted(layouts[0].parts, key=lambda p: p.x)
    assert len(boxes) == len(parts)
    start = 18 + (8 if plan.head_trim else 0)
    scale = (800 - 18 - start) / (layouts[0].offer.length - plan.head_trim)
    for box, part in zip(boxes, parts, strict=True):
        left = float(box.get("x", ""))
        # Half of the gap that makes a kerf visible is all that a box may give way.
        assert left == pytest.approx(start + part.x * scale, abs=1.3)
        right = left + float(box.get("width", ""))
        assert right == pytest.approx(start + (part.x + part.length) * scale, abs=1.3)


@pytest.mark.parametrize("name", list(sheets()))
def test_sheets_are_to_scale(name: str) -> None:
    plan, rules, layouts = sheets()[name]
    root = ET.fromstring(sheet_drawing(layouts[0], plan, rules, "in"))
    boxes = [r for r in root.iterfind(".//svg:rect", NS) if r.get("class") == "part"]
    edge = next(r for r in root.iterfind(".//svg:rect", NS) if r.get("class") == "edge")
    left, top = float(edge.get("x", "")), float(edge.get("y", ""))
    wide, high = float(edge.get("width", "")), float(edge.get("height", ""))
    offer = layouts[0].offer
    trim = 0 if layouts[0].parts[0].full_span else rules.edge_trim
    scale = wide / (offer.length - 2 * trim)
    assert high == pytest.approx(((offer.width or 0) - 2 * trim) * scale, abs=0.02)
    parts = [part for part, _ in named(layouts, rules, "in", False)]
    for box, part in zip(boxes, parts, strict=True):
        assert float(box.get("x", "")) == pytest.approx(left + part.x * scale, abs=0.02)
        assert float(box.get("width", "")) == pytest.approx(part.along * scale, abs=0.02)
        foot = float(box.get("y", "")) + float(box.get("height", ""))
        assert foot == pytest.approx(top + high - part.y * scale, abs=0.02)
        assert float(box.get("height", "")) == pytest.approx(part.across * scale, abs=0.02)


@pytest.mark.parametrize(("unit", "feet"), UNITS)
def test_every_stop_of_a_stick_stands_on_its_tape(unit: Unit, feet: bool) -> None:
    for name, (plan, layouts) in sticks().items():
        words = words_of(stick_drawing(layouts[0], plan, unit, feet, alike=layouts[1:]))
        for part in layouts[0].parts:
            assert show_length(part.x + part.length, unit, feet) in words, name


@pytest.mark.parametrize(("unit", "feet"), UNITS)
def test_every_cut_at_the_sheets_edge_has_its_measure_there(unit: Unit, feet: bool) -> None:
    for name, (plan, rules, layouts) in sheets().items():
        words = words_of(sheet_drawing(layouts[0], plan, rules, unit, feet, alike=layouts[1:]))
        for cut in cuts_of(layouts[0], rules).cuts:
            across = cut.axis is Axis.CROSS
            if (cut.piece.rect.y if across else cut.piece.rect.x) <= 0:
                assert show_length(cut.measure, unit, feet) in words, f"{name}: {cut.number}"


def test_every_cut_of_a_sheet_has_its_number_in_a_ring() -> None:
    for name, (plan, rules, layouts) in sheets().items():
        cuts = cuts_of(layouts[0], rules).cuts
        assert cuts, name
        svg = sheet_drawing(layouts[0], plan, rules, "in")
        assert svg.count('class="ring"') == len(cuts), name
        words = words_of(svg)
        assert {str(i) for i in range(1, len(cuts) + 1)} <= set(words), name


def test_a_stage_is_told_by_the_style_of_its_lines_and_by_words() -> None:
    plan, rules, layouts = sheets()["turned"]
    svg = sheet_drawing(layouts[0], plan, rules, "in")
    cuts = cuts_of(layouts[0], rules).cuts
    for stage in (1, 2, 3):
        # One line for each cut, and one in the key.
        assert svg.count(f'class="c{stage}"') == sum(c.stage == stage for c in cuts) + 1
    assert {"stage 1, rips", "stage 2, crosscuts", "stage 3, rips"} <= set(words_of(svg))
    plan, rules, layouts = sheets()["trimmed"]
    svg = sheet_drawing(layouts[0], plan, rules, "in")
    assert svg.count('class="c0"') == 5
    assert "squaring" in words_of(svg)


def test_the_drawing_in_words_tells_every_cut() -> None:
    plan, rules, layouts = sheets()["trimmed"]
    svg = sheet_drawing(layouts[0], plan, rules, "in")
    for line in (
        "Cut 1: rip the sheet 47-1/2&quot; from the far factory edge, squaring it.",
        "Cut 5: rip the sheet 20&quot; from the squared edge: strip A, kept drop 95&quot; × 26-7/8",
        "Cut 6: crosscut strip A 40&quot; from the squared head: A1 A1.",
    ):
        assert line in svg


def test_every_part_of_a_sheet_is_named() -> None:
    for name, (plan, rules, layouts) in sheets().items():
        text = "\n".join(words_of(sheet_drawing(layouts[0], plan, rules, "in")))
        for part, label in named(layouts, rules, "in", False):
            told = re.search(rf"(^|, ){label.name}($|[:,])", text, re.MULTILINE)
            assert told or part.mark in text.splitlines(), f"{name}: {label.name}"


def test_waste_is_hatched_and_a_kept_drop_is_not() -> None:
    plan, layouts = sticks()["kept drop"]
    svg = stick_drawing(layouts[0], plan, "in")
    assert 'class="kept"' in svg
    assert "pattern" not in svg
    assert "to the rack" in words_of(svg)
    assert 'class="head"' in svg, "head trim"
    plan, layouts = sticks()["two studs"]
    svg = stick_drawing(layouts[0], plan, "in")
    assert re.search(r'class="waste"[^>]*fill="url\(#drawing-h\)"', svg)
    assert 'class="head"' not in svg


def test_edges_are_named_for_what_they_are() -> None:
    def edges(name: str) -> list[str]:
        plan, rules, layouts = sheets()[name]
        words = words_of(sheet_drawing(layouts[0], plan, rules, "in"))
        return [w for w in words if re.match("(factory|squared|sawn) edge", w)]

    assert edges("many") == ["factory edge"] * 2
    assert edges("ceiling rip") == ["factory edge"] * 2
    assert edges("trimmed") == ["squared edge"] * 2
    assert edges("rack") == ["sawn edge", "factory edge"]
    assert edges("tongue") == ["factory edge, tongue", "factory edge, groove"]


def test_every_sheet_shows_its_strength_axis() -> None:
    for name, (plan, rules, layouts) in sheets().items():
        svg = sheet_drawing(layouts[0], plan, rules, "in")
        assert words_of(svg).count("strength axis") == 1, name
        assert svg.count('class="axis"') == 4, name


def test_tongue_and_groove_are_toothed_and_asked_for_edges_told() -> None:
    plan, rules, layouts = sheets()["tongue"]
    svg = sheet_drawing(layouts[0], plan, rules, "in")
    words = words_of(svg)
    assert "keeps the tongue" in words
    assert "keeps the groove" in words
    assert svg.count('class="teeth"') == 2


def test_a_turned_part_says_so_and_carries_an_arrow() -> None:
    plan, rules, layouts = sheets()["turned"]
    svg = sheet_drawing(layouts[0], plan, rules, "in")
    assert svg.count('class="heavy"') == 3 * sum(p.turned for p in layouts[0].parts)
    assert "turned" in words_of(svg)
    assert svg.count(", turned.") == sum(p.turned for p in layouts[0].parts), "in the description"


def test_what_differs_between_layouts_is_told_by_letter() -> None:
    plan, layouts = sticks()["alike"]
    words = words_of(stick_drawing(layouts[0], plan, "in", alike=layouts[1:]))
    assert "W1-STUD" in words, "the same on all"
    assert "part B" in words, "not the same on all"
    assert not any("Alder Cabin" in w for w in words)


def test_awkward_words_arrive_as_they_are() -> None:
    plan, layouts = sticks()["awkward"]
    root = ET.fromstring(stick_drawing(layouts[0], plan, "in"))
    desc = root.find(".//svg:desc", NS)
    assert desc is not None
    assert "</text><script>1</script>" in (desc.text or "")
    assert '<b>"Süd" & Øst</b>' in (desc.text or "")
    assert "柱-01 長い部材名" in (desc.text or "")

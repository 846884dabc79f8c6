"""report.html: one file that holds the whole plan, for eyes, ears and paper."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise

import pytest

from cutopt.draw import in_order
from cutopt.files.html import Markup, el, join
from cutopt.files.report import report_html
from cutopt.materials import Kind
from cutopt.measure import Unit, show_length
from cutopt.order import stock_order
from cutopt.plan import Plan, Problem, Source
from cutopt.plan.sequence import cut_sequence
from cutopt.yields import yields
from tests.draw.example_plan import AWKWARD, example_plan, large_plan

SVG = "{http://www.w3.org/2000/svg}"


def report(made: tuple[Problem, Plan], feet: bool = False) -> str:
    problem, plan = made
    return report_html(problem, plan, stock_order(plan), yields(plan, problem.rules), feet)


def parsed(html: str) -> ET.Element:
    """The report as XML: it is, but for its four elements that have no end."""
    return ET.fromstring(re.sub(r"<((?:meta|link|br)[^>]*)>", r"<\1/>", html.split("\n", 1)[1]))


INLINE = ("a", "b", "span")


def text_of(element: ET.Element) -> str:
    """The words as read: what is inline belongs to its neighbours, all else stands apart."""

    def words(of: ET.Element) -> str:
        text = (of.text or "") + "".join(words(child) + (child.tail or "") for child in of)
        return text if of.tag in INLINE else f" {text} "

    return " ".join(words(element).split())


@pytest.fixture(scope="module")
def html() -> str:
    return report(example_plan())


@pytest.fixture(scope="module")
def page(html: str) -> ET.Element:
    return parsed(html)


def test_strings_are_escaped_unless_they_are_markup() -> None:
    assert el("p", "<b>", title='a"b') == '<p title="a&quot;b">&lt;b&gt;</p>'
    assert join("&", Markup("&amp;"), None) == "&amp;&amp;"


def test_it_says_what_it_is(page: ET.Element) -> None:
    assert page.get("lang") == "en"
    heading = page.find(".//h1")
    assert heading is not None
    assert text_of(heading) == f"Cutting plan, Hask Lake {AWKWARD}, 2026-03-02, 2026-03-03"
    lead = text_of(page.findall(".//header/p")[0])
    _, plan = example_plan()
    parts = sum(lay.count * len(lay.parts) for m in plan.materials for lay in m.layouts)
    assert f"{parts} parts" in lead
    assert "$" in lead


def test_landmarks_and_headings_are_in_order(page: ET.Element) -> None:
    body = page.find("body")
    assert body is not None
    assert [child.tag for child in body] == ["a", "header", "nav", "main", "footer"]
    levels = [int(e.tag[1]) for e in page.iter() if re.fullmatch(r"h[1-6]", e.tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))


def test_ids_are_unique_and_links_lead_somewhere(page: ET.Element) -> None:
    ids = [e.get("id") for e in page.iter() if e.get("id")]
    assert len(ids) == len(set(ids))
    for link in page.iter("a"):
        assert (link.get("href") or "")[0] == "#"
        assert (link.get("href") or "")[1:] in ids
    named = {i for e in page.iter() for i in (e.get("aria-labelledby") or "").split()}
    assert named <= set(ids)


def test_tables_have_captions_and_heads(page: ET.Element) -> None:
    tables = list(page.iter("table"))
    assert tables
    for table in tables:
        caption = table.find("caption")
        assert caption is not None
        assert text_of(caption)
        assert all(th.get("scope") == "col" for th in table.iterfind("thead/tr/th"))
        assert all(th.get("scope") in ("row", "rowgroup") for th in table.iterfind("tbody/tr/th"))
        width = len(table.findall("thead/tr/th"))
        for body in table.iterfind("tbody"):
            spanned = 0
            for row in body.iterfind("tr"):
                head = row.find("th")
                if head is not None and head.get("colspan"):
                    assert head.get("colspan") == str(width)
                elif head is not None and head.get("rowspan"):
                    spanned = int(head.get("rowspan") or 0)
                    assert len(row) == width
                else:
                    assert len(row) == (width - 1 if spanned > 1 else width)


def test_nothing_leads_out_and_nothing_runs(html: str) -> None:
    assert set(re.findall(r"https?://[^\"' ]+", html)) == {"http://www.w3.org/2000/svg"}
    assert "<script" not in html
    assert "@import" not in html
    assert "default-src 'none'" in html
    urls = re.findall(r"url\(([^)]*)\)", html)
    assert all(u.startswith("#") for u in urls)


def test_words_from_files_are_escaped(html: str, page: ET.Element) -> None:
    assert AWKWARD not in html
    assert AWKWARD in text_of(page)
    assert "</text><script>1</script>" in text_of(page)
    assert "R-7 <b>" in text_of(page)


def test_parts_not_planned_come_first_and_loud(page: ET.Element) -> None:
    main = page.find(".//main")
    assert main is not None
    alarm = main[0]
    assert alarm.get("class") == "alarm"
    words = text_of(alarm)
    assert words.startswith("Not in this plan: 4 parts")
    assert "a board of 16 ft 8 in would do" in words
    assert "CEILING" in words
    assert '200" × 565"' in words


def test_cautions_are_there(page: ET.Element) -> None:
    words = text_of(page)
    for word in ("Approved drawings rule", "guards", "dust", "silica", "29 CFR 1926.1153"):
        assert word in words


def test_every_material_has_its_figures(page: ET.Element) -> None:
    _, plan = example_plan()
    sections = [s for s in page.iter("section") if s.get("class") == "material"]
    assert len(sections) == len(plan.materials)
    for section, material in zip(sections, plan.materials, strict=True):
        figures = {
            text_of(d[0]): text_of(d[1])
            for d in section.iter("div")
            if len(d) == 2 and d[0].tag == "dt"
        }
        pieces = sum(lay.count for lay in material.layouts)
        assert figures["Pieces"] == str(pieces)
        assert figures["Cost"] == f"${float(material.cost):,.2f}"
        assert figures["Bound"] == f"${float(material.bound):,.2f}"
        assert ("Yield" in figures) == bool(material.layouts)
    words = text_of(sections[0])
    assert "Best found: no plan for this input has an objective below $50.00" in words
    assert "The search ended when its share of work was used up." in words
    assert "Planned together with 2x8-SPF-2" in text_of(sections[1])
    assert "Cutting rule: rips first." in text_of(page)
    assert "at most 3 stages" in text_of(page)


def test_gap_bound_and_credit_add_up_to_what_is_shown(page: ET.Element) -> None:
    words = text_of(next(s for s in page.iter("section") if s.get("class") == "material"))
    _, plan = example_plan()
    gap = plan.materials[0].gap
    assert f"{round(float(100 * gap), 3):g} %" in words


@pytest.mark.parametrize(("unit", "feet"), [("in", False), ("in", True), ("mm", False)])
def test_every_layout_is_drawn_once_with_its_count_stops_and_places(unit: Unit, feet: bool) -> None:
    problem, plan = example_plan(unit)
    page = parsed(report((problem, plan), feet))
    sections = [s for s in page.iter("section") if s.get("class") == "material"]
    for section, material in zip(sections, plan.materials, strict=True):
        groups: dict[str, list] = {}  # type: ignore[type-arg]
        for layout in material.layouts:
            groups.setdefault(layout.pattern, []).append(layout)
        articles = list(section.iter("article"))
        assert len(articles) == len(groups)
        for article, layouts in zip(articles, groups.values(), strict=True):
            total = sum(lay.count for lay in layouts)
            word = "stick" if layouts[0].offer.width is None else "sheet"
            heading = text_of(article.find(".//h4"))  # type: ignore[arg-type]
            plural = "" if total == 1 else "s"
            assert heading.startswith(f"Cut {total} {word}{plural} of {material.material}, ")
            assert len(list(article.iter(f"{SVG}svg"))) == 1
            told = text_of(article)
            tables = " ".join(text_of(t) for t in article.iter("table"))
            for layout in layouts:
                assert f"{layout.count} {word}" in told
                rules = problem.rules.for_sheets(layout.offer.material)
                cuts = cut_sequence(layout, rules).cuts if word == "sheet" else ()  # type: ignore[union-attr]
                for cut in cuts:
                    assert show_length(cut.measure, unit, feet) in tables
                    assert show_length(cut.fence, unit, feet) in tables
                    assert f" {cut.number} {cut.piece} " in tables
                for part in in_order(layout):
                    if word == "stick":
                        assert show_length(part.x + part.along, unit, feet) in tables
                    assert show_length(part.length, unit, feet) in tables
                    for place in (part.section, part.jig, part.run or part.mark):
                        assert " ".join(place.replace("\x07", "�").split()) in tables


def test_a_part_turned_on_some_sheets_only_is_drawn_apart() -> None:
    problem, plan = example_plan()
    board = next(m for m in plan.materials if m.material == "OSB-7/16")
    one, other = (lay for lay in board.layouts if lay.pattern == "d")
    part = other.parts[0]
    turned = replace(part, length=part.width or 0, width=part.length, turned=True)
    board = replace(board, layouts=(one, replace(other, parts=(turned,))))
    page = parsed(report((problem, Plan("in", (board,)))))
    words = [text_of(article) for article in page.iter("article")]
    assert len(words) == 2
    assert '94" × 47"' in words[0]
    assert "turned" not in words[0]
    assert '47" × 94", turned' in words[1]


def test_books_are_told() -> None:
    problem, plan = example_plan()
    stacked = tuple(
        replace(m, stack=1 if m.kind is Kind.LUMBER else 3 if m.material == "OSB-7/16" else 20)
        for m in plan.materials
    )
    words = text_of(parsed(report((problem, Plan(plan.unit, stacked)))))
    # 3 sheets of p1, 2 of p2, 17 and 21 of p8 and p9 together; 14 ceiling boards in one of 20.
    for told in ("1 book of 3 sheets", "1 book of 2 sheets", "12 books of 3 sheets, 1 of 2 sheets"):
        assert f"Cut as {told}: every cut goes through the whole book." in words
    assert "Cut as 1 book of 14 sheets" in words
    assert "book" not in text_of(parsed(report((problem, plan))))


def test_stacks_of_sticks_are_told() -> None:
    problem, plan = example_plan()
    sticks = next(m for m in plan.materials if m.kind is Kind.LUMBER)
    first = sticks.layouts[0]
    seven = replace(sticks, layouts=(replace(first, count=7),), stack=3)
    words = text_of(parsed(report((problem, Plan(plan.unit, (seven,))))))
    told = "Cut as 2 stacks of 3 sticks, 1 of 1 stick: every cut goes through the whole stack."
    assert told in words
    assert "stack of" not in text_of(parsed(report((problem, plan))))


def test_what_to_buy_is_one_list_with_its_total(page: ET.Element) -> None:
    _, plan = example_plan()
    order = stock_order(plan)
    section = next(s for s in page.iter("section") if s.get("class") == "order")
    rows = [[text_of(c) for c in r] for r in section.iter("tr")]
    assert [r[0] for r in rows[1:-1]] == [line.offer.material for line in order]
    total = sum(float(line.extension) for line in order)
    assert rows[-1][0] == "All"
    assert rows[-1][2] == str(sum(line.pieces for line in order))
    assert rows[-1][-1] == f"${total:,.2f}"


def test_what_the_mill_sells_beyond_counts_as_bought() -> None:
    problem, plan = example_plan()
    sticks = next(m for m in plan.materials if m.kind is Kind.LUMBER)
    layout = replace(sticks.layouts[0], count=4, source=Source.BUY)
    one = replace(sticks, layouts=(layout,), surplus=((layout.offer, 8),))
    page = parsed(report((problem, Plan(plan.unit, (one,)))))
    contents = next(page.iter("nav"))
    assert [[text_of(c) for c in r][1:3] for r in contents.iter("tr")][1:] == [["4", "12"]] * 2
    section = next(s for s in page.iter("section") if s.get("class") == "order")
    assert [[text_of(c) for c in r][2] for r in section.iter("tr")][1:] == ["12", "12"]


def test_a_stick_s_table_is_left_off_paper_only_where_its_drawing_tells_all() -> None:
    problem, plan = example_plan()
    page = parsed(report((problem, plan)))
    seen = set()
    for article in page.iter("article"):
        if article.get("class") != "layout of-sticks":
            continue
        svg = next(e for e in article.iter() if e.tag.endswith("svg"))
        words = [text_of(e) for e in svg.iter() if e.tag.endswith("text")]
        table = next(d for d in article.iter("div") if "scroll" in (d.get("class") or ""))
        left_off = "told" in (table.get("class") or "").split()
        seen.add(left_off)
        cut_short = any("…" in w for w in words)
        measures = [text_of(c) for c in table.iter("td") if c.get("class") == "m"]
        missing = [m for m in measures if not any(m in w for w in words)]
        assert left_off == (not cut_short and not missing)
    assert seen


def test_alternates_and_runs_are_told(page: ET.Element) -> None:
    words = text_of(page)
    assert "POST (asked for in 2x8-SPF-2)" in words
    assert 'W1-TOP-1 from 192"' in words


def test_the_order_and_the_yard_are_told(page: ET.Element) -> None:
    _, plan = example_plan()
    sections = [s for s in page.iter("section") if s.get("class") == "material"]
    for line in stock_order(plan):
        section = sections[[m.material for m in plan.materials].index(line.offer.material)]
        rows = [[text_of(c) for c in r] for r in section.iter("tr")]
        extension = f"${float(line.extension):,.2f}"
        assert any(r[1] == str(line.pieces) and r[-1] == extension for r in rows if len(r) == 6)
    assert "Nothing is to be bought" in text_of(sections[1])
    assert "From the yard Size Pieces Lot 12 ft 2 R-7 <b>" in text_of(sections[1])


def test_kept_drops_are_told(page: ET.Element) -> None:
    section = next(s for s in page.iter("section") if s.get("class") == "material")
    table = next(t for t in section.iter("table") if "For the rack" in text_of(t))
    assert '64-3/4"' in text_of(table)


def test_the_same_plan_gives_the_same_bytes(html: str) -> None:
    assert html == report(example_plan())


def test_a_day_of_3000_pieces_stays_below_5_mb() -> None:
    assert len(report(large_plan(3000)).encode()) < 5_000_000


def test_a_plan_of_nothing_is_a_report_still() -> None:
    problem, _ = example_plan()
    page = parsed(report((problem, Plan("in", ()))))
    assert "0 parts" in text_of(page)


def test_why_it_cant_cost_less(page: ET.Element) -> None:
    heads = [h for h in page.iter("h3") if text_of(h) == "Why it can't cost less"]
    assert len(heads) == 1
    section = next(s for s in page.iter("section") if heads[0] in list(s))
    words = text_of(section)
    assert f'104-5/8" {AWKWARD}, W1-HEADER-N5 and 2 more 88 $4.92 $4.11 $71.28' in words
    assert 'run 1440"' in words
    assert '192" sticks (rows 12, 14: 40 can be had) are short' in words
    assert "At the margin: since sticks come whole" in words
    assert "A run counts with its joints" in words

"""The report in a browser: barriers, texts that touch, what it asks of the network, its width."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page

from cutopt.files.report import report_html
from cutopt.order import stock_order
from cutopt.yields import yields
from tests.draw.example_plan import example_plan

pytestmark = pytest.mark.browser

# Texts of one drawing whose boxes overlap, by how much; a hair is lost to rounding.
OVERLAPS = """() => {
  const found = [];
  for (const svg of document.querySelectorAll('svg.drawing')) {
    const boxes = [...svg.querySelectorAll('text')].map(
      (t) => [t.textContent, t.getBoundingClientRect()]);
    for (let i = 0; i < boxes.length; i++)
      for (let j = 0; j < i; j++) {
        const [a, p] = boxes[i], [b, q] = boxes[j];
        const wide = Math.min(p.right, q.right) - Math.max(p.left, q.left);
        const high = Math.min(p.bottom, q.bottom) - Math.max(p.top, q.top);
        if (wide > 0.5 && high > 0.5) found.push(`${svg.id}: ${a} / ${b}`);
      }
  }
  return found;
}"""

OUTSIDE = """() => {
  const found = [];
  for (const svg of document.querySelectorAll('svg.drawing')) {
    const paper = svg.getBoundingClientRect();
    for (const text of svg.querySelectorAll('text')) {
      const box = text.getBoundingClientRect();
      if (box.left < paper.left - 1 || box.right > paper.right + 1 ||
          box.top < paper.top - 1 || box.bottom > paper.bottom + 1)
        found.push(`${svg.id}: ${text.textContent}`);
    }
  }
  return found;
}"""

FONTS = ("system-ui", "'DejaVu Sans'", "'Liberation Sans'", "serif")

AXE = {
    "runOnly": {
        "type": "tag",
        "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
    },
    # 7:1 for text, beyond AA: the plant reads through dust.
    "rules": {"color-contrast-enhanced": {"enabled": True}},
}


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    problem, plan = example_plan()
    html = report_html(problem, plan, stock_order(plan), yields(plan, problem.rules))
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(html, encoding="utf-8")
    return path


@pytest.fixture(params=["light", "dark"])
def page(request: pytest.FixtureRequest, chromium: Browser, report: Path) -> Iterator[Page]:
    context = chromium.new_context(
        viewport={"width": 1280, "height": 800}, color_scheme=request.param
    )
    page = context.new_page()
    page.goto(report.as_uri())
    yield page
    context.close()


@pytest.mark.parametrize("size", [(1280, 800), (800, 1280)])
def test_no_barriers(page: Page, size: tuple[int, int]) -> None:
    page.set_viewport_size({"width": size[0], "height": size[1]})
    results = Axe().run(page, options=AXE)
    assert not results.response["violations"], results.generate_report()


def test_nothing_is_asked_of_the_network_and_nothing_goes_wrong(
    chromium: Browser, report: Path
) -> None:
    context = chromium.new_context()
    page = context.new_page()
    asked: list[str] = []
    wrong: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: wrong.append(message.text))
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.goto(report.as_uri())
    page.wait_for_load_state("networkidle")
    context.close()
    assert [url for url in asked if not url.startswith("data:")] == [report.as_uri()]
    assert wrong == []


@pytest.mark.parametrize("font", FONTS)
def test_no_texts_in_drawings_touch_whatever_the_font(
    chromium: Browser, report: Path, font: str
) -> None:
    context = chromium.new_context(viewport={"width": 1280, "height": 800}, bypass_csp=True)
    page = context.new_page()
    page.goto(report.as_uri())
    page.add_style_tag(content=f".drawing,.drawing text{{font-family:{font} !important}}")
    assert page.evaluate(OVERLAPS) == []
    assert page.evaluate(OUTSIDE) == []
    context.close()


@pytest.mark.parametrize("width", [1280, 800, 320])
def test_the_page_is_never_wider_than_the_screen(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_links_are_large_enough_for_gloves(page: Page) -> None:
    heights = page.evaluate(
        "[...document.querySelectorAll('a:not(.skip)')].map(a => a.getBoundingClientRect().height)"
    )
    assert heights
    assert min(heights) >= 44


def test_on_paper_it_is_ink_and_a_layout_stays_on_its_page(page: Page) -> None:
    page.emulate_media(media="print")
    styles = page.evaluate(
        """() => {
          const block = document.querySelector('article.layout .block');
          const word = block.querySelector('svg text');
          return [getComputedStyle(block).breakInside, getComputedStyle(word).fill,
                  getComputedStyle(document.body).color];
        }"""
    )
    assert styles == ["avoid", "rgb(28, 27, 25)", "rgb(28, 27, 25)"]
    assert page.pdf(format="Letter").startswith(b"%PDF")


def test_a_sheet_with_its_cuts_and_parts_fits_on_a_page(chromium: Browser, report: Path) -> None:
    # Letter, 215.9 x 279.4 mm, less 12 mm on every side (the report's own margin): in CSS pixels.
    wide, high = (215.9 - 24) / 25.4 * 96, (279.4 - 24) / 25.4 * 96
    context = chromium.new_context(viewport={"width": int(wide), "height": int(high)})
    page = context.new_page()
    page.goto(report.as_uri())
    page.emulate_media(media="print")
    heights = page.evaluate(
        """() => [...document.querySelectorAll('.block')]
          .filter((b) => b.querySelector('.tables'))
          .map((b) => b.getBoundingClientRect().height)"""
    )
    context.close()
    assert len(heights) >= 8
    assert max(heights) < high


def test_sheets_beside_their_tables_stay_legible_on_paper(chromium: Browser, report: Path) -> None:
    # Letter less the report's own margin, in CSS pixels; 1 pt is 4/3 px.
    wide = (215.9 - 24) / 25.4 * 96
    context = chromium.new_context(viewport={"width": int(wide), "height": 965})
    page = context.new_page()
    page.goto(report.as_uri())
    page.emulate_media(media="print")
    blocks = page.evaluate(
        """() => [...document.querySelectorAll('.block.beside')].map((b) => {
          const svg = b.querySelector('svg');
          const box = svg.viewBox.baseVal, shown = svg.getBoundingClientRect();
          const scale = Math.min(shown.width / box.width, shown.height / box.height);
          const sizes = [...svg.querySelectorAll('text')].map((t) => t.getAttribute('font-size'));
          const cells = [...b.querySelectorAll('.tables :is(td, th, caption)')];
          return [Math.min(...sizes) * scale,
                  Math.max(...cells.map((c) => c.getBoundingClientRect().right)),
                  Math.max(...cells.map((c) => c.scrollWidth - c.clientWidth))];
        })"""
    )
    context.close()
    assert blocks
    assert min(size for size, _, _ in blocks) >= 5 * 4 / 3
    assert max(right for _, right, _ in blocks) <= wide + 1
    assert max(beyond for _, _, beyond in blocks) <= 1

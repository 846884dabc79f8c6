"""The demo as README starts it, and each role's main work done in a browser, by keyboard too."""

from __future__ import annotations

import csv
import io
import re
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import Decimal
from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, ConsoleMessage, Page, expect

from tests.browser.test_report import AXE
from tests.service.days import small_files
from tests.service.live import Live

pytestmark = pytest.mark.browser

STAND = {"width": 800, "height": 1280}
DESK = {"width": 1280, "height": 800}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Live]:
    """`cutopt serve --demo`, as README says."""
    with Live(tmp_path_factory.mktemp("demo"), "--demo") as live:
        yield live


def pairing(live: Live) -> str:
    """Where a new saw's screen signs in, as its QR code says."""
    station = live.client.post("/stations", json={"name": f"Saw {uuid.uuid4().hex[:4]}"})
    assert station.status_code == 201, station.text
    code = live.client.post(f"/stations/{station.json()['id']}/code")
    assert code.status_code == 201, code.text
    return str(code.json()["path"])


def _bad(told: ConsoleMessage) -> bool:
    """Whether the browser complains; a refused form is an answer like others."""
    return told.type == "error" and "status of 422" not in told.text


@contextmanager
def entered(
    chromium: Browser, live: Live, role: str, size: dict[str, int], **more: str
) -> Iterator[Page]:
    """The first page for somebody who entered the demo by the button of their role."""
    context: BrowserContext = chromium.new_context(
        viewport=size,  # type: ignore[arg-type]
        locale="en-US",
        **more,  # type: ignore[arg-type]
    )
    try:
        page = context.new_page()
        troubles: list[str] = []
        page.on("console", lambda told: troubles.append(told.text) if _bad(told) else None)
        page.on("pageerror", lambda error: troubles.append(str(error)))
        if role == "station":
            page.goto(f"{live.client.base_url}{pairing(live)}")
            page.get_by_role("main").get_by_role("button").click()
        else:
            page.goto(f"{live.client.base_url}")
            expect(page).to_have_url(re.compile("/sign-in"))
            page.get_by_role("button", name=role, exact=True).click()
        expect(page.get_by_role("navigation")).to_be_visible()
        expect(page).to_have_url(re.compile(r":\d+/$"))
        yield page
        assert troubles == []
    finally:
        context.close()


def good(page: Page) -> None:
    """No barriers, and nothing wider than the screen."""
    assert Axe().run(page, options=AXE).response["violations"] == [], page.url
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert wide <= 0, page.url


def send(page: Page, files: dict[str, bytes], folder: Path) -> None:
    paths = []
    for name, content in files.items():
        path = folder / Path(name).name
        path.write_bytes(content)
        paths.append(path)
    page.get_by_label(re.compile("^(Files, or a workbook|The mended files)")).set_input_files(paths)
    page.get_by_role("button", name=re.compile("^Send (in|again)$")).click()


def test_the_four_roles_do_their_work(chromium: Browser, demo: Live, tmp_path: Path) -> None:
    # The planner sends in a day with a fault, mends it, and has it planned.
    with entered(chromium, demo, "planner", DESK) as page:
        good(page)
        page.get_by_role("link", name="Days", exact=True).click()
        page.get_by_role("link", name="Send in a day").first.click()
        good(page)
        page.get_by_label("What the day is called").fill("Small day")
        files = small_files()
        right = files["cuts/walls.csv"]
        files["cuts/walls.csv"] = right.replace(b"2x4-SPF-2", b"2x4-SFP-2", 1)
        send(page, files, tmp_path)
        fault = page.get_by_role("row").filter(has_text="2x4-SFP-2")
        expect(fault).to_contain_text("cuts/walls.csv")
        expect(fault).to_contain_text("did you mean '2x4-SPF-2'")
        assert page.get_by_label("What the day is called").input_value() == "Small day"
        good(page)
        send(page, {"cuts/walls.csv": right}, tmp_path)
        expect(page.get_by_role("heading", level=1)).to_have_text("Day Small day")
        good(page)
        page.get_by_role("button", name="Plan this day").press("Enter")
        expect(page.get_by_role("heading", level=1)).to_have_text(
            re.compile("(Being planned:|Plan for) Small day")
        )
        good(page)
        # It goes over to the result by itself, told by the stream of events.
        expect(page.get_by_role("heading", level=1)).to_have_text(
            "Plan for Small day", timeout=120_000
        )
        good(page)
        plan = page.url.rsplit("/", 1)[-1]

    def table(name: str) -> list[dict[str, str]]:
        text = demo.client.get(f"/plans/{plan}/{name}", headers={"Accept": "text/csv"}).text
        return list(csv.DictReader(io.StringIO(text)))

    # Purchasing reads what to buy.
    with entered(chromium, demo, "purchasing", DESK, color_scheme="dark") as page:
        page.get_by_role("link", name="Stock order Small day").click()
        rows = table("stock-order")
        total = sum(Decimal(row["extension"]) for row in rows)
        pieces = sum(int(row["pieces"]) for row in rows)
        heading = page.get_by_role("heading", level=1)
        expect(heading).to_have_text(f"Buy {pieces} pieces for ${total:,.2f}")
        good(page)
        with page.expect_download() as download:
            page.get_by_role("link", name="As a table (csv)").click()
        assert download.value.suggested_filename == "stock_order.csv"
        assert page.get_by_role("link", name="Yield").count() == 0

    # The saw, paired by its code, reads its cut list.
    with entered(chromium, demo, "station", STAND) as page:
        expect(page.get_by_role("heading", level=1)).to_have_text("Cut: Small day")
        page.get_by_role("link", name="Cut list Small day").click()
        good(page)
        page.get_by_role("link", name=re.compile("2x4-SPF-2")).click()
        good(page)
        stops = {row["stop"] for row in table("cut-list") if row["material"] == "2x4-SPF-2"}
        assert page.locator(".stop").count() >= len(stops)
        first = page.locator(".stop").first
        assert first.evaluate("cell => parseFloat(getComputedStyle(cell).fontSize)") >= 40
        for target in page.locator("main a, main button").all():
            box = target.bounding_box()
            assert box is None or box["height"] >= 64
        page.emulate_media(media="print")
        assert not page.get_by_role("link", name="All materials").first.is_visible()
        assert page.locator("svg.drawing").first.is_visible()

    # The accountant reads the waste.
    with entered(chromium, demo, "accountant", STAND, color_scheme="dark") as page:
        page.get_by_role("link", name="Yield Small day").click()
        good(page)
        for row in table("yield"):
            told = page.get_by_role("row").filter(has_text=row["material"])
            expect(told).to_contain_text(f"{Decimal(row['waste_percent']):.2f}")
        page.get_by_role("link", name="Waste", exact=True).click()
        good(page)


def test_a_plan_can_be_stopped_while_it_is_watched(
    chromium: Browser, demo: Live, tmp_path: Path
) -> None:
    with entered(chromium, demo, "planner", DESK) as page:
        page.get_by_role("link", name="Days", exact=True).click()
        page.get_by_role("link", name="2026-03-03").first.click()
        page.get_by_role("button", name="Plan this day").click()
        page.get_by_role("button", name="Stop here").click()
        expect(page.get_by_role("heading", level=1)).to_have_text(
            "Plan for 2026-03-03", timeout=60_000
        )
        expect(page.locator("main")).to_contain_text("stopped")


def test_without_a_script_all_of_it_works(chromium: Browser, demo: Live, tmp_path: Path) -> None:
    context = chromium.new_context(java_script_enabled=False, locale="es-MX")
    try:
        page = context.new_page()
        page.goto(f"{demo.client.base_url}")
        page.get_by_role("button", name="planificación", exact=True).click()
        page.get_by_role("link", name="Días", exact=True).click()
        page.get_by_role("link", name="Enviar un día").first.click()
        for name, content in small_files().items():
            (tmp_path / Path(name).name).write_bytes(content)
        page.get_by_label("Archivos, o un libro").set_input_files(list(tmp_path.iterdir()))
        page.get_by_label("Nombre del día").fill("Día corto")
        page.get_by_role("button", name="Enviar", exact=True).click()
        page.get_by_role("button", name="Planificar este día").click()
        # The page comes anew by itself until the plan is there.
        expect(page.get_by_role("heading", level=1)).to_have_text(
            "Plan para Día corto", timeout=120_000
        )
    finally:
        context.close()


def test_the_keyboard_reaches_everything(chromium: Browser, demo: Live) -> None:
    with entered(chromium, demo, "planner", DESK) as page:
        page.keyboard.press("Tab")
        focused = page.evaluate("document.activeElement.textContent")
        assert focused == "To the content"
        assert page.locator(".skip").is_visible()
        page.keyboard.press("Enter")
        assert page.evaluate("document.activeElement.id") == "main"
        page.keyboard.press("Tab")
        style = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert style == "solid"


def test_an_admin_lets_people_and_stations_in(chromium: Browser, demo: Live) -> None:
    with entered(chromium, demo, "admin", STAND, color_scheme="dark") as page:
        good(page)
        for name in ("Waste", "Stations", "Plant", "Record"):
            page.get_by_role("link", name=name, exact=True).click()
            expect(page.get_by_role("link", name=name, exact=True)).to_have_attribute(
                "aria-current", "page"
            )
            good(page)
        page.get_by_role("link", name="People", exact=True).click()
        page.get_by_label("Name").fill("Ana Beam")
        page.get_by_role("button", name="Add").click()
        expect(page.get_by_role("heading", level=1)).to_have_text("Link for Ana Beam")
        expect(page.locator(".secret")).to_contain_text("/password/")
        good(page)
        page.get_by_role("link", name="Back to the people").click()
        expect(page.get_by_role("row").filter(has_text="Ana Beam")).to_contain_text("planner")
        good(page)
        page.get_by_role("link", name="Stations", exact=True).click()
        page.get_by_label("Name").fill("Saw 9")
        page.get_by_role("button", name="Add").click()
        page.get_by_role("button", name="Pair Saw 9").click()
        expect(page.locator(".secret")).to_have_text(re.compile(r"^\w{5}-\w{5}$"))
        box = page.locator(".code svg").bounding_box()
        assert box is not None
        assert box["width"] >= 150
        good(page)

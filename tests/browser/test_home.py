"""The first page: leads to every paper of a plan, without barriers, on a stand's screen."""

from __future__ import annotations

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser

from tests.browser.test_report import AXE
from tests.service.conftest import post_day, start_plan, wait_for
from tests.service.live import Live

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_first_page_leads_to_every_paper(
    chromium: Browser, tmp_path: Path, scheme: str
) -> None:
    with Live(tmp_path) as live:
        plan = start_plan(live.client, post_day(live.client))
        wait_for(live.client, plan)
        page = chromium.new_page(viewport={"width": 800, "height": 1280}, color_scheme=scheme)
        try:
            page.goto(str(live.client.base_url))
            assert Axe().run(page, options=AXE).response["violations"] == []
            assert page.evaluate("document.documentElement.scrollWidth") <= 800
            assert page.get_by_role("cell", name="planned", exact=True).count() == 1
            links = [link.get_attribute("href") for link in page.get_by_role("link").all()]
            papers = ("report", "stock-order", "cut-list", "cuts", "yield", "rack")
            assert links == [f"/plans/{plan}/{paper}" for paper in papers]
            page.get_by_role("link", name="report").click()
            assert "Hask Lake Section Works" in (page.text_content("body") or "")
        finally:
            page.close()

"""A Chromium for tests that look at pages; without one they are skipped and say so."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")


def find_chromium() -> str | None:
    """The path of an installed Chromium, or None."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    """One browser for these tests; each opens its own page.

    It is closed before other tests start: Playwright keeps an event loop running in the thread.
    """
    path = find_chromium()
    if path is None:
        pytest.skip(f"no Chromium on the path (looked for {', '.join(NAMES)})")
    with sync_playwright() as playwright:
        # Without its sandbox, since test machines run as root; it only opens our own pages.
        browser = playwright.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield browser
        browser.close()

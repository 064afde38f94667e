"""A real Chromium for one test, without a window: Debian's own, driven by playwright from PyPI."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import Browser, sync_playwright

PROGRAM = shutil.which("chromium")
MARKS = [
    pytest.mark.service,
    pytest.mark.skipif(PROGRAM is None, reason="chromium is not installed"),
]
_FARTHEST = """() => {
  const every = [...document.querySelectorAll("body *")]
  const shown = every.filter(e => e.checkVisibility() && !e.closest("thead"))
  return Math.ceil(Math.max(...shown.map(e => e.getBoundingClientRect().right)))
}"""


@contextmanager
def chromium() -> Iterator[Browser]:
    """Needs no sandbox: it shows only what the test made, and may run as root in a container."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=PROGRAM, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()


def printed(file: Path) -> list[str]:
    """The text of each page of a file printed to PDF."""
    with chromium() as browser:
        page = browser.new_page()
        page.goto(file.as_uri())
        made = page.pdf(prefer_css_page_size=True, print_background=True)
    with pypdfium2.PdfDocument(made) as document:
        return [each.get_textpage().get_text_range() for each in document]


def reach(file: Path, width: int) -> tuple[int, int]:
    """How wide a page scrolls in a window of a width, and how far its farthest box reaches."""
    with chromium() as browser:
        page = browser.new_page(viewport={"width": width, "height": 900})
        page.goto(file.as_uri())
        return page.evaluate("document.documentElement.scrollWidth"), page.evaluate(_FARTHEST)

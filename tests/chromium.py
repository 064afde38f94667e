"""A real Chromium for one test, without a window: Debian's own, driven by playwright from PyPI."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser, sync_playwright

PROGRAM = shutil.which("chromium")
MARKS = [
    pytest.mark.service,
    pytest.mark.skipif(PROGRAM is None, reason="chromium is not installed"),
]


@contextmanager
def chromium() -> Iterator[Browser]:
    """Needs no sandbox: it shows only what the test made, and may run as root in a container."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=PROGRAM, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()

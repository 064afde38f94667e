"""A page as people meet it: printed to PDF by a real Chromium and read back, or opened as wide as a phone."""

import shutil
import subprocess
import tempfile
from pathlib import Path

import pypdfium2
import pytest

PROGRAM = shutil.which("chromium")
MARKS = [pytest.mark.service, pytest.mark.skipif(PROGRAM is None, reason="chromium is not installed")]
PATIENCE_S = 120
_FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync", "--allow-file-access-from-files"),
)
_FRAME = """<!DOCTYPE html><body style="margin:0">
<iframe src="{name}" style="border:0;width:{width}px;height:900px"></iframe><pre></pre><script>
onload = () => {{
  const root = document.querySelector("iframe").contentDocument.documentElement
  const boxes = [...root.querySelectorAll("body *")].filter(e => e.checkVisibility() && !e.closest("thead"))
  const right = Math.max(...boxes.map(e => e.getBoundingClientRect().right))
  document.querySelector("pre").textContent = `${{root.scrollWidth}} ${{Math.ceil(right)}}`
}}
</script>"""


def _chromium(*arguments: str) -> str:
    assert PROGRAM is not None, "chromium is not installed"
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        command = [PROGRAM, *_FLAGS, f"--user-data-dir={profile}", *arguments]
        done = subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, check=True)
    return done.stdout


def pages(file: Path) -> list[str]:
    """The text of each page of a file printed to PDF."""
    into = file.with_suffix(".pdf")
    _chromium("--no-pdf-header-footer", f"--print-to-pdf={into}", file.as_uri())
    with pypdfium2.PdfDocument(into) as document:
        return [page.get_textpage().get_text_range() for page in document]


def reach(file: Path, width: int) -> tuple[int, int]:
    """How wide a page scrolls in a window of a width, and how far its farthest box reaches."""
    frame = file.with_suffix(".frame.html")
    frame.write_text(_FRAME.format(name=file.name, width=width))
    said = _chromium("--dump-dom", "--window-size=1000,900", "--virtual-time-budget=5000", frame.as_uri())
    scrolls, right = said.partition("<pre>")[2].partition("</pre>")[0].split()
    return int(scrolls), int(right)

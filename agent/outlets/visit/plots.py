"""A figure of a brief as inline SVG: how matplotlib is started, and what becomes of what it writes.

It is imported only when a figure is drawn, without pyplot and its global state. Colours become the page's own
variables, so that a figure follows its light or dark.
"""

from __future__ import annotations

import logging
import os
import re
import tempfile
import threading
from io import StringIO
from pathlib import Path
from typing import Any

from agent.outlets.visit.brief import Brief
from agent.outlets.visit.course import Course
from agent.outlets.visit.curves import COLOURS, FAINT, INK
from agent.outlets.visit.sheet import Sheet, Size

_DECIMALS = re.compile(r"(\.\d)\d+")  # a tenth of a point is finer than a pixel
_ALT = "Modes, alarms and figures over time; the tables of the brief have the figures"
_lock = threading.Lock()  # matplotlib's settings belong to the process


def figure_svg(brief: Brief, course: Course, size: Size, what: str) -> str:
    """A stretch of time as an SVG element; ``what``: one word that tells the figures of a page apart."""
    with _lock:
        return _drawn(brief, course, size, what)


def _drawn(brief: Brief, course: Course, size: Size, what: str) -> str:
    _prepare()
    import matplotlib
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    settings: dict[Any, Any] = {
        "svg.fonttype": "none",  # letters stay letters: they are searched, read aloud and scaled
        "svg.hashsalt": f"{size.name} {what}",  # two figures on a page share no id
        "text.parse_math": False,
        "font.size": size.letters_pt,
        "font.family": ["DejaVu Sans", "sans-serif"],
        "text.color": INK,
        "axes.labelcolor": INK,
        "axes.edgecolor": FAINT,
        "xtick.color": FAINT,
        "ytick.color": FAINT,
        "xtick.labelcolor": INK,
        "ytick.labelcolor": INK,
        "hatch.linewidth": 0.6,
        "legend.fontsize": size.letters_pt,
    }
    with matplotlib.rc_context(settings):
        figure = Sheet(brief, course, size, Figure).figure
        out = StringIO()
        FigureCanvasSVG(figure).print_svg(out, metadata={"Date": None, "Creator": None})
    return _for_page(out.getvalue(), size, what)


def _prepare() -> None:
    """A folder for matplotlib's list of letters where the home cannot be written, and no word of it."""
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    if "MPLCONFIGDIR" in os.environ:
        return
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path("~").expanduser())
    if not os.access(home, os.W_OK):
        os.environ["MPLCONFIGDIR"] = tempfile.mkdtemp(prefix="dewline-")


def _for_page(text: str, size: Size, what: str) -> str:
    """The element alone, in the page's colours, described by what stands beside it."""
    svg = text[text.index("<svg") :].strip()
    svg = re.sub(r"<metadata>.*?</metadata>", "", svg, count=1, flags=re.DOTALL)
    for name, colour in COLOURS.items():
        svg = svg.replace(colour, f"var(--{name}, {colour})")
    opening = svg[: svg.index(">") + 1]
    box = re.search(r'viewBox="[^"]+"', opening)
    about = f'class="figure {size.name} {what}" role="img" aria-label="{_ALT}"'
    svg = re.sub(r' d="[^"]*"', lambda found: _DECIMALS.sub(r"\1", found[0]), svg)
    wanted = set(re.findall(r"url\(#([^)]+)\)|href=\"#([^\"]+)\"", svg))
    used = {name for pair in wanted for name in pair}
    svg = re.sub(r' id="([^"]*)"', lambda found: found[0] if found[1] in used else "", svg)
    kept = f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {about}'
    return f"{kept} {box[0] if box else ''}>{svg[len(opening) :]}"

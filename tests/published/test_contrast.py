"""The brief's colours against WCAG 2.1 (W3C Recommendation, 5 June 2018): success criteria 1.4.3 (text: 4.5
to 1) and 1.4.11 (parts of figures: 3 to 1); relative luminance and contrast ratio as defined there."""

import re
from pathlib import Path

import pytest

import agent.outlets.visit as visit

STYLE = (Path(visit.__file__).parent / "templates" / "brief.css").read_text()
TEXT, DRAWN = ("ink", "faint", "alarm", "look", "fine"), ("line", "apart", "alarm", "faint")


def themes():
    light, dark = (dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", part)) for part in STYLE.split("@media")[:2])
    return {"light": light, "dark": dark}


def luminance(colour):
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return sum(weight * c for weight, c in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_formula_gives_the_published_extremes():
    """WCAG 2.1: ratios range from 1 (the same colour) to 21 (black on white)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#123456", "#123456") == pytest.approx(1)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_and_figures_stand_out(theme):
    colours = themes()[theme]
    for name in TEXT:
        assert contrast(colours[name], colours["paper"]) >= 4.5, name
    for name in DRAWN:
        assert contrast(colours[name], colours["paper"]) >= 3, name
    assert contrast(colours["ink"], colours["panel"]) >= 4.5

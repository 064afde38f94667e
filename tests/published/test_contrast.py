"""Contrast of the status page's and the brief's colours, light and dark, by WCAG 2.2 (W3C, 2023-10-05).

Relative luminance and contrast ratio as its section 5 (terms) defines them; text takes 4.5:1 by success
criterion 1.4.3, what is drawn and the edges of what can be used 3:1 by 1.4.11.
"""

import re
from importlib.resources import files

import pytest

TEXT, DRAWN = 4.5, 3.0
PRIORITIES = ("high", "medium", "low")
PAGE = [
    *[(over, under, TEXT) for over in ("ink", "soft", "link", "without") for under in ("paper", "card")],
    *[(f"on-{priority}", priority, TEXT) for priority in PRIORITIES],
    *[(over, under, DRAWN) for over in (*PRIORITIES, "edge", "focus") for under in ("paper", "card")],
    ("ink", "between", DRAWN),  # the dot, the line of the uncertainty and the course, across the limits
    ("soft", "between", DRAWN),  # the line of saturation
    ("high", "between", DRAWN),  # since when an alarm stands
]
BRIEF = [
    *[(over, "paper", TEXT) for over in ("ink", "faint", "alarm", "look", "fine")],
    *[(over, "paper", DRAWN) for over in ("line", "apart", "alarm", "faint")],
    ("ink", "panel", TEXT),
]


def style(package, name):
    return (files(f"agent.outlets.{package}") / "templates" / name).read_text(encoding="utf-8")


def schemes(text):
    """Light and dark."""
    blocks = re.findall(r":root \{(.*?)\}", text, re.S)
    return [found for each in blocks if (found := dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", each)))]


OF = {"page": (style("web", "style.css"), PAGE), "brief": (style("visit", "brief.css"), BRIEF)}
CASES = [
    pytest.param(schemes(text)[number], *pair, id=f"{name} {number} {pair[0]} on {pair[1]}")
    for name, (text, pairs) in OF.items()
    for number in (0, 1)
    for pair in pairs
]


def luminance(colour):
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one, other):
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_published_extremes():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#123456", "#123456") == pytest.approx(1)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)  # fails just so; from memory


@pytest.mark.parametrize(("colours", "over", "under", "least"), CASES)
def test_colours_stand_out(colours, over, under, least):
    assert contrast(colours[over], colours[under]) >= least


@pytest.mark.parametrize("name", OF)
def test_there_are_two_schemes_with_the_same_names(name):
    light, dark = schemes(OF[name][0])
    assert light.keys() == dark.keys()


def test_the_page_has_no_other_colour():
    text, pairs = OF["page"]
    assert schemes(text)[0].keys() == {each for over, under, _ in pairs for each in (over, under)}
    rest = re.sub(r":root \{.*?\}", "", text, flags=re.S)
    assert not re.search(r"#[0-9a-f]{3,8}\b|rgb|hsl|opacity", rest)

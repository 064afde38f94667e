"""Contrast of the colours in the style, by WCAG 2.2 (W3C Recommendation, 2023-10-05), both in light and dark.

Relative luminance and contrast ratio as its section 5 (terms) defines them; text takes 4.5:1 by success
criterion 1.4.3, what is drawn and the edges of what can be used 3:1 by 1.4.11.
"""

import re
from importlib.resources import files

import pytest

STYLE = (files("agent.outlets.web") / "templates" / "style.css").read_text(encoding="utf-8")
SCHEMES = [
    dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
    for block in re.findall(r":root \{(.*?)\}", STYLE, re.S)
]
TEXT, DRAWN = 4.5, 3.0
PAIRS = [
    *[(over, under, TEXT) for over in ("ink", "soft", "link", "without") for under in ("paper", "card")],
    *[(f"on-{priority}", priority, TEXT) for priority in ("high", "medium", "low")],
    *[
        (over, under, DRAWN)
        for over in ("high", "medium", "low", "edge", "focus")
        for under in ("paper", "card")
    ],
    ("ink", "between", DRAWN),  # the dot, the line of the uncertainty and the course, across the limits
    ("soft", "between", DRAWN),  # the line of saturation
    ("high", "between", DRAWN),  # since when an alarm stands
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


def test_black_on_white_is_twenty_one_to_one():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(
        4.48, abs=0.005
    )  # known to fail just so; from memory


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize(("over", "under", "least"), PAIRS)
def test_colours_stand_out(scheme, over, under, least):
    assert contrast(SCHEMES[scheme][over], SCHEMES[scheme][under]) >= least


def test_there_are_two_schemes_with_the_same_names_and_no_other_colour():
    assert len(SCHEMES) == 2 and SCHEMES[0].keys() == SCHEMES[1].keys()
    assert SCHEMES[0].keys() == {each for over, under, _ in PAIRS for each in (over, under)}
    rest = re.sub(r":root \{.*?\}", "", STYLE, flags=re.S)
    assert not re.search(r"#[0-9a-f]{3,8}\b|rgb|hsl|opacity", rest)

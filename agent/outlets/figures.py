"""A figure with its expanded uncertainty (k = 2), and the word that stands where there is none.

Each medium has one way. In tables, on a terminal and on paper: 6.0 K -1.7 +0.7, which is narrow. In
sentences, as alarms write theirs: 6.0 K (-1.7 +0.7). On the status page: between 4.3 and 6.7 K, as the
drawing beside it shows.
"""

from __future__ import annotations

from collections.abc import Callable

from agent.assess import Quantity, Status
from agent.outlets.shown import SI, Display

# The four reasons for which a quantity has no known value.
WORDS = {
    Status.NOT_SETTLED: "not settled",
    Status.NOT_DECIDABLE: "not decidable",
    Status.MISSING: "missing",
    Status.NOT_MEASURABLE: "not measurable",
}
NONE = "-"


def told(quantity: Quantity, display: Display = SI, *, is_temperature: bool = False) -> str:
    """A decided value for a table, or which of the four reasons there is none."""
    if not quantity.decided or quantity.value is None:
        return WORDS.get(quantity.said.status, NONE)
    return valued(quantity, display, is_temperature=is_temperature)


def valued(quantity: Quantity, display: Display = SI, *, is_temperature: bool = False) -> str:
    """A value for a table, decided or not; a dash where there is none."""
    if quantity.value is None:
        return NONE
    shown = level(quantity.value, display) if is_temperature else difference(quantity.value, display)
    return " ".join(filter(None, (shown, sides(quantity.below, quantity.above, display))))


def sides(below: float | None, above: float | None, display: Display = SI) -> str:
    """An uncertainty [K] to each side, without its unit; empty where it is not known."""
    if below is None or above is None:
        return ""
    low, high = (f"{display.difference(each):.1f}" for each in (below, above))
    return f"±{high}" if low == high else f"-{low} +{high}"


def in_sentence(value: float, below: float | None, above: float | None) -> str:
    """A difference [K] as the sentences of alarms have it, in K: `Display.words` turns it into the site's."""
    spread = "" if below is None or above is None else f" (-{below:.1f} +{above:.1f})"
    return f"{value:.1f} K{spread}"


def between(quantity: Quantity, display: Display = SI, *, is_temperature: bool = False) -> str:
    """Between which values it lies; empty where there is none."""
    if quantity.value is None:
        return ""
    if quantity.below is None or quantity.above is None:
        return "uncertainty not known"
    converted: Callable[[float], float] = display.temperature if is_temperature else display.difference
    unit = display.temperature_unit if is_temperature else display.difference_unit
    least, most = converted(quantity.value - quantity.below), converted(quantity.value + quantity.above)
    return f"between {least:z.1f} and {most:z.1f} {unit}"


def difference(kelvin: float, display: Display = SI) -> str:
    """A difference to a tenth, with its unit."""
    return f"{display.difference(kelvin):z.1f} {display.difference_unit}"


def level(degc: float, display: Display = SI) -> str:
    """A temperature to a tenth, with its unit."""
    return f"{display.temperature(degc):z.1f} {display.temperature_unit}"


def least_to_most(least: float | None, most: float | None) -> str:
    """A range without its unit; a dash where nothing is known, which is no zero."""
    if least is None or most is None:
        return "–"
    low, high = (f"{each:z.1f}" for each in (least, most))
    return low if low == high else f"{low} to {high}"


def share(part: int, whole: int) -> str:
    """A part of a time; neither none nor all by rounding alone."""
    if not whole:
        return NONE
    percent = round(100 * part / whole)
    if percent == 0 and part:
        return "under 1 %"
    if percent == 100 and part < whole:
        return "over 99 %"
    return f"{percent} %"

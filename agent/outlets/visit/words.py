"""Figures and lengths of time as a brief says them."""

from __future__ import annotations

from agent.assess import Quantity
from agent.outlets.highside import WORDS
from agent.outlets.shown import Display


def age(us: int) -> str:
    """A length of time in at most two units: 25 s, 40 min, 3 h 20 min, 12 d 4 h."""
    seconds = max(us, 0) // 1_000_000
    if seconds < 60:
        return f"{seconds} s"
    minutes = seconds // 60
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days, hours = divmod(hours, 24)
    return f"{days} d {hours} h" if hours else f"{days} d"


def mode_words(mode: str) -> str:
    """A mode as people write it: oil recovery."""
    return mode.replace("_", " ")


def share(part_us: int, whole_us: int) -> str:
    """A part of a time; neither none nor all by rounding alone."""
    if not whole_us:
        return "-"
    percent = round(100 * part_us / whole_us)
    if percent == 0 and part_us:
        return "under 1 %"
    if percent == 100 and part_us < whole_us:
        return "over 99 %"
    return f"{percent} %"


def told(quantity: Quantity, display: Display, *, is_temperature: bool = False) -> str:
    """A decided value with its uncertainty in the site's unit, or which of the four reasons there is none."""
    if not quantity.decided or quantity.value is None:
        return WORDS.get(quantity.said.status, "-")
    unit = display.temperature_unit if is_temperature else display.difference_unit
    value = display.temperature(quantity.value) if is_temperature else display.difference(quantity.value)
    if quantity.below is None or quantity.above is None:
        return f"{value:.1f} {unit}"
    below, above = (f"{display.difference(each):.1f}" for each in (quantity.below, quantity.above))
    return f"{value:.1f} {unit} {f'±{above}' if below == above else f'-{below} +{above}'}"


def least_to_most(least: float | None, most: float | None) -> str:
    """A range; a dash where nothing is known, which is no zero."""
    if least is None or most is None:
        return "–"
    low, high = (f"{round(each, 1) + 0.0:.1f}" for each in (least, most))  # no minus before a zero
    return low if low == high else f"{low} to {high}"

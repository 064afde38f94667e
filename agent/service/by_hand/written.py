"""A pressure or a temperature as a person writes it down: number, unit, and what it is counted from."""

from __future__ import annotations

import re
from typing import NamedTuple

from agent.outlets.shown import SI, Display
from agent.units import Dimension, NoQuantityError, quantity, unit_in, units_of

# A reference in words stands alone; in letters it follows the unit: psig, bar(g), kPa a.
_WORDS = re.compile(
    r"(?P<before>.*[^\s(])\s*\(?\b(?P<what>gauge|abs(?:olute)?)\b\)?", re.IGNORECASE | re.DOTALL
)
_LETTERS = re.compile(
    r"(?P<before>.*(?:psi|bar|[hkM]?Pa|kgf/cm2|kgf/cm²))\s*\(?(?P<what>[ga])\)?", re.IGNORECASE | re.DOTALL
)
_ALSO = {Dimension.TEMPERATURE: ("°C", "C", "F"), Dimension.PRESSURE: ()}
_PRESSURES = ('"8.2 bar gauge"', '"8.2 bar(g)"', '"119 psig"', '"920 kPa absolute"')


class WrittenError(ValueError):
    """It is not understood; says what would be right."""


class Written(NamedTuple):
    """``reference``: gauge or absolute, of a pressure; empty: of a temperature."""

    number: float
    unit: str
    reference: str = ""


def right_pressure(display: Display) -> str:
    """What would be right, the site's own unit first."""
    own = "" if display.has_si_units else display.pressure_unit
    *others, last = sorted(_PRESSURES, key=lambda such: own not in such)
    return f"right would be such as {', '.join(others)} or {last}"


def pressure(words: str, display: Display = SI) -> Written:
    """A pressure with its reference. Raises WrittenError."""
    text = words.strip()
    found = _WORDS.fullmatch(text) or _LETTERS.fullmatch(text)
    if found is None:
        raise WrittenError(f"{words!r} does not say what it is counted from; {right_pressure(display)}")
    number, unit = _quantity(found["before"], Dimension.PRESSURE, display)
    return Written(number, unit, "gauge" if found["what"].lower().startswith("g") else "absolute")


def temperature(words: str, display: Display = SI) -> Written:
    """A temperature. Raises WrittenError."""
    return Written(*_quantity(words, Dimension.TEMPERATURE, display))


def _quantity(words: str, dimension: Dimension, display: Display) -> tuple[float, str]:
    units = (*units_of(dimension), *_ALSO[dimension])
    if not display.has_si_units:
        own = (display.temperature_unit, display.pressure_unit)
        units = tuple(sorted(units, key=lambda unit: unit not in own))
    right = f"right would be a number and one of {', '.join(units)}"
    if dimension is Dimension.PRESSURE:
        right += ", with gauge or absolute behind it (also psig, bar(g), kPa(a))"
    try:
        number, unit = quantity(words)
    except NoQuantityError as error:
        raise WrittenError(f"{error}; {right}") from None
    if unit is None:
        raise WrittenError(f"{words!r} states no unit; {right}")
    if unit_in(unit, dimension) is None:
        raise WrittenError(f"{unit!r} is no unit of {dimension}; {right}")
    return number, unit

"""A pressure or a temperature as a person writes it down: number, unit, and what it is counted from."""

from __future__ import annotations

import re
from typing import NamedTuple

from agent.units import Dimension, NoQuantityError, quantity, unit_in, units_of

# A reference in words stands alone; in letters it follows the unit: psig, bar(g), kPa a.
_WORDS = re.compile(
    r"(?P<before>.*[^\s(])\s*\(?\b(?P<what>gauge|abs(?:olute)?)\b\)?", re.IGNORECASE | re.DOTALL
)
_LETTERS = re.compile(
    r"(?P<before>.*(?:psi|bar|[hkM]?Pa|kgf/cm2|kgf/cm²))\s*\(?(?P<what>[ga])\)?", re.IGNORECASE | re.DOTALL
)
_ALSO = {Dimension.TEMPERATURE: ("°C", "C", "F"), Dimension.PRESSURE: ()}
RIGHT_PRESSURE = 'right would be such as "8.2 bar gauge", "8.2 bar(g)", "119 psig" or "920 kPa absolute"'


class WrittenError(ValueError):
    """It is not understood; says what would be right."""


class Written(NamedTuple):
    """``reference``: gauge or absolute, of a pressure; empty: of a temperature."""

    number: float
    unit: str
    reference: str = ""


def pressure(words: str) -> Written:
    """A pressure with its reference. Raises WrittenError."""
    text = words.strip()
    found = _WORDS.fullmatch(text) or _LETTERS.fullmatch(text)
    if found is None:
        raise WrittenError(f"{words!r} does not say what it is counted from; {RIGHT_PRESSURE}")
    number, unit = _quantity(found["before"], Dimension.PRESSURE)
    return Written(number, unit, "gauge" if found["what"].lower().startswith("g") else "absolute")


def temperature(words: str) -> Written:
    """A temperature. Raises WrittenError."""
    return Written(*_quantity(words, Dimension.TEMPERATURE))


def _quantity(words: str, dimension: Dimension) -> tuple[float, str]:
    right = f"right would be a number and one of {', '.join((*units_of(dimension), *_ALSO[dimension]))}"
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

"""Conversions at the rim: what gateways and people write, to and from the SI used inside.

Temperatures become degC, pressures Pa, frequencies Hz, ratios 0..1. Differences and limits of error
convert without the offset. Gauge pressures are not known here: a unit says nothing of the reference.
"""

from __future__ import annotations

import math
import re
from enum import StrEnum
from typing import NamedTuple

import numpy as np
import numpy.typing as npt


class Dimension(StrEnum):
    """What kind of quantity a unit measures."""

    TEMPERATURE = "temperature"
    PRESSURE = "pressure"
    FREQUENCY = "frequency"
    CURRENT = "current"
    RATIO = "ratio"
    DIFFERENCE = "difference"  # of two temperatures


class Unit(NamedTuple):
    """A unit: SI = factor * value + offset."""

    dimension: Dimension
    factor: float
    offset: float = 0.0


_T, _P, _F, _R = Dimension.TEMPERATURE, Dimension.PRESSURE, Dimension.FREQUENCY, Dimension.RATIO
_D = Dimension.DIFFERENCE

# Exact by definition (SI brochure, NIST SP 811): psi from lbf and inch, kgf from standard gravity.
UNITS = {
    "degC": Unit(_T, 1.0),
    "Cel": Unit(_T, 1.0),  # SenML, RFC 8428 section 12.1
    "K": Unit(_T, 1.0, -273.15),
    "degF": Unit(_T, 5 / 9, -160 / 9),
    "Pa": Unit(_P, 1.0),
    "hPa": Unit(_P, 100.0),
    "kPa": Unit(_P, 1e3),
    "MPa": Unit(_P, 1e6),
    "bar": Unit(_P, 1e5),
    "psi": Unit(_P, 0.45359237 * 9.80665 / 0.0254**2),
    "kgf/cm2": Unit(_P, 9.80665e4),
    "Hz": Unit(_F, 1.0),
    "1/s": Unit(_F, 1.0),
    "1/min": Unit(_F, 1 / 60),
    "A": Unit(Dimension.CURRENT, 1.0),
    "/": Unit(_R, 1.0),  # SenML
    "%": Unit(_R, 1.0),  # SenML: the same ratio as "/", 0..1
    "percent": Unit(_R, 0.01),  # ours, for a config whose gateway sends 0..100
    "delta_degF": Unit(_D, 5 / 9),  # ours: a difference, which has no zero to be counted from
}

# What is a unit of temperature and, without its zero, of differences.
_DIFFERENCES = {"K": Unit(_D, 1.0), "degC": Unit(_D, 1.0), "Cel": Unit(_D, 1.0)}

# How a unit is written in text, beside its name. There "45 %" is 45 of 100, unlike the "%" of SenML.
ALIASES = {
    "°C": "degC",
    "ºC": "degC",  # U+00BA, on many keyboards in place of the degree sign
    "\u2103": "degC",
    "C": "degC",
    "°F": "degF",
    "ºF": "degF",
    "\u2109": "degF",
    "F": "degF",
    "kgf/cm²": "kgf/cm2",
    "rpm": "1/min",
    "r/min": "1/min",
    "%": "percent",
}

_QUANTITY = re.compile(
    r"([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]+)?)"
    r"\s*(1/s|1/min|(?:[^\W\d_]|[°\u2103\u2109%/]).*)?",
    re.DOTALL,
)
_TWO_WAYS = re.compile(r"[+-]?[1-9][0-9]{0,2},[0-9]{3}")


class NoQuantityError(ValueError):
    """Text that is no number, with or without a unit."""


def quantity(text: str) -> tuple[float, str | None]:
    """The number that a text holds, and the unit that stands behind it: "12.0 degC" is (12.0, "degC").

    A comma is a decimal comma, unless it could part thousands as well: one to three digits, no leading zero,
    and exactly three behind. An alias becomes the unit's name; what is no unit comes back as written.
    Raises NoQuantityError.
    """
    found = _QUANTITY.fullmatch(text.strip())
    if found is None:
        raise NoQuantityError(f"{text[:40]!r} is no number")
    digits, unit = found.groups()
    if _TWO_WAYS.fullmatch(digits):
        raise NoQuantityError(
            f"{text[:40]!r} could be {digits.replace(',', '.')} and {digits.replace(',', '')}"
        )
    number = float(digits.replace(",", "."))
    if not math.isfinite(number):
        raise NoQuantityError(f"{text[:40]!r} is beyond what a number can hold")
    if unit is None:
        return number, None
    unit = "".join(unit.split())
    return number, ALIASES.get(unit, unit)


def to_si(values: npt.ArrayLike, unit: str) -> npt.NDArray[np.float64]:
    """Values in ``unit`` to SI (degC for temperatures), same shape. KeyError for a unit not in UNITS."""
    found = UNITS[unit]
    return np.asarray(values, dtype=np.float64) * found.factor + found.offset


def difference_to_si(value: float, unit: str) -> float:
    """A difference, step or limit of error in ``unit`` to K, Pa and so on: the factor without the offset."""
    return value * UNITS[unit].factor


def as_another(unit: str, other: Unit, reference: float = 0.0) -> tuple[float, float]:
    """What turns an SI value that was read in ``unit`` into what it would be in ``other``: factor and shift.

    ``reference``: what a gauge pressure is counted from, in both.
    """
    read = UNITS[unit]
    factor = other.factor / read.factor
    return factor, other.offset + reference - factor * (read.offset + reference)


def unit_in(name: str | None, dimension: Dimension | None) -> Unit | None:
    """The unit of a dimension that goes by this name; None where there is none."""
    if dimension is Dimension.DIFFERENCE and name in _DIFFERENCES:
        return _DIFFERENCES[name]
    found = UNITS.get(name or "")
    return found if found is not None and found.dimension is dimension else None


def units_of(dimension: Dimension) -> tuple[str, ...]:
    """Names of the units of a dimension."""
    more = tuple(_DIFFERENCES) if dimension is Dimension.DIFFERENCE else ()
    return more + tuple(name for name, unit in UNITS.items() if unit.dimension is dimension)

"""Superheat, subcooling and temperature differences, each with its uncertainty to either side.

Takes a temperature and a pressure and believes them: whether the probe is fit to be used is not known here.
"""

from collections.abc import Callable
from typing import Any, Generic, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agent.thermo.saturation import Number, bubble_slope, bubble_temperature, dew_slope, dew_temperature
from agent.thermo.uncertainty import COVERAGE_FACTOR

_OfPressure = Callable[[str, NDArray[np.float64]], NDArray[np.float64]]


class Measured(NamedTuple, Generic[Number]):
    """A temperature difference [K] with its expanded uncertainty (k = 2) to each side.

    The true one is expected between value - below and value + above. Floats, or arrays of one shape; NaN in
    all three where one of them cannot be known, so that no value stands without its uncertainty.
    """

    value: Number
    below: Number
    above: Number


def superheat(
    refrigerant: str,
    temperature_c: Number,
    pressure_pa: Number,
    *,
    u_temperature_k: Number | float = 0.0,
    u_pressure_pa: Number | float = 0.0,
    u_model_fraction: Number | float = 0.0,
    loss_pa: tuple[float, float] = (0.0, 0.0),
) -> Measured[Number]:
    """Temperature minus the dew temperature at the probe [K].

    temperature_c, pressure_pa: probe [degC] and transducer [Pa absolute], scalars or arrays that broadcast.
    u_temperature_k, u_pressure_pa: standard uncertainties (k = 1) of the two.
    u_model_fraction: standard uncertainty of the saturation pressure as a fraction of it, see REFRIGERANTS.
    loss_pa: lowest and highest pressure at the probe minus pressure at the transducer. Equal ends are a known
    loss and correct the value. Otherwise the value is taken at the end nearest zero (at zero where it lies
    between), and the shift of the dew temperature to either end is added to that side in full: a bound is not
    a spread.

        u^2 = u(T)^2 + (dT_dew/dp)^2 (u(p)^2 + (u_model p)^2)

    NaN in, or a pressure outside the table, gives NaN. Raises ValueError for an unknown refrigerant, a
    negative uncertainty and a loss whose ends are not in order.
    Source: JCGM 100:2008, equation 10 (first order, uncorrelated), k = 2 after 6.3.3.
    """
    at_probe = _saturated(
        (dew_temperature, dew_slope),
        refrigerant,
        pressure_pa,
        (u_temperature_k, u_pressure_pa, u_model_fraction),
        loss_pa,
    )
    return _measured(
        _finite(temperature_c) - at_probe.temperature_c,
        at_probe.expanded_k + at_probe.rises_k,
        at_probe.expanded_k + at_probe.falls_k,
    )


def subcooling(
    refrigerant: str,
    temperature_c: Number,
    pressure_pa: Number,
    *,
    u_temperature_k: Number | float = 0.0,
    u_pressure_pa: Number | float = 0.0,
    u_model_fraction: Number | float = 0.0,
    loss_pa: tuple[float, float] = (0.0, 0.0),
) -> Measured[Number]:
    """Bubble temperature minus the temperature of the liquid line [K]; otherwise as `superheat`."""
    at_probe = _saturated(
        (bubble_temperature, bubble_slope),
        refrigerant,
        pressure_pa,
        (u_temperature_k, u_pressure_pa, u_model_fraction),
        loss_pa,
    )
    return _measured(
        at_probe.temperature_c - _finite(temperature_c),
        at_probe.expanded_k + at_probe.falls_k,
        at_probe.expanded_k + at_probe.rises_k,
    )


def difference(
    later_c: Number,
    earlier_c: Number,
    *,
    u_later_k: Number | float = 0.0,
    u_earlier_k: Number | float = 0.0,
    correlation: float = 0.0,
) -> Measured[Number]:
    """A temperature minus one ahead of it in the flow [K]: the oil-return rise, the accumulator change.

    It takes temperatures and not superheats: both would stand on one pressure, whose uncertainty cancels.
    u_later_k, u_earlier_k: standard uncertainties (k = 1).
    correlation: between the errors of the two, -1..1.

        u^2 = u1^2 + u2^2 - 2 r u1 u2

    NaN in gives NaN. Raises ValueError for a negative uncertainty and a correlation outside -1..1.
    Source: JCGM 100:2008, equation 16, k = 2 after 6.3.3.
    """
    if not -1 <= correlation <= 1:
        raise ValueError(f"correlation {correlation} is outside -1..1")
    later, earlier = _spread("u_later_k", u_later_k), _spread("u_earlier_k", u_earlier_k)
    # the same sum, written so that rounding cannot make it negative where both errors are one
    expanded = COVERAGE_FACTOR * np.sqrt((later - earlier) ** 2 + 2 * (1 - correlation) * later * earlier)
    return _measured(_finite(later_c) - _finite(earlier_c), expanded, expanded)


class _Saturated(NamedTuple):
    """A saturation temperature at a probe, and what it may be wrong by."""

    temperature_c: NDArray[np.float64]
    expanded_k: NDArray[np.float64]  # of it and of the probe, k = 2
    rises_k: NDArray[np.float64]  # from there to the highest that the loss allows
    falls_k: NDArray[np.float64]


def _saturated(
    line: tuple[_OfPressure, _OfPressure],
    refrigerant: str,
    pressure_pa: ArrayLike,
    spreads: tuple[ArrayLike, ArrayLike, ArrayLike],
    loss_pa: tuple[float, float],
) -> _Saturated:
    """``line``: temperature and slope by refrigerant and pressure. ``spreads``: as of `superheat`."""
    temperature, slope = line
    lowest, taken, highest = _loss(loss_pa)
    transducer = _finite(pressure_pa)
    pressure = transducer + taken
    saturated_c = temperature(refrigerant, pressure)
    return _Saturated(
        saturated_c,
        _expanded(slope(refrigerant, pressure), pressure, *spreads),
        temperature(refrigerant, transducer + highest) - saturated_c if highest > taken else np.zeros(()),
        saturated_c - temperature(refrigerant, transducer + lowest) if lowest < taken else np.zeros(()),
    )


def _loss(loss_pa: tuple[float, float]) -> tuple[float, float, float]:
    """A loss's ends, and between them the one that the value is taken at."""
    lowest, highest = loss_pa
    if not -np.inf < lowest <= highest < np.inf:
        raise ValueError(f"loss_pa {loss_pa} must be (lowest, highest), both finite")
    return lowest, max(lowest, min(0.0, highest)), highest


def _finite(values: ArrayLike) -> NDArray[np.float64]:
    given = np.asarray(values, dtype=np.float64)
    return np.where(np.isfinite(given), given, np.nan)


def _expanded(
    slope_k_per_pa: ArrayLike,
    pressure_pa: NDArray[np.float64],
    u_temperature_k: ArrayLike,
    u_pressure_pa: ArrayLike,
    u_model_fraction: ArrayLike,
) -> NDArray[np.float64]:
    u_pressure = np.hypot(
        _spread("u_pressure_pa", u_pressure_pa), _spread("u_model_fraction", u_model_fraction) * pressure_pa
    )
    u_temperature = _spread("u_temperature_k", u_temperature_k)
    return np.asarray(COVERAGE_FACTOR * np.hypot(u_temperature, slope_k_per_pa * u_pressure))


def _spread(name: str, size: ArrayLike) -> NDArray[np.float64]:
    spread = np.asarray(size, dtype=np.float64)
    if np.any(spread < 0):
        raise ValueError(f"{name} is a standard uncertainty and cannot be negative: {spread.min()}")
    return spread


def _measured(
    value: NDArray[np.float64], below: NDArray[np.float64], above: NDArray[np.float64]
) -> Measured[Any]:
    known = np.isfinite(value + below + above)  # a sum is finite where all its parts are
    shown = [np.where(known, part, np.nan) for part in (value, below, above)]
    return Measured(*(part if known.ndim else float(part) for part in shown))

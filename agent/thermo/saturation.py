"""Saturation temperature of a refrigerant at a pressure, on the dew and on the bubble line.

A table is built once for each refrigerant and line, then interpolated: a flash for every reading of a month
would take minutes. Must not know probes, layouts or modes.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])

KELVIN_AT_ZERO_CELSIUS = 273.15
NODE_STEP_K = 0.25  # linear in ln p, this leaves an interpolation error of about 0.1 mK
BUBBLE, DEW = 0, 1  # vapour quality


@dataclass(frozen=True, slots=True)
class Refrigerant:
    """What the tables and the uncertainty need to know of one refrigerant.

    All of it holds for the composition that the name stands for: a blend that has leaked may have another.
    """

    fluid: str  # CoolProp's name; for a blend the pseudo-pure equation where there is one
    lowest_c: float  # the table's ends, inside the equation's range and below the critical point
    highest_c: float
    pressure_uncertainty: float  # expanded (k = 2), as a fraction of the saturation pressure
    uncertainty_source: str
    safety_class: str  # ISO 817

    @property
    def u_model_fraction(self) -> float:
        """Standard uncertainty of the saturation pressure as a fraction of it."""
        return self.pressure_uncertainty / 2


REFRIGERANTS: Mapping[str, Refrigerant] = MappingProxyType(
    {
        "R-32": Refrigerant(
            fluid="R32",
            lowest_c=-70.0,
            highest_c=75.0,
            pressure_uncertainty=0.0002,
            uncertainty_source="Tillner-Roth and Yokozeki, J. Phys. Chem. Ref. Data 26(6):1273-1328, 1997: "
            "typically 0.02 % of vapour pressure (abstract; coverage not stated, taken as k = 2)",
            safety_class="A2L",
        ),
        "R-410A": Refrigerant(
            fluid="R410A",
            lowest_c=-70.0,
            highest_c=70.0,
            pressure_uncertainty=0.005,
            uncertainty_source="Lemmon, Int. J. Thermophys. 24(4):991-1006, 2003: "
            "0.5 % of bubble and dew pressure (coverage not stated, taken as k = 2)",
            safety_class="A1",
        ),
        "R-454B": Refrigerant(
            fluid="R454B.mix",  # CoolProp's 68.9/31.1 % R-32/R-1234yf by mass; no pseudo-pure equation exists
            lowest_c=-70.0,
            highest_c=70.0,
            pressure_uncertainty=0.01,
            uncertainty_source="Bell, J. Phys. Chem. Ref. Data 52(1):013101, 2023: bubble and dew pressure "
            "of R-32/1234yf within 1 % of measured ones (abstract; coverage not stated, taken as k = 2). "
            "Computed, not published: another mixing model (Akasaka, Fluid Phase Equilib. 358:98-104, 2013) "
            "differs by up to 0.4 % on the dew line and 1.4 % on the bubble line, which is 0.14 K and 0.33 K",
            safety_class="A2L",
        ),
        "R-407C": Refrigerant(
            fluid="R407C",
            lowest_c=-70.0,
            highest_c=80.0,
            pressure_uncertainty=0.005,
            uncertainty_source="Lemmon, Int. J. Thermophys. 24(4):991-1006, 2003: "
            "0.5 % of bubble and dew pressure (coverage not stated, taken as k = 2)",
            safety_class="A1",
        ),
        "R-134a": Refrigerant(
            fluid="R134a",
            lowest_c=-70.0,
            highest_c=95.0,
            pressure_uncertainty=0.0002,
            uncertainty_source="Tillner-Roth and Baehr, J. Phys. Chem. Ref. Data 23(5):657-729, 1994: "
            "typically 0.02 % of vapour pressure (abstract; coverage not stated, taken as k = 2)",
            safety_class="A1",
        ),
    }
)


def known(refrigerant: str) -> Refrigerant:
    """What is known of a refrigerant. Raises ValueError for one that is not in REFRIGERANTS."""
    if refrigerant not in REFRIGERANTS:
        raise ValueError(f"unknown refrigerant {refrigerant!r}; known are {', '.join(sorted(REFRIGERANTS))}")
    return REFRIGERANTS[refrigerant]


class SaturationTable(NamedTuple):
    """One line of one refrigerant, node by node."""

    log_pressure: NDArray[np.float64]  # ln(p / Pa), strictly rising
    temperature_c: NDArray[np.float64]
    log_slope_k: NDArray[np.float64]  # dT / d(ln p)


def build_table(
    name: str, temperatures_c: Iterable[float], saturation_pressure: Callable[[float], float]
) -> SaturationTable:
    """Tabulate a saturation line from its temperatures; `saturation_pressure` takes degC and gives Pa.

    It goes from temperature because a flash from pressure fails at scattered points for some blends, and it
    refuses a table with a gap, because interpolating across one or past its end gives a plausible wrong
    temperature. `name` says in the error which refrigerant and line it was.

    Raises RuntimeError for a node without a finite pressure above the one before it.
    """
    temperatures = np.fromiter(temperatures_c, dtype=np.float64)
    pressures = np.empty_like(temperatures)
    previous = 0.0
    for node, temperature in enumerate(temperatures.tolist()):
        try:
            pressure = saturation_pressure(temperature)
        except ValueError as error:
            raise RuntimeError(
                f"saturation table of {name}: no pressure at {temperature:.2f} degC: {error}"
            ) from error
        if not previous < pressure < np.inf:
            raise RuntimeError(
                f"saturation table of {name}: {pressure} Pa at {temperature:.2f} degC; "
                f"it must be finite and above the {previous} Pa of the node before"
            )
        pressures[node] = previous = pressure
    log_pressure = np.log(pressures)
    return SaturationTable(log_pressure, temperatures, np.gradient(temperatures, log_pressure))


def dew_temperature(refrigerant: str, pressure_pa: Number) -> Number:
    """Temperature of saturated vapour [degC] at an absolute pressure [Pa]; superheat is measured from here.

    A scalar gives a float, an array an array of its shape. NaN where the pressure is NaN or outside the table
    (`lowest_c` to `highest_c` of the refrigerant). The first call loads CoolProp, which takes seconds.

    Raises ValueError for a refrigerant not in REFRIGERANTS.
    Source: the equations of state named in REFRIGERANTS, as CoolProp evaluates them.
    """
    return _temperature(_table(refrigerant, DEW), pressure_pa)


def dew_pressure(refrigerant: str, temperature_c: Number) -> Number:
    """Absolute pressure [Pa] of saturated vapour at a temperature [degC]: the inverse of `dew_temperature`.

    Shapes, limits, errors and source as there.
    """
    table = _table(refrigerant, DEW)
    found = np.interp(temperature_c, table.temperature_c, table.log_pressure, left=np.nan, right=np.nan)
    return _like(temperature_c, np.asarray(np.exp(found)))


def bubble_temperature(refrigerant: str, pressure_pa: Number) -> Number:
    """Temperature of saturated liquid [degC] at an absolute pressure [Pa]; subcooling is measured from here.

    Shapes, limits, errors and source as `dew_temperature`.
    """
    return _temperature(_table(refrigerant, BUBBLE), pressure_pa)


def dew_slope(refrigerant: str, pressure_pa: Number) -> Number:
    """How fast the dew temperature rises with pressure [K/Pa]; otherwise as `dew_temperature`."""
    return _slope(_table(refrigerant, DEW), pressure_pa)


def bubble_slope(refrigerant: str, pressure_pa: Number) -> Number:
    """How fast the bubble temperature rises with pressure [K/Pa]; otherwise as `dew_temperature`."""
    return _slope(_table(refrigerant, BUBBLE), pressure_pa)


@cache
def _table(refrigerant: str, quality: int) -> SaturationTable:
    listed = known(refrigerant)
    nodes = round((listed.highest_c - listed.lowest_c) / NODE_STEP_K) + 1
    return build_table(
        f"{refrigerant} ({'dew' if quality == DEW else 'bubble'} line)",
        np.linspace(listed.lowest_c, listed.highest_c, nodes),
        _saturation_pressure(listed.fluid, quality),
    )


def _saturation_pressure(fluid: str, quality: int) -> Callable[[float], float]:
    """Saturation pressure [Pa] at a temperature [degC], to be asked in small steps of temperature.

    A blend without a pseudo-pure equation is followed from the temperature before: its flash alone finds no
    density at scattered temperatures (R-454B above 56 degC), and after a phase envelope it finds wrong ones.
    """
    import CoolProp  # here alone: importing it takes seconds
    from CoolProp.CoolProp import AbstractState, PyGuessesStructure

    state = AbstractState("HEOS", fluid)
    is_blend = len(state.fluid_names()) > 1
    before = None

    def saturation_pressure(temperature_c: float) -> float:
        nonlocal before
        temperature_k = temperature_c + KELVIN_AT_ZERO_CELSIUS
        if before is None:
            state.update(CoolProp.QT_INPUTS, quality, temperature_k)
        else:
            state.update_with_guesses(CoolProp.QT_INPUTS, quality, temperature_k, before)
        if is_blend:
            before = PyGuessesStructure()
            before.T, before.p = state.T(), state.p()
            before.x, before.y = state.mole_fractions_liquid(), state.mole_fractions_vapor()
            before.rhomolar_liq = state.saturated_liquid_keyed_output(CoolProp.iDmolar)
            before.rhomolar_vap = state.saturated_vapor_keyed_output(CoolProp.iDmolar)
        return float(state.p())

    return saturation_pressure


def _temperature(table: SaturationTable, pressure_pa: Number) -> Number:
    return _like(pressure_pa, _interpolate(table, table.temperature_c, pressure_pa))


def _slope(table: SaturationTable, pressure_pa: Number) -> Number:
    return _like(pressure_pa, _interpolate(table, table.log_slope_k, pressure_pa) / pressure_pa)


def _interpolate(
    table: SaturationTable, nodes: NDArray[np.float64], pressure_pa: float | NDArray[np.float64]
) -> NDArray[np.float64]:
    pressure = np.asarray(pressure_pa, dtype=np.float64)
    log_pressure = np.log(np.where(pressure > 0, pressure, np.nan))
    return np.asarray(np.interp(log_pressure, table.log_pressure, nodes, left=np.nan, right=np.nan))


def _like(given: Number, result: NDArray[np.float64]) -> Number:
    return result if np.ndim(given) else float(result)  # type: ignore[return-value]

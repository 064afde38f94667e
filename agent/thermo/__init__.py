"""Saturation, superheat and their uncertainty: pure functions of pressure [Pa] and temperature [degC].

Usable as a library. Scalars give floats, arrays give arrays; what is outside the tables is NaN. The limits
of an instrument become standard uncertainties, and a superheat comes with what it may be wrong by to either
side:

>>> from agent.thermo import REFRIGERANTS, absolute_pressure, dew_temperature, standard_uncertainty, superheat
>>> pressure_pa = absolute_pressure(698_675.0, "gauge-sealed", elevation_m=1500.0)
>>> round(dew_temperature("R-410A", pressure_pa), 2)
0.08
>>> measured = superheat(
...     "R-410A",
...     10.0,
...     pressure_pa,
...     u_temperature_k=standard_uncertainty(0.5),
...     u_pressure_pa=standard_uncertainty(10e3),
...     u_model_fraction=REFRIGERANTS["R-410A"].u_model_fraction,
...     loss_pa=(0.0, 20e3),
... )
>>> f"{measured.value:.1f} K, -{measured.below:.1f} +{measured.above:.1f}"
'9.9 K, -1.5 +0.8'

Nothing here reads a file or a clock, logs, or draws random numbers, and nothing here knows a probe or a
module.
"""

from agent.thermo.atmosphere import PressureReference, absolute_pressure, atmospheric_pressure
from agent.thermo.compression import (
    LUMPED_EFFICIENCIES,
    LUMPED_EFFICIENCIES_HARD,
    LUMPED_EFFICIENCIES_SLOW,
    border_for,
    saturated_discharge_superheat,
)
from agent.thermo.efficiency import implied_efficiency
from agent.thermo.saturation import (
    REFRIGERANTS,
    Refrigerant,
    bubble_slope,
    bubble_temperature,
    dew_pressure,
    dew_slope,
    dew_temperature,
)
from agent.thermo.superheat import Measured, difference, subcooling, superheat
from agent.thermo.uncertainty import COVERAGE_FACTOR, standard_uncertainty

__all__ = [
    "COVERAGE_FACTOR",
    "LUMPED_EFFICIENCIES",
    "LUMPED_EFFICIENCIES_HARD",
    "LUMPED_EFFICIENCIES_SLOW",
    "REFRIGERANTS",
    "Measured",
    "PressureReference",
    "Refrigerant",
    "absolute_pressure",
    "atmospheric_pressure",
    "border_for",
    "bubble_slope",
    "bubble_temperature",
    "dew_pressure",
    "dew_slope",
    "dew_temperature",
    "difference",
    "implied_efficiency",
    "saturated_discharge_superheat",
    "standard_uncertainty",
    "subcooling",
    "superheat",
]

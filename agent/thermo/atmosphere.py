"""Pressure of the standard atmosphere at a height, and with it absolute pressure from a gauge reading.

Must not know units other than SI: conversion belongs to the rim.
"""

from typing import Literal, get_args

from agent.thermo.saturation import Number

PressureReference = Literal["absolute", "gauge-vented", "gauge-sealed"]

SEA_LEVEL_PRESSURE_PA = 101325.0
SEA_LEVEL_TEMPERATURE_K = 288.15
LAPSE_RATE_K_PER_M = 0.0065
GRAVITY_M_PER_S2 = 9.80665
AIR_MOLAR_MASS_KG_PER_MOL = 0.0289644
GAS_CONSTANT_J_PER_MOL_K = 8.31432  # the standard's own value, not today's
LOWEST_M, HIGHEST_M = -610.0, 11000.0


def atmospheric_pressure(elevation_m: float) -> float:
    """Pressure [Pa] of the standard atmosphere at a geopotential height [m above sea level].

    Weather moves the real pressure by about 3 kPa either way, which this leaves out.

    Raises ValueError outside -610..11000 m.
    Source: US Standard Atmosphere 1976 (NOAA-S/T 76-1562), equation 33a, lowest layer.
    """
    if not LOWEST_M <= elevation_m <= HIGHEST_M:
        raise ValueError(f"elevation {elevation_m} m is outside {LOWEST_M:.0f}..{HIGHEST_M:.0f} m")
    exponent = GRAVITY_M_PER_S2 * AIR_MOLAR_MASS_KG_PER_MOL / (GAS_CONSTANT_J_PER_MOL_K * LAPSE_RATE_K_PER_M)
    return float(
        SEA_LEVEL_PRESSURE_PA * (1 - LAPSE_RATE_K_PER_M * elevation_m / SEA_LEVEL_TEMPERATURE_K) ** exponent
    )


def absolute_pressure(
    gauge_pa: Number,
    reference: PressureReference,
    elevation_m: float,
    sealing_pressure_pa: float = SEA_LEVEL_PRESSURE_PA,
) -> Number:
    """Absolute pressure [Pa] from what a transducer states [Pa], scalar or array.

    Only a vented transducer depends on elevation, because it weighs the refrigerant against the air around
    it, where a sealed one carries the air it was closed with and an absolute one a vacuum.

    Raises ValueError for another reference, and for a vented one outside -610..11000 m.
    """
    if reference == "absolute":
        return gauge_pa
    if reference == "gauge-vented":
        return gauge_pa + atmospheric_pressure(elevation_m)
    if reference == "gauge-sealed":
        return gauge_pa + sealing_pressure_pa
    raise ValueError(
        f"unknown pressure reference {reference!r}; known are {', '.join(get_args(PressureReference))}"
    )

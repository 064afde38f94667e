"""The cycle against energy balances and compressions worked out with the property library directly."""

from dataclasses import replace

import pytest
from CoolProp.CoolProp import PropsSI

from demo_feed.cycle import Machine, OperatingPoint, isentropic_efficiency, solve
from demo_feed.refrigerant import refrigerant

MACHINE = Machine(refrigerant("R410A"), (60e-6, 60e-6), 0.005, 0.0, 0.65, 0.0, 0.0)
POINT = OperatingPoint(5.0, 35.0, 5.0, 0.0, (55.0, 55.0), 70.0, 0.0, 0.0, 1.0)


def with_oil_share(share, point):
    """The point with this mass share of oil in the whole suction flow."""
    state = solve(MACHINE, point)
    return replace(
        point, oil_factor=point.oil_factor * share / (1 - share) * state.suction_flow / state.oil_flow
    )


def enthalpy(temperature_c, saturation_c):
    pressure_pa = PropsSI("P", "T", saturation_c + 273.15, "Q", 1, "R410A")
    return PropsSI("H", "T", temperature_c + 273.15, "P", pressure_pa, "R410A")


@pytest.mark.parametrize("share", [0.005, 0.01, 0.02, 0.05])
def test_heat_given_by_the_oil_is_heat_taken_by_the_gas(share):
    point = with_oil_share(share, POINT)
    state = solve(MACHINE, point)
    given = 2000.0 * state.oil_flow * (70.0 - state.compressor_inlet_c)
    taken = state.suction_flow * (enthalpy(state.compressor_inlet_c, 5.0) - enthalpy(10.0, 5.0))
    assert given == pytest.approx(taken, rel=0.01)


def test_hot_gas_mixes_by_enthalpy():
    state = solve(MACHINE, replace(POINT, hot_gas_share=0.10, separator_c=75.0, oil_factor=0.0))
    mixed = 0.9 * enthalpy(10.0, 5.0) + 0.1 * enthalpy(75.0, 35.0)
    assert enthalpy(state.compressor_inlet_c, 5.0) == pytest.approx(mixed, abs=30.0)


def test_rise_grows_as_the_flow_falls():
    full, half = (solve(MACHINE, replace(POINT, speeds_hz=(speed, speed))) for speed in (60.0, 30.0))
    rises = [state.compressor_inlet_c - state.return_c for state in (full, half)]
    assert rises[1] / rises[0] == pytest.approx(2.0, rel=0.06)


def test_oil_evaporates_returning_liquid_before_it_warms_the_gas():
    point = with_oil_share(0.02, replace(POINT, return_superheat_k=0.0))
    dry = solve(MACHINE, point)
    wet = solve(MACHINE, replace(point, return_liquid=0.008))
    assert dry.compressor_inlet_c - 5.0 > 1.5
    evaporation = enthalpy(5.001, 5.0) - PropsSI("H", "T", 278.15, "Q", 0, "R410A")
    assert dry.intake_enthalpy - wet.intake_enthalpy == pytest.approx(0.008 * evaporation, rel=0.02)
    assert wet.discharge_c[0] < dry.discharge_c[0]


def test_discharge_follows_from_suction_state_and_efficiency():
    state = solve(MACHINE, POINT)
    low_pa, high_pa = (PropsSI("P", "T", dew_c + 273.15, "Q", 1, "R410A") for dew_c in (5.0, 35.0))
    entropy = PropsSI("S", "H", state.intake_enthalpy, "P", low_pa, "R410A")
    ideal = PropsSI("H", "S", entropy, "P", high_pa, "R410A") - state.intake_enthalpy
    efficiency = isentropic_efficiency(MACHINE, 55.0, high_pa / low_pa)
    leaving = state.intake_enthalpy + ideal / efficiency
    expected_c = PropsSI("T", "H", leaving, "P", high_pa, "R410A") - 273.15
    assert state.discharge_c == (pytest.approx(expected_c, abs=0.1), pytest.approx(expected_c, abs=0.1))


def test_a_standing_compressor_discharges_nothing():
    assert solve(MACHINE, replace(POINT, speeds_hz=(70.0, 0.0))).discharge_c[1] is None

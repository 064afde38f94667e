"""The tables: as good as the equation they come from, silent outside, and refused when broken."""

import math
import subprocess
import sys

import numpy as np
import pytest
from CoolProp import QT_INPUTS
from CoolProp.CoolProp import AbstractState
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.thermo import (
    REFRIGERANTS,
    bubble_slope,
    bubble_temperature,
    dew_pressure,
    dew_slope,
    dew_temperature,
)
from agent.thermo import saturation as tables
from agent.thermo.saturation import BUBBLE, DEW, NODE_STEP_K, build_table
from tests.thermo.equal_fugacity import saturation_pressures

LINES = [
    (refrigerant, quality, temperature, slope)
    for refrigerant in REFRIGERANTS
    for quality, temperature, slope in [
        (0, bubble_temperature, bubble_slope),
        (1, dew_temperature, dew_slope),
    ]
]
every_line = pytest.mark.parametrize(("refrigerant", "quality", "temperature", "slope"), LINES)
law = settings(max_examples=100, deadline=None)


def direct_pressures(refrigerant, quality, temperatures_c):
    if refrigerant == "R-454B":  # its flash fails at some of them
        return saturation_pressures(quality, temperatures_c)
    state = AbstractState("HEOS", REFRIGERANTS[refrigerant].fluid)
    pressures = []
    for temperature_c in temperatures_c:
        state.update(QT_INPUTS, quality, temperature_c + 273.15)
        pressures.append(state.p())
    return np.array(pressures)


@every_line
def test_interpolation_error_is_below_1_mk(refrigerant, quality, temperature, slope):
    for offset in (0.1, 0.5, 0.8):  # between the nodes, where the error is largest
        direct_c = np.arange(-50 + offset * NODE_STEP_K, 65.0, NODE_STEP_K)
        pressures = direct_pressures(refrigerant, quality, direct_c)
        assert np.abs(temperature(refrigerant, pressures) - direct_c).max() < 0.001


@every_line
def test_slope_is_the_derivative(refrigerant, quality, temperature, slope):
    direct_c = np.arange(-49.87, 65.0, 1.0)
    above, below = (direct_pressures(refrigerant, quality, direct_c + shift) for shift in (0.01, -0.01))
    at = direct_pressures(refrigerant, quality, direct_c)
    assert slope(refrigerant, at) == pytest.approx(0.02 / (above - below), rel=2e-4)


@every_line
def test_the_table_reaches_its_ends_and_no_farther(refrigerant, quality, temperature, slope):
    ends_c = [REFRIGERANTS[refrigerant].lowest_c, REFRIGERANTS[refrigerant].highest_c]
    low, high = direct_pressures(refrigerant, quality, ends_c)
    for evaluate in (temperature, slope):
        assert np.isnan(evaluate(refrigerant, np.array([low * (1 - 1e-7), high * (1 + 1e-7)]))).all()
    assert temperature(refrigerant, np.array([low * (1 + 1e-7), high * (1 - 1e-7)])) == pytest.approx(ends_c)


@every_line
def test_temperature_rises_strictly_with_pressure(refrigerant, quality, temperature, slope):
    fluid = REFRIGERANTS[refrigerant]
    low, high = direct_pressures(refrigerant, quality, [fluid.lowest_c, fluid.highest_c])
    pressures = np.geomspace(low * (1 + 1e-7), high * (1 - 1e-7), 4000)
    assert (np.diff(temperature(refrigerant, pressures)) > 0).all()
    assert (slope(refrigerant, pressures) > 0).all()


@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
@law
@given(kpa=st.floats(50, 3500))
def test_dew_is_never_below_bubble(refrigerant, kpa):
    # a blend glides, a pure fluid does not: rounding is all that may be left
    assert dew_temperature(refrigerant, kpa * 1e3) > bubble_temperature(refrigerant, kpa * 1e3) - 1e-6


@every_line
@pytest.mark.parametrize("outside", [math.nan, 0.0, -0.0, -1e5, 1.0, 1e9, math.inf, -math.inf])
def test_nan_outside(refrigerant, quality, temperature, slope, outside):
    for evaluate in (temperature, slope):
        assert math.isnan(evaluate(refrigerant, outside))
        mixed = evaluate(refrigerant, np.array([8e5, outside, 9e5]))
        assert np.isnan(mixed).tolist() == [False, True, False]


@every_line
def test_a_scalar_gives_a_float(refrigerant, quality, temperature, slope):
    for evaluate in (temperature, slope):
        answers = [
            evaluate(refrigerant, same) for same in (800_000.0, 800_000, np.float64(8e5), np.array(800_000.0))
        ]
        assert [type(answer) for answer in answers] == [float] * 4
        assert len(set(answers)) == 1
        assert type(evaluate(refrigerant, math.nan)) is float


@every_line
@pytest.mark.parametrize("shape", [(0,), (1,), (3,), (2, 3), (2, 0, 3)])
def test_an_array_gives_an_array_of_its_shape(refrigerant, quality, temperature, slope, shape):
    pressures = np.linspace(3e5, 3e6, math.prod(shape)).reshape(shape)
    for evaluate in (temperature, slope):
        answer = evaluate(refrigerant, pressures)
        assert isinstance(answer, np.ndarray)
        assert answer.dtype == np.float64
        assert answer.shape == shape
        assert answer.ravel().tolist() == [evaluate(refrigerant, p) for p in pressures.ravel().tolist()]


def test_an_array_of_whole_numbers_is_taken_as_it_is_and_left_as_it_was():
    pressures = np.array([300_000, 800_000])
    assert dew_temperature("R-32", pressures).tolist() == [dew_temperature("R-32", p) for p in (3e5, 8e5)]
    assert pressures.tolist() == [300_000, 800_000]


@pytest.mark.parametrize("evaluate", [dew_temperature, bubble_temperature, dew_slope, bubble_slope])
def test_an_unknown_refrigerant_is_named_with_the_known_ones(evaluate):
    with pytest.raises(
        ValueError, match=r"unknown refrigerant 'R410A'; known are R-134a, R-32, R-407C, R-410A, R-454B"
    ):
        evaluate("R410A", 8e5)


def test_coolprop_is_loaded_by_the_first_table_and_not_by_the_import():
    script = (
        "import sys; from agent.thermo import dew_temperature; assert 'CoolProp' not in sys.modules; "
        "dew_temperature('R-32', 8e5); assert 'CoolProp' in sys.modules"
    )
    subprocess.run([sys.executable, "-c", script], check=True)


@pytest.mark.parametrize("quality", [BUBBLE, DEW])
def test_every_node_of_the_blend_has_equal_fugacities(quality):
    table = tables._table("R-454B", quality)
    direct = saturation_pressures(quality, table.temperature_c)
    assert len(direct) == 561
    # 1e-7 of the pressure is 3 microkelvin; molar masses of five figures leave a tenth of that
    assert np.exp(table.log_pressure) == pytest.approx(direct, rel=1e-7)


@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
@pytest.mark.parametrize("quality", [BUBBLE, DEW])
def test_a_table_is_built_from_temperatures_alone(refrigerant, quality, monkeypatch):
    """From pressures, the flash of R-454B fails at some; after a phase envelope it finds wrong ones."""
    asked = []

    class Watched:
        def __init__(self, *named):
            self.state = AbstractState(*named)

        def __getattr__(self, name):
            asked.append(name)
            return getattr(self.state, name)

        def update(self, inputs, *values):
            assert inputs == QT_INPUTS
            self.state.update(inputs, *values)

        def update_with_guesses(self, inputs, *values):
            assert inputs == QT_INPUTS
            self.state.update_with_guesses(inputs, *values)

    monkeypatch.setattr("CoolProp.CoolProp.AbstractState", Watched)
    fresh = tables._table.__wrapped__(refrigerant, quality)
    assert "p" in asked
    assert "build_phase_envelope" not in asked
    for kept, built in zip(tables._table(refrigerant, quality), fresh, strict=True):
        np.testing.assert_array_equal(kept, built)


def test_the_blend_is_of_the_composition_that_its_name_stands_for():
    # ISO 817 / ASHRAE 34: R-454B is R-32/R-1234yf, 68.9/31.1 by mass
    state = AbstractState("HEOS", REFRIGERANTS["R-454B"].fluid)
    assert state.fluid_names() == ["R32", "R1234yf"]
    assert state.get_mass_fractions() == pytest.approx([0.689, 0.311], abs=1e-6)


def exponential(temperature_c: float) -> float:
    """A fluid whose ln p is a straight line, which the table then holds exactly."""
    return 1e5 * math.exp(temperature_c / 30)


def broken_at(temperature_c: float, pressure: float):
    return lambda node_c: pressure if node_c == temperature_c else exponential(node_c)


def failing_at(temperature_c: float):
    def saturation_pressure(node_c: float) -> float:
        if node_c == temperature_c:
            raise ValueError("the solver found no density")
        return exponential(node_c)

    return saturation_pressure


def test_a_sound_table_is_built():
    table = build_table("exponential", range(-10, 11), exponential)
    assert table.temperature_c.tolist() == list(range(-10, 11))
    assert table.log_pressure == pytest.approx(math.log(1e5) + np.arange(-10, 11) / 30)
    assert table.log_slope_k == pytest.approx(np.full(21, 30.0))


@pytest.mark.parametrize("node_c", [-10, 0, 10])  # a gap at an end is as bad as one inside: it shifts the end
def test_a_failing_node_refuses_the_table(node_c):
    with pytest.raises(
        RuntimeError, match=rf"R-0 dew: no pressure at {node_c}\.00 degC: the solver found no density"
    ):
        build_table("R-0 dew", range(-10, 11), failing_at(node_c))


@pytest.mark.parametrize("node_c", [-10, 0, 10])
@pytest.mark.parametrize("pressure", [math.nan, math.inf, 0.0, -5.0])
def test_a_node_without_a_usable_pressure_refuses_the_table(node_c, pressure):
    with pytest.raises(RuntimeError, match=rf"R-0 dew: {pressure} Pa at {node_c}\.00 degC"):
        build_table("R-0 dew", range(-10, 11), broken_at(node_c, pressure))


@pytest.mark.parametrize("pressure", [exponential(-1), exponential(-1) - 1.0])
def test_a_pressure_that_does_not_rise_refuses_the_table(pressure):
    with pytest.raises(RuntimeError, match=r"at 0\.00 degC; it must be finite and above"):
        build_table("R-0 dew", range(-10, 11), broken_at(0, pressure))


def test_a_jump_refuses_the_table_at_the_node_after_it():
    with pytest.raises(RuntimeError, match=r"at 1\.00 degC"):
        build_table("R-0 dew", range(-10, 11), broken_at(0, exponential(5)))


def test_a_table_that_cannot_be_built_says_of_which_refrigerant_and_line(monkeypatch):
    class Broken:
        def __init__(self, *named):
            pass

        def fluid_names(self):
            return ["R32"]

        def update(self, *asked):
            raise ValueError("the solver found no density")

    monkeypatch.setattr("CoolProp.CoolProp.AbstractState", Broken)
    for quality, line in ((BUBBLE, "bubble"), (DEW, "dew")):
        with pytest.raises(
            RuntimeError, match=rf"^saturation table of R-32 \({line} line\): no pressure at -70"
        ):
            tables._table.__wrapped__("R-32", quality)


@pytest.mark.parametrize("name", REFRIGERANTS)
def test_dew_pressure_is_the_way_back_from_dew_temperature(name):
    known = REFRIGERANTS[name]
    temperatures = np.linspace(known.lowest_c, known.highest_c, 777)[1:-1]  # rounding may leave the ends
    assert dew_temperature(name, dew_pressure(name, temperatures)) == pytest.approx(temperatures, abs=1e-9)
    assert np.isnan(dew_pressure(name, known.highest_c + 0.1))

"""Gauge to absolute: which transducer feels the height, and what is refused."""

import math

import numpy as np
import pytest

from agent.thermo import absolute_pressure, atmospheric_pressure


@pytest.mark.parametrize("height_m", [-610.1, 11000.1, math.nan, math.inf, -math.inf])
def test_a_height_outside_the_lowest_layer_is_refused(height_m):
    with pytest.raises(ValueError, match=r"elevation .* is outside -610\.\.11000 m"):
        atmospheric_pressure(height_m)
    with pytest.raises(ValueError, match="elevation"):
        absolute_pressure(8e5, "gauge-vented", height_m)


def test_pressure_falls_with_height():
    pressures = [atmospheric_pressure(height_m) for height_m in range(-610, 11001, 10)]
    assert all(lower > higher for lower, higher in zip(pressures, pressures[1:], strict=False))


def test_only_the_vented_transducer_feels_the_height():
    assert absolute_pressure(8e5, "absolute", 1500.0) == 8e5
    assert absolute_pressure(8e5, "gauge-sealed", 1500.0) == 8e5 + 101325.0
    assert absolute_pressure(8e5, "gauge-sealed", 1500.0, sealing_pressure_pa=100e3) == 9e5
    assert absolute_pressure(8e5, "gauge-vented", 1500.0) == 8e5 + atmospheric_pressure(1500.0)


@pytest.mark.parametrize("reference", ["absolute", "gauge-vented", "gauge-sealed"])
def test_arrays_go_as_scalars_do(reference):
    readings = np.array([[0.0, 8e5], [math.nan, -5e4]])
    absolute = absolute_pressure(readings, reference, 500.0)
    assert absolute.shape == readings.shape
    one_by_one = [absolute_pressure(reading, reference, 500.0) for reading in readings.ravel().tolist()]
    np.testing.assert_array_equal(absolute.ravel(), one_by_one)


def test_an_unknown_reference_is_named_with_the_known_ones():
    with pytest.raises(ValueError, match=r"'gauge'; known are absolute, gauge-vented, gauge-sealed"):
        absolute_pressure(8e5, "gauge", 0.0)

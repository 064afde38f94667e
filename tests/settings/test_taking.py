"""What readings could have meant: the SI of the same number in another unit."""

import numpy as np
import pytest

from agent.assess.plausible.taken import CURRENT, FREQUENCY, PRESSURE, TEMPERATURE
from agent.settings import Conversion, take
from agent.units import UNITS, Dimension, as_another, to_si, units_of

TIMES = np.array([1, 2, 3], np.int64)


def test_the_core_and_the_rim_have_one_word_for_each_dimension():
    words = (TEMPERATURE, PRESSURE, FREQUENCY, CURRENT)
    assert words == (Dimension.TEMPERATURE, Dimension.PRESSURE, Dimension.FREQUENCY, Dimension.CURRENT)


@pytest.mark.parametrize("dimension", [Dimension.TEMPERATURE, Dimension.PRESSURE])
@pytest.mark.parametrize("reference", [0.0, 99_890.0])
def test_what_a_number_would_be_in_another_unit(dimension, reference):
    raw = np.array([-3.0, 0.0, 17.5])
    for read in units_of(dimension):
        for meant in units_of(dimension):
            factor, shift = as_another(read, UNITS[meant], reference)
            assert factor * (to_si(raw, read) + reference) + shift == pytest.approx(
                to_si(raw, meant) + reference
            )


def test_fahrenheit_taken_for_celsius():
    """54 degF is 12.2 degC (32 + 9/5, exact)."""
    taken = take(Conversion(Dimension.TEMPERATURE, "degC"), TIMES, [54, 54, 54], [None] * 3)
    other = next(each for each in taken.units if each.name == "in degF")
    assert other.factor * taken.value + other.shift == pytest.approx([12.2222] * 3, abs=1e-3)


def test_what_the_payload_states_comes_before_what_is_configured():
    taken = take(Conversion(Dimension.TEMPERATURE, "degF"), TIMES, [12.0, 12.1, 12.2], ["Cel"] * 3)
    assert taken.value == pytest.approx([12.0, 12.1, 12.2])
    assert taken.unit == "Cel" and "in degC" not in [each.name for each in taken.units]


@pytest.mark.parametrize(
    ("values", "tenths"), [([120, 121, 119], True), ([120.0, 121.0, 3.0], True), ([12.1, 1, 2], False)]
)
def test_tenths_come_as_whole_numbers(values, tenths):
    taken = take(Conversion(Dimension.TEMPERATURE, "degC"), TIMES, values, [None] * 3)
    assert ("in tenths of degC" in [each.name for each in taken.units]) is tenths


@pytest.mark.parametrize(
    ("reference_pa", "unit", "other"),
    [(0.0, "kPa absolute", "as gauge"), (99_890.0, "kPa gauge", "as absolute")],
)
def test_a_pressure_says_what_it_is_counted_from(reference_pa, unit, other):
    taken = take(Conversion(Dimension.PRESSURE, "kPa", reference_pa), TIMES, [800, 801, 802], [None] * 3)
    assert taken.unit == unit
    (found,) = taken.references
    assert (found.name, found.factor) == (other, 1.0)
    assert found.shift == pytest.approx(-reference_pa or 101_325.0)


@pytest.mark.parametrize(
    "conversion",
    [Conversion(Dimension.FREQUENCY, "Hz"), Conversion(None), Conversion(None, words={"1": 1.0})],
)
def test_the_rest_could_have_meant_nothing_else(conversion):
    taken = take(conversion, TIMES, [1, 1, 1], [None] * 3)
    assert taken.units == taken.references == ()

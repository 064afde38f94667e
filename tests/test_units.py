"""Conversions at the rim: published factors, and the laws of temperatures and differences."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.units import (
    ALIASES,
    UNITS,
    Dimension,
    NoQuantityError,
    difference_to_si,
    quantity,
    to_si,
    unit_in,
    units_of,
)

law = settings(max_examples=100, deadline=None)
celsius = st.floats(-100, 200)
differences = st.floats(-100, 100)


@pytest.mark.parametrize(
    ("unit", "factor"),
    [
        # NIST Special Publication 811 (2008), appendix B.8; bold factors there are exact
        ("psi", 6.894757e3),
        ("kgf/cm2", 9.80665e4),
        ("bar", 1.0e5),
        ("kPa", 1.0e3),
        ("hPa", 1.0e2),  # millibar
        ("MPa", 1.0e6),
        ("Pa", 1.0),
        ("1/min", 1.666667e-2),  # revolution per minute as a frequency
    ],
)
def test_factors_of_nist_sp_811(unit, factor):
    assert to_si(1.0, unit) == pytest.approx(factor, rel=1e-7 if factor != 1.666667e-2 else 3e-7)
    assert difference_to_si(1.0, unit) == to_si(1.0, unit)


def test_exact_factors():
    # NIST SP 811, appendix B.9: pound-force from the international pound and standard gravity
    assert to_si(1.0, "psi") == pytest.approx(6894.757293168361, rel=1e-15)
    assert float(to_si(1.0, "kgf/cm2")) == 98066.5


@pytest.mark.parametrize(
    ("fahrenheit", "expected"),
    [
        (32.0, 0.0),
        (212.0, 100.0),
        (-40.0, -40.0),
        (98.6, 37.0),
        (0.0, -17.777777777777779),
        (-459.67, -273.15),
    ],
)
def test_fahrenheit(fahrenheit, expected):
    # NIST SP 811, appendix B.8: t/degC = (t/degF - 32) / 1.8
    assert to_si(fahrenheit, "degF") == pytest.approx(expected, abs=1e-12)


def test_kelvin():
    # NIST SP 811, appendix B.8: t/degC = T/K - 273.15
    assert to_si(273.15, "K") == pytest.approx(0.0, abs=1e-12)
    assert to_si(0.0, "K") == -273.15


@law
@given(celsius)
def test_one_temperature_in_every_unit(t):
    for unit, written in (("degC", t), ("Cel", t), ("K", t + 273.15), ("degF", 1.8 * t + 32)):
        assert to_si(written, unit) == pytest.approx(t, abs=1e-10)


@law
@given(celsius, differences)
def test_a_difference_converts_without_the_offset(t, by):
    for unit in units_of(Dimension.TEMPERATURE):
        assert difference_to_si(by, unit) == pytest.approx(
            float(to_si(t + by, unit) - to_si(t, unit)), abs=1e-9
        )
    assert difference_to_si(by, "degF") == pytest.approx(by / 1.8)
    assert difference_to_si(by, "K") == difference_to_si(by, "degC") == by


@law
@given(st.lists(celsius, max_size=5), st.sampled_from(sorted(UNITS)))
def test_arrays_go_as_scalars_do(values, unit):
    converted = to_si(values, unit)
    assert converted.shape == (len(values),)
    assert converted.tolist() == [float(to_si(value, unit)) for value in values]


def test_a_gap_stays_a_gap():
    assert np.isnan(to_si([np.nan, 1.0], "degF")).tolist() == [True, False]


def test_ratios():
    # RFC 8428 section 12.1: "%" is the same ratio as "/", 0..1; ours is called percent
    assert to_si(0.4, "%") == to_si(0.4, "/") == to_si(40.0, "percent")


def test_every_dimension_has_its_units_and_no_more():
    assert units_of(Dimension.TEMPERATURE) == ("degC", "Cel", "K", "degF")
    assert units_of(Dimension.PRESSURE) == ("Pa", "hPa", "kPa", "MPa", "bar", "psi", "kgf/cm2")
    assert units_of(Dimension.DIFFERENCE) == ("K", "degC", "Cel", "delta_degF")
    named = {unit for dimension in Dimension for unit in units_of(dimension)}
    assert named == set(UNITS)


def test_kelvin_is_a_unit_of_two_dimensions():
    assert unit_in("K", Dimension.TEMPERATURE) == (Dimension.TEMPERATURE, 1.0, -273.15)
    assert unit_in("K", Dimension.DIFFERENCE) == (Dimension.DIFFERENCE, 1.0, 0.0)
    assert unit_in("degF", Dimension.DIFFERENCE) is unit_in("K", Dimension.PRESSURE) is None
    assert unit_in(None, Dimension.DIFFERENCE) is unit_in("K", None) is None


def test_an_unknown_unit():
    with pytest.raises(KeyError, match="mmHg"):
        to_si(1.0, "mmHg")
    with pytest.raises(KeyError, match="mmHg"):
        difference_to_si(1.0, "mmHg")


@pytest.mark.parametrize(
    ("text", "number", "unit"),
    [
        ("12.0", 12.0, None),
        (" 12 ", 12.0, None),
        ("+5", 5.0, None),
        ("-.5", -0.5, None),
        ("1e3", 1000.0, None),
        ("12,0", 12.0, None),
        ("-0,125", -0.125, None),
        ("1234,567", 1234.567, None),
        ("12.0 degC", 12.0, "degC"),
        ("12\u00a0°C", 12.0, "degC"),
        ("12°C", 12.0, "degC"),
        ("12 \u2103", 12.0, "degC"),
        ("53.6 F", 53.6, "degF"),
        ("800 kPa", 800.0, "kPa"),
        ("8,1 kgf/cm²", 8.1, "kgf/cm2"),
        ("55 1/s", 55.0, "1/s"),
        ("3300 rpm", 3300.0, "1/min"),
        ("0.45 /", 0.45, "/"),
        ("45 %", 45.0, "percent"),
        ("12 furlong", 12.0, "furlong"),
        ("9 barg", 9.0, "barg"),
    ],
)
def test_a_number_and_its_unit_in_text(text: str, number: float, unit: str | None) -> None:
    assert quantity(text) == (number, unit)


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "degC",
        "NaN",
        "inf",
        "--",
        "1_000",
        "12.0.5",
        "12:30",
        "1.234,5",
        "1,234.5",
        "12 345",
        "\uff11",
    ],
)
def test_text_that_is_no_number(text: str) -> None:
    with pytest.raises(NoQuantityError, match="is no number"):
        quantity(text)


@pytest.mark.parametrize("text", ["1,234", "-12,345", "123,456 kPa"])
def test_a_comma_that_could_part_thousands_is_not_guessed_at(text: str) -> None:
    with pytest.raises(NoQuantityError, match="could be"):
        quantity(text)


def test_a_number_that_no_number_can_hold() -> None:
    with pytest.raises(NoQuantityError, match="beyond"):
        quantity("1e999 degC")


def test_each_alias_is_a_unit_s() -> None:
    assert set(ALIASES.values()) <= set(UNITS)

"""Uncertainties against JCGM 100:2008 (GUM), JCGM 101:2008 (Monte Carlo) and the package uncertainties."""

from math import sqrt

import numpy as np
import pytest
from uncertainties import correlated_values, ufloat, wrap

from agent.thermo import (
    bubble_temperature,
    dew_slope,
    dew_temperature,
    difference,
    standard_uncertainty,
    subcooling,
    superheat,
)

PRESSURE_PA, U_PRESSURE_PA, U_TEMPERATURE_K = 666_325.0, 5e3, 0.25


def test_limits_as_in_the_copper_example():
    # JCGM 100:2008, 4.3.7 example 1: 16.52e-6 / K, error at most 0.40e-6 / K, u = 0.23e-6 / K
    assert standard_uncertainty(0.40e-6) == pytest.approx(0.23e-6, abs=0.005e-6)


def test_resolution_is_0_29_of_a_step():
    # JCGM 100:2008, F.2.2.1
    assert standard_uncertainty(0.0, step=1.0) == pytest.approx(0.29, abs=0.005)


def test_both_together():
    # a draw from the two rectangles, JCGM 101:2008 clause 7
    rng = np.random.default_rng(410)
    drawn = rng.uniform(-0.5, 0.5, 400_000) + rng.uniform(-0.5, 0.5, 400_000)
    assert standard_uncertainty(0.5, step=1.0) == pytest.approx(drawn.std(), rel=0.005)


def test_dew_and_slope_of_the_worked_case():
    # R-410A after Lemmon 2003, worked out with CoolProp
    assert dew_temperature("R-410A", PRESSURE_PA) == pytest.approx(-5.536, abs=0.001)
    assert dew_slope("R-410A", PRESSURE_PA) * 1e3 == pytest.approx(0.045045, abs=2e-6)


def test_worked_case_three_ways():
    measured = superheat(
        "R-410A", 5.0, PRESSURE_PA, u_temperature_k=U_TEMPERATURE_K, u_pressure_pa=U_PRESSURE_PA
    )
    assert measured.below == measured.above

    # by hand: 0.25 K and 5 kPa at 0.045045 K/kPa, JCGM 100:2008 equation 10
    assert measured.below / 2 == pytest.approx(sqrt(0.25**2 + (0.045045 * 5) ** 2), abs=1e-5)
    assert measured.below / 2 == pytest.approx(0.3365, abs=0.00005)

    dew = wrap(lambda pressure_pa: dew_temperature("R-410A", pressure_pa))
    propagated = ufloat(5.0, U_TEMPERATURE_K) - dew(ufloat(PRESSURE_PA, U_PRESSURE_PA))
    assert measured.value == pytest.approx(propagated.nominal_value)
    assert measured.below / 2 == pytest.approx(propagated.std_dev, abs=0.0002)

    rng = np.random.default_rng(1976)
    drawn = rng.normal(5.0, U_TEMPERATURE_K, 1_000_000) - dew_temperature(
        "R-410A", rng.normal(PRESSURE_PA, U_PRESSURE_PA, 1_000_000)
    )
    # 0.001 K: the sampling error of a standard deviation from a million draws is 0.0002 K
    assert measured.below / 2 == pytest.approx(drawn.std(), abs=0.001)


# Limits taken as rectangular half-widths (JCGM 100:2008, 4.3.7). Values and U worked out from Lemmon 2003 and
# Tillner-Roth and Yokozeki 1997 by central difference.
@pytest.mark.parametrize(
    ("refrigerant", "half_width_pa", "half_width_k", "value_k", "expanded_k"),
    [
        ("R-410A", 10e3, 0.5, 9.9247, 0.7338),
        ("R-410A", 40e3, 1.0, 9.9247, 2.1485),
        ("R-32", 10e3, 0.5, 10.5061, 0.7313),
    ],
)
def test_superheat_at_800_kpa_and_10_degc(refrigerant, half_width_pa, half_width_k, value_k, expanded_k):
    measured = superheat(
        refrigerant,
        10.0,
        800e3,
        u_temperature_k=standard_uncertainty(half_width_k),
        u_pressure_pa=standard_uncertainty(half_width_pa),
    )
    assert measured.value == pytest.approx(value_k, abs=0.0005)
    assert measured.below == measured.above == pytest.approx(expanded_k, abs=0.0002)


def test_subcooling_at_2500_kpa_and_35_degc():
    measured = subcooling(
        "R-410A",
        35.0,
        2500e3,
        u_temperature_k=standard_uncertainty(0.5),
        u_pressure_pa=standard_uncertainty(25e3),
    )
    assert measured.value == pytest.approx(6.2492, abs=0.0005)
    assert measured.below == measured.above == pytest.approx(0.7505, abs=0.0002)
    bubble = wrap(lambda pressure_pa: bubble_temperature("R-410A", pressure_pa))
    propagated = bubble(ufloat(2500e3, 25e3 / sqrt(3))) - ufloat(35.0, 0.5 / sqrt(3))
    assert measured.below / 2 == pytest.approx(propagated.std_dev, abs=0.0002)


@pytest.mark.parametrize(("correlation", "expanded_k"), [(0.0, 0.8165), (0.8, 0.3651)])
def test_rise_from_12_to_18_degc(correlation, expanded_k):
    u_k = standard_uncertainty(0.5)
    measured = difference(18.0, 12.0, u_later_k=u_k, u_earlier_k=u_k, correlation=correlation)
    assert measured.value == 6.0
    # JCGM 100:2008, equation 16
    assert measured.below == measured.above == pytest.approx(expanded_k, abs=0.00005)
    covariance = u_k**2 * np.array([[1.0, correlation], [correlation, 1.0]])
    later, earlier = correlated_values([18.0, 12.0], covariance)
    assert measured.below / 2 == pytest.approx((later - earlier).std_dev)


def test_model_uncertainty_of_the_saturation_pressure():
    # half a per cent (k = 2) of 800 kPa is 4 kPa, at 0.0392 K/kPa (Lemmon 2003): 0.157 K
    measured = superheat("R-410A", 10.0, 800e3, u_model_fraction=0.0025)
    assert measured.below == measured.above == pytest.approx(0.157, abs=0.001)


def test_an_unknown_loss_of_50_kpa_is_worth_about_2_k_downward():
    # common practice, no source; the shift itself from Lemmon 2003
    measured = superheat("R-410A", 10.0, 800e3, loss_pa=(0.0, 50e3))
    assert measured.below == pytest.approx(1.9, abs=0.1)
    assert measured.above == 0

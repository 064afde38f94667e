"""Uncertainties against JCGM 100:2008 (GUM), JCGM 101:2008 (Monte Carlo) and the package uncertainties."""

from collections.abc import Iterator
from functools import cache, partial
from math import sqrt

import numpy as np
from uncertainties import correlated_values, ufloat, wrap

from agent.thermo import (
    Measured,
    bubble_temperature,
    dew_slope,
    dew_temperature,
    difference,
    standard_uncertainty,
    subcooling,
    superheat,
)
from tests.published.rows import Row, agrees, each_of

GUM = "JCGM 100:2008"
BY_HAND = f"{GUM}, equation 10, by hand from Lemmon 2003"
BY_CENTRAL_DIFFERENCE = (
    f"{GUM}, limits as rectangular half-widths (4.3.7), by central difference from {{equation}}"
)
LEMMON, R32_EQUATION = "Lemmon 2003", "Tillner-Roth and Yokozeki 1997"

PRESSURE_PA, U_PRESSURE_PA, U_TEMPERATURE_K = 666_325.0, 5e3, 0.25
DRAWS = 1_000_000

# Superheat at 800 kPa(a) and 10 degC: limits of pressure [Pa] and temperature [K]; value and U (k = 2) [K].
AT_800_KPA = [
    ("R-410A", 10e3, 0.5, 9.9247, 0.7338, LEMMON),
    ("R-410A", 40e3, 1.0, 9.9247, 2.1485, LEMMON),
    ("R-32", 10e3, 0.5, 10.5061, 0.7313, R32_EQUATION),
]
RISES_K = {0.0: 0.8165, 0.8: 0.3651}  # U by the correlation of two probes of +-0.5 K


@cache
def worked() -> Measured[float]:
    """R-410A at 666.325 kPa(a) and 5 degC."""
    spread = {"u_temperature_k": U_TEMPERATURE_K, "u_pressure_pa": U_PRESSURE_PA}
    return superheat("R-410A", 5.0, PRESSURE_PA, **spread)


@cache
def at_800_kpa(refrigerant: str, half_width_pa: float, half_width_k: float) -> Measured[float]:
    return superheat(
        refrigerant,
        10.0,
        800e3,
        u_temperature_k=standard_uncertainty(half_width_k),
        u_pressure_pa=standard_uncertainty(half_width_pa),
    )


@cache
def subcooled() -> Measured[float]:
    """R-410A at 2500 kPa(a) and 35 degC, +-25 kPa and +-0.5 K."""
    return subcooling(
        "R-410A",
        35.0,
        2500e3,
        u_temperature_k=standard_uncertainty(0.5),
        u_pressure_pa=standard_uncertainty(25e3),
    )


@cache
def rise(correlation: float) -> Measured[float]:
    u_k = standard_uncertainty(0.5)
    return difference(18.0, 12.0, u_later_k=u_k, u_earlier_k=u_k, correlation=correlation)


def instruments() -> Iterator[Row]:
    source = f"{GUM}, 4.3.7 example 1: copper, error at most 0.40e-6 / K"
    what = "standard uncertainty of limits of 0.40e-6"
    yield Row(what, 0.23e-6, "1/K", 0.005e-6, source, partial(standard_uncertainty, 0.40e-6))
    what = "standard uncertainty of a resolution of one step"
    yield Row(what, 0.29, "steps", 0.005, f"{GUM}, F.2.2.1", partial(standard_uncertainty, 0.0, step=1.0))
    rng = np.random.default_rng(410)
    drawn = rng.uniform(-0.5, 0.5, DRAWS) + rng.uniform(-0.5, 0.5, DRAWS)
    what = "standard uncertainty of limits of 0.5 and steps of 1 together"
    ours = partial(standard_uncertainty, 0.5, step=1.0)
    # of a million draws the deviation is good to 0.0003
    yield Row(what, float(drawn.std()), "", 0.001, "JCGM 101:2008, clause 7: drawn from two rectangles", ours)


def superheats() -> Iterator[Row]:
    case = "R-410A at 666.325 kPa(a)"
    source = f"{LEMMON}, worked out with CoolProp 8.0.0"
    yield Row(f"{case}: dew", -5.536, "degC", 0.001, source, partial(dew_temperature, "R-410A", PRESSURE_PA))
    yield Row(
        f"{case}: slope of dew",
        0.045045e-3,
        "K/Pa",
        2e-9,
        source,
        partial(dew_slope, "R-410A", PRESSURE_PA),
    )
    dew = wrap(lambda pressure_pa: dew_temperature("R-410A", pressure_pa))
    propagated = ufloat(5.0, U_TEMPERATURE_K) - dew(ufloat(PRESSURE_PA, U_PRESSURE_PA))
    rng = np.random.default_rng(1976)
    drawn = rng.normal(5.0, U_TEMPERATURE_K, DRAWS)
    drawn -= dew_temperature("R-410A", rng.normal(PRESSURE_PA, U_PRESSURE_PA, DRAWS))
    what = f"{case} and 5 degC, u 5 kPa and 0.25 K: superheat"
    package = "package uncertainties, of our dew temperature"
    yield Row(what, propagated.nominal_value, "K", 1e-6, package, lambda: worked().value)
    for value, tolerance, source in (
        (sqrt(0.25**2 + (0.045045 * 5) ** 2), 1e-5, BY_HAND),
        (0.3365, 5e-5, BY_HAND),
        (propagated.std_dev, 0.0002, package),
        # the deviation of a million draws is good to 0.0002 K
        (float(drawn.std()), 0.001, "JCGM 101:2008, a million draws, of our dew temperature"),
    ):
        yield Row(f"{what}, u", value, "K", tolerance, source, lambda: worked().below / 2)
    for refrigerant, half_width_pa, half_width_k, value_k, expanded_k, equation in AT_800_KPA:
        what = (
            f"{refrigerant} at 800 kPa(a) and 10 degC, +-{half_width_pa / 1e3:g} kPa and +-{half_width_k} K"
        )
        source = BY_CENTRAL_DIFFERENCE.format(equation=equation)
        found = partial(at_800_kpa, refrigerant, half_width_pa, half_width_k)
        yield Row(f"{what}: superheat", value_k, "K", 0.0005, source, lambda found=found: found().value)
        yield Row(f"{what}: U", expanded_k, "K", 0.0002, source, lambda found=found: found().below)
    yield Row(
        "R-410A at 800 kPa(a), half a per cent (k = 2) of the saturation pressure: U",
        0.157,
        "K",
        0.001,
        f"{LEMMON}: 4 kPa at 0.0392 K/kPa",
        lambda: superheat("R-410A", 10.0, 800e3, u_model_fraction=0.0025).below,
    )
    yield Row(
        "R-410A at 800 kPa(a), an unknown loss of up to 50 kPa: superheat may be lower by",
        1.9,
        "K",
        0.1,
        f"about 2 K: common practice, no source; the shift from {LEMMON}",
        lambda: superheat("R-410A", 10.0, 800e3, loss_pa=(0.0, 50e3)).below,
    )


def subcoolings() -> Iterator[Row]:
    what = "R-410A at 2500 kPa(a) and 35 degC, +-25 kPa and +-0.5 K"
    source = BY_CENTRAL_DIFFERENCE.format(equation=LEMMON)
    yield Row(f"{what}: subcooling", 6.2492, "K", 0.0005, source, lambda: subcooled().value)
    yield Row(f"{what}: U", 0.7505, "K", 0.0002, source, lambda: subcooled().below)
    bubble = wrap(lambda pressure_pa: bubble_temperature("R-410A", pressure_pa))
    propagated = bubble(ufloat(2500e3, 25e3 / sqrt(3))) - ufloat(35.0, 0.5 / sqrt(3))
    package = "package uncertainties, of our bubble temperature"
    yield Row(f"{what}: u", propagated.std_dev, "K", 0.0002, package, lambda: subcooled().below / 2)


def rises() -> Iterator[Row]:
    u_k = 0.5 / sqrt(3)
    for correlation, expanded_k in RISES_K.items():
        what = f"rise from 12 to 18 degC, both +-0.5 K, correlated by {correlation}"
        covariance = u_k**2 * np.array([[1.0, correlation], [correlation, 1.0]])
        later, earlier = correlated_values([18.0, 12.0], covariance)
        found = partial(rise, correlation)
        for value, tolerance, source in (
            (expanded_k, 5e-5, f"{GUM}, equation 16, by hand"),
            (2 * (later - earlier).std_dev, 1e-6, "package uncertainties"),
        ):
            yield Row(f"{what}: U", value, "K", tolerance, source, lambda found=found: found().below)


ROWS = [*instruments(), *superheats(), *subcoolings(), *rises()]


@each_of(ROWS)
def test_published(row):
    assert agrees(row)


def test_without_a_loss_both_sides_are_alike():
    for measured in (
        worked(),
        *(at_800_kpa(*case[:3]) for case in AT_800_KPA),
        subcooled(),
        *map(rise, RISES_K),
    ):
        assert measured.below == measured.above > 0
    assert rise(0.0).value == rise(0.8).value == 6.0


def test_an_unknown_loss_widens_downward_only():
    assert superheat("R-410A", 10.0, 800e3, loss_pa=(0.0, 50e3)).above == 0

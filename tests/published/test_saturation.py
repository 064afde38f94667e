"""Saturation temperatures against sources outside the project."""

from collections.abc import Iterator
from functools import partial

import numpy as np
import pytest
from CoolProp.CoolProp import AbstractState, get_mixture_binary_pair_data

from agent.thermo import (
    REFRIGERANTS,
    absolute_pressure,
    atmospheric_pressure,
    bubble_slope,
    bubble_temperature,
    dew_pressure,
    dew_slope,
    dew_temperature,
    subcooling,
    superheat,
)
from tests.published.rows import Row, agrees, each_of

KELVIN = 273.15
FAHRENHEIT_PER_KELVIN = 9 / 5

LEMMON = "Lemmon, Int. J. Thermophys. 24(4):991-1006, 2003"
R32_EQUATION = "Tillner-Roth and Yokozeki, J. Phys. Chem. Ref. Data 26(6):1273-1328, 1997"
R134A_EQUATION = "Tillner-Roth and Baehr, J. Phys. Chem. Ref. Data 23(5):657-729, 1994"
BELL = "Bell, J. Phys. Chem. Ref. Data 52(1):013101, 2023"
MIXTURE = "mixture model of Lemmon and Jacobsen, J. Phys. Chem. Ref. Data 33(2):593-620, 2004"
AKASAKA = "mixing model of Akasaka, Fluid Phase Equilib. 358:98-104, 2013, in CoolProp 7.2.0"

# Solved from equal fugacities by other programs than the tables stand on: R-410A and R-407C as mixtures,
# where ours are the pseudo-pure equations of Lemmon 2003, the others from the equation that ours has.
SOLVED = {
    "R-410A": f"teqp 0.23.2, {MIXTURE}",
    "R-32": f"teqp 0.23.2, {R32_EQUATION}",
    "R-454B": f"teqp 0.23.2, {BELL}",
    "R-407C": f"CoolProp 8.0.0, {MIXTURE}; teqp confirms it to 0.01 K",
    "R-134a": f"teqp 0.23.2, {R134A_EQUATION}",
}
# kPa -> (bubble, dew) in degC
SATURATION = {
    "R-410A": {
        176: (-39.9369, -39.8556),
        307: (-26.8630, -26.7762),
        539: (-11.8359, -11.7401),
        944: (5.2696, 5.3772),
        1654: (24.9220, 25.0402),
        2897: (47.4812, 47.5939),
    },
    "R-32": {
        178: (-39.9269, -39.9269),
        312: (-26.7562, -26.7562),
        547: (-11.8057, -11.8057),
        962: (5.3582, 5.3582),
        1689: (24.9863, 24.9863),
        2968: (47.5559, 47.5559),
    },
    "R-454B": {
        169: (-40.00, -38.74),
        294: (-26.95, -25.62),
        511: (-12.18, -10.77),
        890: (4.75, 6.23),
        1547: (24.10, 25.62),
        2692: (46.41, 47.83),
    },
    "R-407C": {
        121: (-39.867, -32.935),
        209: (-27.345, -20.643),
        364: (-12.964, -6.549),
        633: (3.384, 9.426),
        1102: (22.171, 27.697),
        1917: (43.802, 48.539),
    },
    "R-134a": {
        52: (-39.71, -39.71),
        97: (-27.02, -27.02),
        182: (-12.44, -12.44),
        344: (4.53, 4.53),
        649: (24.17, 24.17),
        1224: (47.09, 47.09),
    },
}
# 0.001 K where one equation is solved twice and four decimals are printed, 0.006 K where two decimals are;
# 0.02 K for a pseudo-pure equation against a mixture model, two works of one laboratory
TOLERANCE_K = {"R-410A": 0.02, "R-32": 0.001, "R-454B": 0.006, "R-407C": 0.02, "R-134a": 0.006}

# R-454B, kPa -> (bubble, dew) in degC, after another mixing model; teqp 0.23.2, which has it too, differs
# from ours by as much.
R454B_OTHER_MODEL = {
    169: (-39.740, -38.672),
    294: (-26.677, -25.529),
    511: (-11.884, -10.653),
    890: (5.061, 6.366),
    1547: (24.426, 25.759),
    2692: (46.731, 47.958),
}

# Dew pressure of R-410A, Pa, every 3 K from -72 to 69 degC. It comes from the same 2003 equation: it finds a
# slip of ours, not a fault of the equation.
ENERGYPLUS = "EnergyPlus (US DOE / NREL), datasets/FluidPropertiesRefData.idf"
R410A_DEW_PA = """
3.1238E+04,3.7717E+04,4.5248E+04,5.3954E+04,6.3963E+04,7.5412E+04,8.8445E+04,1.0321E+05,1.1988E+05,1.3860E+05,
1.5955E+05,1.8292E+05,2.0888E+05,2.3762E+05,2.6935E+05,3.0426E+05,3.4257E+05,3.8449E+05,4.3024E+05,4.8004E+05,
5.3412E+05,5.9273E+05,6.5609E+05,7.2446E+05,7.9808E+05,8.7722E+05,9.6214E+05,1.0531E+06,1.1504E+06,1.2543E+06,
1.3651E+06,1.4831E+06,1.6086E+06,1.7419E+06,1.8834E+06,2.0334E+06,2.1923E+06,2.3604E+06,2.5382E+06,2.7261E+06,
2.9246E+06,3.1341E+06,3.3552E+06,3.5886E+06,3.8348E+06,4.0949E+06,4.3697E+06,4.6607E+06"""

BOILING_K = {
    "R-410A": (221.71, 0.005, LEMMON),
    "R-407C": (229.52, 0.005, LEMMON),
    "R-32": (221.499, 0.001, R32_EQUATION),
    "R-134a": (247.076, 0.001, f"{R134A_EQUATION}; from memory"),
    "R-454B": (222.25, 0.2, "ASHRAE 34, -50.9 degC; from memory"),
}
CRITICAL = {
    "R-410A": (344.494, 4.9012e6, LEMMON),
    "R-407C": (359.345, 4.6317e6, LEMMON),
    "R-32": (351.255, 5.782e6, R32_EQUATION),
    "R-134a": (374.21, 4.05928e6, f"{R134A_EQUATION}, its reducing point"),
}
# Of bubble and dew pressure, expanded: as the equation's authors state it.
STATED = {
    "R-410A": (0.005, LEMMON),
    "R-407C": (0.005, LEMMON),
    "R-32": (0.0002, f"{R32_EQUATION}, typically"),
    "R-134a": (0.0002, f"{R134A_EQUATION}, typically"),
    "R-454B": (0.01, BELL),
}
GLIDE_K = {"R-410A": 0.10, "R-454B": 1.46, "R-407C": 6.27, "R-32": 0.0, "R-134a": 0.0}

# What mistakes do near a dew temperature of -5.5 degC: consequences of Lemmon 2003, worked out with CoolProp.
DEW_PA = 666_325.0
MISTAKES_K = {
    "10 kPa too much": (DEW_PA + 10e3, 0.45, 0.005),
    "1 psi too much": (DEW_PA + 6894.757, 0.56 / FAHRENHEIT_PER_KELVIN, 0.005),
    "absolute taken for gauge": (
        absolute_pressure(DEW_PA, "gauge-vented", 0.0),
        7.8 / FAHRENHEIT_PER_KELVIN,
        0.03,
    ),
    "gauge taken for absolute": (DEW_PA - atmospheric_pressure(0.0), -8.7 / FAHRENHEIT_PER_KELVIN, 0.03),
    "1 % of a 1.7 MPa transducer": (DEW_PA + 0.01 * 1.7e6, 0.76, 0.01),
    "kgf/cm2 taken for bar": (DEW_PA / 0.980665, 1.1 / FAHRENHEIT_PER_KELVIN, 0.03),
}
TOO_HIGH_F = {"R-410A": 0.2, "R-454B": 2.6, "R-407C": 11.5}


def solved_rows() -> Iterator[Row]:
    for refrigerant, listed in SATURATION.items():
        tolerance, source = TOLERANCE_K[refrigerant], SOLVED[refrigerant]
        for kpa, (bubble, dew) in listed.items():
            for line, value, ours in (("bubble", bubble, bubble_temperature), ("dew", dew, dew_temperature)):
                what = f"{refrigerant} {line} at {kpa} kPa"
                yield Row(what, value, "degC", tolerance, source, partial(ours, refrigerant, kpa * 1e3))


def other_model_rows() -> Iterator[Row]:
    """Either model is stated to be good to 1 %: they may be apart by the root of the sum of squares.

    So E_n of ISO 13528:2015, 9.7, is at most 1.
    """
    for kpa, (bubble, dew) in R454B_OTHER_MODEL.items():
        for line, value, ours, slope in (
            ("bubble", bubble, bubble_temperature, bubble_slope),
            ("dew", dew, dew_temperature, dew_slope),
        ):
            expanded_k = slope("R-454B", kpa * 1e3) * REFRIGERANTS["R-454B"].pressure_uncertainty * kpa * 1e3
            tolerance = float(np.hypot(expanded_k, expanded_k))
            what = f"R-454B {line} at {kpa} kPa, another mixing model"
            yield Row(what, value, "degC", tolerance, AKASAKA, partial(ours, "R-454B", kpa * 1e3))


def energyplus_rows() -> Iterator[Row]:
    for listed_c, listed in zip(range(-72, 70, 3), R410A_DEW_PA.split(","), strict=True):
        if listed_c < REFRIGERANTS["R-410A"].lowest_c:
            continue
        pressure_pa = float(listed)
        # five figures are printed: half a unit of the last is worth up to 1.5 mK, just above a power of ten
        half_unit_pa = 0.5 * 10.0 ** (np.floor(np.log10(pressure_pa)) - 4)
        tolerance = half_unit_pa * dew_slope("R-410A", pressure_pa) + 0.0002  # 0.2 mK for the interpolation
        what = f"R-410A dew at {pressure_pa / 1e3:g} kPa"
        ours = partial(dew_temperature, "R-410A", pressure_pa)
        yield Row(what, float(listed_c), "degC", float(tolerance), ENERGYPLUS, ours)


def off_vdi_correlation_k(lowest_c: float, highest_c: float) -> float:
    """The largest difference from the vapour pressure of the VDI Heat Atlas, an independent fit."""
    from chemicals.vapor_pressure import Psat_data_VDI_PPDS_3, Wagner

    row = Psat_data_VDI_PPDS_3.loc["75-10-5"]
    listed_c = np.arange(lowest_c, highest_c + 0.1, 0.5)
    coefficients = [row[name] for name in ("Tc", "Pc", "A", "B", "C", "D")]
    pressure_pa = np.array([Wagner(t + KELVIN, *coefficients) for t in listed_c])
    return float(np.abs(dew_temperature("R-32", pressure_pa) - listed_c).max())


def vdi_rows() -> Iterator[Row]:
    from chemicals.miscdata import lookup_VDI_tabular_data

    source = "VDI Heat Atlas, PPDS vapour pressure (Wagner form), in the package chemicals"
    for lowest_c, highest_c, tolerance in ((-69, 49, 0.012), (49, 70, 0.0125)):  # farthest apart near 54 degC
        what = f"R-32 dew, most that it is off by, {lowest_c}..{highest_c} degC every 0.5 K"
        yield Row(what, 0.0, "K", tolerance, source, partial(off_vdi_correlation_k, lowest_c, highest_c))
    # It may come from the same equation: it finds a slip of ours, not a fault of the equation.
    source = "VDI Heat Atlas, table of saturated R-134a, in the package chemicals"
    fluid = REFRIGERANTS["R-134a"]
    for listed_k, pressure_pa in zip(*lookup_VDI_tabular_data("811-97-2", "P"), strict=True):
        if fluid.lowest_c < listed_k - KELVIN < fluid.highest_c:
            what = f"R-134a dew at {pressure_pa / 1e3:g} kPa"
            ours = partial(dew_temperature, "R-134a", pressure_pa)
            yield Row(what, listed_k - KELVIN, "degC", 0.01, source, ours)  # as printed, it leaves up to 5 mK


def fluid_rows() -> Iterator[Row]:
    for name, (boiling_k, tolerance, source) in BOILING_K.items():
        ours = partial(bubble_temperature, name, 101325.0)
        yield Row(f"{name} normal boiling point", boiling_k - KELVIN, "degC", tolerance, source, ours)
    for name, (critical_k, critical_pa, source) in CRITICAL.items():
        state = AbstractState("HEOS", REFRIGERANTS[name].fluid)
        yield Row(f"{name} critical temperature", critical_k, "K", 0.003, source, state.T_critical)
        yield Row(
            f"{name} critical pressure", critical_pa, "Pa", 2e-4 * critical_pa, source, state.p_critical
        )
    for name, (fraction, source) in STATED.items():
        what = f"{name} expanded uncertainty of saturation pressure"
        yield Row(
            what, fraction, "", 1e-12, source, lambda name=name: 2 * REFRIGERANTS[name].u_model_fraction
        )
    for name, glide_k in GLIDE_K.items():
        what = f"{name} dew minus bubble temperature, at 0 degC dew"
        yield Row(what, glide_k, "K", 0.01, f"{SOLVED[name]} (computed)", partial(too_high_k, name, 0.0))


def mistake_rows() -> Iterator[Row]:
    source = f"{LEMMON} (worked out with CoolProp 8.0.0)"
    for mistake, (mistaken_pa, shift_k, tolerance) in MISTAKES_K.items():
        what = f"R-410A near -5.5 degC dew, {mistake}: dew temperature moves by"
        yield Row(what, shift_k, "K", tolerance, source, partial(warmer_by_k, mistaken_pa))
    yield Row(
        "R-32 taken for R-410A near -5.5 degC dew: dew temperature too low by",
        1.0 / FAHRENHEIT_PER_KELVIN,
        "K",
        0.03,
        f"{source}; {R32_EQUATION}",
        lambda: dew_temperature("R-410A", DEW_PA) - dew_temperature("R-32", DEW_PA),
    )
    for name, too_high_f in TOO_HIGH_F.items():
        what = f"{name}, bubble taken for dew near -5.5 degC: superheat too high by"
        value, tolerance = too_high_f / FAHRENHEIT_PER_KELVIN, 0.06 / FAHRENHEIT_PER_KELVIN
        yield Row(what, value, "K", tolerance, f"{SOLVED[name]} (computed)", partial(too_high_k, name, -5.5))


def warmer_by_k(pressure_pa: float) -> float:
    """How far the dew temperature moves from DEW_PA to another pressure."""
    return dew_temperature("R-410A", pressure_pa) - dew_temperature("R-410A", DEW_PA)


def too_high_k(refrigerant: str, dew_c: float) -> float:
    """What saturated vapour would show as superheat if its temperature were held against the bubble line."""
    return dew_c - bubble_temperature(refrigerant, dew_pressure(refrigerant, dew_c))


ROWS = [
    *solved_rows(),
    *other_model_rows(),
    *energyplus_rows(),
    *vdi_rows(),
    *fluid_rows(),
    *mistake_rows(),
]


@each_of(ROWS)
def test_published(row):
    assert agrees(row)


def test_each_refrigerant_is_listed():
    known = REFRIGERANTS.keys()
    assert (
        SATURATION.keys()
        == TOLERANCE_K.keys()
        == BOILING_K.keys()
        == STATED.keys()
        == GLIDE_K.keys()
        == known
    )
    assert len(list(energyplus_rows())) == 47


@each_of(list(other_model_rows()))
def test_two_mixing_models_of_r454b_are_two(row):
    """They differ by up to 0.33 K: what is published of one says little about the other."""
    assert 0.05 < abs(row.ours() - row.value) < 0.33


@pytest.mark.parametrize("refrigerant", CRITICAL)
def test_tables_end_below_the_critical_point(refrigerant):
    critical_k, critical_pa, _ = CRITICAL[refrigerant]
    assert REFRIGERANTS[refrigerant].highest_c + KELVIN < critical_k
    assert np.isnan(dew_temperature(refrigerant, critical_pa))
    assert np.isnan(bubble_temperature(refrigerant, critical_pa))


def test_r454b_stands_on_the_published_mixing_model():
    # Bell 2023, as CoolProp names it from version 8 on; before, it was Akasaka 2013
    assert get_mixture_binary_pair_data("75-10-5", "754-12-1", "BibTeX") == "Bell-JPCRD-2023"


def test_safety_classes():
    # ISO 817 / ASHRAE 34
    classes = {"R-410A": "A1", "R-407C": "A1", "R-134a": "A1", "R-32": "A2L", "R-454B": "A2L"}
    assert {name: known.safety_class for name, known in REFRIGERANTS.items()} == classes


@pytest.mark.parametrize("refrigerant", TOO_HIGH_F)
def test_saturated_vapour_has_no_superheat(refrigerant):
    """By definition, on the dew line; `too_high_k` is what the bubble line would make of it."""
    pressure_pa = dew_pressure(refrigerant, -5.5)
    assert superheat(refrigerant, -5.5, pressure_pa).value == pytest.approx(0.0, abs=1e-3)


def test_dew_taken_for_bubble_shows_subcooling_that_is_not_there():
    bubble_c, dew_c = SATURATION["R-407C"][1917]
    assert subcooling("R-407C", bubble_c, 1917e3).value == pytest.approx(0.0, abs=0.02)
    assert dew_temperature("R-407C", 1917e3) - bubble_c == pytest.approx(dew_c - bubble_c, abs=0.02)

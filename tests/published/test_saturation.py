"""Saturation temperatures against sources outside the project."""

import numpy as np
import pytest
from CoolProp.CoolProp import AbstractState, get_mixture_binary_pair_data

from agent.thermo import (
    REFRIGERANTS,
    absolute_pressure,
    atmospheric_pressure,
    bubble_slope,
    bubble_temperature,
    dew_slope,
    dew_temperature,
    subcooling,
    superheat,
)

KELVIN = 273.15
FAHRENHEIT_PER_KELVIN = 9 / 5

# kPa -> (bubble, dew) in degC, solved from equal fugacities by other programs than the tables stand on.
# R-410A and R-407C as mixtures (Lemmon and Jacobsen, J. Phys. Chem. Ref. Data 33(2):593-620, 2004), where
# ours are the pseudo-pure equations of Lemmon 2003: R-410A with teqp 0.23.2; R-407C with the mixture model of
# CoolProp 8.0.0, confirmed with teqp to 0.01 K. The others with teqp 0.23.2 from the equation that ours has:
# R-32 Tillner-Roth and Yokozeki 1997, R-134a Tillner-Roth and Baehr 1994, R-454B Bell, J. Phys. Chem. Ref.
# Data 52(1):013101, 2023.
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

# R-454B, kPa -> (bubble, dew) in degC, after another mixing model (Akasaka, Fluid Phase Equilib. 358:98-104,
# 2013), as CoolProp 7.2.0 has it; teqp 0.23.2, which has it too, differs from ours by as much.
R454B_OTHER_MODEL = {
    169: (-39.740, -38.672),
    294: (-26.677, -25.529),
    511: (-11.884, -10.653),
    890: (5.061, 6.366),
    1547: (24.426, 25.759),
    2692: (46.731, 47.958),
}

# Dew pressure of R-410A, Pa, every 3 K from -72 to 69 degC: datasets/FluidPropertiesRefData.idf of EnergyPlus
# (US DOE / NREL). It comes from the same 2003 equation: it finds a slip of ours, not a fault of the equation.
R410A_DEW_PA = """
3.1238E+04,3.7717E+04,4.5248E+04,5.3954E+04,6.3963E+04,7.5412E+04,8.8445E+04,1.0321E+05,1.1988E+05,1.3860E+05,
1.5955E+05,1.8292E+05,2.0888E+05,2.3762E+05,2.6935E+05,3.0426E+05,3.4257E+05,3.8449E+05,4.3024E+05,4.8004E+05,
5.3412E+05,5.9273E+05,6.5609E+05,7.2446E+05,7.9808E+05,8.7722E+05,9.6214E+05,1.0531E+06,1.1504E+06,1.2543E+06,
1.3651E+06,1.4831E+06,1.6086E+06,1.7419E+06,1.8834E+06,2.0334E+06,2.1923E+06,2.3604E+06,2.5382E+06,2.7261E+06,
2.9246E+06,3.1341E+06,3.3552E+06,3.5886E+06,3.8348E+06,4.0949E+06,4.3697E+06,4.6607E+06"""


LISTED = [
    (refrigerant, kpa, *lines) for refrigerant, listed in SATURATION.items() for kpa, lines in listed.items()
]


@pytest.mark.parametrize(("refrigerant", "kpa", "bubble", "dew"), LISTED)
def test_saturation_agrees_with_another_program(refrigerant, kpa, bubble, dew):
    tolerance = TOLERANCE_K[refrigerant]
    assert bubble_temperature(refrigerant, kpa * 1e3) == pytest.approx(bubble, abs=tolerance)
    assert dew_temperature(refrigerant, kpa * 1e3) == pytest.approx(dew, abs=tolerance)


def test_each_refrigerant_is_listed():
    assert SATURATION.keys() == TOLERANCE_K.keys() == REFRIGERANTS.keys()


@pytest.mark.parametrize(("kpa", "bubble", "dew"), [(p, *lines) for p, lines in R454B_OTHER_MODEL.items()])
def test_two_mixing_models_of_r454b_differ_by_no_more_than_both_may_be_wrong(kpa, bubble, dew):
    # Either is stated to be good to 1 % (Bell 2023, bubble and dew; Akasaka 2013, bubble). They may then be
    # apart by the root of the sum of squares: E_n of ISO 13528:2015, 9.7 is at most 1.
    fraction = REFRIGERANTS["R-454B"].pressure_uncertainty
    for other, temperature, slope in (
        (bubble, bubble_temperature, bubble_slope),
        (dew, dew_temperature, dew_slope),
    ):
        expanded_k = slope("R-454B", kpa * 1e3) * fraction * kpa * 1e3
        apart_k = abs(other - temperature("R-454B", kpa * 1e3))
        assert 0.05 < apart_k < 0.33  # they are two models
        assert apart_k / np.hypot(expanded_k, expanded_k) <= 1


def test_r410a_dew_agrees_with_the_energyplus_data_set():
    listed_c = np.arange(-72.0, 69.1, 3.0)
    pressure_pa = np.array([float(listed) for listed in R410A_DEW_PA.split(",")])
    inside = listed_c >= REFRIGERANTS["R-410A"].lowest_c
    listed_c, pressure_pa = listed_c[inside], pressure_pa[inside]
    # five figures are printed: half a unit of the last is worth up to 1.5 mK, just above a power of ten
    half_unit_pa = 0.5 * 10.0 ** (np.floor(np.log10(pressure_pa)) - 4)
    rounding_k = dew_temperature("R-410A", pressure_pa + half_unit_pa) - dew_temperature(
        "R-410A", pressure_pa
    )
    assert len(listed_c) == 47
    assert rounding_k.max() < 0.0017
    # 0.2 mK beyond the rounding, for the interpolation
    assert np.all(np.abs(dew_temperature("R-410A", pressure_pa) - listed_c) <= rounding_k + 0.0002)


def test_r32_agrees_with_the_vdi_correlation():
    # VDI Heat Atlas, PPDS vapour pressure (Wagner form) as the package chemicals holds it: an independent fit
    from chemicals.vapor_pressure import Psat_data_VDI_PPDS_3, Wagner

    row = Psat_data_VDI_PPDS_3.loc["75-10-5"]

    def worst_k(lowest_c: float, highest_c: float) -> float:
        listed_c = np.arange(lowest_c, highest_c + 0.1, 0.5)
        pressure_pa = np.array(
            [
                Wagner(t + KELVIN, row["Tc"], row["Pc"], row["A"], row["B"], row["C"], row["D"])
                for t in listed_c
            ]
        )
        return float(np.abs(dew_temperature("R-32", pressure_pa) - listed_c).max())

    assert worst_k(-69, 49) < 0.012
    assert worst_k(49, 70) < 0.0125  # the two are farthest apart near 54 degC, by 12.4 mK


def test_r134a_agrees_with_the_vdi_table():
    # VDI Heat Atlas, table of saturated R-134a as the package chemicals holds it. It may come from the same
    # equation: it finds a slip of ours, not a fault of the equation.
    from chemicals.miscdata import lookup_VDI_tabular_data

    listed_k, pressure_pa = (np.array(column) for column in lookup_VDI_tabular_data("811-97-2", "P"))
    fluid = REFRIGERANTS["R-134a"]
    inside = (listed_k > fluid.lowest_c + KELVIN) & (listed_k < fluid.highest_c + KELVIN)
    assert inside.sum() == 8
    off_k = dew_temperature("R-134a", pressure_pa[inside]) + KELVIN - listed_k[inside]
    # the figures as printed leave up to 5 mK
    assert np.abs(off_k).max() < 0.01


@pytest.mark.parametrize(
    ("refrigerant", "boiling_k", "tolerance_k"),
    [
        ("R-410A", 221.71, 0.005),  # Lemmon 2003, bubble line
        ("R-407C", 229.52, 0.005),  # Lemmon 2003, bubble line
        ("R-32", 221.499, 0.001),  # Tillner-Roth and Yokozeki 1997
        ("R-134a", 247.076, 0.001),  # Tillner-Roth and Baehr 1994; from memory
        ("R-454B", 222.25, 0.2),  # -50.9 degC, as listed with ASHRAE 34; from memory
    ],
)
def test_normal_boiling_points(refrigerant, boiling_k, tolerance_k):
    assert bubble_temperature(refrigerant, 101325.0) + KELVIN == pytest.approx(boiling_k, abs=tolerance_k)


@pytest.mark.parametrize(
    ("refrigerant", "critical_k", "critical_pa"),
    [
        ("R-410A", 344.494, 4.9012e6),  # Lemmon 2003
        ("R-407C", 359.345, 4.6317e6),  # Lemmon 2003
        ("R-32", 351.255, 5.782e6),  # Tillner-Roth and Yokozeki 1997
        ("R-134a", 374.21, 4.05928e6),  # the reducing point of Tillner-Roth and Baehr 1994
    ],
)
def test_tables_stand_on_the_published_fluid_and_end_below_its_critical_point(
    refrigerant, critical_k, critical_pa
):
    state = AbstractState("HEOS", REFRIGERANTS[refrigerant].fluid)
    assert state.T_critical() == pytest.approx(critical_k, abs=0.003)
    assert state.p_critical() == pytest.approx(critical_pa, rel=2e-4)
    assert REFRIGERANTS[refrigerant].highest_c + KELVIN < critical_k
    assert np.isnan(dew_temperature(refrigerant, critical_pa))
    assert np.isnan(bubble_temperature(refrigerant, critical_pa))


def test_r454b_stands_on_the_published_mixing_model():
    # Bell 2023, as CoolProp names it from version 8 on; before, it was Akasaka 2013
    assert get_mixture_binary_pair_data("75-10-5", "754-12-1", "BibTeX") == "Bell-JPCRD-2023"


def pressure_of_dew(refrigerant: str, dew_c: float) -> float:
    pressure_pa = np.geomspace(100e3, 2e6, 20000)
    return float(np.interp(dew_c, dew_temperature(refrigerant, pressure_pa), pressure_pa))


@pytest.mark.parametrize(
    ("refrigerant", "glide_k"),
    [("R-410A", 0.10), ("R-454B", 1.46), ("R-407C", 6.27), ("R-32", 0.0), ("R-134a", 0.0)],
)
def test_glide(refrigerant, glide_k):
    # dew minus bubble temperature at the pressure of 0 degC dew; sources as of the table above
    glide = -bubble_temperature(refrigerant, pressure_of_dew(refrigerant, 0.0))
    assert glide == pytest.approx(glide_k, abs=0.01)


@pytest.mark.parametrize(
    ("refrigerant", "pressure_uncertainty", "safety_class"),
    [
        ("R-410A", 0.005, "A1"),  # Lemmon 2003: bubble and dew pressure to 0.5 %
        ("R-407C", 0.005, "A1"),  # the same
        ("R-32", 0.0002, "A2L"),  # Tillner-Roth and Yokozeki 1997: vapour pressure typically to 0.02 %
        ("R-134a", 0.0002, "A1"),  # Tillner-Roth and Baehr 1994: vapour pressure typically to 0.02 %
        ("R-454B", 0.01, "A2L"),  # Bell 2023: deviations of bubble and dew pressure within 1 %
    ],
)
def test_stated_properties(refrigerant, pressure_uncertainty, safety_class):
    assert REFRIGERANTS[refrigerant].u_model_fraction == pressure_uncertainty / 2
    assert REFRIGERANTS[refrigerant].safety_class == safety_class  # ISO 817 / ASHRAE 34


# What mistakes do near a dew temperature of -5.5 degC: consequences of Lemmon 2003, worked out with CoolProp.
DEW_PA = 666_325.0


def warmer_by_k(pressure_pa: float) -> float:
    """How far the dew temperature moves from DEW_PA to another pressure."""
    return dew_temperature("R-410A", pressure_pa) - dew_temperature("R-410A", DEW_PA)


@pytest.mark.parametrize(
    ("mistaken_pa", "shift_k", "tolerance_k"),
    [
        (DEW_PA + 10e3, 0.45, 0.005),
        (DEW_PA + 6894.757, 0.56 / FAHRENHEIT_PER_KELVIN, 0.005),  # 1 psi
        (
            absolute_pressure(DEW_PA, "gauge-vented", 0.0),
            7.8 / FAHRENHEIT_PER_KELVIN,
            0.03,
        ),  # absolute, as gauge
        (DEW_PA - atmospheric_pressure(0.0), -8.7 / FAHRENHEIT_PER_KELVIN, 0.03),  # gauge, as absolute
        (DEW_PA + 0.01 * 1.7e6, 0.76, 0.01),  # 1 % of a 1.7 MPa transducer
        (DEW_PA / 0.980665, 1.1 / FAHRENHEIT_PER_KELVIN, 0.03),  # kgf/cm2 taken for bar
    ],
)
def test_a_mistaken_pressure_moves_the_dew_temperature(mistaken_pa, shift_k, tolerance_k):
    assert warmer_by_k(mistaken_pa) == pytest.approx(shift_k, abs=tolerance_k)


def test_the_wrong_refrigerant_shows_little():
    apart_k = dew_temperature("R-410A", DEW_PA) - dew_temperature("R-32", DEW_PA)
    assert apart_k == pytest.approx(1.0 / FAHRENHEIT_PER_KELVIN, abs=0.03)


@pytest.mark.parametrize(("refrigerant", "too_high_f"), [("R-410A", 0.2), ("R-454B", 2.6), ("R-407C", 11.5)])
def test_bubble_taken_for_dew_shows_superheat_that_is_not_there(refrigerant, too_high_f):
    # near a dew temperature of -5.5 degC; sources as of the table above
    saturated_c, pressure_pa = -5.5, pressure_of_dew(refrigerant, -5.5)
    assert superheat(refrigerant, saturated_c, pressure_pa).value == pytest.approx(0.0, abs=1e-3)
    mistaken_k = saturated_c - bubble_temperature(refrigerant, pressure_pa)
    assert mistaken_k * FAHRENHEIT_PER_KELVIN == pytest.approx(too_high_f, abs=0.06)


def test_dew_taken_for_bubble_shows_subcooling_that_is_not_there():
    bubble_c, dew_c = SATURATION["R-407C"][1917]
    assert subcooling("R-407C", bubble_c, 1917e3).value == pytest.approx(0.0, abs=0.02)
    assert dew_temperature("R-407C", 1917e3) - bubble_c == pytest.approx(dew_c - bubble_c, abs=0.02)

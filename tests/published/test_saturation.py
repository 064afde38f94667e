"""Saturation temperatures against sources outside the project."""

import numpy as np
import pytest
from CoolProp.CoolProp import AbstractState

from agent.thermo import (
    REFRIGERANTS,
    absolute_pressure,
    atmospheric_pressure,
    bubble_temperature,
    dew_temperature,
)

KELVIN = 273.15
FAHRENHEIT_PER_KELVIN = 9 / 5

# kPa -> degC. R-410A as a mixture of R-32 and R-125 (Lemmon and Jacobsen, J. Phys. Chem. Ref. Data
# 33(2):593-620, 2004), where ours is the pseudo-pure equation of Lemmon 2003; solved with teqp 0.23.2.
R410A_MIXTURE = {
    # kPa: (bubble, dew)
    176: (-39.9369, -39.8556),
    307: (-26.8630, -26.7762),
    539: (-11.8359, -11.7401),
    944: (5.2696, 5.3772),
    1654: (24.9220, 25.0402),
    2897: (47.4812, 47.5939),
}
# kPa -> degC. Tillner-Roth and Yokozeki 1997, solved with teqp 0.23.2: another program, one equation.
R32_SATURATION = {178: -39.9269, 312: -26.7562, 547: -11.8057, 962: 5.3582, 1689: 24.9863, 2968: 47.5559}

# Dew pressure of R-410A, Pa, every 3 K from -72 to 69 degC: datasets/FluidPropertiesRefData.idf of EnergyPlus
# (US DOE / NREL). It comes from the same 2003 equation: it finds a slip of ours, not a fault of the equation.
R410A_DEW_PA = """
3.1238E+04,3.7717E+04,4.5248E+04,5.3954E+04,6.3963E+04,7.5412E+04,8.8445E+04,1.0321E+05,1.1988E+05,1.3860E+05,
1.5955E+05,1.8292E+05,2.0888E+05,2.3762E+05,2.6935E+05,3.0426E+05,3.4257E+05,3.8449E+05,4.3024E+05,4.8004E+05,
5.3412E+05,5.9273E+05,6.5609E+05,7.2446E+05,7.9808E+05,8.7722E+05,9.6214E+05,1.0531E+06,1.1504E+06,1.2543E+06,
1.3651E+06,1.4831E+06,1.6086E+06,1.7419E+06,1.8834E+06,2.0334E+06,2.1923E+06,2.3604E+06,2.5382E+06,2.7261E+06,
2.9246E+06,3.1341E+06,3.3552E+06,3.5886E+06,3.8348E+06,4.0949E+06,4.3697E+06,4.6607E+06"""


@pytest.mark.parametrize(("kpa", "bubble", "dew"), [(p, *lines) for p, lines in R410A_MIXTURE.items()])
def test_r410a_agrees_with_a_mixture_model(kpa, bubble, dew):
    # 0.02 K: two equations of one laboratory; they differ by up to 6 mK
    assert bubble_temperature("R-410A", kpa * 1e3) == pytest.approx(bubble, abs=0.02)
    assert dew_temperature("R-410A", kpa * 1e3) == pytest.approx(dew, abs=0.02)


@pytest.mark.parametrize(("kpa", "saturation"), R32_SATURATION.items())
def test_r32_agrees_with_another_solver(kpa, saturation):
    # 0.001 K: one equation, so that only the solver and our interpolation are left
    assert dew_temperature("R-32", kpa * 1e3) == pytest.approx(saturation, abs=0.001)
    assert bubble_temperature("R-32", kpa * 1e3) == pytest.approx(saturation, abs=0.001)


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


def test_normal_boiling_points():
    # Lemmon 2003: 221.71 K on the bubble line; R-32: 221.499 K, Tillner-Roth and Yokozeki 1997
    assert bubble_temperature("R-410A", 101325.0) + KELVIN == pytest.approx(221.71, abs=0.005)
    assert bubble_temperature("R-32", 101325.0) + KELVIN == pytest.approx(221.499, abs=0.001)


@pytest.mark.parametrize(
    ("refrigerant", "critical_k", "critical_pa"),
    [
        ("R-410A", 344.494, 4.9012e6),  # Lemmon 2003
        ("R-32", 351.255, 5.782e6),  # Tillner-Roth and Yokozeki 1997
    ],
)
def test_tables_stand_on_the_published_fluid_and_end_below_its_critical_point(
    refrigerant, critical_k, critical_pa
):
    state = AbstractState("HEOS", REFRIGERANTS[refrigerant].fluid)
    assert state.T_critical() == pytest.approx(critical_k, abs=0.001)
    assert state.p_critical() == pytest.approx(critical_pa, rel=2e-4)
    assert REFRIGERANTS[refrigerant].highest_c + KELVIN < critical_k
    assert np.isnan(dew_temperature(refrigerant, critical_pa))
    assert np.isnan(bubble_temperature(refrigerant, critical_pa))


def test_glide():
    # R-410A at 0 degC dew, from the mixture model above: 0.10 K; R-32 is one substance
    assert dew_temperature("R-410A", 798e3) - bubble_temperature("R-410A", 798e3) == pytest.approx(
        0.10, abs=0.01
    )
    assert dew_temperature("R-32", 800e3) == pytest.approx(bubble_temperature("R-32", 800e3), abs=1e-6)


def test_stated_properties():
    # Lemmon 2003: bubble and dew pressure to 0.5 %
    # Tillner-Roth and Yokozeki 1997: vapour pressure typically to 0.02 %
    assert REFRIGERANTS["R-410A"].u_model_fraction == 0.0025
    assert REFRIGERANTS["R-32"].u_model_fraction == 0.0001
    # ISO 817
    assert REFRIGERANTS["R-410A"].safety_class == "A1"
    assert REFRIGERANTS["R-32"].safety_class == "A2L"


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


def test_the_wrong_line_or_the_wrong_refrigerant_shows_little():
    dew = dew_temperature("R-410A", DEW_PA)
    assert dew - bubble_temperature("R-410A", DEW_PA) == pytest.approx(0.2 / FAHRENHEIT_PER_KELVIN, abs=0.03)
    assert dew - dew_temperature("R-32", DEW_PA) == pytest.approx(1.0 / FAHRENHEIT_PER_KELVIN, abs=0.03)

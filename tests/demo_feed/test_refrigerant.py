"""The tables against published values and against the library asked directly."""

import pytest
from CoolProp.CoolProp import PropsSI

from demo_feed.refrigerant import refrigerant


# R-410A dew pressure in Pa: EnergyPlus data set FluidPropertiesRefData.idf (US DOE/NREL).
@pytest.mark.parametrize(
    ("dew_c", "pressure_pa"), [(-24, 342570), (-6, 656090), (3, 877220), (12, 1.1504e6), (39, 2.3604e6)]
)
def test_r410a_dew_line_is_the_published_one(dew_c, pressure_pa):
    assert refrigerant("R410A").dew_pressure(dew_c) == pytest.approx(pressure_pa, rel=5e-4)
    assert refrigerant("R410A").dew_temperature(pressure_pa) == pytest.approx(dew_c, abs=0.02)


@pytest.mark.parametrize("name", ["R410A", "R32"])
@pytest.mark.parametrize(
    ("saturation_c", "superheat_k"), [(-16.7, 1.5), (-2.35, 6.4), (6.61, 9.3), (36.8, 29.5)]
)
def test_vapour_tables_between_nodes_match_the_library(name, saturation_c, superheat_k):
    tables = refrigerant(name)
    pressure_pa = PropsSI("P", "T", saturation_c + 273.15, "Q", 1, name)
    state = ("T", saturation_c + superheat_k + 273.15, "P", pressure_pa, name)
    enthalpy = PropsSI("H", *state)
    assert tables.dew_pressure(saturation_c) == pytest.approx(pressure_pa, rel=1e-4)
    assert tables.vapour_density(saturation_c, superheat_k) == pytest.approx(PropsSI("D", *state), rel=2e-3)
    assert tables.superheat_of(saturation_c, enthalpy) == pytest.approx(superheat_k, abs=0.03)

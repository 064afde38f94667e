"""Atmospheric pressure against the US Standard Atmosphere 1976, and what a wrong height does to superheat."""

import pytest

from agent.thermo import absolute_pressure, atmospheric_pressure, superheat


@pytest.mark.parametrize(
    ("height_m", "pressure_pa"),
    [(0, 101325), (500, 95461), (1000, 89875), (1500, 84556), (2000, 79495), (3000, 70109), (11000, 22632)],
)
def test_us_standard_atmosphere_1976(height_m, pressure_pa):
    # geopotential height; tabulated to five figures
    assert atmospheric_pressure(height_m) == pytest.approx(pressure_pa, abs=0.5)


def test_a_vented_transducer_read_as_at_sea_level():
    # R-410A at a true 8.00 bar(a) and 1500 m: superheat comes out 0.65 K low (Lemmon 2003, values above)
    stated_pa = 800e3 - atmospheric_pressure(1500.0)
    right, wrong = (
        superheat("R-410A", 10.0, absolute_pressure(stated_pa, "gauge-vented", height_m)).value
        for height_m in (1500.0, 0.0)
    )
    assert wrong - right == pytest.approx(-0.65, abs=0.005)

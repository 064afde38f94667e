"""Lumped efficiency of a compression, and the border that a range of it gives.

Against flashes of CoolProp 8.0.0 that the product does not use, and the worked table of discharge superheat
(isentropic efficiency 0.65, no heat loss; computed, a published table of such values was not found).
"""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from agent.thermo import (
    LUMPED_EFFICIENCIES,
    border_band,
    border_for,
    dew_pressure,
    dew_temperature,
    implied_efficiency,
)
from tests.published.test_compression import FLUIDS, by_flashes

FLUID = FLUIDS | {"R-134a": "R134a", "R-407C": "R407C"}

# Evaporating and condensing degC; discharge superheat [K] by what comes to the compressor.
WORKED = {
    ("R-410A", 5, 35): {10: 33.7, 5: 28.0, 0: 22.2, "0.98": 17.9, "0.95": 12.0, "0.90": 3.2},
    ("R-410A", 5, 45): {10: 40.3, 5: 34.5, 0: 28.5, "0.98": 24.2, "0.95": 18.0, "0.90": 8.9},
    ("R-32", 5, 45): {10: 60.6, 5: 53.9, 0: 47.0, "0.98": 40.5, "0.95": 31.3, "0.90": 17.7},
}


def pressures(refrigerant, suction_c, condensing_c):
    return by_flashes(refrigerant, suction_c, condensing_c, 1.0, 0.0)[:2]


@pytest.mark.parametrize(("case", "superheats"), WORKED.items(), ids=str)
def test_the_worked_table_gives_its_efficiency_back(case, superheats):
    dry = [superheat for superheat in superheats if not isinstance(superheat, str)]
    p1, p2 = pressures(*case)
    found = implied_efficiency(case[0], p1, dry, p2, [superheats[each] for each in dry])
    assert found == pytest.approx(0.65, abs=0.003)  # the table is rounded to a tenth


@pytest.mark.parametrize(("case", "superheats"), WORKED.items(), ids=str)
def test_wet_lies_under_the_border_and_dry_above(case, superheats):
    p1, p2 = pressures(*case)
    least, most = border_for(case[0], p1, p2, 0.64, 0.66)
    assert least < superheats[0] < most
    assert all(wet < least for quality, wet in superheats.items() if isinstance(quality, str))
    assert all(dry > most for dry in (superheats[5], superheats[10]))


@pytest.mark.parametrize(("case", "superheats"), WORKED.items(), ids=str)
def test_the_general_band_decides_only_the_clear_cases(case, superheats):
    p1, p2 = pressures(*case)
    least, most = border_for(case[0], p1, p2, *LUMPED_EFFICIENCIES)
    assert superheats["0.90"] < least < superheats[0] < most
    assert (least, most) == pytest.approx(border_band(case[0], p1, p2), abs=0.3)


@pytest.mark.parametrize("refrigerant", FLUID)
@pytest.mark.parametrize(("suction_k", "discharge_k"), [(1.0, 30.0), (8.0, 45.0), (15.0, 80.0)])
def test_against_flashes(refrigerant, suction_k, discharge_k):
    fluid = FLUID[refrigerant]
    p1, p2 = (PropsSI("P", "T", t + 273.15, "Q", 1, fluid) for t in (2.0, 47.0))
    h1, s1 = (PropsSI(what, "T", 275.15 + suction_k, "P", p1, fluid) for what in ("H", "S"))
    h2 = PropsSI("H", "T", 320.15 + discharge_k, "P", p2, fluid)
    expected = (PropsSI("H", "P", p2, "S", s1, fluid) - h1) / (h2 - h1)
    assert implied_efficiency(refrigerant, p1, suction_k, p2, discharge_k) == pytest.approx(
        expected, abs=2e-4
    )


def test_a_blend_without_a_pseudo_pure_equation():
    """R-454B lies between its parts, as computed by flashes of R-32 and from the same states (own bound)."""
    p1, p2 = 900e3, 2700e3
    assert dew_temperature("R-454B", p1) < dew_temperature("R-454B", p2)
    found = implied_efficiency("R-454B", p1, [5.0, 5.0], p2, [30.0, 45.0])
    assert 1.0 > found[0] > found[1] > 0.4


def test_what_cannot_be_is_nan():
    p1, p2 = 900e3, 2700e3
    found = implied_efficiency(
        "R-410A",
        [np.nan, p1, p1, p2, p1, 1.0],
        [5, -1, 5, 5, 5, 5],
        [p2, p2, p2, p1, p2, p2],
        [30, 30, -1, 30, np.nan, 30],
    )
    assert np.isnan(found).all()
    with pytest.raises(ValueError, match="unknown refrigerant"):
        implied_efficiency("R-000", p1, 5.0, p2, 30.0)


@pytest.mark.parametrize("ends", [(0.0, 0.5), (0.7, 0.6), (0.5, 1.21)])
def test_a_range_of_efficiency_that_cannot_be(ends):
    with pytest.raises(ValueError, match="not in order"):
        border_for("R-410A", 900e3, 2700e3, *ends)


@pytest.mark.parametrize("refrigerant", FLUID)
def test_a_slow_compressor_that_loses_half_its_heat_has_a_border_too(refrigerant):
    """0.6 / (1 - 0.45) = 1.09, where the shell loses 45 % of little work: common practice, no source."""
    p1, p2 = (dew_pressure(refrigerant, c) for c in (5.0, 45.0))
    least, _ = border_for(refrigerant, p1, p2, 0.6, 1.09)
    fluid = FLUID[refrigerant]
    h1, s1 = (PropsSI(what, "P", p1, "Q", 1, fluid) for what in ("H", "S"))
    h2 = h1 + (PropsSI("H", "P", p2, "S", s1, fluid) - h1) / 1.09
    expected = max(PropsSI("T", "P", p2, "H", h2, fluid) - 318.15, 0.0)
    assert least == pytest.approx(expected, abs=0.3)


def test_ends_move_outward():
    inner = border_for("R-410A", 900e3, 2700e3, 0.6499, 0.6501)
    assert inner == border_for("R-410A", 900e3, 2700e3, 0.645, 0.655)

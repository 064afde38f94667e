"""Lumped efficiency of a compression, and the border that a range of it gives.

Against flashes of CoolProp 8.0.0 that the product does not use, and the worked table of discharge superheat
(isentropic efficiency 0.65, no heat loss; computed, a published table of such values was not found).
"""

from collections.abc import Iterator
from functools import partial

import pytest
from CoolProp.CoolProp import PropsSI

from agent.thermo import (
    LUMPED_EFFICIENCIES,
    border_for,
    dew_pressure,
    implied_efficiency,
)
from tests.published.rows import Row, agrees, each_of
from tests.published.test_compression import (
    BY_HAND,
    COOLPROP,
    EQUAL_FUGACITIES,
    FLUIDS,
    by_flashes,
    by_gas_alone,
)

FLUID = FLUIDS | {"R-134a": "R134a", "R-407C": "R407C"}

# Evaporating and condensing degC; discharge superheat [K] by what comes to the compressor.
WORKED = {
    ("R-410A", 5, 35): {10: 33.7, 5: 28.0, 0: 22.2, "0.98": 17.9, "0.95": 12.0, "0.90": 3.2},
    ("R-410A", 5, 45): {10: 40.3, 5: 34.5, 0: 28.5, "0.98": 24.2, "0.95": 18.0, "0.90": 8.9},
    ("R-32", 5, 45): {10: 60.6, 5: 53.9, 0: 47.0, "0.98": 40.5, "0.95": 31.3, "0.90": 17.7},
}


def pressures(refrigerant, suction_c, condensing_c):
    return by_flashes(refrigerant, suction_c, condensing_c, 1.0, 0.0)[:2]


def efficiency(*states: object) -> float:
    return float(implied_efficiency(*states))


def worked_rows() -> Iterator[Row]:
    for (refrigerant, suction_c, condensing_c), superheats in WORKED.items():
        p1, p2 = pressures(refrigerant, suction_c, condensing_c)
        for dry_k in (10, 5, 0):
            places = f"{refrigerant} {suction_c}/{condensing_c} degC"
            what = f"{places}, {dry_k} K at suction, {superheats[dry_k]} K at discharge"
            ours = partial(efficiency, refrigerant, p1, dry_k, p2, superheats[dry_k])
            yield Row(what, 0.65, "", 0.003, BY_HAND, ours)  # superheats are rounded to a tenth


def flashed_rows() -> Iterator[Row]:
    for refrigerant, fluid in FLUID.items():
        p1, p2 = (PropsSI("P", "T", t + 273.15, "Q", 1, fluid) for t in (2.0, 47.0))
        for suction_k, discharge_k in ((1.0, 30.0), (8.0, 45.0), (15.0, 80.0)):
            h1, s1 = (PropsSI(what, "T", 275.15 + suction_k, "P", p1, fluid) for what in ("H", "S"))
            h2 = PropsSI("H", "T", 320.15 + discharge_k, "P", p2, fluid)
            expected = (PropsSI("H", "P", p2, "S", s1, fluid) - h1) / (h2 - h1)
            what = f"{refrigerant} 2/47 degC, {suction_k:g} K at suction, {discharge_k:g} K at discharge"
            ours = partial(efficiency, refrigerant, p1, suction_k, p2, discharge_k)
            yield Row(what, expected, "", 2e-4, COOLPROP, ours)


def blend_rows() -> Iterator[Row]:
    for suction_c, condensing_c in ((5.0, 45.0), (-8.0, 31.1), (13.7, 64.2)):
        p1, p2, discharge_k = by_gas_alone(suction_c, condensing_c, 0.65, 0.0)
        what = (
            f"R-454B {suction_c:g}/{condensing_c:g} degC, saturated suction, {discharge_k:.1f} K at discharge"
        )
        ours = partial(efficiency, "R-454B", p1, 0.0, p2, discharge_k)
        yield Row(what, 0.65, "", 2e-4, EQUAL_FUGACITIES, ours)


def slow_rows() -> Iterator[Row]:
    """0.6 / (1 - 0.45) = 1.09, where the shell loses 45 % of little work: common practice, no source."""
    for refrigerant, fluid in FLUID.items():
        p1, p2 = (dew_pressure(refrigerant, c) for c in (5.0, 45.0))
        h1, s1 = (PropsSI(what, "P", p1, "Q", 1, fluid) for what in ("H", "S"))
        h2 = h1 + (PropsSI("H", "P", p2, "S", s1, fluid) - h1) / 1.09
        expected = max(PropsSI("T", "P", p2, "H", h2, fluid) - 318.15, 0.0)
        what = f"{refrigerant} 5/45 degC, least discharge superheat [K] at a lumped efficiency up to 1.09"
        ours = partial(least_border, refrigerant, p1, p2)
        yield Row(what, expected, "K", 0.3, COOLPROP, ours)


def least_border(refrigerant: str, p1: float, p2: float) -> float:
    return border_for(refrigerant, p1, p2, 0.6, 1.09)[0]


ROWS = [*worked_rows(), *flashed_rows(), *blend_rows(), *slow_rows()]


@each_of(ROWS)
def test_published(row):
    assert agrees(row)


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

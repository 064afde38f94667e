"""Discharge superheat of saturated suction, against flashes of CoolProp and an energy balance done by hand.

CoolProp 8.0.0 computes enthalpy and entropy here by flashes that the product does not use: this checks the
tables and the balance, not the equations of state.
"""

from functools import partial
from itertools import product

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from agent.thermo import border_band, saturated_discharge_superheat
from tests.published.rows import Row, agrees, each_of

FLUIDS = {"R-410A": "R410A", "R-32": "R32"}


def by_flashes(refrigerant, suction_c, condensing_c, efficiency, heat_loss):
    fluid = FLUIDS[refrigerant]
    p1 = PropsSI("P", "T", suction_c + 273.15, "Q", 1, fluid)
    p2 = PropsSI("P", "T", condensing_c + 273.15, "Q", 1, fluid)
    h1, s1 = (PropsSI(what, "T", suction_c + 273.15, "Q", 1, fluid) for what in ("H", "S"))
    h2 = h1 + (PropsSI("H", "P", p2, "S", s1, fluid) - h1) / efficiency * (1 - heat_loss)
    return p1, p2, PropsSI("T", "P", p2, "H", h2, fluid) - (condensing_c + 273.15)


COOLPROP = "CoolProp 8.0.0, by flashes"
BY_HAND = "energy balance by hand, CoolProp 8.0.0; a published table of such values was not found"
SUCTION_C, CONDENSING_C = (-21.3, -8.0, 5.0, 13.7), (31.1, 45.0, 56.6)
EFFICIENCY_AND_LOSS = ((0.65, 0.0), (0.5, 0.0), (0.8, 0.15))
WORKED_K = {  # evaporating at 5 degC, no heat loss; by condensing degC and efficiency
    ("R-410A", 35.0, 0.65): 22.2,
    ("R-410A", 45.0, 0.65): 28.5,
    ("R-32", 45.0, 0.65): 47.0,
    ("R-32", 45.0, 0.80): 37.4,
    ("R-32", 45.0, 0.50): 63.0,
}


def row(
    case: tuple[str, float, float, float, float], value: float | None, tolerance: float, source: str
) -> Row:
    """Discharge superheat of a case; without a value of its own, that by flashes."""
    refrigerant, suction_c, condensing_c, efficiency, heat_loss = case
    suction_pa, discharge_pa, flashed = by_flashes(*case)
    ours = partial(
        saturated_discharge_superheat,
        refrigerant,
        suction_pa,
        discharge_pa,
        efficiency=efficiency,
        heat_loss=heat_loss,
    )
    what = f"{refrigerant} {suction_c:g}/{condensing_c:g} degC, efficiency {efficiency}, loss {heat_loss}"
    return Row(what, flashed if value is None else value, "K", tolerance, source, ours)


ROWS = [
    *(
        row((refrigerant, 5.0, condensing_c, efficiency, 0.0), superheat_k, 0.1, BY_HAND)
        for (refrigerant, condensing_c, efficiency), superheat_k in WORKED_K.items()
    ),
    *(
        row((*places, *rest), None, 0.2, COOLPROP)  # ours is bilinear between nodes 2.5 K apart
        for *places, rest in product(FLUIDS, SUCTION_C, CONDENSING_C, EFFICIENCY_AND_LOSS)
    ),
]


@each_of(ROWS)
def test_published(row):
    assert agrees(row)


@pytest.mark.parametrize("refrigerant", FLUIDS)
def test_the_band_holds_every_efficiency_and_loss_within(refrigerant):
    p1, p2, _ = by_flashes(refrigerant, 4.0, 41.0, 0.65, 0.0)
    lowest, highest = border_band(refrigerant, p1, p2)
    for efficiency in np.linspace(0.5, 0.8, 4):
        for heat_loss in (0.0, 0.07, 0.15):
            found = saturated_discharge_superheat(
                refrigerant, p1, p2, efficiency=efficiency, heat_loss=heat_loss
            )
            assert lowest <= found <= highest


def test_no_fixed_limit_serves_every_refrigerant_and_pressure_ratio():
    """Wet suction can leave more discharge superheat on one module than dry suction does on another."""
    low = saturated_discharge_superheat(
        "R-410A", *by_flashes("R-410A", 8, 30, 1, 0)[:2], efficiency=0.65, heat_loss=0.0
    )
    high = saturated_discharge_superheat(
        "R-32", *by_flashes("R-32", -10, 50, 1, 0)[:2], efficiency=0.65, heat_loss=0.0
    )
    assert high > 4 * low


class TestRefused:
    def test_outside_the_table_and_missing_are_nan(self):
        p = np.array([800e3, np.nan, 800e3, 10.0])
        q = np.array([np.nan, 2500e3, 700e3, 2500e3])
        assert np.isnan(saturated_discharge_superheat("R-410A", p, q, efficiency=0.65, heat_loss=0.0)).all()

    def test_an_unknown_refrigerant(self):
        with pytest.raises(ValueError, match="unknown refrigerant"):
            border_band("R-000", 800e3, 2500e3)

"""Discharge superheat of saturated suction, against flashes of CoolProp and an energy balance done by hand.

CoolProp 8.0.0 computes enthalpy and entropy here by flashes that the product does not use: this checks the
tables and the balance, not the equations of state.
"""

from functools import partial
from itertools import product

import numpy as np
import pytest
from CoolProp import PT_INPUTS, iphase_gas
from CoolProp.CoolProp import AbstractState, PropsSI
from scipy.optimize import brentq

from agent.thermo import LUMPED_EFFICIENCIES, border_for, saturated_discharge_superheat
from tests.published.rows import Row, agrees, each_of
from tests.thermo.equal_fugacity import R32_SHARE, saturation_pressures

FLUIDS = {"R-410A": "R410A", "R-32": "R32"}


def by_flashes(refrigerant, suction_c, condensing_c, efficiency, heat_loss):
    fluid = FLUIDS[refrigerant]
    p1 = PropsSI("P", "T", suction_c + 273.15, "Q", 1, fluid)
    p2 = PropsSI("P", "T", condensing_c + 273.15, "Q", 1, fluid)
    h1, s1 = (PropsSI(what, "T", suction_c + 273.15, "Q", 1, fluid) for what in ("H", "S"))
    h2 = h1 + (PropsSI("H", "P", p2, "S", s1, fluid) - h1) / efficiency * (1 - heat_loss)
    return p1, p2, PropsSI("T", "P", p2, "H", h2, fluid) - (condensing_c + 273.15)


def by_gas_alone(suction_c, condensing_c, efficiency, heat_loss):
    """R-454B, which CoolProp has no flash from entropy for: the isentrope is searched along the gas."""
    state = AbstractState("HEOS", "R32&R1234yf")
    state.set_mole_fractions([R32_SHARE, 1 - R32_SHARE])
    state.specify_phase(iphase_gas)
    p1, p2 = saturation_pressures(1, [suction_c, condensing_c]).tolist()
    condensing_k = condensing_c + 273.15

    def at(what, pressure_pa, temperature_k):
        state.update(PT_INPUTS, pressure_pa, temperature_k)
        return getattr(state, what)()

    def where(what, value):
        return brentq(lambda t: at(what, p2, t) - value, condensing_k, condensing_k + 200)

    h1, s1 = (at(what, p1, suction_c + 273.15) for what in ("hmass", "smass"))
    h2 = h1 + (at("hmass", p2, where("smass", s1)) - h1) / efficiency * (1 - heat_loss)
    return p1, p2, where("hmass", h2) - condensing_k


COOLPROP = "CoolProp 8.0.0, by flashes"
BY_HAND = "energy balance by hand, CoolProp 8.0.0; a published table of such values was not found"
EQUAL_FUGACITIES = "CoolProp 8.0.0, equal fugacities and the gas alone"
SUCTION_C, CONDENSING_C = (-21.3, -8.0, 5.0, 13.7), (31.1, 45.0, 56.6, 64.2)
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
    is_blend = refrigerant == "R-454B"
    suction_pa, discharge_pa, flashed = by_gas_alone(*case[1:]) if is_blend else by_flashes(*case)
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
    *(
        row(("R-454B", *places, *rest), None, 0.2, EQUAL_FUGACITIES)
        for *places, rest in product((-21.3, 13.7), (31.1, 45.0, 64.2), EFFICIENCY_AND_LOSS)
    ),
]


@each_of(ROWS)
def test_published(row):
    assert agrees(row)


@pytest.mark.parametrize("refrigerant", FLUIDS)
def test_the_band_holds_every_efficiency_and_loss_within(refrigerant):
    p1, p2, _ = by_flashes(refrigerant, 4.0, 41.0, 0.65, 0.0)
    lowest, highest = border_for(refrigerant, p1, p2, *LUMPED_EFFICIENCIES)
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

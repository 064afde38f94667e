"""What a dry discharge tells of its compressor: the lumped isentropic efficiency.

Lumped: the heat that the shell loses is counted in, so that it may exceed that of the compression alone. For
a few hundred points of a module's own history, not for every reading.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agent.thermo.saturation import KELVIN_AT_ZERO_CELSIUS, REFRIGERANTS, dew_temperature

_NEWTON_STEPS = 8  # from the discharge temperature it takes about four


def implied_efficiency(
    refrigerant: str,
    suction_pa: ArrayLike,
    suction_superheat_k: ArrayLike,
    discharge_pa: ArrayLike,
    discharge_superheat_k: ArrayLike,
) -> NDArray[np.float64]:
    """Lumped isentropic efficiency of a compression between two states of dry gas.

    Pressures absolute [Pa], superheats above dew [K], scalars or arrays that broadcast to one shape.

        (h(p2, s1) - h1) / (h2 - h1)

    NaN where something is NaN or outside the refrigerant's table, a superheat is below zero, the discharge
    pressure is not above the suction pressure, or the gas gained no heat. Raises ValueError for an unknown
    refrigerant. Source: definition of isentropic efficiency (any textbook of refrigeration); properties as in
    `dew_temperature`, of the gas by pressure and temperature alone, so that no flash can fail.
    """
    columns = [
        np.asarray(each, np.float64)
        for each in (suction_pa, suction_superheat_k, discharge_pa, discharge_superheat_k)
    ]
    p1, sh1, p2, sh2 = np.broadcast_arrays(*columns)
    t1, t2 = dew_temperature(refrigerant, p1) + sh1, dew_temperature(refrigerant, p2) + sh2
    gas = _Gas(REFRIGERANTS[refrigerant].fluid)
    found = np.full(p1.shape, np.nan)
    usable = np.isfinite(t1) & np.isfinite(t2) & (sh1 >= 0) & (sh2 >= 0) & (p2 > p1)
    for index in map(tuple, np.argwhere(usable).tolist()):
        found[index] = gas.efficiency(float(p1[index]), float(t1[index]), float(p2[index]), float(t2[index]))
    return found


class _Gas:
    """Gas of one refrigerant at pressure [Pa] and temperature [degC]."""

    def __init__(self, fluid: str) -> None:
        from CoolProp import PT_INPUTS, iphase_gas
        from CoolProp.CoolProp import AbstractState

        self.state = AbstractState("HEOS", fluid)
        self.state.specify_phase(iphase_gas)
        self.inputs = PT_INPUTS

    def at(self, pressure_pa: float, temperature_c: float) -> None:
        self.state.update(self.inputs, pressure_pa, temperature_c + KELVIN_AT_ZERO_CELSIUS)

    def efficiency(self, p1: float, t1: float, p2: float, t2: float) -> float:
        self.at(p1, t1)
        before, entropy = self.state.hmass(), self.state.smass()
        self.at(p2, t2)
        after = self.state.hmass()
        temperature_c = t2
        for _ in range(_NEWTON_STEPS):
            step = (entropy - self.state.smass()) * self.state.T() / self.state.cpmass()
            temperature_c += step
            self.at(p2, temperature_c)
            if abs(step) < 1e-6:
                break
        return float((self.state.hmass() - before) / (after - before)) if after > before else float("nan")

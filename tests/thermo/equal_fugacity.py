"""Saturation of R-454B by another road than the tables': equal fugacities, solved here.

Of CoolProp it takes pressure and fugacities of one phase at a density, temperature and composition, and none
of its flashes, which for blends fail at some points and mislead at others.
"""

from functools import cache

import numpy as np
from CoolProp import DmolarT_INPUTS, iphase_gas, iphase_liquid
from CoolProp.CoolProp import AbstractState
from scipy.optimize import root

KELVIN = 273.15
# 68.9 % of R-32 (52.024 g/mol) and 31.1 % of R-1234yf (114.0416 g/mol) by mass
R32_SHARE = 0.689 / 52.024 / (0.689 / 52.024 + 0.311 / 114.0416)
COLDEST_C = -70.0
# at the coldest, by quality: ln(mol/m3) of the phase of known composition and of the other, R-32 in the other
FIRST_GUESS = {
    0: (np.log(20e3), np.log(20.0), 0.95),
    1: (np.log(20.0), np.log(19e3), 0.60),
}


def saturation_pressures(quality: int, temperatures_c) -> np.ndarray:
    """Saturation pressure [Pa] at each temperature [degC], on the bubble line (0) or the dew line (1)."""
    return np.array([_solved(quality, float(t), _near(quality, float(t)))[0] for t in temperatures_c])


@cache
def _near(quality: int, temperature_c: float) -> tuple[float, float, float]:
    """Where the search at a temperature starts: the solution of the whole degree below."""
    start_c = min(max(float(np.ceil(temperature_c)) - 1.0, COLDEST_C), temperature_c)
    if start_c == COLDEST_C:
        return FIRST_GUESS[quality]
    return _solved(quality, start_c, _near(quality, start_c))[1]


def _solved(quality: int, temperature_c: float, start) -> tuple[float, tuple[float, float, float]]:
    known, other = _phases()[:: 1 if quality == 0 else -1]
    temperature_k = temperature_c + KELVIN

    def apart(unknown):
        known_pa, known_fugacities = _at(known, R32_SHARE, temperature_k, np.exp(unknown[0]))
        other_pa, other_fugacities = _at(other, unknown[2], temperature_k, np.exp(unknown[1]))
        return [*np.log(known_fugacities / other_fugacities), (known_pa - other_pa) / 1e6]

    found = root(apart, start, tol=1e-13)
    assert np.abs(found.fun).max() < 1e-10, (quality, temperature_c, found)
    assert abs(found.x[2] - R32_SHARE) > 1e-3, "both phases are one: no saturation"
    return _at(known, R32_SHARE, temperature_k, np.exp(found.x[0]))[0], tuple(found.x)


@cache
def _phases():
    """A liquid and a gas that stay what they are, however dense."""
    phases = []
    for phase in (iphase_liquid, iphase_gas):
        state = AbstractState("HEOS", "R32&R1234yf")
        state.specify_phase(phase)
        phases.append(state)
    return phases


def _at(state, r32_share: float, temperature_k: float, density: float) -> tuple[float, np.ndarray]:
    state.set_mole_fractions([r32_share, 1 - r32_share])
    state.update(DmolarT_INPUTS, density, temperature_k)
    return state.p(), np.array([state.fugacity(0), state.fugacity(1)])

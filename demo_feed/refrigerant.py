"""Properties of a refrigerant as small tables, built once from CoolProp.

Vapour states are named by saturation temperature (degC) and superheat (K), which is how the cycle
speaks of them. It must not know of modules, probes or time.
"""

from bisect import bisect_right
from collections.abc import Sequence
from functools import cache
from math import exp, log

import numpy as np
from CoolProp.CoolProp import PT_INPUTS, QT_INPUTS, AbstractState, iphase_gas
from numpy.typing import NDArray

SATURATION_C = np.arange(-40.0, 60.5, 1.0)
SUPERHEAT_K = np.concatenate(
    [np.arange(0.0, 10.0, 1.0), np.arange(10.0, 30.0, 2.0), np.arange(30.0, 131.0, 5.0)]
)
ZERO_CELSIUS_K = 273.15
SATURATIONS: list[float] = SATURATION_C.tolist()
SUPERHEATS: list[float] = SUPERHEAT_K.tolist()

Row = NDArray[np.float64]


class Refrigerant:
    """Saturation and superheated vapour of one refrigerant.

    Temperatures degC, superheat K, pressures Pa absolute, enthalpy J/kg, entropy J/(kg K), density kg/m3.
    Saturation is the dew line unless a name says bubble. Outside -40..60 degC and 0..130 K of superheat
    the ends of the tables hold. Between nodes 1 K apart the error is below 5 mK.
    """

    def __init__(self, coolprop_name: str) -> None:
        state = AbstractState("HEOS", coolprop_name)
        shape = (SATURATION_C.size, SUPERHEAT_K.size)
        self._raw = np.empty((3, *shape))
        dew_pa, bubble_pa, liquid, dense = (np.empty(SATURATION_C.size) for _ in range(4))
        for i, saturation_c in enumerate(SATURATION_C):
            kelvin = float(saturation_c) + ZERO_CELSIUS_K
            state.update(QT_INPUTS, 0.0, kelvin)
            bubble_pa[i], liquid[i], dense[i] = state.p(), state.hmass(), state.rhomass()
            state.update(QT_INPUTS, 1.0, kelvin)
            dew_pa[i] = state.p()
            self._store(i, 0, state)
            state.specify_phase(iphase_gas)
            for j, superheat_k in enumerate(SUPERHEAT_K[1:], start=1):
                state.update(PT_INPUTS, float(dew_pa[i]), kelvin + float(superheat_k))
                self._store(i, j, state)
            state.unspecify_phase()
        self._ln_dew, self._ln_bubble = np.log(dew_pa).tolist(), np.log(bubble_pa).tolist()
        self._liquid, self._liquid_density = liquid.tolist(), dense.tolist()
        self._enthalpy, self._entropy, self._density = (_Table(rows) for rows in self._raw)

    def _store(self, i: int, j: int, state: AbstractState) -> None:
        self._raw[:, i, j] = state.hmass(), state.smass(), state.rhomass()

    def dew_pressure(self, saturation_c: float) -> float:
        return exp(_between(saturation_c, SATURATIONS, self._ln_dew))

    def dew_temperature(self, pressure_pa: float) -> float:
        return _between(log(pressure_pa), self._ln_dew, SATURATIONS)

    def bubble_temperature(self, pressure_pa: float) -> float:
        return _between(log(pressure_pa), self._ln_bubble, SATURATIONS)

    def vapour_enthalpy(self, saturation_c: float, superheat_k: float) -> float:
        return _between(superheat_k, SUPERHEATS, self._enthalpy.row(saturation_c))

    def vapour_density(self, saturation_c: float, superheat_k: float) -> float:
        return _between(superheat_k, SUPERHEATS, self._density.row(saturation_c))

    def liquid_enthalpy(self, saturation_c: float) -> float:
        return _between(saturation_c, SATURATIONS, self._liquid)

    def liquid_density(self, saturation_c: float) -> float:
        return _between(saturation_c, SATURATIONS, self._liquid_density)

    def superheat_of(self, saturation_c: float, enthalpy: float) -> float:
        """Superheat in K of vapour with this enthalpy; 0 where it is wet."""
        return _between(enthalpy, self._enthalpy.row(saturation_c), SUPERHEATS)

    def isentropic_enthalpy(self, suction_c: float, enthalpy: float, condensing_c: float) -> float:
        """Enthalpy after compression without loss from a suction state, dry or wet, given by its enthalpy."""
        suction_row = self._enthalpy.row(suction_c)
        entropy = _between(enthalpy, suction_row, self._entropy.row(suction_c))
        shortfall = suction_row[0] - enthalpy
        if shortfall > 0:
            entropy -= shortfall / (suction_c + ZERO_CELSIUS_K)
        discharge_entropy, discharge_enthalpy = (
            table.row(condensing_c) for table in (self._entropy, self._enthalpy)
        )
        wetness = discharge_entropy[0] - entropy
        if wetness > 0:
            return discharge_enthalpy[0] - wetness * (condensing_c + ZERO_CELSIUS_K)
        return _between(entropy, discharge_entropy, discharge_enthalpy)


class _Table:
    """Rows by saturation temperature; the last ones are kept, since a cycle asks for the same again."""

    def __init__(self, rows: Row) -> None:
        self._rows = rows
        self._kept: dict[float, list[float]] = {}

    def row(self, saturation_c: float) -> list[float]:
        kept = self._kept.get(saturation_c)
        if kept is None:
            if len(self._kept) > 32:
                self._kept.clear()
            kept = self._kept[saturation_c] = _row(self._rows, saturation_c).tolist()
        return kept


def _between(at: float, places: Sequence[float], values: Sequence[float]) -> float:
    """Linear between ascending places; beyond them the ends hold."""
    i = bisect_right(places, at)
    if i == 0:
        return values[0]
    if i == len(places):
        return values[-1]
    before, low = places[i - 1], values[i - 1]
    return low + (values[i] - low) / (places[i] - before) * (at - before)


def _row(table: Row, saturation_c: float) -> Row:
    place = min(max(saturation_c - float(SATURATION_C[0]), 0.0), SATURATION_C.size - 1.001)
    node = int(place)
    share = place - node
    row: Row = table[node] * (1.0 - share) + table[node + 1] * share
    return row


@cache
def refrigerant(name: str) -> Refrigerant:
    """The tables of a refrigerant by its CoolProp name (`R410A`, `R32`); built once a process."""
    return Refrigerant(name)

"""What compression makes of saturated suction vapour: the discharge superheat that divides dry from wet.

It takes an isentropic efficiency and a share of the work lost as heat, which nobody knows of a compressor at
hand: whoever judges takes a band of them. It holds for one stage without injection. Must not know probes,
layouts or modes.
"""

from collections.abc import Callable
from functools import cache, partial
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from agent.thermo.saturation import KELVIN_AT_ZERO_CELSIUS, Number, dew_pressure, dew_temperature, known

EFFICIENCIES = (0.5, 0.8)  # isentropic, over what such compressors do; common practice, no source
HEAT_LOSSES = (0.0, 0.15)  # of the work, from the shell; common practice, no source
# Isentropic efficiency with the heat lost counted in: what discharge temperature alone tells of a compressor.
LUMPED_EFFICIENCIES = (EFFICIENCIES[0], EFFICIENCIES[1] / (1 - HEAT_LOSSES[1]))
# At low speed and at high pressure ratio leakage costs more. The heat lost hangs on temperatures alone: at
# low speed it is nearly half of the work, and the lumped efficiency passes one. Common practice, no source.
LUMPED_EFFICIENCIES_HARD = (0.4, 1.2)
LUMPED_EFFICIENCIES_SLOW = (0.3, LUMPED_EFFICIENCIES_HARD[1])

_EFFICIENCY_STEP = 0.005
_STEP_K = 2.5  # between nodes; interpolating leaves less than 0.2 K in a band that is 20 K wide
_SUCTION_C = (-40.0, 25.0)
_CONDENSING_C = (0.0, 65.0)
_GAS_TO_K = 250.0  # above dew, as far as the gas is tabulated


class _Vapour(NamedTuple):
    """Saturated vapour, and gas along lines of condensing pressure, as far as compression needs them."""

    suction_c: NDArray[np.float64]
    enthalpy: NDArray[np.float64]  # J/kg, saturated, by suction
    entropy: NDArray[np.float64]  # J/(kg K)
    condensing_c: NDArray[np.float64]
    above_dew_k: NDArray[np.float64]
    gas_enthalpy: NDArray[np.float64]  # by condensing, above dew
    gas_entropy: NDArray[np.float64]


def saturated_discharge_superheat(
    refrigerant: str,
    suction_pa: Number,
    discharge_pa: Number,
    *,
    efficiency: float,
    heat_loss: float,
) -> Number:
    """Discharge superheat [K] of saturated vapour that is compressed from one pressure to another.

    suction_pa, discharge_pa: absolute [Pa], scalars or arrays of one shape. efficiency: isentropic, 0..1, or
    lumped. heat_loss: share of the work that leaves as heat, 0..1.

        h2 = h1 + (h(p2, s1) - h1) / efficiency * (1 - heat_loss);  T(p2, h2) - T_dew(p2)

    0 where the gas would come out wet: it is then as hot as its dew temperature.
    NaN where a pressure is NaN, the dew temperatures lie outside -40..25 and 0..65 degC, or the discharge
    pressure is not above the suction pressure. Raises ValueError for an unknown refrigerant.
    Source: first law and the definition of isentropic efficiency (any textbook of refrigeration); properties
    as in `dew_temperature`.
    """
    table = _border(refrigerant, efficiency, heat_loss)
    vapour = _vapour(refrigerant)
    suction_c = np.asarray(dew_temperature(refrigerant, suction_pa))
    condensing_c = np.asarray(dew_temperature(refrigerant, discharge_pa))
    found = _bilinear(table, vapour.suction_c, vapour.condensing_c, suction_c, condensing_c)
    found = np.where(condensing_c > suction_c, found, np.nan)
    return found if np.ndim(suction_pa) or np.ndim(discharge_pa) else float(found)  # type: ignore[return-value]


def border_for(
    refrigerant: str, suction_pa: Number, discharge_pa: Number, efficiency_low: float, efficiency_high: float
) -> tuple[Number, Number]:
    """The least and the most discharge superheat [K] that saturated suction can make.

    For a range of lumped efficiency, into which the heat lost is counted, as `implied_efficiency` gives it;
    otherwise as `saturated_discharge_superheat`. Below the least, liquid came in; above the most, none did;
    between them nothing is decided. Ends are moved outward to the next 0.005, so that few tables serve many
    modules. Raises ValueError where the range is not within 0..1.2 or not in order.
    """
    most_lumped = LUMPED_EFFICIENCIES_HARD[1]
    if not 0 < efficiency_low <= efficiency_high <= most_lumped:
        ends = f"{efficiency_low}..{efficiency_high}"
        raise ValueError(f"efficiencies {ends} are not in order within 0..{most_lumped}")
    # rounded first: 0.57 is 113.99999999999999 steps of 0.005
    low = max(np.floor(round(efficiency_low / _EFFICIENCY_STEP, 6)), 1) * _EFFICIENCY_STEP
    high = np.ceil(round(efficiency_high / _EFFICIENCY_STEP, 6)) * _EFFICIENCY_STEP
    least, most = (
        saturated_discharge_superheat(
            refrigerant, suction_pa, discharge_pa, efficiency=round(float(each), 4), heat_loss=0.0
        )
        for each in (high, low)
    )
    return least, most


@cache
def _border(refrigerant: str, efficiency: float, heat_loss: float) -> NDArray[np.float64]:
    """By suction and condensing node."""
    vapour = _vapour(refrigerant)
    found = np.empty((len(vapour.suction_c), len(vapour.condensing_c)))
    for column in range(len(vapour.condensing_c)):
        enthalpy, entropy = vapour.gas_enthalpy[column], vapour.gas_entropy[column]
        # Below saturated entropy the path of lossless compression ends in the two-phase region.
        isentropic = np.interp(vapour.entropy, entropy, enthalpy, left=np.nan, right=np.nan)
        work = (isentropic - vapour.enthalpy) / efficiency
        found[:, column] = np.interp(
            vapour.enthalpy + work * (1 - heat_loss), enthalpy, vapour.above_dew_k, left=0.0, right=np.nan
        )
    return found


@cache
def _vapour(refrigerant: str) -> _Vapour:
    """Saturated vapour too is gas at its dew pressure: a blend's flash for it fails at scattered points."""
    from CoolProp import PT_INPUTS, iphase_gas
    from CoolProp.CoolProp import AbstractState

    state = AbstractState("HEOS", known(refrigerant).fluid)
    state.specify_phase(iphase_gas)  # from temperature and pressure alone, so that no flash is needed

    def gas(pressure_pa: float, temperature_c: float) -> tuple[float, float]:
        state.update(PT_INPUTS, pressure_pa, temperature_c + KELVIN_AT_ZERO_CELSIUS)
        return state.hmass(), state.smass()

    return _tabulate(partial(dew_pressure, refrigerant), gas)


def _tabulate(
    dew_pa: Callable[[float], float], gas: Callable[[float, float], tuple[float, float]]
) -> _Vapour:
    """``gas``: enthalpy [J/kg] and entropy [J/(kg K)] by pressure [Pa] and temperature [degC].

    Raises RuntimeError where one of them does not rise with temperature: a gap would shift what is found.
    """
    suction, condensing, above = _nodes(*_SUCTION_C), _nodes(*_CONDENSING_C), _nodes(0.0, _GAS_TO_K)
    low = np.array([gas(dew_pa(t), t) for t in suction.tolist()])
    high = np.array([[gas(dew_pa(t), t + k) for k in above.tolist()] for t in condensing.tolist()])
    if not (np.isfinite(low).all() and (np.diff(high, axis=1) > 0).all()):
        raise RuntimeError("gas table: enthalpy and entropy must be finite and rise with temperature")
    return _Vapour(suction, low[:, 0], low[:, 1], condensing, above, high[..., 0], high[..., 1])


def _nodes(lowest: float, highest: float) -> NDArray[np.float64]:
    return np.linspace(lowest, highest, round((highest - lowest) / _STEP_K) + 1)


def _bilinear(
    table: NDArray[np.float64],
    rows: NDArray[np.float64],
    columns: NDArray[np.float64],
    row_at: ArrayLike,
    column_at: ArrayLike,
) -> NDArray[np.float64]:
    """A table on even nodes at points between them; NaN outside."""
    r, inside_r = _position(rows, np.asarray(row_at, dtype=np.float64))
    c, inside_c = _position(columns, np.asarray(column_at, dtype=np.float64))
    i, j = r.astype(int).clip(0, len(rows) - 2), c.astype(int).clip(0, len(columns) - 2)
    u, v = r - i, c - j
    found = (1 - u) * ((1 - v) * table[i, j] + v * table[i, j + 1])
    found = found + u * ((1 - v) * table[i + 1, j] + v * table[i + 1, j + 1])
    return np.where(inside_r & inside_c, found, np.nan)


def _position(
    nodes: NDArray[np.float64], at: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    inside = (at >= nodes[0]) & (at <= nodes[-1])
    return np.where(inside, (at - nodes[0]) / (nodes[1] - nodes[0]), 0.0), inside

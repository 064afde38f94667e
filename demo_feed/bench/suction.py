"""What becomes of the returning vapour on its way to the compressors: mixed by enthalpy, joint after joint.

It must not know of time, modes or instruments.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from demo_feed.bench.arrangements import ACCUMULATOR, BLEED, HOT_GAS, OIL_RETURN
from demo_feed.cycle import DROPS_LEFT, OIL_HEAT_CAPACITY
from demo_feed.refrigerant import Refrigerant

HOLDS_KG = 4.0  # of liquid in the accumulator before it carries over; all shares here are design choices
KEPT_SHARE = 0.85  # of returning liquid, while there is room
BOILING_SHARE = 0.15  # of the superheat that goes into boiling off what lies there


@dataclass
class Accumulator:
    """Liquid that lies in it [kg]."""

    liquid_kg: float = 0.0


@dataclass(frozen=True)
class Joining:
    """What joins the line. Flows in kg/s; enthalpy in J/kg."""

    flow: float  # of the compressors together
    oil_flow: float
    oil_c: float
    hot_gas_share: float  # of the whole flow
    hot_gas_enthalpy: float
    bleed_share: float  # of the whole flow, liquid from the accumulator's bottom


@dataclass
class Stream:
    """On its way: enthalpy of all refrigerant, and the share of it that is still drops."""

    flow: float
    enthalpy: float
    drops: float
    places: dict[str, float] = field(default_factory=dict)  # degC by probe


def follow(
    gas: Refrigerant,
    suction_c: float,
    stream: Stream,
    line: Sequence[str],
    joining: Joining,
    accumulator: Accumulator,
    loss_k: float,
    step_s: float,
) -> Stream:
    """Along the line; ``loss_k`` is what saturation lies higher by ahead of the accumulator."""
    saturated, liquid = gas.vapour_enthalpy(suction_c, 0.0), gas.liquid_enthalpy(suction_c)
    ahead_k = loss_k
    for word in line:
        if word == ACCUMULATOR:
            ahead_k = 0.0
            _settle(stream, accumulator, saturated, liquid, step_s)
        elif word == OIL_RETURN:
            gas_c = _gas_c(gas, suction_c, stream, liquid)
            heat = joining.oil_flow * OIL_HEAT_CAPACITY * (joining.oil_c - gas_c)
            stream.enthalpy += heat / stream.flow
            stream.drops *= DROPS_LEFT if heat else 1.0
        elif word == HOT_GAS:
            _mix(stream, joining.hot_gas_share * joining.flow, joining.hot_gas_enthalpy)
        elif word == BLEED:
            _mix(stream, joining.bleed_share * joining.flow, liquid)
        else:
            stream.places[word] = _gas_c(gas, suction_c, stream, liquid) + ahead_k
    return stream


def _settle(stream: Stream, accumulator: Accumulator, saturated: float, liquid: float, step_s: float) -> None:
    """Liquid stays in the accumulator while there is room, and boils off in dry vapour."""
    if stream.drops > 0:
        room = accumulator.liquid_kg < HOLDS_KG
        kept = KEPT_SHARE * stream.drops if room else 0.0
        accumulator.liquid_kg += kept * stream.flow * step_s
        stream.enthalpy = (stream.enthalpy - kept * liquid) / (1.0 - kept)
        stream.drops = (stream.drops - kept) / (1.0 - kept)
    elif accumulator.liquid_kg > 0 and stream.enthalpy > saturated:
        boiling = BOILING_SHARE * (stream.enthalpy - saturated)
        stream.enthalpy -= boiling
        accumulator.liquid_kg -= boiling / (saturated - liquid) * stream.flow * step_s


def _mix(stream: Stream, flow: float, enthalpy: float) -> None:
    whole = stream.flow + flow
    stream.enthalpy = (stream.flow * stream.enthalpy + flow * enthalpy) / whole
    stream.drops *= stream.flow / whole * (DROPS_LEFT if flow else 1.0)
    stream.flow = whole


def _gas_c(gas: Refrigerant, suction_c: float, stream: Stream, liquid: float) -> float:
    """Drops need time to evaporate: the gas around them may be warm already."""
    around = (stream.enthalpy - stream.drops * liquid) / (1.0 - stream.drops)
    return suction_c + gas.superheat_of(suction_c, around)

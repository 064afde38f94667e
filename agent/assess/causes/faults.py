"""What each fault is expected to do to the signs: the table that likely causes are read from, and its limits.

Sources. ROSSI: Rossi and Braun, HVAC&R Research 3(1), 1997, as printed by Li and Braun, Table 1-1: cooling,
a fixed restrictor, one speed; its T evap, superheat, T cond, subcooling and T discharge. TRADE: common
practice, no source, from memory. CYCLE: our own reading of the cycle's balance, design choice, no source.
Weights are design choices throughout: 1 where a sign is taken as printed, less where it may well not show.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from agent.assess.assessment import (
    CURRENT,
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    SUBCOOLING,
)
from agent.assess.causes.signs import OPENING, RUNNING_SHARE
from agent.piping import RETURN, RISE

LIMITS = (
    "Hints, no diagnosis, and no ground to change the charge. The signs of short of charge, a restricted "
    "liquid line, fouled coils and leaking compressor valves are those of Rossi and Braun (1997), as printed "
    "by Li and Braun: cooling, a fixed restrictor, one speed. Those of overcharge and of foreign gas are "
    "from the trade and from memory; those of a valve stuck open, of hot gas, of valve opening, current, "
    "pressure ratio and rise are our own reading of the cycle, without a source. Electronic valves hold the "
    "superheat and a variable speed holds the pressures: signs weaken or vanish, come late, and a machine "
    "that is controlled by a wrong sensor moves instead of the figure. Two faults at once may cancel. All is "
    "measured against the module's own first hours: a fault that was present then is not seen."
)
HEATING_LIMITS = (
    "For heating no table was at hand: the same signs are read for it, and count for less; frost on the "
    "outdoor coil looks like dirt on it."
)
HEATING_WEIGHT = 0.75  # of a score; design choice, no source

RISES, FALLS, EITHER = 1, -1, 0


class Expected(NamedTuple):
    """How a sign is expected to go. ``telling``: that it stays as it was speaks against the fault."""

    direction: int
    weight: float = 1.0  # 0: it may go either way, and says nothing
    telling: bool = False


class Fault(NamedTuple):
    name: str
    title: str
    expects: Mapping[str, Expected]  # by kind of sign
    looks: tuple[str, ...]  # look and read, nothing else


UP, DOWN = Expected(RISES), Expected(FALLS)
SURE_UP, SURE_DOWN = Expected(RISES, telling=True), Expected(FALLS, telling=True)
LIGHT_UP, LIGHT_DOWN = Expected(RISES, 0.5), Expected(FALLS, 0.5)
SILENT = Expected(EITHER, 0.0)

_READ_BOTH = (
    "Compare both transducers with the equipment's own service display first; gauges open the circuit and "
    "are for certified people alone, after the equipment's instructions."
)
HOT = "hot; fit the clamp only with the unit isolated"
_LIQUID = "Clamp the liquid line at the outlet of the coil that condenses and read subcooling by hand."
_SUCTION = "Clamp the suction pipe where the fit probe sits and read superheat by hand."

SHORT_OF_CHARGE = Fault(
    "short_of_charge",
    "short of charge",
    {
        # ROSSI; an electronic valve opens and holds superheat for a long while, so that its absence is mute
        SATURATED_SUCTION: DOWN,
        RETURN: UP,
        SATURATED_CONDENSING: DOWN,
        SUBCOOLING: SURE_DOWN,
        DISCHARGE_TEMPERATURE: UP,
        OPENING: SURE_UP,  # CYCLE: less liquid ahead of the valve, so it opens to pass the same flow
        DISCHARGE_SUPERHEAT: LIGHT_UP,  # CYCLE: hotter gas at a lower condensing temperature
        DISCHARGE_MARGIN: LIGHT_UP,
        RUNNING_SHARE: LIGHT_UP,  # CYCLE: less capacity for the same load
        PRESSURE_RATIO: SILENT,  # both pressures fall
    },
    (
        _LIQUID,
        "Look whether a sight glass, where there is one, shows bubbles; read the valves' openings.",
        "Look for oil stains at joints, valves and coils, and search for a leak with a detector rated "
        "for this refrigerant.",
    ),
)
LIQUID_LINE = Fault(
    "liquid_line_restricted",
    "liquid line restricted",
    {
        SATURATED_SUCTION: DOWN,  # ROSSI
        RETURN: UP,
        SATURATED_CONDENSING: DOWN,
        SUBCOOLING: SURE_UP,
        DISCHARGE_TEMPERATURE: UP,
        OPENING: SURE_UP,  # CYCLE: the valve opens against the lower pressure ahead of it
        DISCHARGE_SUPERHEAT: LIGHT_UP,
        DISCHARGE_MARGIN: LIGHT_UP,
        RUNNING_SHARE: LIGHT_UP,
        PRESSURE_RATIO: SILENT,
    },
    (
        "Clamp the liquid line ahead of and after each filter and stop valve, and compare: a drop in "
        "temperature shows where it is narrow.",
        "Look for frost or sweat on a filter or a stretch of liquid line; see that stop valves stand open.",
        _LIQUID,
    ),
)
STUCK_OPEN = Fault(
    "expansion_valve_stuck_open",
    "expansion valve stuck open",
    {
        SATURATED_SUCTION: UP,  # CYCLE, all of it: more flow than the evaporator boils off
        RETURN: SURE_DOWN,
        SATURATED_CONDENSING: SILENT,
        SUBCOOLING: LIGHT_DOWN,
        DISCHARGE_TEMPERATURE: SURE_DOWN,
        DISCHARGE_SUPERHEAT: Expected(FALLS, 0.5, telling=True),
        DISCHARGE_MARGIN: LIGHT_DOWN,
        PRESSURE_RATIO: LIGHT_DOWN,
        OPENING: DOWN,  # what it is told, not what it does: control closes it while superheat stays low
        RISE: SILENT,  # liquid that evaporates swallows it
        CURRENT: SILENT,
    },
    (
        "Compare the opening that each valve is told with the superheat behind it; look for the one that is "
        "told to shut while its pipe stays cold.",
        "Listen at the valves that should be shut: flow can be heard.",
        _SUCTION,
    ),
)
CONDENSER = Fault(
    "condenser_fouled",
    "condenser fouled",
    {
        SATURATED_SUCTION: LIGHT_UP,  # ROSSI; held by speed and valves here
        RETURN: LIGHT_DOWN,
        SATURATED_CONDENSING: SURE_UP,
        SUBCOOLING: DOWN,
        DISCHARGE_TEMPERATURE: SURE_UP,
        PRESSURE_RATIO: UP,  # CYCLE: the condensing pressure rises, the other hardly
        OPENING: LIGHT_DOWN,  # CYCLE: more pressure ahead of the valve
        DISCHARGE_SUPERHEAT: SILENT,
        DISCHARGE_MARGIN: SILENT,
        RUNNING_SHARE: LIGHT_UP,
    },
    (
        "Look at the coil that condenses from both sides: dirt, leaves, bent fins, anything ahead of it.",
        "Look whether its fans run at the speed they are told, and whether their own warm air comes back in.",
        "Read the air's temperature ahead of and after the coil, and compare.",
    ),
)
EVAPORATOR = Fault(
    "evaporator_fouled",
    "evaporator fouled",
    {
        SATURATED_SUCTION: SURE_DOWN,  # ROSSI
        RETURN: LIGHT_DOWN,
        SATURATED_CONDENSING: DOWN,
        SUBCOOLING: DOWN,
        # ROSSI: falls; where superheat is held, 5/45 to 0/44 lifts 79.5 to 82.5 (R-410A)
        DISCHARGE_TEMPERATURE: SILENT,
        OPENING: DOWN,  # CYCLE: less boils off, so the valve closes
        PRESSURE_RATIO: LIGHT_UP,  # CYCLE: suction falls by more than the condensing side does
        DISCHARGE_SUPERHEAT: SILENT,
        DISCHARGE_MARGIN: SILENT,
        RUNNING_SHARE: LIGHT_UP,
    },
    (
        "Look at filters and coil where it evaporates: dirt, ice, closed louvres, anything ahead of it.",
        "Look whether its fans run at the speed they are told.",
        "Read the air's temperature ahead of and after the coil, and compare.",
    ),
)
COMPRESSOR = Fault(
    "compressor_valves_leaking",
    "compressor {}: valves leaking",
    {
        SATURATED_SUCTION: SURE_UP,  # ROSSI
        RETURN: DOWN,
        SATURATED_CONDENSING: DOWN,
        SUBCOOLING: DOWN,
        # ROSSI: falls, by pressures and superheat; what leaks back is hot and lifts it
        DISCHARGE_TEMPERATURE: SILENT,
        CURRENT: DOWN,  # CYCLE: less gas compressed at the same ratio
        PRESSURE_RATIO: Expected(FALLS, telling=True),  # CYCLE: follows from both saturations
        OPENING: SILENT,
        DISCHARGE_SUPERHEAT: SILENT,
        DISCHARGE_MARGIN: SURE_UP,  # CYCLE: 0.65 to 0.5 at 5/45 lifts 28.5 to 39.3 K, R-410A
        RUNNING_SHARE: LIGHT_UP,
    },
    (
        "Compare its current, speed and discharge temperature with those of a like compressor beside it.",
        "Where it stops by itself and stands alone, read how fast both pressures meet just after.",
        _READ_BOTH,
    ),
)
NON_CONDENSABLES = Fault(
    "non_condensable_gas",
    "non-condensable gas",
    {
        SATURATED_CONDENSING: SURE_UP,  # TRADE
        SUBCOOLING: SURE_UP,  # TRADE; falsely, by the gas's own pressure
        DISCHARGE_TEMPERATURE: SURE_UP,  # CYCLE: a higher ratio
        PRESSURE_RATIO: UP,  # CYCLE
        CURRENT: SILENT,
        DISCHARGE_SUPERHEAT: SILENT,
        DISCHARGE_MARGIN: SILENT,
        RUNNING_SHARE: LIGHT_UP,
    },
    (
        "After a long standstill compare the pressure with saturation at the coil's own temperature: higher "
        "speaks for foreign gas.",
        "See in the records whether the circuit was opened lately.",
        _READ_BOTH,
    ),
)
OVERCHARGE = Fault(
    "overcharge",
    "overcharge",
    {
        SATURATED_SUCTION: LIGHT_UP,  # TRADE; held by speed and valves here
        RETURN: LIGHT_DOWN,  # TRADE
        SATURATED_CONDENSING: SURE_UP,  # TRADE
        SUBCOOLING: SURE_UP,  # TRADE
        DISCHARGE_TEMPERATURE: LIGHT_UP,  # from memory
        PRESSURE_RATIO: LIGHT_UP,  # CYCLE
        OPENING: LIGHT_DOWN,  # CYCLE: colder liquid under more pressure ahead of the valve
        CURRENT: SILENT,
        DISCHARGE_SUPERHEAT: SILENT,
        DISCHARGE_MARGIN: SILENT,
    },
    (
        _LIQUID,
        "See in the records what was filled in, when and at what weight, and how long the pipes are.",
        "Look whether the coil that condenses and its fans are as they should be: a fouled one looks alike.",
    ),
)
HOT_GAS = Fault(
    "hot_gas_into_suction",
    "hot gas leaking into suction",
    {
        RISE: SURE_UP,  # CYCLE, all of it
        DISCHARGE_TEMPERATURE: UP,
        DISCHARGE_SUPERHEAT: LIGHT_UP,
        DISCHARGE_MARGIN: LIGHT_UP,
        SATURATED_SUCTION: LIGHT_UP,
        SATURATED_CONDENSING: LIGHT_DOWN,
        PRESSURE_RATIO: LIGHT_DOWN,
        RETURN: SILENT,  # taken ahead of where it joins
        RUNNING_SHARE: LIGHT_UP,
        CURRENT: SILENT,
    },
    (
        f"Clamp the hot-gas bypass after its valve, and the oil-return pipe ({HOT}), and compare: a pipe "
        "that should be shut and is hot passes gas.",
        "Listen at the bypass valve while it is told to be shut.",
        "See what the gateway says of the bypass valve and of oil recovery in these hours.",
    ),
)

FAULTS = (
    SHORT_OF_CHARGE,
    LIQUID_LINE,
    STUCK_OPEN,
    CONDENSER,
    EVAPORATOR,
    COMPRESSOR,
    NON_CONDENSABLES,
    OVERCHARGE,
    HOT_GAS,
)

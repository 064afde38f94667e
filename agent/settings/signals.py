"""What the signals of a module may be, and how their values as received become SI.

A raw value stays in the store as it came; this conversion runs whenever it is read, so that a wrong
mapping can be mended and the history read anew.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from agent.assess import FLAGS, MODE_SIGNAL, OUTDOOR_FAN, REVERSING_VALVE, Samples
from agent.piping import Layout
from agent.units import UNITS, Dimension, to_si, units_of

LIQUID_LINE = "liquid_line"  # known wherever no liquid side is described
OUTDOOR_AIR = "outdoor_air"
_OF_A_COMPRESSOR = re.compile(r"compressor_(.+)_(speed|current)")


def known_signals(
    layout: Layout, stated_units: Mapping[str, str | None] | None = None
) -> dict[str, Dimension | None]:
    """Every signal that a module of this layout can have, with its dimension; None: a state.

    ``stated_units``: the unit of each signal of a set, None for a state. Where the layout is not known, any
    of them is taken for what its unit says.
    """
    known: dict[str, Dimension | None] = {}
    if not layout.is_known:
        for name, unit in (stated_units or {}).items():
            known[name] = UNITS[unit].dimension if unit in UNITS else None
    known[MODE_SIGNAL] = None
    probes = (*layout.suction_probes, *layout.discharge_probes, *layout.liquid_probes, OUTDOOR_AIR)
    known |= dict.fromkeys(probes, Dimension.TEMPERATURE)
    if not layout.liquid:
        known[LIQUID_LINE] = Dimension.TEMPERATURE
    known[layout.suction_transducer] = Dimension.PRESSURE
    if layout.discharge_transducer:
        known[layout.discharge_transducer] = Dimension.PRESSURE
    known |= dict.fromkeys((*layout.valves, REVERSING_VALVE, OUTDOOR_FAN, *FLAGS))
    known |= {"outdoor_fan_speed": Dimension.FREQUENCY, "outdoor_fan_share": Dimension.RATIO}
    if layout.injection and layout.injection.valve:
        known[layout.injection.valve] = Dimension.RATIO
    for compressor in layout.compressors:
        known[f"compressor_{compressor}_speed"] = Dimension.FREQUENCY
        known[f"compressor_{compressor}_current"] = Dimension.CURRENT
    return known


def compressors_named(signals: Iterable[str]) -> list[str]:
    """The compressors that signals by their names tell of."""
    found = (_OF_A_COMPRESSOR.fullmatch(name) for name in signals)
    return sorted({match[1] for match in found if match})


@dataclass(frozen=True)
class Conversion:
    """How a signal's values as received become SI."""

    dimension: Dimension | None
    unit: str | None = None  # where the payload states none
    reference_pa: float = 0.0  # what a gauge pressure is counted from
    words: Mapping[str, float] | None = None  # what each value of a state means

    @property
    def units(self) -> tuple[str, ...]:
        """What a payload may state; empty for a state."""
        return units_of(self.dimension) if self.dimension else ()

    def samples(
        self, sample_us: npt.NDArray[np.int64], values: Sequence[object], units: Sequence[str | None]
    ) -> Samples:
        """Readings in time order to SI. What cannot be converted becomes NaN: received, not usable."""
        if self.words is not None:
            return Samples(sample_us, np.array([self.words.get(word(v), np.nan) for v in values], float))
        numbers = np.array([v if isinstance(v, int | float) else np.nan for v in values], float)
        if self.dimension is None:
            return Samples(sample_us, numbers)
        converted = np.full(numbers.shape, np.nan)
        stated = np.array([self.unit if unit is None else unit for unit in units], dtype=object)
        for unit in set(stated.tolist()):
            if unit in UNITS and UNITS[unit].dimension is self.dimension:
                here = stated == unit
                converted[here] = to_si(numbers[here], unit) + self.reference_pa
        return Samples(sample_us, converted)


def word(value: object) -> str:
    """A state's value as text, so that 1, 1.0, true and "1" are one."""
    if isinstance(value, int) or (isinstance(value, float) and value.is_integer()):
        return str(int(value))
    return str(value).strip()

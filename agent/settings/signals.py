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

from agent.assess import Samples
from agent.assess.signals import (
    FAN_SHARE,
    FAN_SPEED,
    FLAGS,
    LIQUID_LINE,
    MODE_SIGNAL,
    OUTDOOR_AIR,
    OUTDOOR_FAN,
    REVERSING_VALVE,
    SUPERVISOR,
    current_of,
    speed_of,
)
from agent.piping import Layout
from agent.units import UNITS, Dimension, NoQuantityError, quantity, unit_in, units_of

_OF_A_COMPRESSOR = [re.compile(name("(.+)")) for name in (speed_of, current_of)]


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
    known[SUPERVISOR] = Dimension.DIFFERENCE
    known |= dict.fromkeys(layout.expansions, Dimension.RATIO)
    probes = (*layout.suction_probes, *layout.discharge_probes, *layout.liquid_probes, OUTDOOR_AIR)
    known |= dict.fromkeys(probes, Dimension.TEMPERATURE)
    if not layout.liquid:
        known[LIQUID_LINE] = Dimension.TEMPERATURE
    known[layout.suction_transducer] = Dimension.PRESSURE
    if layout.discharge_transducer:
        known[layout.discharge_transducer] = Dimension.PRESSURE
    known |= dict.fromkeys((*layout.valves, REVERSING_VALVE, OUTDOOR_FAN, *FLAGS))
    known |= {FAN_SPEED: Dimension.FREQUENCY, FAN_SHARE: Dimension.RATIO}
    if layout.injection and layout.injection.valve:
        known[layout.injection.valve] = Dimension.RATIO
    for compressor in layout.compressors:
        known[speed_of(compressor)] = Dimension.FREQUENCY
        known[current_of(compressor)] = Dimension.CURRENT
    return known


def compressors_named(signals: Iterable[str]) -> list[str]:
    """The compressors that signals by their names tell of."""
    found = (of.fullmatch(name) for name in signals for of in _OF_A_COMPRESSOR)
    return sorted({match[1] for match in found if match})


@dataclass(frozen=True)
class Conversion:
    """How a signal's values as received become SI."""

    dimension: Dimension | None
    unit: str | None = None  # where the payload states none
    reference_pa: float = 0.0  # what a gauge pressure is counted from
    words: Mapping[str, float] | None = None  # what each value of a state means
    sentinels: frozenset[float | str] = frozenset()  # see `sentinels_of`

    @property
    def units(self) -> tuple[str, ...]:
        """What a payload may state; empty for a state."""
        return units_of(self.dimension) if self.dimension else ()

    def is_sentinel(self, value: object) -> bool:
        """Whether a value as received says that there is none."""
        return bool(self.sentinels) and bare(value) in self.sentinels

    def number_of(self, value: float | int | str, unit: str | None) -> tuple[float, str | None] | None:
        """A value as received as a number and the unit that is stated of it; None: it is a word.

        So is what a state sends, and a sentinel. ``unit``: what the payload states beside the value.
        """
        if self.words is not None or self.is_sentinel(value):
            return None
        number, within = _read(value) if isinstance(value, str) else (float(value), None)
        return (number, within or unit) if np.isfinite(number) else None

    def unit_of(self, value: object, unit: str | None) -> str | None:
        """The unit that a value as received counts in; ``unit``: what the payload states beside it."""
        return (_read(value)[1] if isinstance(value, str) else None) or unit or self.unit

    def samples(
        self, sample_us: npt.NDArray[np.int64], values: Sequence[object], units: Sequence[str | None]
    ) -> Samples:
        """Readings in time order to SI. What cannot be converted becomes NaN: received, not usable."""
        if self.words is not None:
            meaning = {value: self.words.get(word(value), np.nan) for value in set(values)}
            return Samples(sample_us, np.array([meaning[value] for value in values], float))
        if set(map(type, values)) <= {int, float}:  # as gateways mostly send
            numbers = np.array(values, float)
        else:
            texts = {value: _read(value) for value in values if isinstance(value, str)}
            read = [texts[v] if isinstance(v, str) else (v, None) for v in values]
            values = [number for number, _ in read]
            units = [unit or beside for (_, unit), beside in zip(read, units, strict=True)]
            numbers = np.array([v if isinstance(v, int | float) else np.nan for v in values], float)
        if self.sentinels:
            numbers[np.isin(numbers, [s for s in self.sentinels if isinstance(s, float)])] = np.nan
        if self.dimension is None:
            return Samples(sample_us, numbers)
        converted = np.full(numbers.shape, np.nan)
        beside = set(units)
        stated = np.array(units, dtype=object) if len(beside) > 1 else None
        for each in beside:
            found = unit_in(self.unit if each is None else each, self.dimension)
            if found is not None:
                here = slice(None) if stated is None else stated == each
                converted[here] = numbers[here] * found.factor + found.offset + self.reference_pa
        return Samples(sample_us, converted)


def word(value: object) -> str:
    """A state's value as text, so that 1, 1.0, true, "1" and "1.0" are one."""
    if isinstance(value, str):
        number, unit = _read(value)
        if unit is not None or np.isnan(number):
            return value.strip()
        value = number
    if isinstance(value, int) or (isinstance(value, float) and value.is_integer()):
        return str(int(value))
    return str(value)


def sentinels_of(values: Iterable[object]) -> frozenset[float | str]:
    """The values that say that there is none, as `bare` compares them."""
    return frozenset(bare(value) for value in values)


def bare(value: object) -> float | str:
    """A value as received without its unit: the number that it is, or a word."""
    if isinstance(value, int | float):
        return float(value)
    text = str(value).strip()
    number, unit = _read(text)
    return text if np.isnan(number) or unit not in (None, *UNITS) else number


def _read(text: str) -> tuple[float, str | None]:
    """Number and unit; NaN where it is no number."""
    try:
        return quantity(text)
    except NoQuantityError:
        return np.nan, None

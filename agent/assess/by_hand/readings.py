"""What somebody measured by hand, what is found of it, and the telemetry of the minute in which it was."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from math import ceil, hypot, log10
from typing import NamedTuple

import numpy as np

from agent.assess.by_hand.tracking import Side
from agent.assess.frames import Samples
from agent.assess.instruments import uncertainty
from agent.assess.judge import CHANGED, REPEATS, SWITCHED, Judge
from agent.assess.mode_codes import MODES
from agent.assess.module import SECOND, Module
from agent.piping import Fitness
from agent.thermo import COVERAGE_FACTOR, dew_temperature

STEP_US = 30 * SECOND  # of the grid that ends when it was measured; design choice, no source


class Kind(StrEnum):
    """Where an instrument was held: beside a probe or transducer, or on the suction line beside an inlet."""

    PROBE = "probe"
    TRANSDUCER = "transducer"
    INLET = "inlet"


class Verdict(StrEnum):
    """How telemetry stands to what was measured by hand; of a side, how the layout does."""

    AGREES = "agrees"
    DIFFERS = "differs"
    CANNOT_TELL = "cannot tell"


class Of(StrEnum):
    """What a comparison is of."""

    READING = "reading"  # one
    OFFSET = "offset"  # of a probe, from several
    SIDE = "side"  # of an inlet, on which a probe sits
    EXCHANGED = "exchanged"  # of the signals of two probes


class Shown(NamedTuple):
    """How a pressure is shown to people: as it was given, or in their unit. So is a temperature in degF."""

    name: str = "kPa absolute"
    unit: str = "kPa"
    pa: float = 1e3  # of the unit; of a temperature K
    reference_pa: float = 0.0  # what it is counted from

    def amount(self, size_pa: float) -> str:
        """A difference."""
        decimals = max(0, ceil(log10(self.pa)) - 3) or int(self.pa >= 1e3 or self.pa < 1.0)
        return f"{size_pa / self.pa:.{decimals}f} {self.unit}"

    def figure(self, value_pa: float) -> str:
        """A pressure."""
        return self.amount(value_pa - self.reference_pa).removesuffix(self.unit) + self.name


AS_IT_IS = Shown()


class ByHand(NamedTuple):
    """A reading by hand. ``value`` and ``half_width``: degC and K, or Pa absolute and Pa."""

    at_us: int
    kind: Kind
    place: str
    side: Side | None  # of an inlet
    value: float
    half_width: float  # limit of error, taken as rectangular
    shown: Shown = AS_IT_IS  # of a pressure; of a temperature where people read another unit than degC

    def figure(self, value: float) -> str:
        """A value of its kind for people."""
        return f"{value:.1f} degC" if self._is_in_degc else self.shown.figure(value)

    def number(self, value: float) -> str:
        """The same without its unit, where that was just said."""
        return self.figure(value).partition(" ")[0]

    def amount(self, size: float) -> str:
        """A difference or its uncertainty for people."""
        return f"{size:.1f} K" if self._is_in_degc else self.shown.amount(size)

    @property
    def _is_in_degc(self) -> bool:
        return self.kind is not Kind.TRANSDUCER and self.shown == AS_IT_IS


class HandheldCompared(NamedTuple):
    """What readings by hand say. Of a pressure, K are of dew temperature; None: there is no such figure."""

    of: Of
    probe: str  # or transducer; empty: of none
    verdict: Verdict
    text: str
    at_us: int  # the newest reading that it rests on
    telemetry: float | None = None  # degC or Pa absolute
    difference_k: float | None = None  # telemetry minus by hand
    u_k: float | None = None  # expanded uncertainty of that, k = 2
    inlet: str = ""
    side: Side | None = None  # where the probe was found to sit
    contradicts_layout: bool = False
    advice: str = ""  # what to look at on site
    like: str = ""  # another probe, whose signal may be exchanged with this one's
    far_k: float | None = None  # how far by hand is from telemetry; of an inlet, from the nearest probe's
    rests_on: tuple[int, ...] = ()  # of two clamps: their times


class Moment:
    """A module at one time: what telemetry said, and whether that may be judged."""

    def __init__(self, module: Module, at_us: int, samples: Mapping[str, Samples]) -> None:
        self.module = module
        self.layout = module.layout
        self.judge = Judge(module, np.array([at_us]), samples, STEP_US)
        situation, choices = self.judge.situations[self.judge.situation[-1]]
        self.valves = dict(situation.valves)
        self.fitness = choices.fitness
        self.mode = MODES[self.judge.course.mode[-1]]

    def value(self, signal: str) -> float:
        """SI; NaN: missing. Also of an instrument that has failed: that is what is looked at."""
        return float(self.judge.frame(signal).value[-1])

    def u(self, signal: str) -> float:
        """Standard uncertainty [K or Pa]."""
        return uncertainty(self.module, signal)

    def doubt(self, signal: str) -> str:
        """Why the telemetry of a signal may not be judged; empty: it may."""
        judge = self.judge
        if signal not in self.module.signals:
            return f"no readings of {signal} come"
        if np.isnan(self.value(signal)):
            age_s = self.module.signals[signal].max_age_us // SECOND
            return f"{signal} had no reading then that was at most {age_s} s old"
        if judge.repeated[-1]:
            return REPEATS
        if self.mode != "off":
            if not judge.steady[-1]:
                return f"nothing is judged in mode {self.mode.replace('_', ' ')}"
            if judge.changed[-1]:
                return CHANGED
            if judge.switched[-1]:
                return SWITCHED
        kelvin = judge.frame(signal).value
        if self.is_pressure(signal):
            kelvin = np.asarray(dew_temperature(self.module.refrigerant, kelvin))
        judge.watch({signal: (kelvin, (signal,))})
        gaps, spread, slope, _ = (bool(part[-1]) for part in judge.steadiness[signal])
        found = [(gaps, "has gaps in the window"), (spread, "is swinging"), (slope, "is drifting")]
        return next((f"{signal} {what}" for holds, what in found if holds), "")

    def verdict(self, probe: str) -> Fitness | None:
        """What the probe was worth then."""
        found = self.fitness.get(probe)
        return found.verdict if found else None

    def is_pressure(self, signal: str) -> bool:
        return signal in (self.layout.suction_transducer, self.layout.discharge_transducer)


def expanded(one: float, other: float) -> float:
    """Expanded uncertainty of the difference of two values, of their standard ones."""
    return COVERAGE_FACTOR * hypot(one, other)

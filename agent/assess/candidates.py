"""All that a supervisor's superheat could be made of, and how far off each its figure lies at every time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from enum import StrEnum
from itertools import product
from typing import NamedTuple

import numpy as np

from agent.assess.assessment import Said, Status
from agent.assess.frames import FloatArray, Frame
from agent.assess.module import Module
from agent.assess.signals import SUPERVISOR
from agent.assess.stretch import Track
from agent.piping import RETURN
from agent.thermo import bubble_temperature, dew_temperature
from agent.thermo.atmosphere import SEA_LEVEL_PRESSURE_PA as ATMOSPHERE_PA


class Saturation(StrEnum):
    """The line that superheat is counted from; only dew is right."""

    DEW = "dew"
    BUBBLE = "bubble"


class Pressure(StrEnum):
    """What the supervisor takes the suction pressure for."""

    AS_IS = "as_is"
    GAUGE_FOR_ABSOLUTE = "gauge_for_absolute"
    ABSOLUTE_FOR_GAUGE = "absolute_for_gauge"


_SHIFT_PA = {
    Pressure.AS_IS: 0.0,
    Pressure.GAUGE_FOR_ABSOLUTE: -ATMOSPHERE_PA,
    Pressure.ABSOLUTE_FOR_GAUGE: ATMOSPHERE_PA,
}
TAKEN = {
    Pressure.AS_IS: "",
    Pressure.GAUGE_FOR_ABSOLUTE: " with gauge pressure taken for absolute",
    Pressure.ABSOLUTE_FOR_GAUGE: " with absolute pressure taken for gauge",
}


class Candidate(NamedTuple):
    """One way in which a supervisor may make its superheat."""

    probe: str
    saturation: Saturation
    pressure: Pressure

    @property
    def name(self) -> str:
        return "/".join(self)

    @property
    def words(self) -> str:
        return f"{self.probe} against {self.saturation}{TAKEN[self.pressure]}"

    @property
    def is_plain(self) -> bool:
        """Nothing is wrong but, perhaps, the probe."""
        return self.saturation is Saturation.DEW and self.pressure is Pressure.AS_IS

    @property
    def plain(self) -> Candidate:
        return Candidate(self.probe, Saturation.DEW, Pressure.AS_IS)

    @staticmethod
    def of(name: str) -> Candidate:
        probe, saturation, pressure = name.rsplit("/", 2)
        return Candidate(probe, Saturation(saturation), Pressure(pressure))


def candidates(module: Module) -> list[Candidate]:
    """Every way to make a superheat of the suction probes that give readings."""
    probes = [probe for probe in module.layout.suction_probes if probe in module.signals]
    return [Candidate(*each) for each in product(probes, Saturation, Pressure)]


def residuals(
    module: Module, frames: Mapping[str, Frame], returned: Track, phrases: Sequence[Said]
) -> dict[str, FloatArray]:
    """The supervisor's superheat minus each candidate at every grid time [K]; NaN where one is missing.

    Beside them, under the name of return superheat, minus that where it is decided. Empty for a module
    whose supervisor publishes none.
    """
    transducer = module.layout.suction_transducer
    if SUPERVISOR not in frames or transducer not in frames:
        return {}
    shown, pressure_pa = frames[SUPERVISOR].value, frames[transducer].value
    saturated = {
        (saturation, taken): line(module.refrigerant, pressure_pa + shift_pa)
        for saturation, line in (
            (Saturation.DEW, dew_temperature),
            (Saturation.BUBBLE, bubble_temperature),
        )
        for taken, shift_pa in _SHIFT_PA.items()
    }
    found = {
        each.name: shown - (frames[each.probe].value - saturated[each.saturation, each.pressure])
        for each in candidates(module)
    }
    decided = np.array([said.status is Status.DECIDED for said in phrases])[returned.said]
    return found | {RETURN: np.where(decided, shown - returned.value, np.nan)}

"""A module at the grid times as the rules on its instruments see it: measured values, place by place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from agent.assess.elapsed import since
from agent.assess.frames import BoolArray, FloatArray, Frame, IntArray
from agent.assess.instruments import uncertainty
from agent.assess.mode_codes import CODE
from agent.assess.modes import Course
from agent.assess.module import SECOND, Module
from agent.assess.signals import LIQUID_LINE, OUTDOOR_AIR
from agent.piping import STEADY_MODES, Choices, Fitness, Situation, subcooling_probes
from agent.thermo import dew_slope, dew_temperature

SUCTION, DISCHARGE, LIQUID, AIR, PRESSURE = "suction", "discharge", "liquid", "air", "pressure"
VAPOUR = (Fitness.FIT, Fitness.PARTIAL, Fitness.MIXED, Fitness.UNPROVEN)  # passes a probe
CONFIRM_US = 300 * SECOND  # after which what a signal shows is no spike; design choice
CALM_US = 300 * SECOND  # without a switch or a new mode, before and after a step that counts; design choice
VALVE_RANGE = 0.1  # of an opening, within which a valve counts as left alone; design choice

Words = npt.NDArray[np.object_]


@dataclass(frozen=True)
class Scene:
    """A module at consecutive grid times, ``step_us`` apart, before anything is held against it."""

    module: Module
    grid_us: IntArray
    step_us: int
    frames: Mapping[str, Frame]
    course: Course
    switched: BoolArray  # a valve or a compressor, a short while ago
    situation: IntArray
    situations: Sequence[tuple[Situation, Choices]]

    @cached_property
    def place(self) -> dict[str, str]:
        """What kind of place each measured signal of the module sits at."""
        layout, own = self.module.layout, self.module.signals
        kinds = {
            LIQUID: (*layout.liquid_probes, LIQUID_LINE),
            AIR: (OUTDOOR_AIR,),
            DISCHARGE: layout.discharge_probes,
            SUCTION: layout.suction_probes,
            PRESSURE: [t for t in (layout.suction_transducer, layout.discharge_transducer) if t],
        }
        return {name: kind for kind, names in kinds.items() for name in names if name in own}

    def is_pressure(self, name: str) -> bool:
        return self.place[name] == PRESSURE

    def confirm_us(self, name: str) -> int:
        """For how long a signal must show something to be believed: three readings at least."""
        return max(CONFIRM_US, 3 * self.module.signals[name].interval_us)

    @cached_property
    def kelvin(self) -> dict[str, FloatArray]:
        """Every measured signal as a temperature [degC]: of a pressure its dew temperature."""
        values = {name: self.frames[name].value for name in self.place}
        return {
            name: np.asarray(dew_temperature(self.module.refrigerant, value))
            if self.is_pressure(name)
            else value
            for name, value in values.items()
        }

    def u_kelvin(self, name: str) -> FloatArray:
        """Standard uncertainty of a measured signal as a temperature [K]."""
        own = uncertainty(self.module, name)
        if not self.is_pressure(name):
            return np.full(self.grid_us.shape, own)
        return np.nan_to_num(np.asarray(dew_slope(self.module.refrigerant, self.frames[name].value)) * own)

    @cached_property
    def fitness(self) -> dict[str, Words]:
        """Of each suction probe at each grid time."""
        each = [choices.fitness for _, choices in self.situations]
        return {
            probe: np.array([of[probe].verdict for of in each], object)[self.situation]
            for probe in self.module.layout.suction_probes
        }

    @cached_property
    def liquid(self) -> dict[str, Words]:
        """What each probe of the liquid side is worth at each grid time."""
        layout = self.module.layout
        if not any(probe in self.place for probe in layout.liquid_probes):
            return {}
        each = [subcooling_probes(layout, situation) for situation, _ in self.situations]
        return {
            probe: np.array([of[probe].verdict for of in each], object)[self.situation]
            for probe in layout.liquid_probes
        }

    @cached_property
    def steady(self) -> BoolArray:
        """A steady mode in which a compressor runs."""
        steady: BoolArray = np.isin(self.course.mode, [CODE[mode] for mode in STEADY_MODES])
        running: BoolArray = self.course.runs == 1
        return steady & running

    @cached_property
    def settled(self) -> BoolArray:
        """Steady running that has lasted past the quiet time."""
        lasted: BoolArray = self.course.lasted_us >= self.module.settling.quiet_us
        return self.steady & lasted

    @cached_property
    def calm(self) -> BoolArray:
        """Steady running in which nothing was touched a short while ago that could make pipes jump."""
        calm: BoolArray = self.steady & (self.course.lasted_us >= CALM_US) & ~self.switched
        back = CALM_US // self.step_us + 1
        for valve in self.module.layout.valves:
            if valve in self.frames:
                lately = windows(self.frames[valve].value, back)
                calm &= np.fmax.reduce(lately, axis=1) - np.fmin.reduce(lately, axis=1) <= VALVE_RANGE
        return calm


def held_us(where: BoolArray, grid_us: IntArray) -> IntArray:
    """For how long it has held; 0 where it does not."""
    return np.where(where, since(~where, grid_us), 0)


def windows(values: FloatArray, back: int) -> FloatArray:
    """Of each grid time the values of the window that ends there."""
    padded = np.concatenate((np.full(back - 1, np.nan), values))
    result: FloatArray = np.lib.stride_tricks.sliding_window_view(padded, back)
    return result

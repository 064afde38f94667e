"""A module at grid times as its values say it is, and as it would be if they meant something else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from agent.assess.frames import BoolArray, FloatArray, Frame, IntArray, frames
from agent.assess.mode_codes import CODE, MODES
from agent.assess.modes import course
from agent.assess.module import SECOND, Module
from agent.assess.plausible.taken import Signals
from agent.piping import STEADY_MODES, Fitness
from agent.thermo import dew_temperature

CALM_K = 3.0  # by which a temperature may move within ...
CALM_US = 120 * SECOND  # ... so long to either side; more is a transient
QUIET_US = 300 * SECOND  # after a change of mode, in which pipes still hold the heat of the mode before


@dataclass(frozen=True)
class Picture:
    """A module at grid times as its values say; `replace` gives what it would be under a mistake."""

    module: Module
    units: Mapping[str, str]  # of each measured signal, in the words of a sentence
    value: Mapping[str, FloatArray]
    mode: IntArray
    running: Mapping[str, IntArray]
    runs: IntArray
    lasted: BoolArray  # the mode has lasted long enough to be looked at
    refrigerant: str
    step_us: int
    single: frozenset[str]  # signals with one value, of which nobody knows whether it is in a transient

    @cached_property
    def suction_c(self) -> FloatArray | None:
        return self._saturation(self.module.layout.suction_transducer)

    @cached_property
    def discharge_c(self) -> FloatArray | None:
        return self._saturation(self.module.layout.discharge_transducer)

    @cached_property
    def works(self) -> BoolArray:
        """It runs in a steady mode."""
        steady: BoolArray = np.isin(self.mode, [CODE[mode] for mode in STEADY_MODES])
        return steady & self.any_runs & self.lasted

    @cached_property
    def any_runs(self) -> BoolArray:
        return np.equal(self.runs, 1)

    @cached_property
    def stands(self) -> BoolArray:
        return np.equal(self.runs, 0)

    @cached_property
    def calm_pressures(self) -> BoolArray:
        """Where the saturation temperatures that are there do not change as fast as in a transient."""
        layout, calm = self.module.layout, np.full(self.mode.shape, True)
        transducers = (layout.suction_transducer, layout.discharge_transducer)
        for transducer, values in zip(transducers, (self.suction_c, self.discharge_c), strict=True):
            if transducer is not None and values is not None:
                calm &= self.calm(transducer, values)
        return calm

    def calm(self, name: str, values: FloatArray) -> BoolArray:
        """Where a signal's temperature does not change as fast as in a transient."""
        if name in self.single:
            return np.full(self.mode.shape, False)
        around = CALM_US // self.step_us
        padded = np.pad(values, around, constant_values=np.nan)
        near = np.lib.stride_tricks.sliding_window_view(padded, 2 * around + 1)
        moves: BoolArray = np.fmax.reduce(near, axis=1) - np.fmin.reduce(near, axis=1) > CALM_K
        return ~moves

    def with_values(self, **changed: FloatArray) -> Picture:
        return replace(self, value={**self.value, **changed})

    def _saturation(self, transducer: str | None) -> FloatArray | None:
        pressure = self.value.get(transducer or "")
        return None if pressure is None else dew_temperature(self.refrigerant, pressure)

    @cached_property
    def fitness(self) -> dict[str, npt.NDArray[np.object_]]:
        """Of each suction probe at each grid time."""
        layout = self.module.layout
        valves = [_switch(self.value.get(name), self.mode.shape) for name in layout.valves]
        columns = np.stack([self.mode, *valves, *(self.running[c] for c in layout.compressors)])
        found = {p: np.full(self.mode.shape, Fitness.IDLE, dtype=object) for p in layout.suction_probes}
        for situation in np.unique(columns, axis=1).T:
            here = (situation == columns.T).all(axis=1)
            states = [None if state < 0 else bool(state) for state in situation[1:]]
            positions = dict(zip(layout.valves, states, strict=False))
            speeds = states[len(layout.valves) :]
            running = [c for c, state in zip(layout.compressors, speeds, strict=True) if state]
            known = running if None not in speeds else None
            for probe, fit in layout.fitness(MODES[situation[0]], positions, known).items():
                if probe in found:
                    found[probe][here] = fit.verdict
        return found


def picture(module: Module, grid_us: IntArray, signals: Signals) -> Picture:
    """The module at the grid times. Pressures may be swapped: whether it runs is told from either order."""
    known = {name: taken.samples for name, taken in signals.items() if name in module.signals}
    framed = frames(module, grid_us, known)
    low, high = module.layout.suction_transducer, module.layout.discharge_transducer or ""
    sorted_ = dict(framed)
    if low in framed and high in framed:
        both = np.stack([framed[low].value, framed[high].value])
        sorted_[low] = Frame(both.min(axis=0), framed[low].time_us)
        sorted_[high] = Frame(both.max(axis=0), framed[high].time_us)
    path = course(replace(module, ratio_us=0), grid_us, sorted_)  # a few minutes show no falling ratio
    return Picture(
        module=module,
        units={name: taken.unit for name, taken in signals.items()},
        value={name: frame.value for name, frame in framed.items() if name in signals},
        mode=path.mode,
        running=path.running,
        runs=path.runs,
        lasted=np.greater_equal(path.lasted_us, QUIET_US),
        refrigerant=module.refrigerant,
        step_us=int(grid_us[1] - grid_us[0]) if len(grid_us) > 1 else 60 * SECOND,
        single=frozenset(
            name
            for name, taken in known.items()
            if len(np.unique(taken.time_us)) < 2 and not module.signals[name].on_change
        ),
    )


def _switch(values: FloatArray | None, shape: tuple[int, ...]) -> IntArray:
    """Open 1, shut 0, not known -1."""
    if values is None:
        return np.full(shape, -1, np.int64)
    return np.where(np.isnan(values), -1, values > 0.5).astype(np.int64)

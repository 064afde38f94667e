"""The mode in force at each grid time: what is stated or inferred, and what the compressors make of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from agent.assess.elapsed import carried, since
from agent.assess.frames import BoolArray, FloatArray, Frame, IntArray
from agent.assess.inference import follow, tells_mode
from agent.assess.mode_codes import CODE
from agent.assess.module import Module
from agent.assess.signals import MODE_SIGNAL, current_of, speed_of
from agent.piping import STEADY_MODES
from agent.thermo import dew_temperature

# What shows a compressor that keeps pressures apart, and no check valve; design choices, no source.
FALLING = 0.03  # of the ratio, over the time that a module looks back for it
ABOVE_CONDENSING_K = 5.0  # that discharge gas stays hotter than it condenses
_STEADY = [CODE[mode] for mode in STEADY_MODES]


class Course(NamedTuple):
    """Per grid time: the mode's code, how long it has lasted, what runs (-1 not known, 0 stands, 1 runs)."""

    mode: IntArray
    lasted_us: IntArray
    running: Mapping[str, IntArray]  # each compressor
    runs: IntArray  # any of them
    why: IntArray  # the mode's reason, an index into whys
    whys: tuple[str, ...]  # empty: the gateway's own point says so


def course(module: Module, grid_us: IntArray, frames: Mapping[str, Frame]) -> Course:
    """Follow the mode through the grid; what lies before the grid counts as long ago."""
    running = {name: _running(module, name, grid_us, frames) for name in module.layout.compressors}
    runs = _any_runs(module, grid_us, running, frames)
    story = follow(module, grid_us, frames, runs)
    stands = np.isin(story.mode, _STEADY) & (runs == 0)
    if MODE_SIGNAL not in frames and tells_mode(module.layout, module.signals):
        stands = runs == 0
    story.say(stands, "off", "every compressor stands")
    mode, lasted_us = _with_starts(story.mode, grid_us, module.start_us)
    return Course(mode, lasted_us, running, runs, story.why, tuple(story.whys))


def unchanged_us(values: FloatArray, grid_us: IntArray) -> IntArray:
    """How long a signal has stood still to the last digit; a missing one counts as moving."""
    moved = np.concatenate(([False], (values[1:] != values[:-1]) | np.isnan(values[1:])))
    return since(moved, grid_us)


def _running(module: Module, compressor: str, grid_us: IntArray, frames: Mapping[str, Frame]) -> IntArray:
    for signal, above in (
        (speed_of(compressor), module.runs_above_hz),
        (current_of(compressor), module.runs_above_a),
    ):
        frame = frames.get(signal)
        if frame is not None:
            return np.where(np.isnan(frame.value), -1, frame.value > above).astype(np.int64)
    return np.full(grid_us.shape, -1)


def _any_runs(
    module: Module, grid_us: IntArray, running: Mapping[str, IntArray], frames: Mapping[str, Frame]
) -> IntArray:
    """Whether any compressor runs: by its own signal, else by the pressures that it keeps apart.

    A check valve keeps them apart too, for 20 min and more (common practice, no source). So pressures show
    that it stands, and that it runs only where their ratio does not fall and the discharge gas is hot.
    """
    states = np.stack(list(running.values()))
    runs = np.where((states == 1).any(axis=0), 1, np.where((states == 0).all(axis=0), 0, -1))
    suction = frames.get(module.layout.suction_transducer)
    discharge = frames.get(module.layout.discharge_transducer or "")
    if suction is None or discharge is None:
        return runs
    ratio = discharge.value / np.where(suction.value > 0, suction.value, np.nan)
    pumps = _holds(ratio, grid_us, module.ratio_us) & _hot(module, frames, discharge.value)
    by_pressure = np.where(ratio <= module.runs_above_ratio, 0, np.where(pumps, 1, -1))
    return np.where(runs < 0, by_pressure, runs)


def _holds(ratio: FloatArray, grid_us: IntArray, back_us: int) -> BoolArray:
    """The ratio has not fallen; where it was not known before, that is not known either."""
    before = np.searchsorted(grid_us, grid_us - back_us, side="right") - 1
    then = np.where(before >= 0, ratio[np.maximum(before, 0)], np.nan)
    holds: BoolArray = ratio >= (1 - FALLING) * then
    return holds


def _hot(module: Module, frames: Mapping[str, Frame], pressure_pa: FloatArray) -> BoolArray:
    """Some discharge gas is hotter than it condenses by more than a pipe at rest is."""
    condensing = np.asarray(dew_temperature(module.refrigerant, pressure_pa))
    hot = np.zeros(pressure_pa.shape, bool)
    for probe in module.layout.discharge_probes:
        if probe in frames:
            hot |= frames[probe].value >= condensing + ABOVE_CONDENSING_K
    return hot


def _with_starts(mode: IntArray, grid_us: IntArray, start_us: int) -> tuple[IntArray, IntArray]:
    """Mark the first minutes after standing as a start, and tell how long each mode has lasted."""
    before = np.concatenate(([CODE["unknown"]], mode[:-1]))
    origin = carried(np.where(mode != before, before, -1))
    starting = np.isin(mode, _STEADY) & (origin == CODE["off"]) & (_lasted(mode, grid_us) < start_us)
    mode = np.where(starting, CODE["starting"], mode)
    return mode, _lasted(mode, grid_us)


def _lasted(mode: IntArray, grid_us: IntArray) -> IntArray:
    """How long the mode of each grid time has been the same; what lies before the grid is long ago."""
    return since(np.concatenate(([False], mode[1:] != mode[:-1])), grid_us)

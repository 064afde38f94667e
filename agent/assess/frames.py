"""A module's signals at grid times: the last value not older than the signal allows, otherwise missing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from agent.assess.module import Module

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

NEVER = np.iinfo(np.int64).min // 2


class Samples(NamedTuple):
    """A signal's readings in SI, ascending in time; NaN: received but not usable."""

    time_us: IntArray
    value: FloatArray


class Frame(NamedTuple):
    """A signal at each grid time: its value (NaN: missing) and the time for which that value is true."""

    value: FloatArray
    time_us: IntArray


def frames(module: Module, grid_us: IntArray, samples: Mapping[str, Samples]) -> dict[str, Frame]:
    """Frames of every signal of the module; a signal without samples is missing throughout."""
    nothing = Samples(np.empty(0, np.int64), np.empty(0))
    found = {name: samples.get(name, nothing) for name in module.signals}
    own_us, any_us = np.full(grid_us.shape, NEVER), np.full(grid_us.shape, NEVER)
    for name, each in found.items():
        last_us = _last_before(grid_us, each)[1]
        any_us = np.maximum(any_us, last_us)
        own_us = own_us if module.signals[name].shared else np.maximum(own_us, last_us)
    result: dict[str, Frame] = {}
    for name, signal in module.signals.items():
        value, time_us = _last_before(grid_us, found[name])
        usable = grid_us - time_us <= signal.max_age_us
        if signal.on_change:
            heard_us = any_us if signal.shared else own_us
            usable &= grid_us - heard_us <= module.silence_us
            time_us = np.where(usable, heard_us, time_us)
        result[name] = Frame(np.where(usable, value, np.nan), time_us)
    return result


def _last_before(grid_us: IntArray, samples: Samples) -> tuple[FloatArray, IntArray]:
    if not len(samples.time_us):
        return np.full(grid_us.shape, np.nan), np.full(grid_us.shape, NEVER)
    index = np.searchsorted(samples.time_us, grid_us, side="right") - 1
    before = index < 0
    return (
        np.where(before, np.nan, samples.value[index]),
        np.where(before, NEVER, samples.time_us[index]),
    )

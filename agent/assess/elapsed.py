"""How long ago something last held on the grid, and a last known state carried forward."""

from __future__ import annotations

import numpy as np

from agent.assess.frames import BoolArray, IntArray

LONG_AGO = np.iinfo(np.int64).max // 2


def carried(values: IntArray) -> IntArray:
    """The last value that is not -1, carried forward; -1 before the first."""
    index = np.maximum.accumulate(np.where(values >= 0, np.arange(len(values)), -1))
    return np.where(index >= 0, values[np.maximum(index, 0)], -1)


def since(where: BoolArray, grid_us: IntArray) -> IntArray:
    """How long ago it last held; 0 where it holds now."""
    index = carried(np.where(where, np.arange(len(where)), -1))
    return np.where(index >= 0, grid_us - grid_us[np.maximum(index, 0)], LONG_AGO)

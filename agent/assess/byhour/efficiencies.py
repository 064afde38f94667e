"""Which lumped efficiencies a compressor may have: by speed and pressure ratio, or by its own dry hours."""

from __future__ import annotations

import numpy as np

from agent.assess.byhour.baseline import LIKE_RATIO, LIKE_SPEED
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.module import Dry
from agent.thermo import LUMPED_EFFICIENCIES, LUMPED_EFFICIENCIES_HARD, LUMPED_EFFICIENCIES_SLOW

GENERAL, HARD, SLOW = range(3)
RANGES = (LUMPED_EFFICIENCIES, LUMPED_EFFICIENCIES_HARD, LUMPED_EFFICIENCIES_SLOW)
# Where leakage costs more than the general band allows for; design choices, no source.
LOW_SPEED_HZ = 30.0  # about 30 % of what such compressors reach
LOWEST_SPEED_HZ = 20.0
HIGH_RATIO = 6.0


def kinds(speed_hz: FloatArray, ratio: FloatArray) -> IntArray:
    """Which of RANGES holds; at an unknown speed the hard one."""
    found = np.where(~(speed_hz >= LOW_SPEED_HZ) | (ratio > HIGH_RATIO), HARD, GENERAL)
    return np.where(speed_hz < LOWEST_SPEED_HZ, SLOW, found)


def learnt_at(own: Dry, speed_hz: FloatArray, ratio: FloatArray) -> BoolArray:
    """A compressor's own history speaks of a learnt speed and of the learnt pressure ratios alone."""
    speeds, (least, most) = np.array(own.speeds_hz), own.ratios
    like = (np.abs(speed_hz[:, None] - speeds) <= LIKE_SPEED * speeds).any(axis=1)
    result: BoolArray = like & (ratio >= least * (1 - LIKE_RATIO)) & (ratio <= most * (1 + LIKE_RATIO))
    return result

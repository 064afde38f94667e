"""Whether a signal has settled: spread and slope over a moving window, against the signal's own step.

After NIST SP 1087 (Kim, Yoon, Payne, Domanski, 2008) in kind: a moving window against a neutral band. The
thresholds are our own starting values. Every window is summed on its own, so that a grid time gets one
answer however the history was cut into pieces.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from agent.assess.frames import BoolArray, FloatArray


class Steadiness(NamedTuple):
    """Per grid time, for the window that ends there."""

    gaps: BoolArray  # too little of the window holds values
    spread: BoolArray  # varies more than allowed
    slope: BoolArray  # still drifting
    falls: BoolArray  # the trend, however small, is downward

    @property
    def settled(self) -> BoolArray:
        return ~(self.gaps | self.spread | self.slope)


_TIE = 1e-9  # a spread that equals its limit passes, whatever the rounding


def steadiness(
    values: FloatArray,
    points: int,
    *,
    spread_limit: float,
    slope_limit: FloatArray | float,
    step: FloatArray | float,
    present: float,
) -> Steadiness:
    """Judge the last ``points`` values at every grid time; NaN values are gaps, and one now is all gap.

    ``values``: grid times along the last axis, several series along others.

    ``spread_limit`` is a standard deviation in the unit of the values, ``slope_limit`` a change per grid
    point; both are widened by what quantisation alone does: a toggling step has a standard deviation of
    half a step, and one step within the window a least-squares slope of 1.5 steps per window.
    """
    valid = ~np.isnan(values)
    length = values.shape[-1]
    count, total, squares, moment, times, times_squares = (np.zeros(values.shape) for _ in range(6))
    for back in range(min(points, length)):
        here = (..., slice(back, length))
        there = (..., slice(0, length - back))
        both = valid[there] & valid[here]
        x, n = np.where(both, values[there] - values[here], 0.0), both.astype(float)
        count[here] += n
        total[here] += x
        squares[here] += x * x
        moment[here] -= back * x
        times[here] -= back * n
        times_squares[here] += back * back * n
    enough = count >= max(3, present * points)
    safe = np.where(enough, count, 1.0)
    variance = np.maximum(squares / safe - (total / safe) ** 2, 0.0)
    spread_of_times = times_squares / safe - (times / safe) ** 2
    slope = (moment / safe - total * times / safe**2) / np.where(spread_of_times > 0, spread_of_times, 1.0)
    wide = np.sqrt(variance) > np.hypot(spread_limit, step / 2) + _TIE
    drifting = np.abs(slope) > slope_limit + 1.5 * step / points + _TIE
    return Steadiness(~enough, enough & wide, enough & drifting, enough & (slope < 0))

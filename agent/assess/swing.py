"""How far a quantity swings to and fro: tells a hunting valve from a drift or a single step."""

from __future__ import annotations

import numpy as np

from agent.assess.frames import FloatArray

PARTS = 3


def swing(values: FloatArray, points: int) -> FloatArray:
    """The smallest of the ranges within the three thirds of the window that ends at each grid time.

    A step or a peak shows in one third only, a drift in each by a third of its whole; what hunts with a
    period shorter than a third shows its full height in all. NaN where a third has no two values.
    """
    length = len(values)
    part = max(2, points // PARTS)
    highest, lowest = np.full(length, -np.inf), np.full(length, np.inf)
    count = np.zeros(length)
    for back in range(min(part, length)):
        there = values[: length - back]
        valid = ~np.isnan(there)
        highest[back:] = np.where(valid, np.maximum(highest[back:], there), highest[back:])
        lowest[back:] = np.where(valid, np.minimum(lowest[back:], there), lowest[back:])
        count[back:] += valid
    spans = np.where(count >= 2, highest - lowest, np.nan)
    result = spans.copy()
    for number in range(1, PARTS):
        earlier = np.full(length, np.nan)
        shift = number * part
        if shift < length:
            earlier[shift:] = spans[: length - shift]
        result = np.minimum(result, earlier)
    return result

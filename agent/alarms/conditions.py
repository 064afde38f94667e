"""What the figures of a grid time say about each alarm, before any delay.

The guard band lies to the safe side: low superheat counts as soon as saturation cannot be excluded,
everything else only when the full uncertainty lies beyond the limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

import numpy as np

from agent.alarms.catalogue import CATALOGUE, PROBE_UNFIT, SUPERHEAT_HIGH, SUPERHEAT_LOW, Entry
from agent.assess.assessment import Status
from agent.assess.frames import BoolArray, IntArray
from agent.assess.stretch import Stretch, Track
from agent.piping import RETURN, STEADY_MODES, Fitness, Standing


class Condition(StrEnum):
    """One alarm at one grid time."""

    UNKNOWN = "unknown"  # nothing decided: neither raises nor clears
    CLEAR = "clear"  # inside the limit by the deadband
    INSIDE = "inside"  # neither beyond nor clear
    BEYOND = "beyond"
    BEYOND_DOUBT = "beyond_doubt"  # beyond with the full uncertainty


CONDITIONS = tuple(Condition)
_CODE = {condition: code for code, condition in enumerate(CONDITIONS)}


def conditions(
    stretch: Stretch, catalogue: Mapping[str, Entry] = CATALOGUE, configured_probe: str | None = None
) -> dict[str, IntArray]:
    """Per alarm the code of its condition (index into CONDITIONS) at every grid time of the stretch."""
    return {
        SUPERHEAT_LOW.name: _superheat_low(stretch, catalogue[SUPERHEAT_LOW.name]),
        SUPERHEAT_HIGH.name: _superheat_high(stretch, catalogue[SUPERHEAT_HIGH.name]),
        PROBE_UNFIT.name: _probe_unfit(stretch, configured_probe),
    }


def _superheat_low(stretch: Stretch, entry: Entry) -> IntArray:
    track, limit = stretch.tracks[RETURN], _limit(stretch, entry)
    low = track.value < limit
    beyond = low & (track.value - track.below <= 0)
    without_doubt = beyond & (track.value + track.above < limit)
    clear = track.value >= limit + entry.limits.deadband_k
    return _coded(_decided(stretch, track), clear, beyond, without_doubt)


def _superheat_high(stretch: Stretch, entry: Entry) -> IntArray:
    track, limit = stretch.tracks[RETURN], _limit(stretch, entry)
    beyond = track.value - track.below > limit
    clear = track.value <= limit - entry.limits.deadband_k
    return _coded(_decided(stretch, track), clear, beyond, np.zeros_like(beyond))


def _probe_unfit(stretch: Stretch, configured_probe: str | None) -> IntArray:
    if configured_probe is None:
        return np.full(stretch.grid_us.shape, _CODE[Condition.CLEAR])
    judged = [situation.mode in STEADY_MODES for situation, _ in stretch.situations]
    fit = [choices.fitness[configured_probe].verdict is Fitness.FIT for _, choices in stretch.situations]
    known, good = np.array(judged)[stretch.situation], np.array(fit)[stretch.situation]
    return _coded(known, good, ~good, np.zeros_like(good))


def _limit(stretch: Stretch, entry: Entry) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """The limit at every grid time: wider where the value is only second best."""
    wider = [said.standing is Standing.SECOND_BEST for said in stretch.phrases]
    second_best = np.array(wider)[stretch.tracks[RETURN].said]
    usual, second = entry.limits.limit_k, entry.limits.second_best_k
    return np.where(second_best, np.nan if second is None else second, np.nan if usual is None else usual)


def _decided(stretch: Stretch, track: Track) -> BoolArray:
    decided = [said.status is Status.DECIDED for said in stretch.phrases]
    return np.array(decided)[track.said]


def _coded(known: BoolArray, clear: BoolArray, beyond: BoolArray, without_doubt: BoolArray) -> IntArray:
    code = np.full(known.shape, _CODE[Condition.INSIDE])
    code[clear] = _CODE[Condition.CLEAR]
    code[beyond] = _CODE[Condition.BEYOND]
    code[without_doubt] = _CODE[Condition.BEYOND_DOUBT]
    code[~known] = _CODE[Condition.UNKNOWN]
    return code

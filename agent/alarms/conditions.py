"""What the figures of a grid time say about each alarm, before any delay.

The guard band lies to the safe side: low superheat counts as soon as saturation cannot be excluded,
everything else only when the full uncertainty lies beyond the limit.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from agent.alarms.catalogue import (
    CATALOGUE,
    PROBE_UNFIT,
    SUPERHEAT_HIGH,
    SUPERHEAT_HUNTING,
    SUPERHEAT_LOW,
    WATCH_BLIND,
)
from agent.alarms.condition import CODE as _CODE
from agent.alarms.condition import Condition
from agent.alarms.entry import Entry
from agent.alarms.highside import (
    dry_by_discharge,
    highside_conditions,
    told_by_discharge,
    wet_by_discharge,
)
from agent.alarms.instruments import PROBE_FAILED, probe_failed
from agent.assess.assessment import SWING, Cause, Status
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.mode_codes import TRANSIENT_MODES
from agent.assess.stretch import Stretch, Track
from agent.piping import COMPRESSOR_INLET, RETURN, Fitness, Standing


def conditions(
    stretch: Stretch, catalogue: Mapping[str, Entry] = CATALOGUE, configured_probe: str | None = None
) -> dict[str, IntArray]:
    """Per alarm the code of its condition (index into CONDITIONS) at every grid time of the stretch."""
    found = {
        SUPERHEAT_LOW.name: _superheat_low(stretch, catalogue[SUPERHEAT_LOW.name]),
        SUPERHEAT_HIGH.name: _superheat_high(stretch, catalogue[SUPERHEAT_HIGH.name]),
        SUPERHEAT_HUNTING.name: _superheat_hunting(stretch, catalogue[SUPERHEAT_HUNTING.name]),
        **highside_conditions(stretch, catalogue),
        PROBE_UNFIT.name: _probe_unfit(stretch, configured_probe),
        WATCH_BLIND.name: _watch_blind(stretch),
        PROBE_FAILED.name: probe_failed(stretch),
    }
    return {name: codes for name, codes in found.items() if not catalogue[name].by_hour}


def _superheat_low(stretch: Stretch, entry: Entry) -> IntArray:
    """Low return superheat; or, where only warmer streams have joined, even the compressor inlet is low.

    Ahead of that a healthy accumulator may hold liquid, and its outlet is saturated then. So a low compressor
    inlet alone is possible at most, and nothing where a discharge is decided dry.
    """
    returned, late = stretch.tracks[RETURN], stretch.tracks[COMPRESSOR_INLET]
    limit = _limit(stretch, returned, entry)
    nearly_saturated = (returned.value < limit) & (returned.value - returned.below <= 0)
    fit = stretch.has_standing(returned, Standing.FIT)
    sure = nearly_saturated & fit & (returned.value + returned.above < limit)
    clear = (returned.value >= limit + entry.limits.deadband_k) & (returned.value - returned.below > 0)
    code = _coded(stretch.has_status(returned, Status.DECIDED), clear, nearly_saturated, sure)
    moves = stretch.has_cause(returned, Cause.SPREAD, Cause.SLOPE)  # not because the mode has just changed
    weak = moves | (_one_alone(stretch, returned) & stretch.settled)
    code[weak & nearly_saturated] = _CODE[Condition.POSSIBLE]
    usual = np.nan if entry.limits.limit_k is None else entry.limits.limit_k
    saturated_late = (late.value < usual) & (late.value - late.below <= 0)
    bounded = stretch.has_status(late, Status.DECIDED) & stretch.has_standing(late, Standing.UPPER_BOUND)
    weaker = np.isin(code, [_CODE[c] for c in (Condition.UNKNOWN, Condition.CLEAR, Condition.INSIDE)])
    low_late = bounded & saturated_late & weaker
    near = stretch.has_status(returned, Status.DECIDED) & (returned.value - returned.below <= 0)
    code[low_late & ~dry_by_discharge(stretch)] = _CODE[Condition.POSSIBLE]
    code[low_late & (near | wet_by_discharge(stretch))] = _CODE[Condition.BEYOND]
    code[(code == _CODE[Condition.BEYOND]) & wet_by_discharge(stretch)] = _CODE[Condition.BEYOND_DOUBT]
    return code


def _superheat_high(stretch: Stretch, entry: Entry) -> IntArray:
    track = stretch.tracks[RETURN]
    limit = _limit(stretch, track, entry)
    beyond = track.value - track.below > limit
    clear = track.value <= limit - entry.limits.deadband_k
    return _coded(stretch.has_status(track, Status.DECIDED), clear, beyond, np.zeros_like(beyond))


def _superheat_hunting(stretch: Stretch, entry: Entry) -> IntArray:
    track = stretch.tracks[SWING]
    limit = np.nan if entry.limits.limit_k is None else entry.limits.limit_k
    beyond = track.value - track.below > limit
    clear = track.value <= limit - entry.limits.deadband_k
    return _coded(stretch.has_status(track, Status.DECIDED), clear, beyond, np.zeros_like(beyond))


def _watch_blind(stretch: Stretch) -> IntArray:
    """It runs, and no superheat is decided; without doubt where a transient mode lasts too long.

    One that is taken after the accumulator cannot tell a wet return: it takes a discharge that is decided.
    Where nothing is heard, whether it runs is not known: that is for the alarm on the feed.
    """
    returned = stretch.tracks[RETURN]
    decided = stretch.has_status(returned, Status.DECIDED)
    decided &= ~stretch.has_standing(returned, Standing.AFTER_ACCUMULATOR) | told_by_discharge(stretch)
    situations = [situation for situation, _ in stretch.situations]
    stands = np.array([each.mode == "off" for each in situations])[stretch.situation]
    runs = np.array([each.mode != "unknown" or bool(each.running) for each in situations])[stretch.situation]
    passing = np.array([each.mode in TRANSIENT_MODES for each in situations])[stretch.situation]
    too_long = passing & (stretch.lasted_us > stretch.longest_transient_us)
    blind = runs & ~decided & ~stands
    return _coded(runs, ~blind, blind, blind & too_long)


def _probe_unfit(stretch: Stretch, configured_probe: str | None) -> IntArray:
    if configured_probe is None:
        return np.full(stretch.grid_us.shape, _CODE[Condition.CLEAR])
    judged = [choices.described for _, choices in stretch.situations]
    fit = [choices.fitness[configured_probe].verdict is Fitness.FIT for _, choices in stretch.situations]
    known, good = np.array(judged)[stretch.situation], np.array(fit)[stretch.situation]
    return _coded(known, good, ~good, np.zeros_like(good))


def _limit(stretch: Stretch, track: Track, entry: Entry) -> FloatArray:
    """The limit at every grid time: wider where the value is second best, none after the accumulator."""
    usual, second = entry.limits.limit_k, entry.limits.second_best_k
    low = entry.name == SUPERHEAT_LOW.name
    limits = {Standing.SECOND_BEST: second, Standing.AFTER_ACCUMULATOR: None if low else second}
    found = [limits.get(said.standing, usual) if said.standing else usual for said in stretch.phrases]
    return np.array([np.nan if limit is None else limit for limit in found])[track.said]


def _one_alone(stretch: Stretch, track: Track) -> BoolArray:
    """There is a value, of a probe that another contradicts, or whose partner is missing."""
    alone = stretch.has_cause(track, Cause.DISAGREEMENT) | stretch.has_status(track, Status.MISSING)
    return alone & ~np.isnan(track.value)


def _coded(known: BoolArray, clear: BoolArray, beyond: BoolArray, without_doubt: BoolArray) -> IntArray:
    code = np.full(known.shape, _CODE[Condition.INSIDE])
    code[clear] = _CODE[Condition.CLEAR]
    code[beyond] = _CODE[Condition.BEYOND]
    code[without_doubt] = _CODE[Condition.BEYOND_DOUBT]
    code[~known] = _CODE[Condition.UNKNOWN]
    return code

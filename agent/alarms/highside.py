"""The alarms of the high side: wet compression, a hot discharge, too little and too much subcooling.

Each with its words and its condition at every grid time; its figures are put in words in `highside_facts`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from agent.alarms.condition import CODE, Condition
from agent.alarms.entry import Entry, Limits, Priority
from agent.assess.assessment import (
    DISCHARGE_MARGIN,
    DISCHARGE_TEMPERATURE,
    SUBCOOLING,
    Cause,
    Status,
)
from agent.assess.frames import BoolArray, IntArray
from agent.assess.stretch import Stretch, Track
from agent.piping import RETURN, Standing

_SUBCOOLED_MODES = ("cooling", "heating")

DISCHARGE_SUPERHEAT_LOW = Entry(
    name="discharge-superheat-low",
    raised_when=(
        "The discharge gas is colder than saturated suction can make it, with all that is not known of the "
        "compressor and of the instruments. The priority is high unless a fit return superheat clear of "
        "zero denies it; it is low while the gas still falls or swings."
    ),
    cause=(
        "The discharge gas is colder than saturated suction can make it: liquid, or a discharge probe or "
        "pressure reading low."
    ),
    consequence="Liquid thins the oil and can break the compressor, whatever a suction probe shows.",
    first_response=(
        "See which indoor units call and how far their expansion valves stand open, and whether anything is "
        "injected; look whether the compressor's shell sweats or frosts, and up to where the accumulator "
        "does; whether the discharge probe sits tight and insulated: the pipe burns, do not touch it."
    ),
    priority=Priority.MEDIUM,
    urgent=Priority.HIGH,
    may_break=True,
    limits=Limits(limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=600, off_delay_s=600),
)
DISCHARGE_TEMPERATURE_HIGH = Entry(
    name="discharge-temperature-high",
    raised_when=(
        "A discharge temperature is above its limit, in every mode. The priority is high from the urgent "
        "limit on, after a shorter delay."
    ),
    cause="The discharge gas is hot enough to shorten the life of oil and insulation.",
    consequence="Oil, valves and windings suffer, and the compressor may trip.",
    first_response=(
        "See whether the outdoor fan runs and the coil is free, what injection does, and whether service "
        "valves stand closed; look up the limit in the equipment's instructions, which differs by "
        "refrigerant. The pipe burns: do not touch it."
    ),
    priority=Priority.MEDIUM,
    urgent=Priority.HIGH,
    may_break=True,
    limits=Limits(
        limit_k=None,
        second_best_k=None,
        deadband_k=5.0,
        on_delay_s=600,  # a few minutes above it after a defrost are ordinary; common practice, no source
        off_delay_s=600,
        urgent_on_delay_s=120,
        limit_c=105.0,
        urgent_c=115.0,
    ),
    never_suppressed=True,
)
SUBCOOLING_LOW = Entry(
    name="subcooling-low",
    raised_when=(
        "Settled subcooling is under its limit by more than its uncertainty; only where a liquid probe sees "
        "what leaves the condensers."
    ),
    cause="The liquid leaves the condenser hardly colder than it condensed.",
    consequence="Gas bubbles reach the expansion valves, and capacity falls.",
    first_response=(
        "Look at the condenser's air side: fan, coil, what blows onto it; at the openings of the expansion "
        "valves; for traces of oil at joints; fit a clamp beside the liquid-line probe, with the unit "
        "isolated, and read it when it runs again."
    ),
    priority=Priority.LOW,
    limits=Limits(limit_k=3.0, second_best_k=None, deadband_k=1.0, on_delay_s=1800, off_delay_s=1800),
)
SUBCOOLING_HIGH = Entry(
    name="subcooling-high",
    raised_when=(
        "Settled subcooling is above its limit by more than its uncertainty; only where a liquid probe sees "
        "what leaves the condensers."
    ),
    cause="The liquid leaves the condenser far colder than it condensed: liquid stands in the condenser.",
    consequence="Condensing pressure and power rise.",
    first_response=(
        "Look at the openings of the expansion valves, for service valves that stand closed, whether a "
        "filter in the liquid line is cold behind, and how many indoor units call."
    ),
    priority=Priority.LOW,
    limits=Limits(limit_k=12.0, second_best_k=None, deadband_k=2.0, on_delay_s=1800, off_delay_s=1800),
)


def highside_conditions(stretch: Stretch, catalogue: Mapping[str, Entry]) -> dict[str, IntArray]:
    """Per alarm of this family the code of its condition at every grid time."""
    return {
        DISCHARGE_SUPERHEAT_LOW.name: _discharge_superheat_low(stretch),
        DISCHARGE_TEMPERATURE_HIGH.name: _temperature_high(
            stretch, catalogue[DISCHARGE_TEMPERATURE_HIGH.name].limits
        ),
        SUBCOOLING_LOW.name: _subcooling_low(stretch, catalogue[SUBCOOLING_LOW.name].limits),
        SUBCOOLING_HIGH.name: _subcooling_high(stretch, catalogue[SUBCOOLING_HIGH.name].limits),
    }


def wet_by_discharge(stretch: Stretch) -> BoolArray:
    """Liquid came to a compressor: even with all of its uncertainty its margin is below zero."""
    return _some_margin(stretch, lambda track: track.value + track.above < 0)


def dry_by_discharge(stretch: Stretch) -> BoolArray:
    """Some compressor takes in dry gas: its margin, less all of its uncertainty, is above zero."""
    return _some_margin(stretch, lambda track: track.value - track.below > 0)


def told_by_discharge(stretch: Stretch) -> BoolArray:
    """The margin of some compressor is decided, wherever it lies."""
    return _some_margin(stretch, lambda track: np.full(track.value.shape, True))


def _some_margin(stretch: Stretch, is_so: Callable[[Track], BoolArray]) -> BoolArray:
    """The margin of some compressor is decided, and this is so of it."""
    found = np.zeros(stretch.grid_us.shape, bool)
    for _, track in _each(stretch, DISCHARGE_MARGIN):
        found |= stretch.has_status(track, Status.DECIDED) & is_so(track)
    return found


def _discharge_superheat_low(stretch: Stretch) -> IntArray:
    """Wet by any compressor; clear only where every one that runs and can be told of is dry.

    Beyond doubt unless a fit return superheat denies it: then the discharge probe may have slipped instead.
    Possible where the gas is colder than that and falls or swings: the hot shell makes it read too hot then.
    """
    some, all_dry, perhaps = (np.full(stretch.grid_us.shape, state) for state in (False, True, False))
    for compressor, track in _each(stretch, DISCHARGE_MARGIN):
        decided = stretch.has_status(track, Status.DECIDED)
        stands = stretch.running[compressor] == 0
        silent = stands | stretch.has_status(track, Status.NOT_MEASURABLE)
        some |= decided
        perhaps |= stretch.has_cause(track, Cause.FALLING, Cause.SPREAD) & (track.value + track.above < 0)
        all_dry &= silent | (decided & (track.value - track.below > 0))
    code = np.full(stretch.grid_us.shape, CODE[Condition.INSIDE])
    code[all_dry] = CODE[Condition.CLEAR]
    wet = wet_by_discharge(stretch)
    code[wet] = CODE[Condition.BEYOND_DOUBT]
    code[wet & _dry_return(stretch)] = CODE[Condition.BEYOND]
    code[~some] = CODE[Condition.UNKNOWN]
    code[perhaps & ~wet] = CODE[Condition.POSSIBLE]
    return code


def _dry_return(stretch: Stretch) -> BoolArray:
    """Return superheat is decided, by a fit probe, and clear of zero by all of its uncertainty."""
    track = stretch.tracks[RETURN]
    fit = stretch.has_standing(track, Standing.FIT)
    return fit & stretch.has_status(track, Status.DECIDED) & (track.value - track.below > 0)


def _temperature_high(stretch: Stretch, limits: Limits) -> IntArray:
    """Whatever the mode and the words say: the hottest value that there is."""
    hottest = np.full(stretch.grid_us.shape, np.nan)
    for _, track in _each(stretch, DISCHARGE_TEMPERATURE):
        hottest = np.fmax(hottest, track.value)
    limit, urgent = (np.nan if each is None else each for each in (limits.limit_c, limits.urgent_c))
    code = np.full(stretch.grid_us.shape, CODE[Condition.INSIDE])
    code[hottest <= limit - limits.deadband_k] = CODE[Condition.CLEAR]
    code[hottest >= limit] = CODE[Condition.BEYOND]
    code[hottest >= urgent] = CODE[Condition.BEYOND_DOUBT]
    code[np.isnan(hottest)] = CODE[Condition.UNKNOWN]
    return code


def _subcooling_low(stretch: Stretch, limits: Limits) -> IntArray:
    limit = np.nan if limits.limit_k is None else limits.limit_k

    def judged(track: Track) -> tuple[BoolArray, BoolArray]:
        return track.value + track.above < limit, track.value >= limit + limits.deadband_k

    return _subcooling(stretch, judged, (Standing.FIT, Standing.UPPER_BOUND))


def _subcooling_high(stretch: Stretch, limits: Limits) -> IntArray:
    limit = np.nan if limits.limit_k is None else limits.limit_k

    def judged(track: Track) -> tuple[BoolArray, BoolArray]:
        return track.value - track.below > limit, track.value <= limit - limits.deadband_k

    return _subcooling(stretch, judged, (Standing.FIT,))


def _subcooling(
    stretch: Stretch,
    judged: Callable[[Track], tuple[BoolArray, BoolArray]],
    standings: tuple[Standing, ...],
) -> IntArray:
    """Of a settled mode in which a probe sees what leaves the condensers, by a probe that proves it."""
    code = np.full(stretch.grid_us.shape, CODE[Condition.UNKNOWN])
    track = stretch.tracks.get(SUBCOOLING)
    if track is None:
        return code
    modes = np.array([situation.mode in _SUBCOOLED_MODES for situation, _ in stretch.situations])
    proves = stretch.has_standing(track, *standings)
    known = stretch.has_status(track, Status.DECIDED) & proves & modes[stretch.situation]
    beyond, clear = judged(track)
    code[known] = CODE[Condition.INSIDE]
    code[known & clear] = CODE[Condition.CLEAR]
    code[known & beyond] = CODE[Condition.BEYOND]
    return code


def _each(stretch: Stretch, family: str) -> Iterator[tuple[str, Track]]:
    """A quantity of every compressor, by the compressor's name."""
    for name, track in stretch.tracks.items():
        if name.startswith(family):
            yield name.removeprefix(family), track

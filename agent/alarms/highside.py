"""The alarms of the high side: wet compression, a hot discharge, too little and too much subcooling.

Each with its words, its condition at every grid time, and the figures that it rests on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

import numpy as np

from agent.alarms.condition import CODE, Condition
from agent.alarms.entry import Entry, Limits, Priority
from agent.alarms.finding import Facts
from agent.assess.assessment import (
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    SUBCOOLING,
    Assessment,
    Cause,
    Quantity,
    Said,
    Status,
)
from agent.assess.frames import BoolArray, IntArray
from agent.assess.stretch import Stretch, Track
from agent.piping import COMPRESSOR_INLET, RETURN, Standing

DILUTED_K = 10.0  # of discharge superheat; common practice, no source
COMFORTABLE_K = 2.0  # of superheat, above which a probe looks healthy; common practice, no source
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
        "injected; look how cold the compressor's shell is and up to where the accumulator is; "
        "look whether the discharge probe sits tight and insulated: the pipe burns, do not touch it."
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
        "valves; for traces of oil at joints; hold a clamp beside the liquid-line probe."
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
    found = np.zeros(stretch.grid_us.shape, bool)
    for _, track in _each(stretch, DISCHARGE_MARGIN):
        found |= _status(stretch, track, Status.DECIDED) & (track.value + track.above < 0)
    return found


def dry_by_discharge(stretch: Stretch) -> BoolArray:
    """Some compressor takes in dry gas: its margin, less all of its uncertainty, is above zero."""
    found = np.zeros(stretch.grid_us.shape, bool)
    for _, track in _each(stretch, DISCHARGE_MARGIN):
        found |= _status(stretch, track, Status.DECIDED) & (track.value - track.below > 0)
    return found


def told_by_discharge(stretch: Stretch) -> BoolArray:
    """The margin of some compressor is decided, wherever it lies."""
    found = np.zeros(stretch.grid_us.shape, bool)
    for _, track in _each(stretch, DISCHARGE_MARGIN):
        found |= _status(stretch, track, Status.DECIDED)
    return found


def _discharge_superheat_low(stretch: Stretch) -> IntArray:
    """Wet by any compressor; clear only where every one that runs and can be told of is dry.

    Beyond doubt unless a fit return superheat denies it: then the discharge probe may have slipped instead.
    Possible where the gas is colder than that and falls or swings: the hot shell makes it read too hot then.
    """
    some, all_dry, perhaps = (np.full(stretch.grid_us.shape, state) for state in (False, True, False))
    for compressor, track in _each(stretch, DISCHARGE_MARGIN):
        decided = _status(stretch, track, Status.DECIDED)
        stands = stretch.running[compressor] == 0
        silent = stands | _status(stretch, track, Status.NOT_MEASURABLE)
        some |= decided
        perhaps |= _falls_or_swings(stretch, track) & (track.value + track.above < 0)
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
    fit = np.array([said.standing is Standing.FIT for said in stretch.phrases])[track.said]
    return fit & _status(stretch, track, Status.DECIDED) & (track.value - track.below > 0)


def _falls_or_swings(stretch: Stretch, track: Track) -> BoolArray:
    causes = (Cause.FALLING, Cause.SPREAD)
    here: BoolArray = np.array([said.cause in causes for said in stretch.phrases])[track.said]
    return here


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
    proves = np.array([said.standing in standings for said in stretch.phrases])[track.said]
    known = _status(stretch, track, Status.DECIDED) & proves & modes[stretch.situation]
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


def _status(stretch: Stretch, track: Track, status: Status) -> BoolArray:
    here: BoolArray = np.array([said.status is status for said in stretch.phrases])[track.said]
    return here


def wettest(assessment: Assessment) -> tuple[str, Quantity] | None:
    """The compressor whose decided margin reaches least far up, with it."""
    found = [(name, margin) for name, margin in _of_each(assessment, DISCHARGE_MARGIN) if margin.decided]
    return min(found, key=lambda each: _highest(each[1]), default=None)


def agreeing(assessment: Assessment) -> str:
    """That the discharge shows liquid too, where it does."""
    found = wettest(assessment)
    if found is None or _highest(found[1]) >= 0:
        return ""
    return f"; the discharge of compressor {found[0]} agrees: it is colder than saturated suction makes it"


def _highest(quantity: Quantity) -> float:
    return (quantity.value or 0.0) + (quantity.above or 0.0)


def _wet_facts(entry: Entry, assessment: Assessment) -> Facts:
    found = wettest(assessment)
    if found is None:
        margins = _of_each(assessment, DISCHARGE_MARGIN)
        reason = next((margin.said.text for _, margin in margins), "no compressor's discharge is measured")
        return Facts(f"whether liquid comes to the compressor cannot be told now: {reason}")
    name, margin = found
    value, below, above = margin.value or 0.0, margin.below or 0.0, margin.above or 0.0
    shown = assessment.quantities[DISCHARGE_SUPERHEAT + name].value or 0.0
    probe = ", ".join(margin.said.probes)
    text = (
        f"discharge superheat of compressor {name} is {shown:.1f} K at {probe}; saturated suction would give "
        f"{shown - value - above:.0f} to {shown - value + below:.0f} K"
    )
    if _highest(margin) < 0:
        text = f"liquid, or a discharge probe or pressure that reads low: {text}{_comfort(assessment)}"
    elif value - below <= 0:
        text += f"; between these nothing is decided{diluted(shown)}"
    return Facts(text, probe, margin.value, margin.below, margin.above)


def diluted(discharge_superheat_k: float) -> str:
    """What a low discharge superheat means for the oil, where nothing is decided of liquid."""
    if discharge_superheat_k >= DILUTED_K:
        return ""
    return (
        f"; discharge superheat under {DILUTED_K:g} K: oil in a high-side shell may be diluted; no proof of "
        "wet suction"
    )


def _comfort(assessment: Assessment) -> str:
    """What a warm probe says at the same time."""
    for place in (RETURN, COMPRESSOR_INLET):
        shown = assessment.quantities.get(place)
        if shown is not None and shown.value is not None and shown.value > COMFORTABLE_K:
            return (
                f". {', '.join(shown.said.probes)} shows a comfortable {shown.value:.1f} K of superheat all "
                "the same: either liquid joins after that probe, or the discharge probe reads low"
            )
    return ""


def _hot_facts(entry: Entry, assessment: Assessment) -> Facts:
    """The value is a temperature, and stands in the words alone."""
    shown = [(each.value, name, each.said) for name, each in _of_each(assessment, DISCHARGE_TEMPERATURE)]
    there = [(value, name, said) for value, name, said in shown if value is not None]
    limits = entry.limits
    if not there:
        reason = next((said.text for _, _, said in shown), "no compressor's discharge is measured")
        return Facts(f"the discharge temperature cannot be told now: {reason}")
    value, name, said = max(there, key=lambda each: each[0])
    text = f"discharge of compressor {name} is {value:.1f} degC at {', '.join(said.probes)}"
    text += "" if limits.limit_c is None else f", limit {limits.limit_c:g} degC"
    text += "" if limits.urgent_c is None else f", urgent from {limits.urgent_c:g} degC"
    return Facts(text + _undecided(said), ", ".join(said.probes))


def _subcooling_facts(entry: Entry, assessment: Assessment) -> Facts:
    shown, limit = assessment.quantities.get(SUBCOOLING), entry.limits.limit_k
    if shown is None or shown.value is None:
        reason = shown.said.text if shown is not None else "it was not looked at then"
        return Facts(f"subcooling cannot be told now: {reason}", limit_k=limit)
    probes = ", ".join(shown.said.probes)
    text = f"subcooling {shown.value:.1f} K (-{shown.below:.1f} +{shown.above:.1f}) at {probes}"
    text += "" if limit is None else f", limit {limit:g} K"
    text += _undecided(shown.said)
    return Facts(text, probes, shown.value, shown.below, shown.above, limit)


def _undecided(said: Said) -> str:
    return "" if said.status is Status.DECIDED else f"; {said.status.replace('_', ' ')}: {said.text}"


def _of_each(assessment: Assessment, family: str) -> Iterator[tuple[str, Quantity]]:
    for name, quantity in assessment.quantities.items():
        if name.startswith(family):
            yield name.removeprefix(family), quantity


HIGHSIDE_FACTS: Mapping[str, Callable[[Entry, Assessment], Facts]] = {
    DISCHARGE_SUPERHEAT_LOW.name: _wet_facts,
    DISCHARGE_TEMPERATURE_HIGH.name: _hot_facts,
    SUBCOOLING_LOW.name: _subcooling_facts,
    SUBCOOLING_HIGH.name: _subcooling_facts,
}

"""Whether the superheat that a supervisor shows can be relied on: what it is made of, against the piping.

Judged by the hour under the name `probe-unfit`, of modules whose supervisor publishes its superheat and for
which nobody has stated the probe. Where that is stated, the statement is judged at every grid time, and what
is found here is evidence beside it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from agent.alarms.catalogue import PROBE_UNFIT
from agent.alarms.condition import Condition
from agent.alarms.entry import Entry
from agent.alarms.finding import Facts, Finding, Past, undecided
from agent.assess.byhour.hours import Hour, Stats, settled_in
from agent.assess.byhour.supervisor import Identified, Match, identify, pooled
from agent.assess.module import Module
from agent.assess.signals import SUPERVISOR
from agent.piping import RETURN, STEADY_MODES, Choices, Fitness, Standing

# By which a wrong pressure or line must shift the figure to matter; design choice, no source.
MISLEADS_K = 1.0
_RELIED_ON = (Standing.FIT, Standing.COVERING)


def with_supervisor(
    catalogue: Mapping[str, Entry], configured_probe: str | None, signals: Collection[str]
) -> Mapping[str, Entry]:
    """The catalogue of a module: where no probe is stated and its supervisor tells, judged by that."""
    if configured_probe is not None or SUPERVISOR not in signals:
        return catalogue
    by_hour = replace(
        catalogue[PROBE_UNFIT.name],
        cause=(
            "The supervisor makes its superheat of a probe that is not fit for it in this mode, or against "
            "the wrong pressure or line."
        ),
        first_response=(
            "Look on site where the probe is clamped and what joins ahead of it; a pressure is compared "
            "with a gauge at rest, by certified people: either side may have its reference wrong; until that "
            "is settled, do not go by the site's figure."
        ),
        by_hour=True,
    )
    return {**catalogue, by_hour.name: by_hour}


def probe_unfit(past: Past, entry: Entry) -> Finding:
    """In any mode of late, what the supervisor's superheat is made of is not fit, or misleads."""
    if SUPERVISOR not in past.module.signals:
        return undecided("the supervisor publishes no superheat of its own")
    modes = list(_latest_first(past))
    found = [_in_mode(past, mode) for mode in modes]
    for condition in (Condition.BEYOND, Condition.CLEAR):
        for each in found:
            if each.condition is condition:
                return each
    return found[0] if found else undecided("no steady mode was settled for long enough")


class _Judged(NamedTuple):
    """What one way of making a superheat is worth, and why."""

    condition: Condition
    why: str


class _Mean(NamedTuple):
    mean: float
    below: float = 0.0
    above: float = 0.0


def _latest_first(past: Past) -> Iterable[str]:
    settled = [hour.settled_mode for hour in reversed(past.hours)]
    return dict.fromkeys(
        mode for mode in settled if mode in STEADY_MODES and mode in past.module.layout.modes
    )


def _in_mode(past: Past, mode: str) -> Finding:
    known = identify(past.hours, past.module, mode)
    if not known.group:
        return undecided(f"what the supervisor's superheat is made of: {known.text}")
    hours = settled_in(past.hours, mode)
    choices = _choices(past.module, hours, mode)
    judged = [_judged(known, match, choices, hours) for match in known.group]
    if len({each.condition for each in judged}) > 1:
        which = f"the supervisor's superheat is {known.said}, and it matters which"
        return undecided(f"{which}: {known.proof}")
    shown, returned = _mean(hours, mode, SUPERVISOR), _mean(hours, mode, RETURN)
    difference = pooled(hours, mode, RETURN)
    misleads_k = difference.total / difference.number if difference.number and returned else None
    by = "by how much it misleads cannot be told: no return superheat was decided in these hours"
    if misleads_k is not None and returned is not None:
        more = "more" if misleads_k >= 0 else "less"
        by = (
            f"it shows {abs(misleads_k):.1f} K {more} than return superheat, which is known to "
            f"-{returned.below:.1f} +{returned.above:.1f} K"
        )
    text = f"the supervisor's superheat is {known.said}; {judged[0].why}; {by}; {known.proof}"
    value_k = None if shown is None else shown.mean
    return Finding(judged[0].condition, Facts(text, known.probe, value_k, misleads_k=misleads_k))


def _judged(known: Identified, match: Match, choices: Choices, hours: Sequence[Hour]) -> _Judged:
    """The probe by the piping; then the pressure and the line by what they do to the figure."""
    probe = match.candidate.probe
    fitness, chosen = choices.fitness[probe], choices.places[RETURN]
    why = f"{probe} is {fitness.verdict.replace('_', ' ')} in {known.mode}: {fitness.reason}"
    if fitness.verdict is Fitness.UNPROVEN:
        return _Judged(Condition.UNKNOWN, why)
    relied_on = chosen.probes == (probe,) and chosen.standing in _RELIED_ON
    if fitness.verdict is not Fitness.FIT and not relied_on:
        return _Judged(Condition.BEYOND, why)
    plain = known.match(match.candidate.plain)
    if match.candidate.is_plain or plain is None:
        return _Judged(Condition.CLEAR, why)
    shift_k = plain.offset_k
    allowed = _mean(hours, known.mode, RETURN) or _Mean(0.0)
    side_k = allowed.above if shift_k > 0 else allowed.below
    more = "more" if shift_k > 0 else "less"
    words = f"{match.candidate.words} makes {abs(shift_k):.1f} K {more} of it"
    if abs(shift_k) > max(side_k, MISLEADS_K):
        return _Judged(Condition.BEYOND, f"{words}, if the pressure here is right")
    return _Judged(Condition.CLEAR, f"{why}; {words}, which does not matter here")


def _choices(module: Module, hours: Sequence[Hour], mode: str) -> Choices:
    """What the piping says with valves and compressors as they mostly were."""
    layout = module.layout
    stood = {valve: _mean(hours, mode, valve) for valve in layout.valves}
    valves = {valve: None if mean is None else mean.mean >= 0.5 for valve, mean in stood.items()}
    ran = [name for name in layout.compressors if _mostly_ran(hours, name)]
    probes = [probe for probe in layout.suction_probes if probe in module.signals]
    return layout.choose(mode, valves, ran or layout.compressors, probes)


def _mostly_ran(hours: Sequence[Hour], compressor: str) -> bool:
    running = sum(hour.running.get(compressor, 0) for hour in hours)
    return 2 * running > sum(hour.known.get(compressor, 0) for hour in hours)


def _mean(hours: Sequence[Hour], mode: str, name: str) -> _Mean | None:
    """A signal or quantity over all the hours of a mode; None: never there."""
    several: list[Stats] = []
    for hour in hours:
        part: Mapping[str, Stats] = {**hour.parts[mode].signals, **hour.parts[mode].quantities}
        several += [part[name]] if name in part else []
    if not several:
        return None
    number = sum(each.number for each in several)
    return _Mean(
        sum(each.number * each.mean for each in several) / number,
        sum(each.number * each.below for each in several) / number,
        sum(each.number * each.above for each in several) / number,
    )

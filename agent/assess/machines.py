"""What the compressors draw and how evenly, and what is injected into them."""

from __future__ import annotations

import numpy as np

from agent.assess.assessment import CURRENT, CURRENT_BALANCE, INJECTION, Cause, Said, Status
from agent.assess.elapsed import since
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.judge import REPEATS, Judge
from agent.assess.signals import current_of, speed_of
from agent.assess.stretch import Track

# Largest speed less smallest over their mean, for currents to be compared; design choice, no source.
EVEN_SPEEDS = 0.1


def machine_tracks(judge: Judge) -> dict[str, Track]:
    """Each compressor's current, their balance, and the injection, by name of the quantity."""
    compressors = judge.module.layout.compressors
    tracks = {CURRENT + name: _current(judge, name) for name in compressors}
    return tracks | {CURRENT_BALANCE: _balance(judge), INJECTION: _injection(judge)}


def _current(judge: Judge, compressor: str) -> Track:
    signal = current_of(compressor)
    if signal not in judge.module.signals:
        text = f"{signal} is not among the module's signals"
        return judge.nothing(Status.NOT_MEASURABLE, Cause.PIPING, text)
    value = judge.frame(signal).value
    said = judge.say(Said(Status.DECIDED, Cause.NONE, f"from {signal}", None, ()))
    _unsettled(judge, said)
    judge.missing(said, signal)
    judge.not_judged(said)
    runs, name = judge.runs(compressor), f"compressor {compressor}"
    judge.overrule(said, runs == 0, Status.NOT_DECIDABLE, Cause.MODE, f"{name} stands")
    unknown = f"no signal tells whether {name} runs"
    judge.overrule(said, (runs < 0) & ~np.isnan(value), Status.NOT_DECIDABLE, Cause.MODE, unknown)
    spread = np.where(np.isnan(value), np.nan, 2 * _uncertainty(judge, signal))
    return Track(value, spread, spread, said)


def _balance(judge: Judge) -> Track:
    """Largest current less smallest over their mean, of the compressors that run at like speed."""
    names = judge.module.layout.compressors
    currents, speeds = ([of(name) for name in names] for of in (current_of, speed_of))
    lacking = [each for each in (*currents, *speeds) if each not in judge.module.signals]
    if len(names) < 2 or lacking:
        text = f"{lacking[0]} is not among the module's signals" if lacking else "there is one compressor"
        return judge.nothing(Status.NOT_MEASURABLE, Cause.PIPING, text)
    running = np.stack([judge.runs(name) for name in names])
    drawn = np.stack([judge.frame(each).value for each in currents])
    turning = np.stack([judge.frame(each).value for each in speeds])
    several: BoolArray = np.greater_equal((running == 1).sum(axis=0), 2)
    value, uneven = _spread(drawn, running == 1), _spread(turning, running == 1)
    like = several & (uneven <= EVEN_SPEEDS)
    value = np.where(like, value, np.nan)
    said = judge.say(Said(Status.DECIDED, Cause.NONE, "largest less smallest over their mean", None, ()))
    _unsettled(judge, said)
    text = "the compressors do not run at like speed"
    judge.overrule(said, several & (uneven > EVEN_SPEEDS), Status.NOT_DECIDABLE, Cause.MODE, text)
    for one, signals in ((drawn, currents), (turning, speeds)):
        for signal, values, runs in zip(signals, one, running, strict=True):
            gone = (runs == 1) & np.isnan(values)
            judge.overrule(said, gone, Status.MISSING, Cause.READING, f"{signal} is missing")
    judge.overrule(said, ~several, Status.NOT_DECIDABLE, Cause.MODE, "fewer than two compressors run")
    text = "no signal tells which compressors run"
    judge.overrule(said, running.min(axis=0) < 0, Status.NOT_DECIDABLE, Cause.MODE, text)
    judge.not_judged(said)
    u_one = max(_uncertainty(judge, each) for each in currents)
    spread = np.where(np.isnan(value), np.nan, 2 * np.sqrt(2) * u_one / _mean(drawn, running == 1))
    return Track(value, spread, spread, said)


def _spread(values: FloatArray, counted: BoolArray) -> FloatArray:
    """Largest less smallest of those that count, over their mean; NaN where one of them is missing."""
    most = np.where(counted, values, -np.inf).max(axis=0)
    least = np.where(counted, values, np.inf).min(axis=0)
    mean = _mean(values, counted)
    return np.where(np.isnan(mean), np.nan, (most - least) / mean)


def _mean(values: FloatArray, counted: BoolArray) -> FloatArray:
    """Of those that count; NaN where there is none, one is missing, or it is not above zero."""
    mean = np.where(counted, values, 0.0).sum(axis=0) / np.maximum(counted.sum(axis=0), 1)
    return np.where(mean > 0, mean, np.nan)


def _injection(judge: Judge) -> Track:
    """How far the injection valve is open, 0..1; whether that makes sense is what is judged."""
    injection = judge.module.layout.injection
    if injection is None or injection.valve is None:
        text = (
            "the layout has no injection" if injection is None else "nothing tells how far injection is open"
        )
        return judge.nothing(Status.NOT_MEASURABLE, Cause.PIPING, text)
    if injection.valve not in judge.module.signals:
        text = f"{injection.valve} is not among the module's signals"
        return judge.nothing(Status.NOT_MEASURABLE, Cause.PIPING, text)
    value = judge.frame(injection.valve).value
    said = judge.say(Said(Status.DECIDED, Cause.NONE, f"from {injection.valve}", None, ()))
    judge.missing(said, injection.valve)
    stands = np.all([judge.runs(name) == 0 for name in sorted(injection.into)], axis=0)
    long = since(~stands, judge.grid_us) >= judge.module.settling.switched_us
    into = " or ".join(sorted(injection.into))
    text = f"injection is open while compressor {into} stands"
    judge.overrule(said, long & stands & (value > 0), Status.NOT_DECIDABLE, Cause.CONTRADICTION, text)
    spread = np.where(np.isnan(value), np.nan, 2 * _uncertainty(judge, injection.valve))
    return Track(value, spread, spread, said)


def _unsettled(judge: Judge, said: IntArray) -> None:
    judge.quiet(said)
    judge.overrule(said, judge.repeated, Status.NOT_DECIDABLE, Cause.REPEATED, REPEATS)


def _uncertainty(judge: Judge, signal: str) -> float:
    """NaN where nobody stated the instrument's accuracy."""
    stated = judge.module.signals[signal]
    return judge.uncertainty(signal) if stated.half_width else float("nan")

"""What somebody measured by hand at a module, against the telemetry of that minute.

A clamp or a gauge stands for the same pipe as a probe or a transducer; so the two may differ by what both
instruments may be wrong, and by no more. Only what had settled is judged: else one of them was still moving.
Clamps ahead of and after an inlet tell on which side of it a probe sits. Nothing here relabels anything: a
person writes what was found into the configuration.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from math import hypot
from typing import NamedTuple

import numpy as np

from agent.assess.by_hand import (
    STEP_US,
    ByHand,
    HandheldCompared,
    Kind,
    Moment,
    Of,
    Verdict,
    amount,
    expanded,
    figure,
)
from agent.assess.frames import Samples
from agent.assess.handheld_sides import PAIR_US, partners, sides
from agent.assess.module import SECOND, Module
from agent.thermo import COVERAGE_FACTOR, dew_slope, dew_temperature, standard_uncertainty

# What a hand instrument may be wrong by where nobody says; common practice, no source.
CLAMP_K = 0.5
GAUGE_PA = 35e3  # class 1 of a span of 35 bar

__all__ = [
    "CLAMP_K",
    "GAUGE_PA",
    "STEP_US",
    "ByHand",
    "Comparison",
    "HandheldCompared",
    "Kind",
    "Of",
    "Verdict",
    "compare",
    "figure",
]


class Comparison(NamedTuple):
    """One result for each reading, in their order, and what follows from several."""

    readings: tuple[HandheldCompared, ...]
    concluded: tuple[HandheldCompared, ...]


def compare(
    module: Module, by_hand: Sequence[ByHand], samples: Mapping[int, Mapping[str, Samples]]
) -> Comparison:
    """Compare readings by hand with the telemetry of their minutes.

    ``samples``: by the time of each reading, per signal what came in up to then, in SI, reaching back
    ``module.lookback_us + STEP_US`` before it.
    """
    moments = {at_us: Moment(module, at_us, samples[at_us]) for at_us in {each.at_us for each in by_hand}}
    readings = tuple(_reading(moments[each.at_us], each, bool(partners(each, by_hand))) for each in by_hand)
    return Comparison(readings, (*_offsets(module, by_hand, readings), *sides(by_hand, moments)))


def _reading(moment: Moment, hand: ByHand, has_partner: bool) -> HandheldCompared:
    said = f"{figure(hand.value, hand.kind)} by hand"
    if hand.kind is Kind.INLET:
        text = f"{said}: {_beside_inlet(moment, hand.place, has_partner)}"
        return HandheldCompared(Of.READING, "", Verdict.CANNOT_TELL, text, hand.at_us, inlet=hand.place)
    there, doubt = moment.value(hand.place), moment.doubt(hand.place)
    result = partial(HandheldCompared, Of.READING, hand.place, at_us=hand.at_us)
    if np.isnan(there):
        return result(Verdict.CANNOT_TELL, f"{said}: cannot tell, {doubt}")
    said += f", {figure(there, hand.kind)} by telemetry"
    apart = there - hand.value
    spread = expanded(standard_uncertainty(hand.half_width), moment.u(hand.place))
    apart_k, spread_k = _in_kelvin(moment.module, hand, there, spread)
    result = partial(result, telemetry=there, difference_k=apart_k, u_k=spread_k)
    if doubt:
        return result(Verdict.CANNOT_TELL, f"{said}: cannot tell, {doubt}")
    reach = f"±{amount(spread, hand.kind)}"
    if abs(apart) <= spread:
        return result(Verdict.AGREES, f"{said}: they agree within {reach}")
    more = f"{amount(abs(apart), hand.kind)} {'more' if apart > 0 else 'less'} than by hand"
    if hand.kind is Kind.TRANSDUCER and apart_k is not None:
        more += f" ({abs(apart_k):.1f} K of dew temperature)"
    return result(Verdict.DIFFERS, f"{said}: {more}, beyond the {reach} that both instruments explain")


def _beside_inlet(moment: Moment, inlet: str, has_partner: bool) -> str:
    if inlet not in moment.layout.inlets:
        return f"cannot tell, layout {moment.layout.name} has no inlet {inlet}"
    if has_partner:
        return f"beside the clamp on the other side of {inlet}, see what follows from both"
    within = f"within {PAIR_US // (60 * SECOND)} min"
    other = f"with a clamp on the other side of {inlet} {within}"
    return f"cannot tell by itself; {other} it tells on which side probes sit"


def _in_kelvin(
    module: Module, hand: ByHand, there: float, spread: float
) -> tuple[float | None, float | None]:
    """A difference and its uncertainty [K], of a pressure as dew temperature; None outside its table."""
    if hand.kind is not Kind.TRANSDUCER:
        return there - hand.value, spread
    pressures = np.array([there, hand.value])
    dew_c = np.asarray(dew_temperature(module.refrigerant, pressures))
    slope = float(np.asarray(dew_slope(module.refrigerant, pressures))[1])
    if np.isnan(dew_c).any() or np.isnan(slope):
        return None, None
    return float(dew_c[0] - dew_c[1]), slope * spread


def _offsets(
    module: Module, by_hand: Sequence[ByHand], readings: Sequence[HandheldCompared]
) -> Iterator[HandheldCompared]:
    """What repeated readings say of a probe's own error.

    Hand instruments may be wrong in the same way each time, so that their limits do not average out; steps
    and scatter do (JCGM 100:2008, 4.2.3 and 5.2). What is beyond this is an offset; whether the probe's own
    limit of error covers it is the verdict.
    """
    for probe in sorted({each.place for each in by_hand if each.kind is Kind.PROBE}):
        judged = [
            (hand, found)
            for hand, found in zip(by_hand, readings, strict=True)
            if found.probe == probe and found.verdict is not Verdict.CANNOT_TELL
        ]
        if len(judged) < 2:
            continue
        apart = np.array([found.difference_k for _, found in judged], dtype=float)
        u_hand = float(np.mean([standard_uncertainty(hand.half_width) for hand, _ in judged]))
        signal = module.signals[probe]
        scatter = max(float(np.std(apart, ddof=1)), standard_uncertainty(0.0, signal.step))
        u_mean = hypot(u_hand, scatter / len(apart) ** 0.5)
        offset, spread = float(np.mean(apart)), COVERAGE_FACTOR * u_mean
        text = f"from {len(apart)} readings by hand {probe} reads {offset:+.1f} K ±{spread:.1f}"
        verdict = Verdict.AGREES
        if abs(offset) <= spread:
            text += ": no offset that they could tell"
        elif abs(offset) <= expanded(u_mean, standard_uncertainty(signal.half_width)):
            text += f": an offset that its limit of error ({signal.half_width:g} K) still covers"
        else:
            verdict = Verdict.DIFFERS
            text += f": an offset beyond its limit of error ({signal.half_width:g} K)"
        newest_us = max(hand.at_us for hand, _ in judged)
        yield HandheldCompared(Of.OFFSET, probe, verdict, text, newest_us, None, offset, spread)

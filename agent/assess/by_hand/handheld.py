"""What somebody measured by hand at a module, against the telemetry of that minute.

A clamp or a gauge stands for the same pipe as a probe or a transducer; so the two may differ by what both
instruments may be wrong, and by no more. Only what had settled is judged: else one of them was still moving.
Clamps ahead of and after an inlet tell on which side of it a probe sits. Nothing here relabels anything: a
person writes what was found into the configuration.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from math import hypot, inf
from typing import NamedTuple

import numpy as np

from agent.assess.by_hand.exchanged import exchanged, not_denied, reads_like
from agent.assess.by_hand.readings import (
    AS_IT_IS,
    STEP_US,
    ByHand,
    HandheldCompared,
    Kind,
    Moment,
    Of,
    Shown,
    Verdict,
    expanded,
)
from agent.assess.by_hand.sides import PAIR_US, partners, sides
from agent.assess.frames import Samples
from agent.assess.module import SECOND, Module
from agent.thermo import COVERAGE_FACTOR, dew_slope, dew_temperature, standard_uncertainty

# What a hand instrument may be wrong by where nobody says; common practice, no source.
CLAMP_K = 0.5
GAUGE_PA = 35e3  # class 1 of a span of 35 bar

# What to look at where something differs; common practice, no source.
LOOK_AT_CLAMP = (
    "Clamp tight, insulated, ten pipe diameters from a joint? Measure once more; if it stays, the probe, its "
    "place or its point is wrong."
)
LOOK_AT_GAUGE = (
    "Gauge for absolute? Another port? Have it measured once more, by certified people; if it stays, the "
    "transducer, its place or its point is wrong."
)
LOOK_AT_POINTS = (
    "Measure beside {like} too: if that reads like {probe}, the two points are exchanged and the layout is "
    "right."
)

__all__ = [
    "AS_IT_IS",
    "CLAMP_K",
    "GAUGE_PA",
    "STEP_US",
    "ByHand",
    "Comparison",
    "HandheldCompared",
    "Kind",
    "Of",
    "Shown",
    "Verdict",
    "compare",
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
    crossed = list(exchanged(readings))
    told = list(sides(by_hand, moments))
    crossed += [each for each in told if each.of is Of.EXCHANGED]
    told = list(not_denied(told, {name for each in crossed for name in (each.probe, each.like)}))
    newest = {(each.probe, each.like): each for each in sorted(crossed, key=lambda each: each.at_us)}
    concluded = [*newest.values(), *_offsets(module, by_hand, readings)]
    concluded += [each for each in told if each.of is not Of.EXCHANGED]
    filed = tuple(_filed(hand, each, told) for hand, each in zip(by_hand, readings, strict=True))
    return Comparison(filed, tuple(concluded))


def _filed(hand: ByHand, reading: HandheldCompared, told: Sequence[HandheldCompared]) -> HandheldCompared:
    """A clamp of two beside an inlet under what both together say."""
    verdicts = {each.verdict for each in told if each.inlet == hand.place and hand.at_us in each.rests_on} - {
        Verdict.CANNOT_TELL
    }
    if hand.kind is not Kind.INLET or not verdicts:
        return reading
    return reading._replace(verdict=Verdict.DIFFERS if Verdict.DIFFERS in verdicts else Verdict.AGREES)


def _reading(moment: Moment, hand: ByHand, has_partner: bool) -> HandheldCompared:
    said = f"{hand.figure(hand.value)} by hand"
    if hand.kind is Kind.INLET:
        text = f"{said}: {_beside_inlet(moment, hand.place, has_partner)}"
        far_k = _from_nearest(moment, hand)
        return HandheldCompared(
            Of.READING, "", Verdict.CANNOT_TELL, text, hand.at_us, inlet=hand.place, far_k=far_k
        )
    there, doubt = moment.value(hand.place), moment.doubt(hand.place)
    result = partial(HandheldCompared, Of.READING, hand.place, at_us=hand.at_us)
    if np.isnan(there):
        return result(Verdict.CANNOT_TELL, f"{said}: cannot tell, {doubt}")
    said += f", {hand.figure(there)} by telemetry"
    apart = there - hand.value
    spread = expanded(standard_uncertainty(hand.half_width), moment.u(hand.place))
    apart_k, spread_k = _in_kelvin(moment.module, hand, there, spread)
    far_k = inf if apart_k is None else abs(apart_k)
    result = partial(result, telemetry=there, difference_k=apart_k, u_k=spread_k, far_k=far_k)
    if doubt:
        return result(Verdict.CANNOT_TELL, f"{said}: cannot tell, {doubt}")
    reach = f"±{hand.amount(spread)}"
    if abs(apart) <= spread:
        return result(Verdict.AGREES, f"{said}: they agree within {reach}")
    like = reads_like(moment, hand)
    if like:
        read = hand.figure(moment.value(like))
        said += f": it is what {like} reads ({read}): perhaps the two signals are exchanged"
    more = f"{hand.amount(abs(apart))} {'more' if apart > 0 else 'less'} than by hand"
    if hand.kind is Kind.TRANSDUCER and apart_k is not None:
        more += f" ({abs(apart_k):.1f} K of dew temperature)"
    text = f"{said}{';' if like else ':'} {more}, beyond the {reach} that both instruments explain"
    look = LOOK_AT_GAUGE if hand.kind is Kind.TRANSDUCER else LOOK_AT_CLAMP
    advice = LOOK_AT_POINTS.format(like=like, probe=hand.place) if like else look
    return result(Verdict.DIFFERS, text, like=like, advice=advice)


def _from_nearest(moment: Moment, hand: ByHand) -> float | None:
    """How far [K] a clamp on the suction line is from the nearest probe there; None: none is read."""
    apart = [
        abs(moment.value(probe) - hand.value)
        for probe in moment.layout.suction_probes
        if probe in moment.module.signals
    ]
    return min((each for each in apart if not np.isnan(each)), default=None)


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
        if len(judged) < 2 or all(found.like for _, found in judged):
            continue
        apart = np.array([found.difference_k for _, found in judged], dtype=float)
        u_hand = float(np.mean([standard_uncertainty(hand.half_width) for hand, _ in judged]))
        signal = module.signals[probe]
        newest_us = max(hand.at_us for hand, _ in judged)
        if _contradict(apart, [hand.half_width for hand, _ in judged], signal.step):
            least, most = f"{apart.min():+.1f}", f"{apart.max():+.1f}"
            text = f"{probe} against {len(apart)} readings by hand, {least} to {most} K: cannot tell, "
            text += "the readings contradict each other"
            yield HandheldCompared(
                Of.OFFSET, probe, Verdict.CANNOT_TELL, text, newest_us, advice=LOOK_AT_CLAMP
            )
            continue
        scatter = max(float(np.std(apart, ddof=1)), standard_uncertainty(0.0, signal.step))
        u_mean = hypot(u_hand, scatter / len(apart) ** 0.5)
        offset, spread = float(np.mean(apart)), COVERAGE_FACTOR * u_mean
        text = f"from {len(apart)} readings by hand {probe} reads {offset:+.1f} K ±{spread:.1f}"
        verdict, advice = Verdict.AGREES, ""
        if abs(offset) <= spread:
            text += ": no offset that they could tell"
        elif abs(offset) <= expanded(u_mean, standard_uncertainty(signal.half_width)):
            text += f": an offset that its limit of error ({signal.half_width:g} K) still covers"
        else:
            verdict, advice = Verdict.DIFFERS, LOOK_AT_CLAMP
            text += f": an offset beyond its limit of error ({signal.half_width:g} K)"
        yield HandheldCompared(
            Of.OFFSET, probe, verdict, text, newest_us, None, offset, spread, advice=advice
        )


def _contradict(apart: np.typing.NDArray[np.float64], half_widths: Sequence[float], step: float) -> bool:
    """Whether one is further from their mean than its own limit of error and the probe's step explain."""
    own = [expanded(standard_uncertainty(each), standard_uncertainty(0.0, step)) for each in half_widths]
    return bool((np.abs(apart - apart.mean()) > np.array(own)).any())

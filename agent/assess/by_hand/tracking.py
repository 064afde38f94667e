"""On which side of an inlet a probe sits, as far as its readings tell: does it track the clean reference?

A probe after the hot-gas bypass answers when the bypass opens, one ahead of it does not. That it agrees with
the reference while the valve stays shut proves nothing: a blocked oil return looks the same. So a side is
told only from a valve that was seen to open, or from a rise that a probe ahead could not show. It promotes
nothing by itself: a person writes the side into the configuration, with name and reason.

The figures are design choices, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from agent.assess.assessment import AT_PROBE
from agent.assess.frames import BoolArray, FloatArray
from agent.assess.instruments import uncertainty
from agent.assess.module import SECOND, Module
from agent.assess.stretch import Stretch
from agent.piping import RETURN, STEADY_MODES, Effect, Inlet, Standing
from agent.thermo import difference

FEWEST = 20  # grid times open, and as many shut
SWITCH_K = 1.0  # by which a probe after an inlet moves at least when that opens; 25 % of hot gas make 10 K
DRY_K = 3.0  # superheat at the reference; below it an opening may leave the temperature where it is
LONGEST_BACK_US = 1800 * SECOND  # what an opening is compared with lies no further from it


class Side(StrEnum):
    """Where a probe sits, seen from the inlets whose side the layout leaves open."""

    AHEAD = "ahead"
    AFTER = "after"
    CANNOT_TELL = "cannot_tell"


class Tracking(NamedTuple):
    """What the readings say of one probe. K; None: never seen."""

    probe: str
    side: Side
    text: str
    shut_k: float | None  # median difference from the reference with its valves shut
    opened_k: float | None  # how much it moves when one of them opens


def track(module: Module, stretch: Stretch) -> list[Tracking]:
    """Judge every probe whose side of some inlets the layout leaves open."""
    return [
        _track(module, stretch, probe) for probe in sorted(module.layout.unproven) if probe in module.signals
    ]


def _track(module: Module, stretch: Stretch, probe: str) -> Tracking:
    inlets = [module.layout.inlets[name] for name in sorted(module.layout.unproven[probe])]
    apart, reference = _difference(module, stretch, probe)
    valves = [inlet.valve for inlet in inlets if inlet.valve]
    shut = ~np.isnan(apart)
    for valve in valves:
        shut &= _state(stretch, valve, False)
    shut_k = float(np.median(apart[shut])) if shut.sum() >= FEWEST else None
    if reference is None:
        text = f"no reading ahead of {_names(inlets)} to compare {probe} with"
        return Tracking(probe, Side.CANNOT_TELL, text, None, None)
    moved: dict[str, float] = {}
    for inlet in inlets:
        others = [valve for valve in valves if valve != inlet.valve]
        step = _step(stretch, apart, inlet.valve, others)
        if step is not None:
            moved[inlet.name] = step
    most = max(moved, key=lambda name: abs(moved[name]), default=None)
    opened_k = moved[most] if most else None
    bound = _bound_k(module, probe, reference)
    wet = _wettest_k(stretch, apart, reference)
    if wet is not None and wet < DRY_K:
        text = f"{reference} is near saturation, where a warm inlet only boils liquid away"
        return Tracking(probe, Side.CANNOT_TELL, text, shut_k, opened_k)
    answers = most is not None and abs(moved[most]) >= SWITCH_K
    if most and answers and not _as_expected(module.layout.inlets[most], moved[most]):
        text = (
            f"it moves by {moved[most]:+.1f} K when {most} opens, the other way than that works: look on site"
        )
        return Tracking(probe, Side.CANNOT_TELL, text, shut_k, opened_k)
    if most and answers:
        text = f"it moves by {moved[most]:+.1f} K when {most} opens: it sits after it"
        return Tracking(probe, Side.AFTER, text, shut_k, opened_k)
    rises = shut_k is not None and shut_k > bound and all(i.effect is Effect.WARMS for i in inlets)
    if rises and any(inlet.valve is None for inlet in inlets):
        text = f"it reads {shut_k:.1f} K above {reference}, more than their errors ({bound:.1f} K) explain"
        return Tracking(probe, Side.AFTER, text, shut_k, opened_k)
    if most and shut_k is not None and abs(shut_k) <= bound and len(moved) == len(inlets):
        text = f"{_names([i for i in inlets if i.name in moved])} opened and it went on tracking {reference}"
        return Tracking(probe, Side.AHEAD, text, shut_k, opened_k)
    return Tracking(probe, Side.CANNOT_TELL, _open_question(inlets, moved, shut_k), shut_k, opened_k)


def _difference(module: Module, stretch: Stretch, probe: str) -> tuple[FloatArray, str | None]:
    """The probe minus the fit reading ahead of the accumulator, in steady modes; NaN where there is none."""
    found = np.full(stretch.grid_us.shape, np.nan)
    reference = None
    for number, (situation, choices) in enumerate(stretch.situations):
        choice = choices.places[RETURN]
        if choice.standing is Standing.FIT and situation.mode in STEADY_MODES and probe not in choice.probes:
            here = stretch.situation == number
            reference = choice.probes[0]
            values = stretch.tracks[AT_PROBE + probe].value - stretch.tracks[AT_PROBE + reference].value
            found[here] = values[here]
    return found, reference


def _wettest_k(stretch: Stretch, apart: FloatArray, reference: str) -> float | None:
    """The lower quartile of the superheat at the reference, where there is something to compare."""
    values = stretch.tracks[AT_PROBE + reference].value[~np.isnan(apart)]
    return float(np.percentile(values, 25)) if len(values) else None


def _as_expected(inlet: Inlet, moved_k: float) -> bool:
    return inlet.effect is Effect.EITHER or (moved_k > 0) == (inlet.effect is Effect.WARMS)


def _state(stretch: Stretch, valve: str, state: bool) -> BoolArray:
    """Where a valve is known to be in a state."""
    known = [dict(situation.valves).get(valve) is state for situation, _ in stretch.situations]
    result: BoolArray = np.array(known)[stretch.situation]
    return result


def _step(stretch: Stretch, apart: FloatArray, valve: str | None, others: list[str]) -> float | None:
    """How much the difference moves when a valve opens, the others shut; None where it was not seen."""
    if valve is None:
        return None
    usable = ~np.isnan(apart)
    for other in others:
        usable &= _state(stretch, other, False)
    opened = _state(stretch, valve, True) & usable
    shut = _state(stretch, valve, False) & usable
    if opened.sum() < FEWEST or shut.sum() < FEWEST:
        return None
    times = stretch.grid_us[opened]
    at = stretch.grid_us[shut]
    after = np.searchsorted(times, at).clip(1, len(times) - 1)
    nearest = np.minimum(np.abs(at - times[after - 1]), np.abs(at - times[after])) <= LONGEST_BACK_US
    if nearest.sum() < FEWEST:
        return None
    return float(np.median(apart[opened]) - np.median(apart[shut][nearest]))


def _bound_k(module: Module, later: str, earlier: str) -> float:
    """The expanded uncertainty (k = 2) of the difference of two probes [K]."""
    u_later, u_earlier = uncertainty(module, later), uncertainty(module, earlier)
    return difference(0.0, 0.0, u_later_k=u_later, u_earlier_k=u_earlier).above


def _names(inlets: Sequence[Inlet]) -> str:
    return " and ".join(inlet.name for inlet in inlets)


def _open_question(inlets: Sequence[Inlet], moved: dict[str, float], shut_k: float | None) -> str:
    if shut_k is None:
        return f"too little steady running with {_names(inlets)} known shut"
    missed = [inlet.name for inlet in inlets if inlet.valve and inlet.name not in moved]
    always = [inlet.name for inlet in inlets if inlet.valve is None]
    if moved and always:
        others = f"{' and '.join(always)} has no valve to tell by: look on site"
        return f"it sits ahead of {' and '.join(moved)}, but {others}"
    if missed:
        return f"{' and '.join(missed)} was not seen open for long enough; without that it proves nothing"
    return (
        f"it does not answer to a valve, and still reads {shut_k:+.1f} K against the reference: look on site"
    )

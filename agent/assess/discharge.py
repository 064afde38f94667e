"""What each compressor's discharge gas tells: its temperature, its superheat, and whether liquid came in.

Wet compression is told by a band: what saturated suction would make of the discharge superheat at the live
pressures, over all that a compressor's efficiency may be. What is below it was wet, what is above it was dry,
and inside it nothing is decided.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from agent.assess.assessment import (
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    Cause,
    Said,
    Status,
)
from agent.assess.byhour.efficiencies import RANGES, kinds, learnt_at
from agent.assess.elapsed import since
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.assess.highside import NO_DISCHARGE_TRANSDUCER
from agent.assess.judge import Judge
from agent.assess.mode_codes import CODE
from agent.assess.modes import unchanged_us
from agent.assess.module import SECOND, Dry
from agent.assess.signals import OUTDOOR_AIR, speed_of
from agent.assess.steadiness import steadiness
from agent.assess.stretch import Track
from agent.thermo import REFRIGERANTS, border_for, dew_slope, superheat

# Liquid that comes in spurts lets the gas swing and fall, and the band is 15 to 20 K wide: common practice,
# no source. A shell that is still cold after a start reads low and rises: it waits for the usual slope.
SPREAD_K, SLOPE_K_PER_MIN = 2.0, 0.5
COLD_SHELL_US = 3600 * SECOND
CLAMP_K = 10.0  # by which a clamp on a hot pipe may read low and still be believed; design choice, no source
# A clamp reads low by a share of what its pipe is hotter than the air; common practice, no source.
CONTACT_SHARE, CONTACT_K = 0.1, 5.0  # CONTACT_K where the air is not known
# After it shuts, what injection cooled warms slowly; and a valve that says it is shut may leak: 3.5 K for
# each percent of liquid (R-410A -15/40 degC by an energy balance). Common practice, no source.
INJECTED_US = 900 * SECOND
LEAK_K = 5.0
NEVER_WATCHED = "wet compression is never watched by discharge on this module"
LIQUID_INJECTION = "liquid_injection"  # into the suction line
_AGAINST = "against what saturated suction would give"
_GENERAL = (  # by the kind of efficiencies
    _AGAINST,
    f"{_AGAINST} at low or unknown speed, or at a high pressure ratio",
    f"{_AGAINST} at very low speed",
)


def discharge_tracks(judge: Judge) -> dict[str, Track]:
    """The discharge of every compressor, by name of the quantity."""
    tracks: dict[str, Track] = {}
    for compressor in judge.module.layout.compressors:
        tracks |= _Discharge(judge, compressor).tracks()
    return tracks


class _Discharge:
    """The discharge of one compressor."""

    def __init__(self, judge: Judge, compressor: str) -> None:
        layout = judge.module.layout
        self.judge = judge
        self.compressor = compressor
        self.probe = layout.discharge_of(compressor) or ""
        self.transducer = layout.discharge_transducer or ""
        self.runs = judge.runs(compressor)
        self.name = f"discharge superheat at {self.probe}"  # of the series

    def tracks(self) -> dict[str, Track]:
        names = [n + self.compressor for n in (DISCHARGE_TEMPERATURE, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN)]
        if not self.probe:
            text = f"no probe sees the discharge gas of compressor {self.compressor} alone"
            return dict.fromkeys(names, self.nothing(text))
        if self.probe not in self.judge.module.signals:
            return dict.fromkeys(names, self.nothing(f"{self.probe} is not among the module's signals"))
        if self.transducer not in self.judge.module.signals:
            text = f"{self.transducer} is not among the module's signals"
            nothing = self.nothing(text if self.transducer else NO_DISCHARGE_TRANSDUCER)
            return {names[0]: self.temperature()} | dict.fromkeys(names[1:], nothing)
        shown = self.superheat()
        return {names[0]: self.temperature(), names[1]: shown, names[2]: self.margin(shown)}

    def nothing(self, text: str) -> Track:
        return self.judge.nothing(Status.NOT_MEASURABLE, Cause.PIPING, text)

    def temperature(self) -> Track:
        """Kept whether the compressor runs or not."""
        judge, value = self.judge, self.judge.frame(self.probe).value
        spread = np.where(np.isnan(value), np.nan, 2 * judge.uncertainty(self.probe))
        said = judge.say(self.decided())
        judge.doubt(said, value, (self.probe,), self.probe)
        self.not_running(said)
        return Track(value, spread, spread, said)

    def superheat(self) -> Track:
        judge, module = self.judge, self.judge.module
        found = superheat(
            module.refrigerant,
            judge.frame(self.probe).value,
            judge.frame(self.transducer).value,
            u_temperature_k=judge.uncertainty(self.probe),
            u_pressure_pa=judge.uncertainty(self.transducer),
            u_model_fraction=REFRIGERANTS[module.refrigerant].u_model_fraction,
        )
        signals = (self.probe, self.transducer)
        judge.watch({self.probe: (judge.frame(self.probe).value, signals[:1])})
        said = judge.say(self.decided())
        self.doubt(said, found.value, signals)
        text = "discharge gas far colder than condensing: a reading, a unit or the refrigerant is wrong"
        judge.overrule(said, found.value < -CLAMP_K, Status.NOT_DECIDABLE, Cause.CONTRADICTION, text)
        self.not_running(said)
        value, below, above = (np.where(self.runs == 0, np.nan, part) for part in found)
        return Track(value, below, above, said)

    def doubt(self, said: IntArray, value: FloatArray, signals: tuple[str, ...]) -> None:
        """As of any quantity, within wider limits; a gas that falls is told from one that rises."""
        judge, rules = self.judge, self.judge.module.settling
        since_start_us = np.minimum(
            unchanged_us(self.runs.astype(float), judge.grid_us), judge.course.lasted_us
        )
        slope = np.where(since_start_us < COLD_SHELL_US, rules.slope_k_per_min, SLOPE_K_PER_MIN)
        found = steadiness(
            value,
            -(-judge.module.window_us // judge.step_us),
            spread_limit=SPREAD_K,
            slope_limit=slope * judge.step_us / (60 * SECOND),
            step=judge.step_k(*signals),
            present=rules.present,
        )
        rises = found.slope & ~found.falls
        judge.steadiness[self.name] = found._replace(spread=found.spread & ~rises)
        judge.doubt(said, value, signals, self.name, self.transducer)
        moves = np.array([each.cause is Cause.SLOPE for each in judge.phrases])[said]
        text = f"{self.name} is falling"
        judge.overrule(said, moves & found.falls, Status.NOT_SETTLED, Cause.FALLING, text)

    def margin(self, shown: Track) -> Track:
        """Discharge superheat less the middle of the band; half the band is in its uncertainty in full.

        So the far ends say something: wet where even value + above is below zero, and dry where value - below
        is above it. ``above`` also holds what a clamp may read low. It is doubtful wherever the discharge
        superheat is.
        """
        judge, said, shape = self.judge, shown.said.copy(), shown.said.shape
        decided = said == judge.phrase(self.decided())
        value, spread = np.full(shape, np.nan), np.full(shape, np.nan)
        for efficiencies, ground, here in self.grounds():
            if here.any():
                band = self.border(efficiencies, here)
                value[here] = shown.value[here] - (band.least + band.most) / 2
                spread[here] = (band.most - band.least) / 2 + 2 * band.uncertainty
                judge.overrule(said, decided & here, Status.DECIDED, Cause.NONE, ground)
        runs = judge.steady & (self.runs == 1) & ~np.isnan(shown.value)
        text = "the pressures lie outside what is tabulated for saturated suction"
        judge.overrule(said, runs & np.isnan(value), Status.NOT_DECIDABLE, Cause.RANGE, text)
        may_leak = self.injected(said, runs)
        judge.missing(said, judge.transducer)
        spread[np.isnan(value)] = np.nan
        return Track(value, spread, spread + self.contact_k() + LEAK_K * may_leak, said)

    def contact_k(self) -> FloatArray:
        """By how much the clamp may read low [K]: it loses heat to the air, and never gains any."""
        judge = self.judge
        hotter = judge.frame(self.probe).value - judge.usable(OUTDOOR_AIR)
        return np.where(np.isnan(hotter), CONTACT_K, CONTACT_SHARE * np.maximum(hotter, 0.0))

    def grounds(self) -> Iterator[tuple[tuple[float, float], str, BoolArray]]:
        """Ranges of efficiency, each with its words and the grid times it is for; each asked for once."""
        judge, compressor = self.judge, self.compressor
        left = np.zeros(judge.grid_us.shape, bool)
        left[judge.asked] = True
        speed = judge.frame(speed_of(compressor)).value
        low = judge.frame(judge.transducer).value
        ratio = judge.frame(self.transducer).value / np.where(low > 0, low, np.nan)
        kind = kinds(speed, ratio)
        for part, dry in judge.parts:
            for mode, several in dry.items():
                own = several.get(compressor)
                if own is None:
                    continue
                here = np.zeros(left.shape, bool)
                here[part] = left[part] & (judge.course.mode[part] == CODE[mode])
                if own.why:
                    for number, text in enumerate(_GENERAL):
                        yield RANGES[number], f"{text}; {own.why}", here & (kind == number)
                else:
                    here[part] &= learnt_at(own, speed[part], ratio[part])
                    yield (own.least, own.most), _own(own), here
                left &= ~here
        for number, text in enumerate(_GENERAL):
            yield RANGES[number], text, left & (kind == number)

    def pressures(self, here: BoolArray) -> tuple[FloatArray, FloatArray]:
        judge = self.judge
        return judge.frame(judge.transducer).value[here], judge.frame(self.transducer).value[here]

    def border(self, efficiencies: tuple[float, float], here: BoolArray) -> _Band:
        """The band with the standard uncertainty of a superheat against it (JCGM 100:2008, equation 10).

        A wrong discharge pressure shifts both the dew temperature and the band. Where a pressure raised by
        its uncertainty lies beyond what is tabulated, it is lowered by as much.
        """
        judge, refrigerant = self.judge, self.judge.module.refrigerant
        low, high = self.pressures(here)
        u_low = judge.pressure_uncertainty(judge.transducer)[here]
        u_high = judge.pressure_uncertainty(self.transducer)[here]

        def middles(sign: int) -> FloatArray:
            suction, discharge = np.stack((low, low + sign * u_low)), np.stack((high + sign * u_high, high))
            least, most = border_for(refrigerant, suction, discharge, *efficiencies)
            return (least + most) / 2

        least, most = border_for(refrigerant, low, high, *efficiencies)
        middle = (least + most) / 2
        shifts = middles(1) - middle
        if np.isnan(shifts).any():
            shifts = np.where(np.isnan(shifts), middle - middles(-1), shifts)
        by_high, by_low = shifts
        u_dew = np.asarray(dew_slope(refrigerant, high)) * u_high
        squares = judge.uncertainty(self.probe) ** 2 + (by_high + u_dew) ** 2 + by_low**2
        return _Band(least, most, np.sqrt(squares))

    def decided(self) -> Said:
        return Said(Status.DECIDED, Cause.NONE, f"at {self.probe}", None, (self.probe,))

    def not_running(self, said: IntArray) -> None:
        """A standing compressor's discharge pipe tells of the weather and of the others."""
        self.judge.not_judged(said)
        name = f"compressor {self.compressor}"
        unknown = f"no signal tells whether {name} runs"
        self.judge.overrule(said, self.runs < 0, Status.NOT_DECIDABLE, Cause.MODE, unknown)
        self.judge.overrule(said, self.runs == 0, Status.NOT_DECIDABLE, Cause.MODE, f"{name} stands")

    def injected(self, said: IntArray, runs: BoolArray) -> bool:
        """Refrigerant that is let into the compressor, or into the suction line as liquid, cools the gas.

        Whether anything may: its valve may leak though it says that it is shut.
        """
        layout = self.judge.module.layout
        injection = layout.injection
        valves: list[tuple[str | None, str]] = []
        if injection is not None and self.compressor in injection.into:
            valves.append((injection.valve, "injection"))
        liquids = [inlet for inlet in layout.inlets.values() if inlet.kind == LIQUID_INJECTION]
        valves += [(inlet.valve, inlet.name) for inlet in liquids]
        for valve, name in valves:
            self.cooled(said, runs, valve, name)
        return bool(valves)

    def cooled(self, said: IntArray, runs: BoolArray, valve: str | None, name: str) -> None:
        judge = self.judge
        if valve is None:
            text = f"{name} is always open or nothing tells: {NEVER_WATCHED}"
            judge.overrule(said, runs, Status.NOT_DECIDABLE, Cause.PIPING, text)
            return
        opening = judge.frame(valve).value
        text = f"{name} cools the discharge of compressor {self.compressor}: the band does not hold"
        lately = since(opening > 0, judge.grid_us) < INJECTED_US
        judge.overrule(said, runs & lately, Status.NOT_DECIDABLE, Cause.PIPING, text)
        text = f"{name} is not known shut, and would cool the discharge of compressor {self.compressor}"
        judge.overrule(said, runs & np.isnan(opening), Status.NOT_DECIDABLE, Cause.PIPING, text)


class _Band(NamedTuple):
    """The least and the most that saturated suction gives, and the uncertainty of a superheat against it."""

    least: FloatArray
    most: FloatArray
    uncertainty: FloatArray


def _own(own: Dry) -> str:
    """The ground of a compressor's own history, with where it applies."""
    (slowest, fastest), (least, most) = (min(own.speeds_hz), max(own.speeds_hz)), own.ratios
    where = f"learnt at {slowest:.0f} to {fastest:.0f} Hz and pressure ratio {least:.1f} to {most:.1f}"
    return f"{_AGAINST}, after its own dry history ({where})"

"""Judge a module over a stretch of grid times: one code for now, late and last year.

Arrays in, arrays out. The result at a grid time depends on the readings up to it and on nothing else, so
any cutting of the time into stretches gives the same assessments.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from agent.assess.assessment import AT_PROBE, SATURATED_SUCTION, Cause, Said, Status
from agent.assess.frames import BoolArray, FloatArray, Frame, IntArray, Samples, frames
from agent.assess.modes import CODE, MODE_SIGNAL, MODES, course
from agent.assess.module import SECOND, Module
from agent.assess.steadiness import Steadiness, steadiness
from agent.assess.stretch import Stretch, Track
from agent.piping import (
    ACCUMULATOR_CHANGE,
    RISE,
    STEADY_MODES,
    Choice,
    Choices,
    Situation,
    Standing,
    loss_side,
)
from agent.thermo import (
    REFRIGERANTS,
    Measured,
    dew_slope,
    dew_temperature,
    difference,
    standard_uncertainty,
    superheat,
)

_DIFFERENCES = (RISE, ACCUMULATOR_CHANGE)


def assess(module: Module, grid_us: IntArray, samples: Mapping[str, Samples], step_us: int) -> Stretch:
    """Assess a module at every grid time.

    ``grid_us``: consecutive grid times, ``step_us`` apart. ``samples``: per signal its readings in SI,
    reaching back ``module.lookback_us`` before the first grid time.
    """
    return _Judge(module, grid_us, samples, step_us).stretch()


class _Judge:
    def __init__(
        self, module: Module, grid_us: IntArray, samples: Mapping[str, Samples], step_us: int
    ) -> None:
        self.module = module
        self.step_us = step_us
        back = -(-module.lookback_us // step_us)
        self.grid_us = np.concatenate((grid_us[0] - step_us * np.arange(back, 0, -1), grid_us))
        self.asked = slice(back, None)
        self.transducer = module.layout.suction_transducer
        self.probes = [probe for probe in module.layout.suction_probes if probe in module.signals]
        self.frames = frames(module, self.grid_us, samples)
        self.course = course(module, self.grid_us, self.frames)
        self.phrases: dict[Said, int] = {}
        self.situation, self.situations = self._situations()
        self.at_probe = {probe: self._superheat(probe) for probe in self.probes}
        needed = [name for name in (*self.probes, self.transducer) if name in module.signals]
        self.steadiness = {name: self._steadiness(name) for name in needed}
        self.changed = self.course.lasted_us < max(module.window_us, module.settling.quiet_us)

    def stretch(self) -> Stretch:
        tracks = {SATURATED_SUCTION: self._saturated_suction()}
        for place in self.situations[0][1].places:
            tracks[place] = self._place(place)
        for probe in self.probes:
            tracks[AT_PROBE + probe] = self._at_probe(probe)
        cut = self.asked
        return Stretch(
            self.grid_us[cut],
            self.situation[cut],
            self.situations,
            {
                name: Track(t.value[cut], t.below[cut], t.above[cut], t.said[cut])
                for name, t in tracks.items()
            },
            tuple(self.phrases),
        )

    def _frame(self, name: str) -> Frame:
        nowhere = np.full(self.grid_us.shape, np.nan)
        return self.frames.get(name, Frame(nowhere, np.zeros(self.grid_us.shape, np.int64)))

    def _situations(self) -> tuple[IntArray, tuple[tuple[Situation, Choices], ...]]:
        """Number the situations that occur, and ask the piping once for each."""
        layout, now = self.module.layout, self.course
        valves = [self._frame(name).value for name in layout.valves]
        states = [np.where(np.isnan(value), -1, value > 0) for value in valves]
        columns = np.column_stack([now.mode, *states, *now.running.values()]).astype(np.int64)
        distinct, which = np.unique(columns, axis=0, return_inverse=True)
        known = []
        for mode, *seen in distinct.tolist():
            opened = {v: None if s < 0 else bool(s) for v, s in zip(layout.valves, seen, strict=False)}
            runs = dict(zip(now.running, seen[len(layout.valves) :], strict=True))
            running = None if -1 in runs.values() else [name for name, state in runs.items() if state]
            situation = Situation.of(MODES[mode], opened, running)
            known.append((situation, layout.choose(MODES[mode], opened, running, self.probes)))
        return which.ravel().astype(np.int64), tuple(known)

    def _uncertainty(self, signal: str) -> float:
        known = self.module.signals.get(signal)
        return standard_uncertainty(known.half_width, known.step) if known else 0.0

    def _model_fraction(self) -> float:
        return REFRIGERANTS[self.module.refrigerant].u_model_fraction

    def _superheat(self, probe: str) -> Measured[FloatArray]:
        """Temperature at a probe minus dew temperature, whatever that is worth there."""
        return superheat(
            self.module.refrigerant,
            self._frame(probe).value,
            self._frame(self.transducer).value,
            u_temperature_k=self._uncertainty(probe),
            u_pressure_pa=self._uncertainty(self.transducer),
            loss_pa=self._loss(probe),
            u_model_fraction=self._model_fraction(),
        )

    def _loss(self, probe: str) -> tuple[float, float]:
        """Bounds on the pressure at the probe minus the pressure at the transducer."""
        if probe in self.module.known_loss_pa:
            return self.module.known_loss_pa[probe], self.module.known_loss_pa[probe]
        bound = self.module.unknown_loss_pa
        sides = {
            "none": (0.0, 0.0),
            "higher": (0.0, bound),
            "lower": (-bound, 0.0),
            "either": (-bound, bound),
        }
        return sides[loss_side(self.module.layout, probe)]

    def _steadiness(self, name: str) -> Steadiness:
        rules, signal = self.module.settling, self.module.signals[name]
        values = self._frame(name).value
        is_pressure = name == self.transducer
        per_point = self.step_us / (60 * SECOND)
        return steadiness(
            values,
            -(-self.module.window_us // self.step_us),
            spread_limit=rules.spread_fraction * np.abs(values) if is_pressure else rules.spread_k,
            slope_limit=np.inf if is_pressure else rules.slope_k_per_min * per_point,
            step=signal.step,
            present=rules.present,
        )

    def _saturated_suction(self) -> Track:
        pressure = self._frame(self.transducer).value
        value = np.asarray(dew_temperature(self.module.refrigerant, pressure))
        u_pressure = np.hypot(self._uncertainty(self.transducer), self._model_fraction() * pressure)
        spread = 2 * np.asarray(dew_slope(self.module.refrigerant, pressure)) * u_pressure
        said = self._say(Said(Status.DECIDED, Cause.NONE, f"from {self.transducer}", None, ()))
        self._doubt(said, value, (self.transducer,))
        return Track(value, spread, spread, said)

    def _at_probe(self, probe: str) -> Track:
        """The superheat that a probe shows, kept whatever its fitness; judged only in a steady mode."""
        said = self._say(Said(Status.DECIDED, Cause.NONE, f"at {probe}", None, (probe,)))
        self._doubt(said, self.at_probe[probe].value, (probe, self.transducer))
        steady = np.isin(self.course.mode, [CODE[mode] for mode in STEADY_MODES])
        self._overrule(said, ~steady, Status.NOT_DECIDABLE, Cause.MODE, "values are kept, not judged")
        return Track(*self.at_probe[probe], said)

    def _place(self, place: str) -> Track:
        """A quantity whose probes the piping chooses, situation by situation."""
        value, below, above = (np.full(self.grid_us.shape, np.nan) for _ in range(3))
        said = np.zeros(self.grid_us.shape, np.int64)
        for number, (situation, choices) in enumerate(self.situations):
            here = self.situation == number
            choice = choices.places[place]
            if choice.probes:
                words = self._say(
                    Said(Status.DECIDED, Cause.NONE, choice.reason, choice.standing, choice.probes)
                )
                measured = self._measured(place, choice)
                for whole, part in zip((value, below, above), measured, strict=True):
                    whole[here] = part[here]
                with_pressure = () if place in _DIFFERENCES else (self.transducer,)
                self._doubt(words, measured.value, (*choice.probes, *with_pressure))
            else:
                words = self._say(self._nothing(situation, choice))
                if situation.mode == "unknown":
                    self._missing(words, MODE_SIGNAL)
            said[here] = words[here]
        return Track(value, below, above, said)

    def _measured(self, place: str, choice: Choice) -> Measured[FloatArray]:
        if place in _DIFFERENCES:
            later, earlier = choice.probes
            return difference(
                self._frame(later).value,
                self._frame(earlier).value,
                u_later_k=self._uncertainty(later),
                u_earlier_k=self._uncertainty(earlier),
            )
        several = [self.at_probe[probe] for probe in choice.probes]
        values = np.stack([np.asarray(each.value) for each in several])
        lowest = np.argmin(np.where(np.isnan(values), -np.inf, values), axis=0)
        parts = (np.stack([np.asarray(each[part]) for each in several]) for part in range(3))
        return Measured(*(np.take_along_axis(part, lowest[None], axis=0)[0] for part in parts))

    def _nothing(self, situation: Situation, choice: Choice) -> Said:
        if choice.standing is Standing.NOT_MEASURABLE:
            return Said(Status.NOT_MEASURABLE, Cause.PIPING, choice.reason, choice.standing, ())
        cause = Cause.PIPING if situation.mode in STEADY_MODES else Cause.MODE
        return Said(Status.NOT_DECIDABLE, cause, choice.reason, choice.standing, ())

    def _say(self, said: Said) -> IntArray:
        return np.full(self.grid_us.shape, self._phrase(said))

    def _phrase(self, said: Said) -> int:
        return self.phrases.setdefault(said, len(self.phrases))

    def _overrule(self, said: IntArray, where: BoolArray, status: Status, cause: Cause, text: str) -> None:
        """Say something weaker where it applies, keeping which probes were meant."""
        for phrase in np.unique(said[where]).tolist():
            meant = list(self.phrases)[phrase]
            words = Said(status, cause, text, meant.standing, meant.probes)
            said[where & (said == phrase)] = self._phrase(words)

    def _doubt(self, said: IntArray, value: FloatArray, signals: tuple[str, ...]) -> None:
        """What keeps a quantity made of these signals from being decided; the weightiest is said last."""
        changed = "the mode changed a short while ago"
        self._overrule(said, self.changed, Status.NOT_SETTLED, Cause.CHANGE, changed)
        for name in signals:
            if name in self.steadiness:
                gaps, spread, slope = self.steadiness[name]
                self._overrule(said, slope, Status.NOT_SETTLED, Cause.SLOPE, f"{name} is drifting")
                self._overrule(said, spread, Status.NOT_SETTLED, Cause.SPREAD, f"{name} is swinging")
                self._overrule(said, gaps, Status.NOT_SETTLED, Cause.GAPS, f"{name} has gaps in the window")
        first = self._frame(signals[-1])
        for name in signals[:-1]:
            apart = np.abs(self._frame(name).time_us - first.time_us) > self.module.max_skew_us
            text = f"{name} and {signals[-1]} were read too far apart"
            self._overrule(said, apart, Status.NOT_DECIDABLE, Cause.SKEW, text)
        text = f"{self.transducer} lies outside the saturation table"
        self._overrule(said, np.isnan(value), Status.NOT_DECIDABLE, Cause.RANGE, text)
        for name in signals:
            self._missing(said, name)

    def _missing(self, said: IntArray, name: str) -> None:
        if name in self.module.signals:
            gone = np.isnan(self._frame(name).value)
            text = f"{name} is missing" + (", or its value has no meaning" if name == MODE_SIGNAL else "")
            self._overrule(said, gone, Status.MISSING, Cause.READING, text)
        else:
            nowhere = np.full(self.grid_us.shape, True)
            text = f"{name} is not among the module's signals"
            self._overrule(said, nowhere, Status.NOT_MEASURABLE, Cause.PIPING, text)

"""Judge a module over a stretch of grid times: one code for now, late and last year.

Arrays in, arrays out. The result at a grid time depends on the readings up to it and on nothing else, so
any cutting of the time into stretches gives the same assessments.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from agent.assess.assessment import AT_PROBE, SATURATED_SUCTION, SWING, Cause, Said, Status
from agent.assess.failures import KINDS, failures
from agent.assess.frames import BoolArray, FloatArray, Frame, IntArray, Samples, frames
from agent.assess.inference import REVERSING_VALVE
from agent.assess.instruments import loss_pa, superheat_at, uncertainty
from agent.assess.modes import course, unchanged_us
from agent.assess.module import SECOND, Module
from agent.assess.scene import Scene
from agent.assess.steadiness import Steadiness, steadiness
from agent.assess.stretch import Stretch, Track
from agent.assess.swing import swing
from agent.assess.without import says_failed, without_failed
from agent.assess.words import CODE, MODE_SIGNAL, MODES
from agent.piping import (
    ACCUMULATOR_CHANGE,
    LAYOUT_NOT_KNOWN,
    RETURN,
    RISE,
    STEADY_MODES,
    Choice,
    Choices,
    Fitness,
    Place,
    Situation,
    Standing,
)
from agent.thermo import (
    REFRIGERANTS,
    Measured,
    dew_slope,
    dew_temperature,
    difference,
)

ALIKE_K = 3.0  # that pipe may warm or cool gas by between two probes; design choice, no source
FEWEST_FINE = 3  # signals that must stand still together before the gateway is taken to repeat itself
REPEATS = "the gateway repeats old values under new times"
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
        self.unknown_layout = np.full(self.grid_us.shape, not module.layout.is_known)
        self.transducer = module.layout.suction_transducer
        self.probes = [probe for probe in module.layout.suction_probes if probe in module.signals]
        self.frames = frames(module, self.grid_us, samples)
        self.course = course(module, self.grid_us, self.frames)
        self.phrases: dict[Said, int] = {}
        self.switched = self._switched()
        situation, situations = self._situations()
        self.failures = failures(
            Scene(
                module, self.grid_us, step_us, self.frames, self.course, self.switched, situation, situations
            )
        )
        self.situation, self.situations = without_failed(
            module, self.probes, situation, situations, self.failures
        )
        self.at_probe = {probe: self._superheat(probe) for probe in self.probes}
        self.steadiness: dict[str, Steadiness] = {}  # by the name of the series
        self.repeated = self._repeated()
        self.changed = self.course.lasted_us < max(module.window_us, module.settling.quiet_us)

    def stretch(self) -> Stretch:
        tracks = {SATURATED_SUCTION: self._saturated_suction()}
        for place in self.situations[0][1].places:
            tracks[place] = self._place(place)
        for probe in self.probes:
            tracks[AT_PROBE + probe] = self._at_probe(probe)
        tracks[SWING] = self._swing(tracks[RETURN])
        cut = self.asked
        return Stretch(
            self.grid_us[cut],
            self.course.lasted_us[cut],
            self.module.longest_transient_us,
            self.situation[cut],
            self.situations,
            self.course.why[cut],
            self.course.whys,
            {
                name: Track(t.value[cut], t.below[cut], t.above[cut], t.said[cut])
                for name, t in tracks.items()
            },
            tuple(self.phrases),
            self._settled()[cut],
            {name: self._usable(name)[cut] for name in self.frames},
            {name: state[cut] for name, state in self.course.running.items()},
            {name: _started(state)[cut] for name, state in self.course.running.items()},
            failures=self.failures.cut(cut),
        )

    def _settled(self) -> BoolArray:
        """A steady mode for long enough with nothing switched, or standing still."""
        steady = np.isin(self.course.mode, [CODE[mode] for mode in STEADY_MODES])
        stands: BoolArray = self.course.mode == CODE["off"]
        return stands | (steady & ~self.changed & ~self.switched)

    def _usable(self, name: str) -> FloatArray:
        """A signal's values without those of a failed instrument."""
        bad, value = self.failures.unusable(name), self.frames[name].value
        return value if bad is None else np.where(bad, np.nan, value)

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
        return uncertainty(self.module, signal)

    def _model_fraction(self) -> float:
        return REFRIGERANTS[self.module.refrigerant].u_model_fraction

    def _superheat(self, probe: str) -> Measured[FloatArray]:
        return superheat_at(self.module, probe, self._frame(probe).value, self._frame(self.transducer).value)

    def _loss(self, probe: str) -> tuple[float, float]:
        return loss_pa(self.module, probe)

    def _step_k(self, *signals: str) -> FloatArray:
        """What one step of each signal makes of a superheat or difference, together [K]."""
        squares = np.zeros(self.grid_us.shape)
        for name in signals:
            step = self.module.signals[name].step if name in self.module.signals else 0.0
            if name == self.transducer:
                slope = dew_slope(self.module.refrigerant, self._frame(name).value)
                squares = squares + (np.nan_to_num(np.asarray(slope)) * step) ** 2
            else:
                squares = squares + step**2
        return np.sqrt(squares)

    def _switched(self) -> BoolArray:
        """A valve or a compressor has switched a short while ago."""
        states = [self._frame(name).value > 0 for name in self.module.layout.valves]
        states += [state == 1 for state in self.course.running.values()]
        columns = np.column_stack(states).astype(float) @ (2.0 ** np.arange(len(states)))
        switched: BoolArray = unchanged_us(columns, self.grid_us) < self.module.settling.switched_us
        return switched

    def _repeated(self) -> BoolArray:
        """The gateway repeats old values: a compressor runs, and all that should flicker stands still.

        Told only by signals whose step is fine enough that they never stand still on a running machine.
        """
        fine = [name for name in self.module.signals if self.module.is_fine(name)]
        still = [unchanged_us(self._frame(name).value, self.grid_us) for name in fine]
        if len(still) < FEWEST_FINE:
            return np.zeros(self.grid_us.shape, bool)
        held = np.min(still, axis=0) >= self.module.repeated_us
        lasted = self.course.lasted_us >= self.module.repeated_us
        result: BoolArray = (self.course.runs == 1) & held & lasted
        return result

    def _saturated_suction(self) -> Track:
        pressure = self._frame(self.transducer).value
        value = np.asarray(dew_temperature(self.module.refrigerant, pressure))
        u_pressure = np.hypot(self._uncertainty(self.transducer), self._model_fraction() * pressure)
        spread = 2 * np.asarray(dew_slope(self.module.refrigerant, pressure)) * u_pressure
        said = self._say(Said(Status.DECIDED, Cause.NONE, f"from {self.transducer}", None, ()))
        self._doubt(said, value, (self.transducer,), "saturated suction temperature")
        return Track(value, spread, spread, said)

    def _at_probe(self, probe: str) -> Track:
        """The superheat that a probe shows, kept whatever its fitness; judged only in a steady mode."""
        said = self._say(Said(Status.DECIDED, Cause.NONE, f"at {probe}", None, (probe,)))
        self._doubt(said, self.at_probe[probe].value, (probe, self.transducer), f"superheat at {probe}")
        steady = np.isin(self.course.mode, [CODE[mode] for mode in STEADY_MODES])
        self._overrule(said, ~steady, Status.NOT_DECIDABLE, Cause.MODE, "values are kept, not judged")
        return Track(*self.at_probe[probe], said)

    def _swing(self, returned: Track) -> Track:
        """How far return superheat swings, settled or not; not across a change of mode."""
        value = swing(returned.value, self.module.swing_us // self.step_us)
        said = self._say(
            Said(Status.DECIDED, Cause.NONE, "smallest range in three parts of the window", None, ())
        )
        value = np.where(self.course.lasted_us < self.module.swing_us, np.nan, value)
        text = "it takes a whole window of return superheat in one mode"
        self._overrule(said, np.isnan(value), Status.NOT_DECIDABLE, Cause.CHANGE, text)
        self._overrule(said, self.repeated, Status.NOT_DECIDABLE, Cause.REPEATED, REPEATS)
        self._failed(said, self.transducer)
        self._overrule(said, self.unknown_layout, Status.NOT_DECIDABLE, Cause.PIPING, LAYOUT_NOT_KNOWN)
        steps = np.max([self._step_k(probe, self.transducer) for probe in self.probes], axis=0, initial=0.0)
        spread = np.where(np.isnan(value), np.nan, 2 * np.sqrt(2) * steps / np.sqrt(12))  # JCGM 100 F.2.2.1
        return Track(value, spread, spread, said)

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
                if place in _DIFFERENCES:
                    self._doubt(words, measured.value, choice.probes, " minus ".join(choice.probes))
                else:
                    for probe in choice.probes:
                        series = self.at_probe[probe].value
                        self._doubt(words, series, (probe, self.transducer), f"superheat at {probe}")
                    self._contradictions(words, measured, choice.probes)
                    if place == RETURN and choice.standing is Standing.FIT:
                        self._disagreement(words, choice.probes[0], choices)
                self._unknown_running(words, measured.value)
            else:
                words = self._say(self._nothing(situation, choice, place in choices.lacks))
                if situation.mode == "unknown" and self.module.layout.is_known:
                    self._unknown_mode(words)
            said[here] = words[here]
        return Track(value, below, above, said)

    def _measured(self, place: str, choice: Choice) -> Measured[FloatArray]:
        if place in _DIFFERENCES:
            later, earlier = choice.probes
            found = difference(
                self._frame(later).value,
                self._frame(earlier).value,
                u_later_k=self._uncertainty(later),
                u_earlier_k=self._uncertainty(earlier),
            )
            return found._replace(above=found.above + self._cooled_by_loss(later, earlier))
        several = [self.at_probe[probe] for probe in choice.probes]
        values = np.stack([np.asarray(each.value) for each in several])
        lowest = np.argmin(np.where(np.isnan(values), -np.inf, values), axis=0)
        parts = (np.stack([np.asarray(each[part]) for each in several]) for part in range(3))
        return Measured(*(np.take_along_axis(part, lowest[None], axis=0)[0] for part in parts))

    def _cooled_by_loss(self, later: str, earlier: str) -> FloatArray:
        """How much the gas may have cooled between two probes by losing pressure alone [K].

        Throttled vapour cools by less than its dew temperature falls (common practice, no source), so the
        latter is a bound.
        """
        pressure = self._frame(self.transducer).value
        before = dew_temperature(self.module.refrigerant, pressure + self._loss(earlier)[1])
        after = dew_temperature(self.module.refrigerant, pressure + self._loss(later)[0])
        return np.nan_to_num(np.maximum(before - after, 0.0))

    def _nothing(self, situation: Situation, choice: Choice, failed: bool) -> Said:
        if failed:
            return Said(Status.NOT_DECIDABLE, Cause.FAILED, choice.reason, choice.standing, ())
        if choice.standing is Standing.NOT_MEASURABLE:
            return Said(Status.NOT_MEASURABLE, Cause.PIPING, choice.reason, choice.standing, ())
        by_piping = situation.mode in STEADY_MODES or not self.module.layout.is_known
        cause = Cause.PIPING if by_piping else Cause.MODE
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

    def _doubt(self, said: IntArray, value: FloatArray, signals: tuple[str, ...], name: str) -> None:
        """What keeps a quantity made of these signals from being decided; the weightiest is said last."""
        switched = "a valve or a compressor switched a short while ago"
        self._overrule(said, self.switched, Status.NOT_SETTLED, Cause.CHANGE, switched)
        changed = "the mode changed a short while ago"
        self._overrule(said, self.changed, Status.NOT_SETTLED, Cause.CHANGE, changed)
        if name not in self.steadiness:
            self.steadiness[name] = self._steadiness(value, self._step_k(*signals))
        gaps, spread, slope = self.steadiness[name]
        self._overrule(said, slope, Status.NOT_SETTLED, Cause.SLOPE, f"{name} is drifting")
        self._overrule(said, spread, Status.NOT_SETTLED, Cause.SPREAD, f"{name} is swinging")
        self._overrule(said, gaps, Status.NOT_SETTLED, Cause.GAPS, f"{name} has gaps in the window")
        first = self._frame(signals[-1])
        for other in signals[:-1]:
            apart = np.abs(self._frame(other).time_us - first.time_us) > self.module.max_skew_us
            text = f"{other} and {signals[-1]} were read too far apart"
            self._overrule(said, apart, Status.NOT_DECIDABLE, Cause.SKEW, text)
        self._overrule(said, self.repeated, Status.NOT_DECIDABLE, Cause.REPEATED, REPEATS)
        text = f"{self.transducer} lies outside the saturation table"
        self._overrule(said, np.isnan(value), Status.NOT_DECIDABLE, Cause.RANGE, text)
        for each in signals:
            self._failed(said, each)
        for each in signals:
            self._missing(said, each)

    def _failed(self, said: IntArray, name: str) -> None:
        bad = self.failures.unusable(name)
        if bad is None:
            return
        for kind in np.unique(self.failures.kinds(name)[bad]).tolist():
            here = self.failures.kinds(name) == kind
            text = says_failed(name, KINDS[kind])
            self._overrule(said, here, Status.NOT_DECIDABLE, Cause.FAILED, text)

    def _steadiness(self, value: FloatArray, step_k: FloatArray) -> Steadiness:
        rules = self.module.settling
        return steadiness(
            value,
            -(-self.module.window_us // self.step_us),
            spread_limit=rules.spread_k,
            slope_limit=rules.slope_k_per_min * self.step_us / (60 * SECOND),
            step=step_k,
            present=rules.present,
        )

    def _contradictions(
        self, said: IntArray, measured: Measured[FloatArray], probes: tuple[str, ...]
    ) -> None:
        """Figures that no suction line can have are no evidence of anything but a mistake."""
        there = ~np.isnan(measured.value)  # what is missing says so
        text = "superheat far below zero: a reading, a unit, the refrigerant or the layout is wrong"
        below = measured.value + 2 * measured.above < 0
        self._overrule(said, below, Status.NOT_DECIDABLE, Cause.CONTRADICTION, text)
        discharge = self.module.layout.discharge_transducer
        if discharge is not None and discharge in self.module.signals:
            condensing = dew_temperature(self.module.refrigerant, self._usable(discharge))
            for probe in probes:
                hotter = there & (self._frame(probe).value > condensing)
                text = f"{probe} is hotter than condensing: it cannot be on the suction side in this mode"
                self._overrule(said, hotter, Status.NOT_DECIDABLE, Cause.CONTRADICTION, text)
        self._failed(said, self.transducer)  # is the weightier of the two

    def _disagreement(self, said: IntArray, probe: str, choices: Choices) -> None:
        """Another probe that should see the same vapour shows something else."""
        layout = self.module.layout
        for other in self.probes:
            behind = any(place.kind == "vessel" for place in layout.upstream(Place("probe", other)))
            if other == probe or behind or choices.fitness[other].verdict is not Fitness.FIT:
                continue
            apart = difference(
                self._usable(other),
                self._frame(probe).value,
                u_later_k=self._uncertainty(other),
                u_earlier_k=self._uncertainty(probe),
            )
            wide = np.abs(apart.value) > ALIKE_K + apart.above
            text = (
                f"{probe} and {other} should read alike and are more than {ALIKE_K:g} K apart: "
                "one of them, or the layout, is wrong"
            )
            self._overrule(said, wide, Status.NOT_DECIDABLE, Cause.CONTRADICTION, text)

    def _unknown_mode(self, said: IntArray) -> None:
        for number, why in enumerate(self.course.whys):
            self._overrule(said, self.course.why == number, Status.NOT_DECIDABLE, Cause.MODE, why)
        telling = [name for name in (MODE_SIGNAL, REVERSING_VALVE) if name in self.module.signals]
        self._missing(said, telling[0] if telling else MODE_SIGNAL)

    def _unknown_running(self, said: IntArray, value: FloatArray) -> None:
        text = "no signal tells whether a compressor runs"
        unknown = (self.course.runs < 0) & ~np.isnan(value)
        self._overrule(said, unknown, Status.NOT_DECIDABLE, Cause.MODE, text)

    def _missing(self, said: IntArray, name: str) -> None:
        if name in self.module.signals:
            signal, frame = self.module.signals[name], self._frame(name)
            gone = np.isnan(frame.value)
            self._overrule(said, gone, Status.MISSING, Cause.READING, f"{name} is missing")
            age_us = min(signal.max_age_us, self.module.silence_us) if signal.on_change else signal.max_age_us
            came = gone & (self.grid_us - frame.time_us <= age_us)
            text = f"{name} is missing: what came for it has no meaning"
            self._overrule(said, came, Status.MISSING, Cause.READING, text)
        else:
            nowhere = np.full(self.grid_us.shape, True)
            text = f"{name} is not among the module's signals"
            self._overrule(said, nowhere, Status.NOT_MEASURABLE, Cause.PIPING, text)
            self._overrule(said, self.unknown_layout, Status.NOT_DECIDABLE, Cause.PIPING, LAYOUT_NOT_KNOWN)


def _started(running: IntArray) -> BoolArray:
    return np.concatenate(([False], (running[1:] == 1) & (running[:-1] == 0)))

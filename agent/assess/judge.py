"""What every judgement of a module over grid times rests on: frames, situations, words, and what is doubtful.

Which quantities there are is not known here; each family of them has a file of its own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from agent.assess.assessment import Cause, Said, Status
from agent.assess.failing.failures import KINDS, failures
from agent.assess.failing.scene import Scene
from agent.assess.failing.without import says_failed, without_failed
from agent.assess.frames import BoolArray, FloatArray, Frame, IntArray, Samples, frames
from agent.assess.instruments import uncertainty
from agent.assess.mode_codes import CODE, MODES
from agent.assess.modes import course, unchanged_us
from agent.assess.module import SECOND, Dry, Module
from agent.assess.signals import MODE_SIGNAL, REVERSING_VALVE
from agent.assess.steadiness import Steadiness, steadiness
from agent.assess.stretch import Track
from agent.piping import LAYOUT_NOT_KNOWN, STEADY_MODES, Choices, Situation, choose
from agent.thermo import REFRIGERANTS, dew_slope

_choices = lru_cache(maxsize=4096)(choose)
FEWEST_FINE = 3  # signals that must stand still together before the gateway is taken to repeat itself
REPEATS = "the gateway repeats old values under new times"
SWITCHED = "a valve or a compressor switched a short while ago"
CHANGED = "the mode changed a short while ago"
NOT_JUDGED = "values are kept, not judged"


class Part(NamedTuple):
    """Grid times in a row, and the dry history that they are judged with."""

    where: slice
    dry: Mapping[str, Mapping[str, Dry]]


class Judge:
    """A module at grid times, reaching back as far as the assessment of the first one asked for needs.

    ``parts``: of the grid times those that are asked for, where not all are, each with its `Module.dry`.
    """

    def __init__(
        self,
        module: Module,
        grid_us: IntArray,
        samples: Mapping[str, Samples],
        step_us: int,
        parts: Sequence[Part] = (),
    ) -> None:
        self.module = module
        self.step_us = step_us
        back = -(-module.lookback_us // step_us)
        self.grid_us = np.concatenate((grid_us[0] - step_us * np.arange(back, 0, -1), grid_us))
        self.parts = [Part(slice(back, len(self.grid_us)), module.dry)]
        self.asked: slice | IntArray = self.parts[0].where
        if parts:
            self.parts = [Part(slice(p.where.start + back, p.where.stop + back), p.dry) for p in parts]
            self.asked = np.concatenate([np.arange(p.where.start, p.where.stop) for p in self.parts])
        self.unknown_layout = np.full(self.grid_us.shape, not module.layout.is_known)
        self.transducer = module.layout.suction_transducer
        self.probes = [probe for probe in module.layout.suction_probes if probe in module.signals]
        self.frames = frames(module, self.grid_us, samples)
        self.course = course(module, self.grid_us, self.frames)
        self.steady = np.isin(self.course.mode, [CODE[mode] for mode in STEADY_MODES])
        self.phrases: dict[Said, int] = {}
        self.switched = self._switched()
        situation, situations = self._situations()
        self.failures = failures(
            Scene(
                module,
                self.grid_us,
                step_us,
                self.frames,
                self.course,
                self.switched,
                situation,
                situations,
            )
        )
        self.situation, self.situations = without_failed(
            module, self.probes, situation, situations, self.failures
        )
        self.steadiness: dict[str, Steadiness] = {}  # by the name of the series
        self.repeated = self._repeated()
        self.changed = self.course.lasted_us < max(module.window_us, module.settling.quiet_us)

    def settled(self) -> BoolArray:
        """A steady mode for long enough with nothing switched, or standing still."""
        stands: BoolArray = self.course.mode == CODE["off"]
        return stands | (self.steady & ~self.changed & ~self.switched)

    def frame(self, name: str | None) -> Frame:
        nowhere = np.full(self.grid_us.shape, np.nan)
        return self.frames.get(name or "", Frame(nowhere, np.zeros(self.grid_us.shape, np.int64)))

    def usable(self, name: str, *, by_itself: bool = False) -> FloatArray:
        """A signal's values without those of a failed instrument.

        ``by_itself``: with those that only the layout makes impossible; they are evidence against it.
        """
        bad, value = self.failures.unusable(name, by_itself=by_itself), self.frame(name).value
        return value if bad is None else np.where(bad, np.nan, value)

    def runs(self, compressor: str) -> IntArray:
        """-1 not known, 0 stands, 1 runs; where there is only one, what shows that any runs shows it."""
        state = self.course.running[compressor]
        return np.where(state < 0, self.course.runs, state) if len(self.course.running) == 1 else state

    def uncertainty(self, signal: str) -> float:
        """Standard uncertainty of a signal [K or Pa]."""
        return uncertainty(self.module, signal)

    def pressure_uncertainty(self, transducer: str) -> FloatArray:
        """Standard uncertainty of the pressure that stands for a saturation temperature [Pa]."""
        fraction = REFRIGERANTS[self.module.refrigerant].u_model_fraction
        found: FloatArray = np.hypot(self.uncertainty(transducer), fraction * self.frame(transducer).value)
        return found

    def step_k(self, *signals: str) -> FloatArray:
        """What one step of each signal makes of a superheat or difference, together [K]."""
        pressures = (self.transducer, self.module.layout.discharge_transducer)
        squares = np.zeros(self.grid_us.shape)
        for name in signals:
            step = self.module.signals[name].step if name in self.module.signals else 0.0
            if name in pressures:
                slope = dew_slope(self.module.refrigerant, self.frame(name).value)
                squares = squares + (np.nan_to_num(np.asarray(slope)) * step) ** 2
            else:
                squares = squares + step**2
        return np.sqrt(squares)

    def say(self, said: Said) -> IntArray:
        return np.full(self.grid_us.shape, self.phrase(said))

    def nothing(self, status: Status, cause: Cause, text: str) -> Track:
        """A quantity that has no value anywhere here."""
        nowhere = np.full(self.grid_us.shape, np.nan)
        if not self.module.layout.is_known:
            status, cause, text = Status.NOT_DECIDABLE, Cause.PIPING, LAYOUT_NOT_KNOWN
        return Track(nowhere, nowhere, nowhere, self.say(Said(status, cause, text, None, ())))

    def overrule(self, said: IntArray, where: BoolArray, status: Status, cause: Cause, text: str) -> None:
        """Say something weaker where it applies, keeping which probes were meant.

        Nothing is said where it applies only before the grid times asked for.
        """
        if not where[self.asked].any():
            return
        for phrase in np.flatnonzero(np.bincount(said[where])).tolist():  # as numpy.unique, in less time
            meant = list(self.phrases)[phrase]
            words = Said(status, cause, text, meant.standing, meant.probes)
            said[where & (said == phrase)] = self.phrase(words)

    def quiet(self, said: IntArray) -> None:
        """Nothing is settled shortly after something has changed."""
        self.overrule(said, self.switched, Status.NOT_SETTLED, Cause.CHANGE, SWITCHED)
        self.overrule(said, self.changed, Status.NOT_SETTLED, Cause.CHANGE, CHANGED)

    def doubt(
        self,
        said: IntArray,
        value: FloatArray,
        signals: tuple[str, ...],
        name: str,
        pressure: str | None = None,
    ) -> None:
        """What keeps a quantity made of these signals from being decided; the weightiest is said last.

        ``pressure``: what it is set against, where that is not suction.
        """
        self.quiet(said)
        if name not in self.steadiness:
            self.watch({name: (value, signals)})
        gaps, spread, slope, _ = self.steadiness[name]
        self.overrule(said, slope, Status.NOT_SETTLED, Cause.SLOPE, f"{name} is drifting")
        self.overrule(said, spread, Status.NOT_SETTLED, Cause.SPREAD, f"{name} is swinging")
        self.overrule(said, gaps, Status.NOT_SETTLED, Cause.GAPS, f"{name} has gaps in the window")
        first = self.frame(signals[-1])
        for other in signals[:-1]:
            apart = np.abs(self.frame(other).time_us - first.time_us) > self.module.max_skew_us
            text = f"{other} and {signals[-1]} were read too far apart"
            self.overrule(said, apart, Status.NOT_DECIDABLE, Cause.SKEW, text)
        self.overrule(said, self.repeated, Status.NOT_DECIDABLE, Cause.REPEATED, REPEATS)
        text = f"{pressure or self.transducer} lies outside the saturation table"
        self.overrule(said, np.isnan(value), Status.NOT_DECIDABLE, Cause.RANGE, text)
        for each in signals:
            self.failed(said, each)
        for each in signals:
            self.missing(said, each)

    def failed(self, said: IntArray, name: str) -> None:
        """What a failed instrument shows decides nothing."""
        bad = self.failures.unusable(name)
        if bad is None:
            return
        for kind in np.unique(self.failures.kinds(name)[bad]).tolist():
            here = self.failures.kinds(name) == kind
            self.overrule(said, here, Status.NOT_DECIDABLE, Cause.FAILED, says_failed(name, KINDS[kind]))

    def watch(self, series: Mapping[str, tuple[FloatArray, tuple[str, ...]]]) -> None:
        """Find out where series have settled, each made of signals; several cost little more than one."""
        found = self._steadiness(
            np.stack([value for value, _ in series.values()]),
            np.stack([self.step_k(*signals) for _, signals in series.values()]),
        )
        for number, name in enumerate(series):
            self.steadiness[name] = Steadiness(*(part[number] for part in found))

    def not_judged(self, said: IntArray) -> None:
        """Outside the steady modes values are kept, not judged."""
        self.overrule(said, ~self.steady, Status.NOT_DECIDABLE, Cause.MODE, NOT_JUDGED)

    def unknown_mode(self, said: IntArray) -> None:
        for number, why in enumerate(self.course.whys):
            self.overrule(said, self.course.why == number, Status.NOT_DECIDABLE, Cause.MODE, why)
        telling = [name for name in (MODE_SIGNAL, REVERSING_VALVE) if name in self.module.signals]
        self.missing(said, telling[0] if telling else MODE_SIGNAL)

    def unknown_running(self, said: IntArray, value: FloatArray) -> None:
        text = "no signal tells whether a compressor runs"
        unknown = (self.course.runs < 0) & ~np.isnan(value)
        self.overrule(said, unknown, Status.NOT_DECIDABLE, Cause.MODE, text)

    def missing(self, said: IntArray, name: str) -> None:
        if name in self.module.signals:
            signal, frame = self.module.signals[name], self.frame(name)
            gone = np.isnan(frame.value)
            self.overrule(said, gone, Status.MISSING, Cause.READING, f"{name} is missing")
            age_us = min(signal.max_age_us, self.module.silence_us) if signal.on_change else signal.max_age_us
            came = gone & (self.grid_us - frame.time_us <= age_us)
            text = f"{name} is missing: what came for it has no meaning"
            self.overrule(said, came, Status.MISSING, Cause.READING, text)
        else:
            nowhere = np.full(self.grid_us.shape, True)
            text = f"{name} is not among the module's signals"
            self.overrule(said, nowhere, Status.NOT_MEASURABLE, Cause.PIPING, text)
            self.overrule(said, self.unknown_layout, Status.NOT_DECIDABLE, Cause.PIPING, LAYOUT_NOT_KNOWN)

    def phrase(self, said: Said) -> int:
        return self.phrases.setdefault(said, len(self.phrases))

    def _situations(self) -> tuple[IntArray, tuple[tuple[Situation, Choices], ...]]:
        """Number the situations that occur, and ask the piping once for each."""
        layout, now = self.module.layout, self.course
        valves = [self.frame(name).value for name in layout.valves]
        states = [np.where(np.isnan(value), -1, value > 0) for value in valves]
        for coil in layout.coils.values():
            number = layout.valves.index(coil.valve)
            states[number] = np.where(self._is_shut_off(coil.name) & (states[number] == 1), 0, states[number])
        columns = np.column_stack([now.mode, *states, *now.running.values()]).astype(np.int64)
        distinct, which = np.unique(columns, axis=0, return_inverse=True)
        known = []
        for mode, *seen in distinct.tolist():
            opened = {v: None if s < 0 else bool(s) for v, s in zip(layout.valves, seen, strict=False)}
            runs = dict(zip(now.running, seen[len(layout.valves) :], strict=True))
            running = None if -1 in runs.values() else [name for name, state in runs.items() if state]
            situation = Situation.of(MODES[mode], opened, running)
            known.append((situation, _choices(layout, situation, tuple(self.probes))))
        return which.ravel().astype(np.int64), tuple(known)

    def _is_shut_off(self, coil: str) -> BoolArray:
        """Nothing is fed to a coil, whatever its valve says: every expansion next to it is known shut."""
        openings = [self.frame(name).value for name in self.module.layout.expansions_at(coil)]
        shut: BoolArray = np.all([opening <= 0 for opening in openings], axis=0)
        return shut & bool(openings)

    def _switched(self) -> BoolArray:
        """A valve or a compressor has switched a short while ago."""
        states = [self.frame(name).value > 0 for name in self.module.layout.valves]
        states += [state == 1 for state in self.course.running.values()]
        columns = np.column_stack(states).astype(float) @ (2.0 ** np.arange(len(states)))
        switched: BoolArray = unchanged_us(columns, self.grid_us) < self.module.settling.switched_us
        return switched

    def _repeated(self) -> BoolArray:
        """The gateway repeats old values: a compressor runs, and all that should flicker stands still.

        Told only by signals whose step is fine enough that they never stand still on a running machine.
        """
        fine = [name for name in self.module.signals if self.module.is_fine(name)]
        still = [unchanged_us(self.frame(name).value, self.grid_us) for name in fine]
        if len(still) < FEWEST_FINE:
            return np.zeros(self.grid_us.shape, bool)
        held = np.min(still, axis=0) >= self.module.repeated_us
        lasted = self.course.lasted_us >= self.module.repeated_us
        result: BoolArray = (self.course.runs == 1) & held & lasted
        return result

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

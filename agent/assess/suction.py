"""The quantities of the suction side: superheat by place and by probe, the oil-return rise, and its swing."""

from __future__ import annotations

import numpy as np

from agent.assess.assessment import AT_PROBE, SATURATED_SUCTION, SWING, Cause, Said, Status
from agent.assess.failing.impossible import hottest_return
from agent.assess.frames import FloatArray, IntArray
from agent.assess.instruments import loss_pa, superheat_at
from agent.assess.judge import REPEATS, Judge
from agent.assess.signals import OUTDOOR_AIR
from agent.assess.stretch import Track
from agent.assess.swing import swing
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
from agent.thermo import Measured, bubble_temperature, dew_slope, dew_temperature, difference

ALIKE_K = 3.0  # that pipe may warm or cool gas by between two probes; design choice, no source
_DIFFERENCES = (RISE, ACCUMULATOR_CHANGE)
_SATURATED = "saturated suction temperature"


def suction_tracks(judge: Judge) -> dict[str, Track]:
    """Every quantity of the suction side, by name."""
    suction = _Suction(judge)
    tracks = {SATURATED_SUCTION: suction.saturated()}
    for place in judge.situations[0][1].places:
        tracks[place] = suction.place(place)
    for probe in judge.probes:
        tracks[AT_PROBE + probe] = suction.shown_at(probe)
    tracks[SWING] = suction.swing(tracks[RETURN])
    return tracks


class _Suction:
    def __init__(self, judge: Judge) -> None:
        self.judge = judge
        self.module = judge.module
        self.pressure = judge.frame(judge.transducer).value
        self.at_probe = {
            probe: superheat_at(judge.module, probe, judge.frame(probe).value, self.pressure)
            for probe in judge.probes
        }
        self.dew_c = np.asarray(dew_temperature(self.module.refrigerant, self.pressure))
        judge.watch(
            {_SATURATED: (self.dew_c, (judge.transducer,))}
            | {_at(p): (each.value, (p, judge.transducer)) for p, each in self.at_probe.items()}
        )

    def saturated(self) -> Track:
        judge = self.judge
        value = self.dew_c
        u_pressure = judge.pressure_uncertainty(judge.transducer)
        spread = 2 * np.asarray(dew_slope(self.module.refrigerant, self.pressure)) * u_pressure
        said = judge.say(Said(Status.DECIDED, Cause.NONE, f"from {judge.transducer}", None, ()))
        judge.doubt(said, value, (judge.transducer,), _SATURATED)
        return Track(value, spread, spread, said)

    def shown_at(self, probe: str) -> Track:
        """The superheat that a probe shows, kept whatever its fitness; judged only in a steady mode."""
        judge = self.judge
        said = judge.say(Said(Status.DECIDED, Cause.NONE, f"at {probe}", None, (probe,)))
        judge.doubt(said, self.at_probe[probe].value, (probe, judge.transducer), _at(probe))
        judge.not_judged(said)
        return Track(*self.at_probe[probe], said)

    def swing(self, returned: Track) -> Track:
        """How far return superheat swings, settled or not; not across a change of mode."""
        judge = self.judge
        value = swing(returned.value, self.module.swing_us // judge.step_us)
        said = judge.say(
            Said(Status.DECIDED, Cause.NONE, "smallest range in three parts of the window", None, ())
        )
        value = np.where(judge.course.lasted_us < self.module.swing_us, np.nan, value)
        text = "it takes a whole window of return superheat in one mode"
        judge.overrule(said, np.isnan(value), Status.NOT_DECIDABLE, Cause.CHANGE, text)
        judge.overrule(said, judge.repeated, Status.NOT_DECIDABLE, Cause.REPEATED, REPEATS)
        judge.failed(said, judge.transducer)
        judge.overrule(said, judge.unknown_layout, Status.NOT_DECIDABLE, Cause.PIPING, LAYOUT_NOT_KNOWN)
        steps = np.max([judge.step_k(probe, judge.transducer) for probe in judge.probes], axis=0, initial=0.0)
        spread = np.where(np.isnan(value), np.nan, 2 * np.sqrt(2) * steps / np.sqrt(12))  # JCGM 100 F.2.2.1
        return Track(value, spread, spread, said)

    def place(self, place: str) -> Track:
        """A quantity whose probes the piping chooses, situation by situation."""
        judge = self.judge
        value, below, above = (np.full(judge.grid_us.shape, np.nan) for _ in range(3))
        said = np.zeros(judge.grid_us.shape, np.int64)
        for number, (situation, choices) in enumerate(judge.situations):
            here = judge.situation == number
            choice = choices.places[place]
            if choice.probes:
                words, measured = self.measured(place, choice)
                if place in _DIFFERENCES:
                    judge.doubt(words, measured.value, choice.probes, " minus ".join(choice.probes))
                else:
                    for probe in choice.probes:
                        series = self.at_probe[probe].value
                        judge.doubt(words, series, (probe, judge.transducer), _at(probe))
                    if place == RETURN and choice.standing is Standing.FIT:
                        measured = self.disagreement(words, choice.probes[0], measured, choices)
                    self.contradictions(words, measured, choice.probes)
                for whole, part in zip((value, below, above), measured, strict=True):
                    whole[here] = part[here]
                judge.unknown_running(words, measured.value)
            else:
                words = judge.say(self.nothing(situation, choice, place in choices.lacks))
                if situation.mode == "unknown" and self.module.layout.is_known:
                    judge.unknown_mode(words)
            said[here] = words[here]
        return Track(value, below, above, said)

    def measured(self, place: str, choice: Choice) -> tuple[IntArray, Measured[FloatArray]]:
        """What is said of a choice, and its figures.

        Of several probes the one that reaches furthest down carries them, and is named first; where one is
        missing, the lowest of the others is kept.
        """
        said = Said(Status.DECIDED, Cause.NONE, choice.reason, choice.standing, choice.probes)
        words = self.judge.say(said)
        if place in _DIFFERENCES:
            later, earlier = choice.probes
            found = self.apart(later, earlier)
            return words, found._replace(above=found.above + self.cooled_by_loss(later, earlier))
        several = [self.at_probe[probe] for probe in choice.probes]
        parts = [np.stack([np.asarray(each[part]) for each in several]) for part in range(3)]
        reach = parts[0] - parts[1]
        lowest = np.argmin(np.where(np.isnan(reach), np.inf, reach), axis=0)
        for number in np.unique(lowest).tolist():
            first = choice.probes[number]
            others = tuple(probe for probe in choice.probes if probe != first)
            words[lowest == number] = self.judge.phrase(said._replace(probes=(first, *others)))
        return words, Measured(*(np.take_along_axis(part, lowest[None], axis=0)[0] for part in parts))

    def apart(self, later: str, earlier: str) -> Measured[FloatArray]:
        return difference(
            self.judge.usable(later),
            self.judge.frame(earlier).value,
            u_later_k=self.judge.uncertainty(later),
            u_earlier_k=self.judge.uncertainty(earlier),
        )

    def cooled_by_loss(self, later: str, earlier: str) -> FloatArray:
        """How much the gas may have cooled between two probes by losing pressure alone [K].

        Throttled vapour cools by less than its dew temperature falls (common practice, no source), so the
        latter is a bound.
        """
        before = dew_temperature(self.module.refrigerant, self.pressure + loss_pa(self.module, earlier)[1])
        after = dew_temperature(self.module.refrigerant, self.pressure + loss_pa(self.module, later)[0])
        return np.nan_to_num(np.maximum(before - after, 0.0))

    def nothing(self, situation: Situation, choice: Choice, failed: bool) -> Said:
        if failed:
            return Said(Status.NOT_DECIDABLE, Cause.FAILED, choice.reason, choice.standing, ())
        if choice.standing is Standing.NOT_MEASURABLE:
            return Said(Status.NOT_MEASURABLE, Cause.PIPING, choice.reason, choice.standing, ())
        by_piping = situation.mode in STEADY_MODES or not self.module.layout.is_known
        cause = Cause.PIPING if by_piping else Cause.MODE
        return Said(Status.NOT_DECIDABLE, cause, choice.reason, choice.standing, ())

    def contradictions(self, said: IntArray, measured: Measured[FloatArray], probes: tuple[str, ...]) -> None:
        """Figures that no suction line can have are no evidence of anything but a mistake.

        Wet gas of a blend lies below its dew temperature, by its whole glide where all is liquid.
        """
        judge, refrigerant = self.judge, self.module.refrigerant
        glide = self.dew_c - np.asarray(bubble_temperature(refrigerant, self.pressure))
        there = ~np.isnan(measured.value)  # what is missing says so
        text = "superheat far below zero: a reading, a unit, the refrigerant or the layout is wrong"
        below = measured.value + 2 * measured.above < -np.nan_to_num(glide)
        judge.overrule(said, below, Status.NOT_DECIDABLE, Cause.CONTRADICTION, text)
        discharge = self.module.layout.discharge_transducer
        if discharge is not None and discharge in self.module.signals:
            condensing = dew_temperature(refrigerant, judge.usable(discharge))
            air = judge.frame(OUTDOOR_AIR).value
            for probe in probes:
                u_dew = dew_slope(refrigerant, judge.usable(discharge)) * judge.uncertainty(discharge)
                spread = 2 * np.hypot(judge.uncertainty(probe), np.asarray(u_dew))
                hotter = there & (judge.frame(probe).value > hottest_return(condensing, spread, air))
                text = f"{probe} is hotter than gas can return: it cannot be on the suction side in this mode"
                judge.overrule(said, hotter, Status.NOT_DECIDABLE, Cause.CONTRADICTION, text)
        judge.failed(said, judge.transducer)  # is the weightier of the two

    def disagreement(
        self, said: IntArray, probe: str, measured: Measured[FloatArray], choices: Choices
    ) -> Measured[FloatArray]:
        """Another probe that should see the same vapour shows something else: the colder one is kept.

        A loose clamp errs towards the air around it (common practice, no source), and so the colder is
        likelier to be right.
        """
        layout = self.module.layout
        for other in self.judge.probes:
            behind = any(place.kind == "vessel" for place in layout.upstream(Place("probe", other)))
            if other == probe or behind or choices.fitness[other].verdict is not Fitness.FIT:
                continue
            apart = self.apart(other, probe)
            wide = np.abs(apart.value) > ALIKE_K + apart.above
            text = (
                f"{probe} and {other} should read alike and are more than {ALIKE_K:g} K apart: "
                "one of them, or the layout, is wrong"
            )
            self.judge.overrule(said, wide, Status.NOT_DECIDABLE, Cause.DISAGREEMENT, text)
            shown = self.at_probe[other]
            colder = wide & (shown.value < measured.value)
            measured = Measured(
                *(np.where(colder, one, kept) for one, kept in zip(shown, measured, strict=True))
            )
            for phrase in np.unique(said[colder]).tolist():
                words = list(self.judge.phrases)[phrase]
                said[colder & (said == phrase)] = self.judge.phrase(words._replace(probes=(other,)))
        return measured


def _at(probe: str) -> str:
    return f"superheat at {probe}"

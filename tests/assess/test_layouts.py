"""Assessments where a valve tells what a coil does, and where nobody has described the piping."""

import numpy as np
import pytest

from agent.assess import CODE, PRESSURE_RATIO, SATURATED_CONDENSING, SATURATED_SUCTION, SWING, Module, assess
from agent.piping import RETURN, Layout
from agent.thermo import dew_temperature
from tests.assess.world import (
    START_US,
    STATE,
    STEP_US,
    THERMISTOR,
    TRANSDUCER,
    grid,
    modes,
    module,
    said,
    samples,
    text,
)
from tests.piping.layouts import shipped

MINUTES = 40
THREE_PIPE = module(Layout.from_mapping(shipped("three-pipe-twin-late")))
TWO_STREAMS = {"suction_pipe": 8.0, "outdoor_coil_gas": 3.0, "bleed_valve": 0.0, "mode": CODE["simultaneous"]}
UNKNOWN = Layout.unknown(["1"])
NOT_KNOWN = (("not_decidable", "piping"), "the layout is not known")


def judged(of, **values):
    times_us = grid(MINUTES)
    return assess(of, times_us, samples(of, int(times_us[-1]), **values), STEP_US)


class TestCoilByValve:
    def test_the_coil_evaporates(self):
        stretch = judged(THREE_PIPE, **TWO_STREAMS, coil_valve=1.0)
        assert said(stretch, RETURN) == ("decided", "")
        assert stretch.tracks[RETURN].value[-1] == pytest.approx(3.0 - dew_temperature("R-410A", 800e3))

    def test_the_coil_does_not(self):
        stretch = judged(THREE_PIPE, **TWO_STREAMS, coil_valve=0.0)
        assert said(stretch, RETURN) == ("decided", "")
        assert stretch.tracks[RETURN].value[-1] == pytest.approx(8.0 - dew_temperature("R-410A", 800e3))

    @pytest.mark.parametrize("coil_valve", [None, np.nan])
    def test_nobody_knows(self, coil_valve):
        stretch = judged(THREE_PIPE, **TWO_STREAMS, coil_valve=coil_valve)
        assert said(stretch, RETURN) == ("decided", "")
        assert text(stretch, RETURN) == "what outdoor_coil does is not known"
        phrase = stretch.phrases[stretch.tracks[RETURN].said[-1]]
        assert (str(phrase.standing), phrase.probes) == ("second_best", ("suction_pipe",))

    def test_it_is_not_settled_right_after_the_coil_changed_its_role(self):
        stretch = judged(THREE_PIPE, **TWO_STREAMS, coil_valve=lambda minute: float(minute >= 20))
        at = 2 * 22  # two minutes after
        assert said(stretch, RETURN, at) == ("not_settled", "change")
        assert text(stretch, RETURN, at) == "a valve or a compressor switched a short while ago"
        assert said(stretch, RETURN, 2 * 15) == said(stretch, RETURN, -1) == ("decided", "")


class TestUnknownLayout:
    def of(self, **signals):
        return Module(UNKNOWN, "R-410A", signals)

    def everything(self, **more):
        named = {"mode": STATE, "suction_pressure": TRANSDUCER, "discharge_pressure": TRANSDUCER}
        return self.of(**named, compressor_1_speed=STATE, some_pipe=THERMISTOR, **more)

    @pytest.mark.parametrize("mode", ["cooling", "heating", "simultaneous", "defrost", "oil_recovery"])
    def test_the_mode_and_what_pressures_alone_tell_are_there_and_nothing_else_is_decided(self, mode):
        stretch = judged(self.everything(), mode=CODE[mode])
        assert set(modes(stretch)) == {mode}
        assert said(stretch, SATURATED_SUCTION) == ("decided", "")
        assert stretch.tracks[SATURATED_SUCTION].value[-1] == pytest.approx(dew_temperature("R-410A", 800e3))
        by_pressure = {SATURATED_SUCTION, SATURATED_CONDENSING}
        if mode in ("cooling", "heating", "simultaneous"):
            by_pressure |= {PRESSURE_RATIO}
            assert stretch.tracks[PRESSURE_RATIO].value[-1] == pytest.approx(2500 / 800)
        else:
            assert said(stretch, PRESSURE_RATIO) == ("not_decidable", "mode")
        for name in by_pressure:
            assert said(stretch, name) == ("decided", "")
        for name in stretch.tracks.keys() - by_pressure - {PRESSURE_RATIO}:
            assert (said(stretch, name), text(stretch, name)) == NOT_KNOWN
            assert np.isnan(stretch.tracks[name].value).all()

    def test_standing(self):
        stretch = judged(self.everything(), compressor_1_speed=0.0)
        assert set(modes(stretch)) == {"off"}
        assert said(stretch, RETURN) == ("not_decidable", "piping")

    @pytest.mark.parametrize("signals", [{}, {"some_pipe": THERMISTOR}, {"mode": STATE}])
    def test_without_the_pressure_saturated_suction_is_not_decidable_either(self, signals):
        stretch = judged(self.of(**signals))
        for name in stretch.tracks:
            assert (said(stretch, name), text(stretch, name)) == NOT_KNOWN

    def test_a_pressure_that_does_not_arrive_is_missing(self):
        stretch = judged(self.everything(), suction_pressure=None)
        assert said(stretch, SATURATED_SUCTION) == ("missing", "reading")
        assert (said(stretch, RETURN), text(stretch, RETURN)) == NOT_KNOWN

    def test_a_mode_that_does_not_arrive(self):
        stretch = judged(self.everything(), mode=None)
        assert set(modes(stretch)) == {"unknown"}
        for name in (RETURN, SWING):
            assert (said(stretch, name), text(stretch, name)) == NOT_KNOWN

    def test_it_says_so_from_the_first_grid_time_on(self):
        of = self.everything()
        stretch = assess(of, grid(1), samples(of, START_US, since_us=START_US), STEP_US)
        assert (said(stretch, RETURN, 0), text(stretch, RETURN, 0)) == NOT_KNOWN


class TestIdleCoil:
    """A half of the outdoor coil whose expansion is shut feeds nothing, though its valve says evaporator.

    Its pipe tells of the weather or of what condenses in it: common practice, no source.
    """

    SPLIT = Layout.from_mapping(shipped("two-pipe-split-coil"))
    COILS = ("upper_coil_valve", "lower_coil_valve")
    OPENINGS = ("upper_expansion", "lower_expansion")

    def returned(self, *, openings=OPENINGS, lower_coil_gas=0.0, **values):
        of = module(self.SPLIT, signals=dict.fromkeys((*self.COILS, *openings), STATE))
        given = dict.fromkeys(self.COILS, 1.0) | {
            "mode": CODE["heating"],
            "upper_coil_gas": 8.0,
            "lower_coil_gas": lower_coil_gas,
            "upper_expansion": 0.4,
            "lower_expansion": 0.0,
        }
        grid_us = grid(20)
        stretch = assess(of, grid_us, samples(of, int(grid_us[-1]), **(given | values)), STEP_US)
        words = stretch.phrases[stretch.tracks[RETURN].said[-1]]
        return words.status, words.probes, stretch.tracks[RETURN].value[-1]

    @pytest.mark.parametrize("idle_c", [0.0, -4.0, 25.0])
    def test_its_probe_does_not_speak(self, idle_c):
        status, probes, value = self.returned(lower_coil_gas=idle_c)
        assert (status, probes) == ("decided", ("upper_coil_gas",))
        assert value == pytest.approx(8.0 - dew_temperature("R-410A", 800e3))

    @pytest.mark.parametrize("open_", [{"lower_expansion": 0.1}, {"openings": ("upper_expansion",)}])
    def test_one_that_may_be_fed_speaks(self, open_):
        _, probes, _ = self.returned(**open_)
        assert set(probes) == {"upper_coil_gas", "lower_coil_gas"}

"""An assessment: what is decided, which of four reasons it is not, and the laws of time."""

from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from agent.assess import AT_PROBE, CODE, SATURATED_SUCTION, SECOND, SWING, Samples, Settling, Signal, assess
from agent.piping import ACCUMULATOR_CHANGE, ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RETURN, RISE, Layout
from agent.settings.signals import Conversion
from agent.thermo import (
    REFRIGERANTS,
    dew_slope,
    dew_temperature,
    difference,
    standard_uncertainty,
    superheat,
)
from agent.units import Dimension
from tests.assess.world import (
    EARLY,
    LATE,
    START_US,
    STATE,
    STEP_US,
    THERMISTOR,
    TRANSDUCER,
    coarse,
    cut_to,
    grid,
    mode_by,
    modes,
    module,
    random_day,
    said,
    samples,
    statuses,
    text,
)
from tests.piping.layouts import layout, shipped

law = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
DECIDED = ("decided", "")
GIVEN_UP = ("not_measurable", "piping")
FAILED = ("not_decidable", "failed")
LAST_US = int(grid(20)[-1])
DEW_C = dew_temperature("R-410A", 800e3)


def judged(of=None, minutes=20, **values):
    """A module over some minutes, with constant readings but for those named."""
    of = of or module()
    return assess(of, grid(minutes), samples(of, int(grid(minutes)[-1]), **values), STEP_US)


def stepped(**steps):
    """The module with other steps of its signals, in K or Pa."""
    of = module()
    return replace(
        of, signals=of.signals | {name: replace(of.signals[name], step=step) for name, step in steps.items()}
    )


def at_dew(temperature_c):
    """The pressure [Pa] whose dew temperature this is."""
    return PropsSI("P", "T", 273.15 + temperature_c, "Q", 1, "R410A")


def to_and_fro(minutes):
    """1 and -1 in turn, sample by sample; over the window the mean is 0 and the standard deviation 1."""
    return (-1) ** (round(2 * minutes) + 1)


def flat(minutes):
    """A suction pressure without any flicker."""
    return 800e3


def figures(stretch, name, at=-1):
    track = stretch.tracks[name]
    return track.value[at], track.below[at], track.above[at]


class TestDecided:
    def test_in_steady_operation(self):
        stretch = judged()
        for place in (RETURN, COMPRESSOR_INLET, RISE, SATURATED_SUCTION, AT_PROBE + "suction_pipe"):
            assert set(statuses(stretch, place)) == {DECIDED}
        assert figures(stretch, SATURATED_SUCTION)[0] == pytest.approx(DEW_C)
        assert figures(stretch, RETURN)[0] == pytest.approx(8.0 - DEW_C)
        assert figures(stretch, COMPRESSOR_INLET)[0] == pytest.approx(20.0 - DEW_C)
        assert figures(stretch, RISE)[0] == pytest.approx(12.0)
        assert text(stretch, RETURN) == "all returning vapour, before anything is mixed in"

    def test_the_mode_picks_the_probe(self):
        stretch = judged(mode=CODE["heating"], outdoor_coil_gas=4.0)
        assert stretch.phrases[stretch.tracks[RETURN].said[-1]].probes == ("outdoor_coil_gas",)
        assert figures(stretch, RETURN)[0] == pytest.approx(4.0 - DEW_C)
        assert figures(stretch, RISE)[0] == pytest.approx(16.0)

    def test_zero_and_negative_superheat_are_values(self):
        assert figures(judged(suction_pipe=DEW_C), RETURN)[0] == pytest.approx(0.0, abs=1e-9)
        stretch = judged(suction_pipe=DEW_C - 1.5, compressor_inlet=DEW_C - 4)
        assert figures(stretch, RETURN)[0] == pytest.approx(-1.5)
        assert figures(stretch, RISE)[0] == pytest.approx(-2.5)
        assert said(stretch, RETURN) == said(stretch, RISE) == DECIDED

    def test_apparent_superheat_is_kept_of_every_probe(self):
        stretch = judged()
        for probe, shown in (("compressor_inlet", 20.0), ("outdoor_coil_gas", 40.0)):
            assert figures(stretch, AT_PROBE + probe)[0] == pytest.approx(shown - DEW_C)

    @pytest.mark.parametrize(("second", "running"), [(0.0, {"1"}), (40.0, {"1", "2"}), (None, None)])
    def test_one_compressor_not_known_makes_none_known(self, second, running):
        stretch = judged(compressor_2_speed=second)
        assert stretch.situations[stretch.situation[-1]][0].running == running

    def test_the_early_layout_decides_the_accumulators_outlet_and_change(self):
        stretch = judged(module(EARLY))
        assert figures(stretch, ACCUMULATOR_OUTLET)[0] == pytest.approx(5.0 - DEW_C)
        assert figures(stretch, ACCUMULATOR_CHANGE)[0] == pytest.approx(-3.0)
        assert said(stretch, RISE) == said(stretch, COMPRESSOR_INLET) == GIVEN_UP


class TestNotMeasurable:
    def test_by_the_piping(self):
        stretch = judged()
        for place in (ACCUMULATOR_OUTLET, ACCUMULATOR_CHANGE):
            assert said(stretch, place) == GIVEN_UP
            assert np.isnan(figures(stretch, place)).all()

    def test_for_want_of_a_signal(self):
        stretch = judged(module(without=["suction_pipe"]))
        assert said(stretch, RETURN) == said(stretch, RISE) == GIVEN_UP
        assert said(stretch, COMPRESSOR_INLET) == DECIDED
        assert AT_PROBE + "suction_pipe" not in stretch.tracks

    def test_without_a_transducer(self):
        stretch = judged(module(without=["suction_pressure"]))
        words = "suction_pressure is not among the module's signals"
        for place in (RETURN, COMPRESSOR_INLET, SATURATED_SUCTION):
            assert said(stretch, place) == GIVEN_UP
            assert text(stretch, place) == words
            assert np.isnan(figures(stretch, place)).all()
        assert said(stretch, RISE) == DECIDED

    def test_without_a_mode_signal(self):
        stretch = judged(module(without=["mode"]))
        for place in (RETURN, RISE, ACCUMULATOR_OUTLET):
            assert said(stretch, place) == GIVEN_UP
            assert text(stretch, place) == "mode is not among the module's signals"


class TestMissing:
    @pytest.mark.parametrize("name", ["suction_pipe", "suction_pressure"])
    def test_a_reading_that_it_takes(self, name):
        stretch = judged(**{name: None})
        assert said(stretch, RETURN) == ("missing", "reading")
        assert text(stretch, RETURN) == f"{name} is missing"
        assert np.isnan(figures(stretch, RETURN)).all()
        assert stretch.phrases[stretch.tracks[RETURN].said[-1]].probes == ("suction_pipe",)

    def test_what_came_without_a_meaning_says_so_until_it_is_too_old(self):
        def dumb_and_then_silent(of):
            given = samples(of, LAST_US)
            time_us, value = given["suction_pipe"]
            kept = time_us <= LAST_US - 300 * SECOND
            last = kept & (time_us > LAST_US - 600 * SECOND)
            given["suction_pipe"] = Samples(time_us[kept], np.where(last, np.nan, value)[kept])
            return text_of(assess(of, grid(20), given, STEP_US))

        def text_of(stretch):
            return [text(stretch, RETURN, -at) for at in (1 + 540_000_000 // STEP_US, 1)]

        came, gone = "suction_pipe is missing: what came for it has no meaning", "suction_pipe is missing"
        assert dumb_and_then_silent(module()) == [came, gone]
        of = module()
        on_change = replace(of.signals["suction_pipe"], on_change=True, max_age_us=3600 * SECOND)
        changing = replace(of, signals=of.signals | {"suction_pipe": on_change})
        assert dumb_and_then_silent(changing) == [came, came]  # others are heard, so it still holds

    def test_a_difference_takes_no_pressure(self):
        stretch = judged(suction_pressure=None)
        assert said(stretch, RISE) == DECIDED
        assert said(stretch, SATURATED_SUCTION) == ("missing", "reading")
        assert said(judged(compressor_inlet=None), RISE) == ("missing", "reading")
        assert said(judged(suction_pipe=None), RISE) == ("missing", "reading")

    def test_the_mode(self):
        stretch = judged(mode=None)
        assert set(modes(stretch)) == {"unknown"}
        for place in (RETURN, RISE, ACCUMULATOR_OUTLET):
            assert said(stretch, place) == ("missing", "reading")
            assert text(stretch, place).startswith("mode is missing")

    def test_it_outweighs_all_other_reasons(self):
        stretch = judged(
            suction_pipe=lambda m: np.nan if m > 15 else 5 * m, mode=mode_by(10, "heating", "cooling")
        )
        assert said(stretch, RETURN) == ("missing", "reading")

    def test_a_value_comes_back_but_is_settled_only_after_the_window(self):
        stretch = judged(minutes=30, suction_pipe=lambda m: np.nan if 5 <= m < 10 else 8.0)
        found = statuses(stretch, RETURN)
        assert found[2 * 5 - 1] == DECIDED
        assert set(found[2 * 5 : 2 * 10]) == {("missing", "reading")}
        assert found[2 * 10] == ("not_settled", "gaps")
        assert text(stretch, RETURN, 20) == "superheat at suction_pipe has gaps in the window"
        assert figures(stretch, RETURN, 20)[0] == pytest.approx(8.0 - DEW_C)
        assert found[-1] == DECIDED


class TestNotSettled:
    def test_swinging_and_drifting(self):
        rng = np.random.default_rng(4)
        for name, place in (("suction_pipe", RETURN), ("compressor_inlet", COMPRESSOR_INLET)):
            stretch = judged(**{name: lambda m: 12.0 + rng.normal(0, 1.5)})
            assert said(stretch, place) == ("not_settled", "spread")
            assert text(stretch, place) == f"superheat at {name} is swinging"
            assert said(stretch, RISE) == ("not_settled", "spread")
            assert text(stretch, RISE) == "compressor_inlet minus suction_pipe is swinging"
            stretch = judged(**{name: lambda m: 10.0 + 0.15 * m})
            assert said(stretch, place) == ("not_settled", "slope")
            assert text(stretch, place) == f"superheat at {name} is drifting"
            assert said(stretch, RISE) == ("not_settled", "slope")
            assert text(stretch, RISE) == "compressor_inlet minus suction_pipe is drifting"
            assert figures(stretch, place)[0] == pytest.approx(10.0 + 0.15 * 19.5 - DEW_C)

    @pytest.mark.parametrize(
        ("by_k", "step_k", "of_superheat", "of_saturation"),
        [
            (0.49, 0.1, "", ""),
            (0.502, 0.1, "", "spread"),
            (0.51, 0.1, "spread", "spread"),
            (0.51, 0.3, "", "spread"),
        ],
    )
    def test_a_swinging_pressure_is_judged_by_what_it_does_to_the_quantity(
        self, by_k, step_k, of_superheat, of_saturation
    ):
        """A step of the pressure is near 0.04 K of dew temperature; half of it joins the 0.5 K in squares."""
        swinging = {"suction_pressure": lambda m: at_dew(DEW_C + by_k * to_and_fro(m))}
        stretch = judged(stepped(suction_pipe=step_k), suction_pipe=lambda m: 8.0, **swinging)
        for place, cause in ((RETURN, of_superheat), (SATURATED_SUCTION, of_saturation), (RISE, "")):
            assert said(stretch, place) == ("not_settled" if cause else "decided", cause)

    def test_what_swings_together_leaves_the_difference_settled(self):
        stretch = judged(
            suction_pressure=lambda m: at_dew(DEW_C + 2 * to_and_fro(m)),
            suction_pipe=lambda m: 8.0 + 2 * to_and_fro(m),
            compressor_inlet=lambda m: 20.0 + 2 * to_and_fro(m),
        )
        for place in (RETURN, COMPRESSOR_INLET, RISE):
            assert said(stretch, place) == DECIDED
        assert figures(stretch, RETURN)[0] == pytest.approx(8.0 - DEW_C, abs=0.001)
        assert said(stretch, SATURATED_SUCTION) == ("not_settled", "spread")
        assert text(stretch, SATURATED_SUCTION) == "saturated suction temperature is swinging"

    def test_what_swings_apart_is_worse_than_either(self):
        stretch = judged(
            suction_pressure=lambda m: at_dew(DEW_C - 0.3 * to_and_fro(m)),
            suction_pipe=lambda m: 8.0 + 0.3 * to_and_fro(m),
        )
        assert said(stretch, RETURN) == ("not_settled", "spread")
        assert said(stretch, SATURATED_SUCTION) == said(stretch, RISE) == DECIDED

    def test_a_climbing_pressure_is_a_drift_of_the_quantity(self):
        """A step of each instrument may pass within the window of 20 grid points: 1.5 steps of slope."""
        drifting = ("not_settled", "slope")
        of_both = 0.1 + 3 / 20 * np.hypot(0.1, 1e3 * dew_slope("R-410A", 800e3))
        of_pressure = 0.1 + 3 / 20 * 1e3 * dew_slope("R-410A", 800e3)
        assert 0.105 < of_pressure < 0.107 < 0.115 < of_both < 0.117
        for k_per_min, of_superheat, of_saturation in (
            (0.105, DECIDED, DECIDED),
            (0.107, DECIDED, drifting),
            (0.115, DECIDED, drifting),
            (0.117, drifting, drifting),
        ):
            climbing = judged(
                suction_pressure=lambda m, by=k_per_min: at_dew(DEW_C + by * (m - 19.5)),
                suction_pipe=lambda m: 8.0,
            )
            assert said(climbing, RETURN) == of_superheat
            assert said(climbing, SATURATED_SUCTION) == of_saturation
            assert said(climbing, RISE) == DECIDED

    def test_a_coarse_pressure_that_toggles_is_settled(self):
        toggling = {"suction_pressure": lambda m: 800e3 + 40e3 * (round(2 * m) % 2)}
        for step_pa, found in ((40e3, DECIDED), (10e3, ("not_settled", "spread"))):
            stretch = judged(stepped(suction_pressure=step_pa), **toggling)
            assert said(stretch, RETURN) == said(stretch, SATURATED_SUCTION) == found

    def test_whole_degrees_that_toggle_are_settled(self):
        toggling = {"suction_pipe": lambda m: 8.0 + 1.1 * (round(2 * m) % 2)}
        for step_k, found in ((1.0, DECIDED), (0.1, ("not_settled", "spread"))):
            stretch = judged(stepped(suction_pipe=step_k), **toggling)
            assert said(stretch, RETURN) == said(stretch, RISE) == found

    def test_after_a_change_of_mode_for_the_quiet_time(self):
        stretch = judged(minutes=40, mode=mode_by(10, "heating", "cooling"))
        found = statuses(stretch, RETURN)
        assert set(found[:20]) == {DECIDED}
        assert set(found[20:50]) == {("not_settled", "change")}
        assert set(found[50:]) == {DECIDED}
        assert text(stretch, RETURN, 20) == "the mode changed a short while ago"

    def test_after_a_start_the_quiet_time_begins_with_its_end(self):
        stretch = judged(minutes=40, mode=mode_by(10, "off", "cooling"))
        assert modes(stretch) == ["off"] * 20 + ["starting"] * 6 + ["cooling"] * 54
        found = statuses(stretch, RETURN)
        assert set(found[:26]) == {("not_decidable", "mode")}
        assert set(found[26 : 26 + 30]) == {("not_settled", "change")}
        assert set(found[26 + 30 :]) == {DECIDED}

    def test_a_longer_window_lengthens_the_quiet_time(self):
        of = module(settling=Settling(window_us=1500 * SECOND))
        found = statuses(judged(of, minutes=40, mode=mode_by(5, "heating", "cooling")), RETURN)
        assert set(found[10 : 10 + 50]) == {("not_settled", "change")}
        assert found[10 + 50] == DECIDED

    def test_it_is_settled_on_a_coarse_grid_too(self):
        of = coarse(module())
        step_us = 300 * SECOND
        times_us = START_US + step_us * np.arange(4)
        moving = samples(of, int(times_us[-1]), suction_pipe=lambda m: 8.0 + 0.1 * (round(m / 5) % 2))
        stretch = assess(of, times_us, moving, step_us)
        assert said(stretch, RETURN) == DECIDED


class TestSwitched:
    @pytest.mark.parametrize("name", ["bypass_valve", "compressor_2_speed"])
    @pytest.mark.parametrize("opens", [True, False])
    def test_a_valve_or_a_compressor_unsettles_for_five_minutes(self, name, opens):
        before, after = (0.0, 50.0) if opens else (50.0, 0.0)
        stretch = judged(**{name: lambda m: before if m < 10 else after})
        for quantity in (RETURN, COMPRESSOR_INLET, SATURATED_SUCTION, AT_PROBE + "suction_pipe"):
            found = statuses(stretch, quantity)
            assert set(found[:20]) == set(found[30:]) == {DECIDED}
            assert set(found[20:30]) == {("not_settled", "change")}
            assert text(stretch, quantity, 20) == "a valve or a compressor switched a short while ago"
        assert np.isfinite(stretch.tracks[RETURN].value).all()

    def test_a_rise_too_once_it_is_attributable(self):
        found = statuses(judged(bypass_valve=lambda m: 1.0 if m < 5 else 0.0), RISE)
        assert set(found[:10]) == {("not_decidable", "piping")}
        assert set(found[10:20]) == {("not_settled", "change")}
        assert set(found[20:]) == {DECIDED}

    def test_the_time_is_the_modules(self):
        of = module(settling=Settling(switched_us=120 * SECOND))
        found = statuses(judged(of, bypass_valve=lambda m: 0.0 if m < 10 else 1.0), RETURN)
        assert [at for at, each in enumerate(found) if each != DECIDED] == [20, 21, 22, 23]

    def test_another_speed_is_no_switching(self):
        assert set(statuses(judged(compressor_1_speed=lambda m: 30.0 + m), RETURN)) == {DECIDED}

    def test_a_shut_valve_that_is_heard_no_more_has_not_switched(self):
        stretch = judged(bypass_valve=lambda m: 0.0 if m < 10 else np.nan)
        assert set(statuses(stretch, RETURN)) == {DECIDED}

    def test_a_change_of_mode_is_said_instead(self):
        stretch = judged(
            mode=mode_by(10, "heating", "cooling"), bypass_valve=lambda m: 0.0 if m < 10 else 1.0
        )
        assert text(stretch, RETURN, 20) == "the mode changed a short while ago"


class TestRepeated:
    WORDS = "the gateway repeats old values under new times"
    REPEATED = ("not_decidable", "repeated")

    @staticmethod
    def standing_since(minutes, **values):
        """All that is measured climbs a little until then, and stands still afterwards."""
        fine = {"suction_pipe": 8.0, "outdoor_coil_gas": 40.0, "compressor_inlet": 20.0}
        measured = {name: lambda m, v=v: v + 0.01 * min(m, minutes) for name, v in fine.items()}
        measured["suction_pressure"] = lambda m: 800e3 + min(m, minutes)
        return measured | values

    def test_after_twenty_minutes_nothing_is_decidable(self):
        stretch = judged(minutes=40, **self.standing_since(10.0))
        for name in (RETURN, COMPRESSOR_INLET, RISE, SATURATED_SUCTION, AT_PROBE + "suction_pipe", SWING):
            found = statuses(stretch, name)
            assert set(found[:60]) == {DECIDED}
            assert set(found[60:]) == {self.REPEATED}
            assert text(stretch, name) == self.WORDS
        assert np.isfinite(stretch.tracks[RETURN].value).all()
        assert stretch.phrases[stretch.tracks[RETURN].said[-1]].probes == ("suction_pipe",)

    def test_what_stood_before_all_that_is_at_hand_counts_too(self):
        assert set(statuses(judged(flickers=False), RETURN)) == {self.REPEATED}

    def test_the_time_is_the_modules(self):
        found = statuses(judged(module(repeated_us=300 * SECOND), **self.standing_since(10.0)), RETURN)
        assert set(found[:30]) == {DECIDED}
        assert set(found[30:]) == {self.REPEATED}

    @pytest.mark.parametrize("name", [*LATE.suction_probes, "suction_pressure"])
    def test_one_that_moves_shows_that_the_gateway_measures(self, name):
        moving = {name: lambda m: (800e3 if name == "suction_pressure" else 12.0) + 0.1 * (round(m) % 2)}
        assert said(judged(flickers=False, **moving), RETURN) == DECIDED

    def test_a_gap_in_one_of_them_starts_it_anew(self):
        gap = {"outdoor_coil_gas": lambda m: np.nan if m == 10 else 40.0}
        found = statuses(judged(minutes=40, flickers=False, **gap), RETURN)
        assert set(found[:20]) == {self.REPEATED}
        assert set(found[20:61]) == {DECIDED}  # the value after the gap is a move as well
        assert set(found[61:]) == {self.REPEATED}

    @pytest.mark.parametrize(
        ("steps", "cause"),
        [
            ({}, "repeated"),
            ({"outdoor_coil_gas": 0.2, "compressor_inlet": 0.2}, "repeated"),
            ({"outdoor_coil_gas": 0.21}, "repeated"),
            ({"outdoor_coil_gas": 0.21, "compressor_inlet": 0.21}, ""),
            ({"outdoor_coil_gas": 0.21, "suction_pressure": 5e3}, "repeated"),
            ({"outdoor_coil_gas": 0.21, "suction_pressure": 5.01e3}, ""),
        ],
    )
    def test_it_takes_three_signals_of_a_fine_step(self, steps, cause):
        assert said(judged(stepped(**steps), flickers=False), RETURN)[1] == cause

    def test_a_coarse_one_that_moves_tells_nothing(self):
        moving = {"outdoor_coil_gas": lambda m: 40.0 + round(m) % 2}
        assert said(judged(stepped(outdoor_coil_gas=1.0), flickers=False, **moving), RETURN) == self.REPEATED

    def test_what_has_no_accuracy_is_not_measured(self):
        """A state may move, a setting may stand: neither tells."""
        of = module(signals={"fan_speed": STATE})
        assert said(judged(of, flickers=False, fan_speed=lambda m: m), RETURN) == self.REPEATED
        gone = {"outdoor_coil_gas": STATE, "compressor_inlet": STATE}
        assert said(judged(module(signals=gone), flickers=False), RETURN) == DECIDED

    def test_a_fine_discharge_pressure_is_one_of_them(self):
        moving = {"discharge_pressure": lambda m: 2500e3 + 1e3 * (round(m) % 2)}
        for step_pa, found in ((1e3, DECIDED), (6e3, self.REPEATED)):
            of = module(signals={"discharge_pressure": replace(TRANSDUCER, step=step_pa)})
            assert said(judged(of, flickers=False, **moving), RETURN) == found
            assert said(judged(of, flickers=False), RETURN) == self.REPEATED

    def test_only_while_a_compressor_runs(self):
        stretch = judged(compressor_1_speed=0.0, flickers=False)
        assert said(stretch, SATURATED_SUCTION) == DECIDED
        found = statuses(judged(minutes=60, mode=mode_by(10, "off", "cooling"), flickers=False), RETURN)
        assert self.REPEATED not in found[: 2 * (10 + 3 + 20)]
        assert set(found[2 * (10 + 3 + 20) :]) == {self.REPEATED}

    def test_pressures_tell_that_a_compressor_runs_here_too(self):
        assert said(judged(TestWhatRuns.BY_PRESSURE, flickers=False), RETURN) == self.REPEATED

    def test_what_is_sent_on_change_may_stand(self):
        silent = dict.fromkeys(LATE.suction_probes, replace(THERMISTOR, on_change=True))
        assert said(judged(module(signals=silent), flickers=False), RETURN) == DECIDED

    def test_missing_and_outside_the_table_say_more(self):
        assert said(judged(flickers=False, suction_pressure=20e3), RETURN) == FAILED
        assert said(judged(flickers=False, mode=None), RETURN) == ("missing", "reading")

    def test_it_says_more_than_unsettled_and_skewed(self):
        stretch = judged(flickers=False, mode=mode_by(-21, "heating", "cooling"))
        assert said(stretch, RETURN, 0) == self.REPEATED
        given_samples = samples(module(), LAST_US, flickers=False)
        time_us, value = given_samples["suction_pressure"]
        late = {"suction_pressure": Samples(time_us - 91 * SECOND, value)}
        assert said(assess(module(), grid(20), given_samples | late, STEP_US), RETURN) == self.REPEATED


class TestWhatRuns:
    UNKNOWN = ("not_decidable", "mode")
    WORDS = "no signal tells whether a compressor runs"
    SPEEDS = ("compressor_1_speed", "compressor_2_speed")
    BY_PRESSURE = module(
        without=SPEEDS, signals={"discharge_pressure": TRANSDUCER, "discharge_1": THERMISTOR}
    )

    @pytest.mark.parametrize("without", [SPEEDS, ()])
    def test_without_a_signal_that_tells_nothing_is_decidable(self, without):
        """Whether there is no such signal, or it gives no readings."""
        stretch = judged(module(without=without), **dict.fromkeys(self.SPEEDS))
        assert set(modes(stretch)) == {"cooling"}
        for place in (RETURN, COMPRESSOR_INLET, RISE):
            assert set(statuses(stretch, place)) == {self.UNKNOWN}
            assert text(stretch, place) == self.WORDS
            assert np.isfinite(figures(stretch, place)).all()
        assert said(stretch, RETURN) == self.UNKNOWN
        assert stretch.phrases[stretch.tracks[RETURN].said[-1]].probes == ("suction_pipe",)
        for place in (ACCUMULATOR_OUTLET, ACCUMULATOR_CHANGE):
            assert said(stretch, place) == GIVEN_UP

    def test_what_is_missing_or_not_measurable_says_so(self):
        assert said(judged(module(without=self.SPEEDS), suction_pipe=None), RETURN) == ("missing", "reading")
        without = [*self.SPEEDS, "suction_pressure"]
        assert said(judged(module(without=without)), RETURN) == GIVEN_UP

    def test_a_pressure_of_zero_tells_nothing(self):
        stretch = judged(self.BY_PRESSURE, suction_pressure=0.0)
        assert set(modes(stretch)) == {"cooling"}
        assert said(stretch, RETURN) == FAILED
        assert text(stretch, RISE) == self.WORDS

    def test_the_figures_are_kept(self):
        stretch = judged(module(without=self.SPEEDS))
        assert said(stretch, SATURATED_SUCTION) == said(stretch, AT_PROBE + "suction_pipe") == DECIDED

    def test_one_that_runs_is_enough_and_one_that_stands_is_not(self):
        assert said(judged(compressor_2_speed=None), RETURN) == DECIDED
        stretch = judged(compressor_1_speed=0.0, compressor_2_speed=None)
        assert set(modes(stretch)) == {"cooling"}
        assert text(stretch, RETURN) == self.WORDS

    @pytest.mark.parametrize(("speed", "mode"), [(1.0, "off"), (1.1, "cooling")])
    def test_a_speed(self, speed, mode):
        assert set(modes(judged(compressor_1_speed=speed))) == {mode}

    @pytest.mark.parametrize(("ampere", "mode"), [(1.0, "off"), (1.1, "cooling")])
    def test_a_current(self, ampere, mode):
        of = module(EARLY, without=self.SPEEDS, signals={"compressor_1_current": STATE})
        stretch = judged(of, compressor_1_current=ampere)
        assert set(modes(stretch)) == {mode}
        assert said(stretch, RETURN) == (DECIDED if mode == "cooling" else ("not_decidable", "mode"))

    def test_the_borders_are_the_modules(self):
        of = module(runs_above_hz=5.0)
        assert set(modes(judged(of, compressor_1_speed=5.0))) == {"off"}
        assert set(modes(judged(of, compressor_1_speed=5.1))) == {"cooling"}
        current = {"compressor_1_current": STATE}
        of = module(EARLY, without=self.SPEEDS, signals=current, runs_above_a=0.2)
        assert set(modes(judged(of, compressor_1_current=0.2))) == {"off"}
        assert set(modes(judged(of, compressor_1_current=0.3))) == {"cooling"}
        of = replace(self.BY_PRESSURE, runs_above_ratio=3.2)
        assert set(modes(judged(of, suction_pressure=flat))) == {"off"}

    @pytest.mark.parametrize(("ratio", "mode"), [(1.19, "off"), (1.21, "cooling"), (3.0, "cooling")])
    def test_else_the_pressures_tell(self, ratio, mode):
        stretch = judged(self.BY_PRESSURE, discharge_pressure=lambda m: 800e3 * ratio, suction_pressure=flat)
        assert set(modes(stretch)) == {mode}
        assert stretch.situations[stretch.situation[-1]][0].running is None
        if ratio == 3.0:
            assert set(statuses(stretch, RETURN)) == {DECIDED}

    @pytest.mark.parametrize("gone", ["discharge_pressure", "suction_pressure"])
    def test_it_takes_both(self, gone):
        stretch = judged(self.BY_PRESSURE, **{gone: None})
        assert set(modes(stretch)) == {"cooling"}
        assert text(stretch, RISE) == self.WORDS

    def test_a_compressors_own_signal_comes_first(self):
        of = module(signals={"discharge_pressure": TRANSDUCER})
        assert set(modes(judged(of, compressor_1_speed=0.0))) == {"off"}
        assert set(modes(judged(of, discharge_pressure=800e3, suction_pipe=0.0))) == {"cooling"}

    def test_a_mode_that_is_not_steady_says_so_itself(self):
        stretch = judged(module(without=self.SPEEDS), mode=CODE["defrost"])
        assert text(stretch, RETURN) == "in mode defrost values are kept, not judged"


class TestContradiction:
    CONTRADICTION = ("not_decidable", "contradiction")
    BELOW = "superheat far below zero: a reading, a unit, the refrigerant or the layout is wrong"
    OF = module(signals={"discharge_pressure": TRANSDUCER})

    def test_far_below_zero(self):
        """A superheat below zero is wet within its uncertainty; beyond twice that it is a mistake."""
        above = figures(judged(), RETURN)[2]
        glide = DEW_C - PropsSI("T", "P", 800e3, "Q", 0, "R410A") + 273.15
        for value, found in (
            (-1.99 * above - glide, DECIDED),
            (-2.01 * above - glide - 0.01, self.CONTRADICTION),
        ):
            stretch = judged(suction_pipe=DEW_C + value, compressor_inlet=DEW_C + value)
            for place in (RETURN, COMPRESSOR_INLET):
                assert said(stretch, place) == found
                assert figures(stretch, place)[0] == pytest.approx(value)
            assert said(stretch, RISE) == DECIDED
        assert text(stretch, RETURN) == self.BELOW
        assert stretch.phrases[stretch.tracks[RETURN].said[-1]].probes == ("suction_pipe",)

    @pytest.mark.parametrize("quality", [0.8, 0.7, 0.6, 0.4])
    def test_wet_gas_of_a_blend_with_glide_is_no_mistake(self, quality):
        """R-407C lies 1.2, 1.9 and 2.5 K below its dew at qualities 0.8, 0.7 and 0.6 (5 degC, CoolProp)."""
        pressure = PropsSI("P", "T", 278.15, "Q", 1, "R407C")
        wet_c = PropsSI("T", "P", pressure, "Q", quality, "R407C") - 273.15
        fine = {
            "suction_pipe": Signal(120 * SECOND, 30 * SECOND, 0.2),
            "suction_pressure": Signal(120 * SECOND, 30 * SECOND, 1e3),
        }
        of = replace(module(signals=fine, known_loss_pa={"suction_pipe": 0.0}), refrigerant="R-407C")
        stretch = judged(of, suction_pipe=wet_c, suction_pressure=pressure)
        assert said(stretch, RETURN) == DECIDED
        assert figures(stretch, RETURN)[0] == pytest.approx(wet_c - 5.0, abs=0.01)
        bubble_c = PropsSI("T", "P", pressure, "Q", 0, "R407C") - 273.15
        colder = judged(of, suction_pipe=bubble_c - 1.5, suction_pressure=pressure)
        assert said(colder, RETURN) == self.CONTRADICTION

    def test_a_difference_far_below_zero_is_evidence(self):
        stretch = judged(compressor_inlet=6.0, suction_pipe=26.0)
        assert said(stretch, RISE) == DECIDED
        assert figures(stretch, RISE)[0] == pytest.approx(-20.0)

    def test_hotter_than_condensing(self):
        """By 10 K more than its uncertainty: two limits of error, each rectangular (JCGM 100:2008)."""
        u_t = np.hypot(0.5 / 3**0.5, 0.1 / 12**0.5)
        u_p = np.hypot(10e3 / 3**0.5, 1e3 / 12**0.5) * dew_slope("R-410A", 2500e3)
        bound_c = dew_temperature("R-410A", 2500e3) + 10.0 + 2 * np.hypot(u_t, u_p)
        assert said(judged(self.OF, suction_pipe=bound_c - 0.1), RETURN) == DECIDED
        stretch = judged(self.OF, suction_pipe=lambda m: 35.0 if m < 10 else bound_c + 0.1)
        assert said(stretch, RETURN) == self.CONTRADICTION
        assert said(stretch, COMPRESSOR_INLET) == DECIDED
        words = "suction_pipe is hotter than gas can return: it cannot be on the suction side in this mode"
        assert text(stretch, RETURN) == words
        assert figures(stretch, RETURN)[0] == pytest.approx(bound_c + 0.1 - DEW_C)

    @pytest.mark.parametrize("gas_c", [22.0, 26.0, 44.0])
    def test_a_starved_machine_in_cool_weather_is_no_mistake(self, gas_c):
        """Condensing at 20 degC (1447 kPa, R-410A), gas at room temperature: common practice, no source."""
        stretch = judged(self.OF, suction_pipe=gas_c, discharge_pressure=1447e3)
        assert said(stretch, RETURN) == DECIDED
        warmer = {"suction_pipe": lambda m: 35.0 if m < 10 else 46.0}
        stretch = judged(self.OF, discharge_pressure=1447e3, **warmer)
        assert said(stretch, RETURN) == self.CONTRADICTION

    def test_only_a_probe_that_speaks_is_held_against_it(self):
        stretch = judged(self.OF, outdoor_coil_gas=58.0)
        assert said(stretch, RETURN) == said(stretch, COMPRESSOR_INLET) == DECIDED
        assert said(stretch, AT_PROBE + "outdoor_coil_gas") == DECIDED
        warmer = {"outdoor_coil_gas": lambda m: 40.0 if m < 10 else 58.0}
        stretch = judged(self.OF, mode=CODE["heating"], **warmer)
        assert said(stretch, RETURN) == self.CONTRADICTION
        assert text(stretch, RETURN).startswith("outdoor_coil_gas is hotter than gas can return")

    @pytest.mark.parametrize("discharge", [{"discharge_pressure": None}, {"discharge_pressure": 5e6}])
    def test_without_a_condensing_temperature_it_cannot_be_told(self, discharge):
        assert said(judged(self.OF, suction_pipe=60.0, **discharge), RETURN) == DECIDED
        assert said(judged(suction_pipe=60.0), RETURN) == DECIDED

    def test_what_is_missing_says_so(self):
        stretch = judged(self.OF, suction_pipe=48.0, suction_pressure=None)
        assert said(stretch, RETURN) == ("missing", "reading")

    def test_it_says_more_than_unsettled(self):
        stretch = judged(suction_pipe=lambda m: -7.0 + 0.2 * m)
        assert said(stretch, RETURN) == self.CONTRADICTION
        assert said(stretch, AT_PROBE + "suction_pipe")[0] == "not_settled"


class TestSwing:
    def test_a_settled_superheat_swings_by_what_its_readings_flicker(self):
        stretch = judged(suction_pressure=flat)
        assert set(statuses(stretch, SWING)) == {DECIDED}
        assert figures(stretch, SWING)[0] == pytest.approx(0.0)
        assert text(stretch, SWING) == "smallest range in three parts of the window"

    def test_hunting_shows_its_height_settled_or_not(self):
        for height_k, settled in ((0.8, True), (4.0, False)):
            hunting = {"suction_pipe": lambda m, by=height_k: 8.0 + by / 2 * to_and_fro(m)}
            stretch = judged(suction_pressure=flat, **hunting)
            assert (said(stretch, RETURN) == DECIDED) == settled
            assert set(statuses(stretch, SWING)) == {DECIDED}
            assert stretch.tracks[SWING].value == pytest.approx(height_k)

    def test_its_uncertainty_is_that_of_two_steps(self):
        """Both readings of a range stand on the same instruments: their limits of error cancel."""
        value, below, above = figures(judged(), SWING)
        assert np.isfinite(value)
        step_k = np.hypot(0.1, 1e3 * dew_slope("R-410A", 800e3))
        assert below == above == pytest.approx(2 * np.sqrt(2 * step_k**2 / 12))
        coarse_pipe = figures(judged(stepped(suction_pipe=1.0), suction_pipe=lambda m: 8.0), SWING)
        step_k = np.hypot(1.0, 1e3 * dew_slope("R-410A", 800e3))
        assert coarse_pipe[1] == coarse_pipe[2] == pytest.approx(2 * np.sqrt(2 * step_k**2 / 12))

    def test_not_across_a_change_of_mode(self):
        stretch = judged(minutes=50, mode=mode_by(10, "heating", "cooling"), suction_pressure=flat)
        found = statuses(stretch, SWING)
        assert set(found[:20]) == set(found[60:]) == {DECIDED}
        assert set(found[20:60]) == {("not_decidable", "change")}
        assert text(stretch, SWING, 20) == "it takes a whole window of return superheat in one mode"
        for part in (stretch.tracks[SWING].value, stretch.tracks[SWING].below, stretch.tracks[SWING].above):
            assert np.isnan(part[20:60]).all()
            assert np.isfinite(part[60:]).all()

    def test_without_return_superheat_there_is_none(self):
        for stretch in (judged(suction_pipe=None), judged(mode=CODE["defrost"])):
            assert said(stretch, SWING) == ("not_decidable", "change")
            assert np.isnan(figures(stretch, SWING)).all()

    def test_without_any_probe_it_is_not_told(self):
        stretch = judged(module(without=LATE.suction_probes))
        assert said(stretch, SWING) == ("not_decidable", "change")

    def test_the_window_is_the_modules(self):
        single = {"suction_pipe": lambda m: 8.0 + 2.0 * (round(2 * m) % 10 == 0)}
        for window_s, swings_k in ((1200, 2.0), (600, 0.0)):
            stretch = judged(module(swing_us=window_s * SECOND), suction_pressure=flat, **single)
            assert stretch.tracks[SWING].value[5] == pytest.approx(swings_k)


class TestNotDecidable:
    @pytest.mark.parametrize("mode", ["off", "starting", "defrost", "oil_recovery"])
    def test_a_transient_mode_keeps_values_and_judges_nothing(self, mode):
        stretch = judged(mode=CODE[mode])
        for place in (RETURN, ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RISE, ACCUMULATOR_CHANGE):
            assert said(stretch, place) == ("not_decidable", "mode")
            assert text(stretch, place) == f"in mode {mode} values are kept, not judged"
            assert np.isnan(figures(stretch, place)).all()
        assert said(stretch, AT_PROBE + "suction_pipe") == ("not_decidable", "mode")
        assert figures(stretch, AT_PROBE + "suction_pipe")[0] == pytest.approx(8.0 - DEW_C)

    def test_a_mode_stated_as_unknown_is_not_a_missing_one(self):
        stretch = judged(mode=CODE["unknown"])
        assert said(stretch, RETURN) == ("not_decidable", "mode")

    def test_off_while_the_gateway_says_cooling(self):
        stretch = judged(compressor_1_speed=0.0)
        assert set(modes(stretch)) == {"off"}
        assert said(stretch, RETURN) == ("not_decidable", "mode")

    def test_a_mode_that_the_layout_does_not_describe(self):
        stretch = judged(mode=CODE["simultaneous"])
        assert said(stretch, RETURN) == ("not_decidable", "piping")
        assert text(stretch, RETURN) == "layout two-pipe-twin-late does not describe simultaneous"

    @pytest.mark.parametrize(
        ("valve", "words"), [(1.0, "open"), (None, "not known shut"), (np.nan, "not known shut")]
    )
    def test_a_rise_with_the_bypass_open_or_not_known(self, valve, words):
        stretch = judged(bypass_valve=valve)
        assert said(stretch, RISE) == ("not_decidable", "piping")
        assert text(stretch, RISE) == f"not attributable: hot_gas_bypass is {words}"
        assert said(stretch, RETURN) == DECIDED

    def test_read_too_far_apart(self):
        of = module()
        given_samples = samples(of, LAST_US)
        time_us, value = given_samples["suction_pressure"]
        stretches = {}
        for apart_s in (60, 90, 91):
            late = {"suction_pressure": Samples(time_us - apart_s * SECOND, value)}
            stretches[apart_s] = assess(of, grid(20), given_samples | late, STEP_US)
        assert said(stretches[90], RETURN) == said(stretches[60], RETURN) == DECIDED
        assert said(stretches[91], RETURN) == ("not_decidable", "skew")
        assert text(stretches[91], RETURN) == "suction_pipe and suction_pressure were read too far apart"
        assert said(stretches[91], RISE) == said(stretches[91], SATURATED_SUCTION) == DECIDED

    def test_the_two_temperatures_of_a_rise_too(self):
        of = module()
        given_samples = samples(of, LAST_US)
        time_us, value = given_samples["suction_pipe"]
        late = {"suction_pipe": Samples(time_us - 91 * SECOND, value)}
        stretch = assess(of, grid(20), given_samples | late, STEP_US)
        assert said(stretch, RISE) == ("not_decidable", "skew")
        assert text(stretch, RISE) == "compressor_inlet and suction_pipe were read too far apart"
        assert said(stretch, COMPRESSOR_INLET) == DECIDED

    @pytest.mark.parametrize("pressure_pa", [0.0, 20e3, 4.9e6])
    def test_a_pressure_outside_the_table(self, pressure_pa):
        stretch = judged(suction_pressure=pressure_pa)
        for place in (RETURN, COMPRESSOR_INLET, SATURATED_SUCTION):
            assert said(stretch, place) == FAILED
            assert text(stretch, place) == "suction_pressure has failed: an open or short circuit"
            assert np.isnan(figures(stretch, place)).all()

    def test_a_pressure_that_leaves_the_table_with_its_loss(self):
        highest_pa = at_dew(70.0)
        stretch = judged(suction_pressure=highest_pa - 10e3, suction_pipe=72.0, compressor_inlet=75.0)
        assert said(stretch, RETURN) == ("not_decidable", "range")
        assert said(stretch, COMPRESSOR_INLET) == said(stretch, SATURATED_SUCTION) == DECIDED


class TestUncertainty:
    OF = module()
    U_T, U_P = standard_uncertainty(0.5, 0.1), standard_uncertainty(10e3, 1e3)
    MODEL = REFRIGERANTS["R-410A"].u_model_fraction

    def expected(self, temperature_c, loss_pa):
        return superheat(
            "R-410A",
            temperature_c,
            800e3,
            u_temperature_k=self.U_T,
            u_pressure_pa=self.U_P,
            u_model_fraction=self.MODEL,
            loss_pa=loss_pa,
        )

    def test_an_unknown_loss_widens_it_to_one_side(self):
        stretch = judged()
        assert figures(stretch, RETURN) == pytest.approx(self.expected(8.0, (0.0, 30e3)))
        assert figures(stretch, AT_PROBE + "suction_pipe") == figures(stretch, RETURN)
        plain = self.expected(8.0, (0.0, 0.0))
        assert figures(stretch, RETURN)[0] == pytest.approx(plain.value)
        assert figures(stretch, RETURN)[2] == pytest.approx(plain.above)
        assert figures(stretch, RETURN)[1] > plain.below + 1.0
        assert figures(stretch, COMPRESSOR_INLET) == pytest.approx(self.expected(20.0, (0.0, 0.0)))

    def test_the_bound_is_the_modules(self):
        stretch = judged(module(unknown_loss_pa=50e3))
        assert figures(stretch, RETURN) == pytest.approx(self.expected(8.0, (0.0, 50e3)))

    def test_a_known_loss_corrects_the_value(self):
        stretch = judged(module(known_loss_pa={"suction_pipe": 20e3}))
        found = figures(stretch, RETURN)
        assert found == pytest.approx(self.expected(8.0, (20e3, 20e3)))
        assert found[1] == found[2]
        assert found[0] == pytest.approx(8.0 - dew_temperature("R-410A", 820e3))

    @pytest.mark.parametrize(
        ("path", "loss_pa"),
        [
            ("probe:x vessel:v transducer:p", (0.0, 30e3)),
            ("transducer:p vessel:v probe:x", (-30e3, 0.0)),
            ("transducer:p probe:x", (0.0, 0.0)),
        ],
    )
    def test_the_side_follows_from_the_piping(self, path, loss_pa):
        of = module(layout(f"evaporator:coil {path} compressor:1"), signals={"p": TRANSDUCER})
        stretch = judged(of, x=8.0, p=800e3)
        assert figures(stretch, AT_PROBE + "x") == pytest.approx(self.expected(8.0, loss_pa))

    def test_neither_in_the_flow_of_the_other(self):
        drawn = layout(
            "evaporator:a probe:x junction:j",
            "evaporator:coil transducer:p junction:j",
            "junction:j compressor:1",
        )
        stretch = judged(module(drawn, signals={"p": TRANSDUCER}), x=8.0, p=800e3)
        assert figures(stretch, AT_PROBE + "x") == pytest.approx(self.expected(8.0, (-30e3, 30e3)))

    def test_a_difference_takes_both_probes(self):
        expected = difference(20.0, 8.0, u_later_k=self.U_T, u_earlier_k=self.U_T)
        level = judged(module(known_loss_pa={"suction_pipe": 0.0}))
        assert figures(level, RISE) == pytest.approx(expected)

    @pytest.mark.parametrize("bound_pa", [30e3, 50e3])
    def test_a_loss_alone_may_have_cooled_the_gas_between_two_probes(self, bound_pa):
        """By less than the dew temperature falls over it: the difference may be larger, not smaller."""
        expected = difference(20.0, 8.0, u_later_k=self.U_T, u_earlier_k=self.U_T)
        cooled_k = dew_temperature("R-410A", 800e3 + bound_pa) - DEW_C
        value, below, above = figures(judged(module(unknown_loss_pa=bound_pa)), RISE)
        assert (value, below) == pytest.approx((expected.value, expected.below))
        assert above == pytest.approx(expected.above + cooled_k)
        early = figures(judged(module(EARLY, unknown_loss_pa=bound_pa)), ACCUMULATOR_CHANGE)
        assert early == pytest.approx((-3.0, expected.below, expected.above + cooled_k))

    def test_the_loss_may_lie_after_the_transducer(self):
        """The transducer sits ahead of the accumulator: the later probe's pressure is the lower one."""
        drawn = layout(
            "evaporator:coil probe:before transducer:p vessel:v probe:after compressor:1",
        )
        stretch = judged(module(drawn, signals={"p": TRANSDUCER}), p=800e3, before=8.0, after=5.0)
        expected = difference(5.0, 8.0, u_later_k=self.U_T, u_earlier_k=self.U_T)
        cooled_k = DEW_C - dew_temperature("R-410A", 770e3)
        found = figures(stretch, ACCUMULATOR_CHANGE)
        assert found == pytest.approx((-3.0, expected.below, expected.above + cooled_k))

    def test_a_known_loss_has_cooled_it_by_no_more_than_itself(self):
        expected = difference(20.0, 8.0, u_later_k=self.U_T, u_earlier_k=self.U_T)
        value, below, above = figures(judged(module(known_loss_pa={"suction_pipe": 20e3})), RISE)
        assert (value, below) == pytest.approx((expected.value, expected.below))
        assert above == pytest.approx(expected.above + dew_temperature("R-410A", 820e3) - DEW_C)

    def test_a_pressure_that_is_higher_after_than_before_widens_nothing(self):
        expected = difference(20.0, 8.0, u_later_k=self.U_T, u_earlier_k=self.U_T)
        gained = judged(module(known_loss_pa={"suction_pipe": 0.0, "compressor_inlet": 10e3}))
        assert figures(gained, RISE) == pytest.approx(expected)

    def test_saturated_suction(self):
        u_p = np.hypot(self.U_P, self.MODEL * 800e3)
        slope = (dew_temperature("R-410A", 801e3) - dew_temperature("R-410A", 799e3)) / 2e3
        value, below, above = figures(judged(), SATURATED_SUCTION)
        assert below == above == pytest.approx(2 * slope * u_p, rel=1e-3)


class TestCovering:
    OF = module(
        layout(
            "evaporator:a probe:of_a junction:j",
            "evaporator:b probe:of_b junction:j",
            "junction:j vessel:v transducer:p compressor:1",
            modes={"cooling": {"evaporators": ["a", "b"]}},
        ),
        signals={"p": TRANSDUCER},
    )

    def test_the_lowest_carries_the_verdict(self):
        for low in ("of_a", "of_b"):
            stretch = judged(self.OF, p=800e3, **{"of_a": 9.0, "of_b": 9.0, low: 4.0})
            words = stretch.phrases[stretch.tracks[RETURN].said[-1]]
            expected = ("of_a", "of_b") if low == "of_a" else ("of_b", "of_a")  # the one that speaks first
            assert (words.status, words.standing, words.probes) == ("decided", "covering", expected)
            assert figures(stretch, RETURN) == figures(stretch, AT_PROBE + low)
            assert figures(stretch, RETURN)[0] == pytest.approx(4.0 - DEW_C)

    def test_it_may_be_another_one_each_time(self):
        stretch = judged(self.OF, p=800e3, of_a=lambda m: 4.0 if m < 10 else 6.0, of_b=5.0)
        assert figures(stretch, RETURN, 0)[0] == pytest.approx(4.0 - DEW_C)
        assert figures(stretch, RETURN)[0] == pytest.approx(5.0 - DEW_C)

    @pytest.mark.parametrize("gone", ["of_a", "of_b"])
    def test_one_that_is_missing_leaves_no_verdict(self, gone):
        stretch = judged(self.OF, p=800e3, **{"of_a": 9.0, "of_b": 9.0, gone: None})
        assert said(stretch, RETURN) == ("missing", "reading")
        assert text(stretch, RETURN) == f"{gone} is missing"
        left = "of_b" if gone == "of_a" else "of_a"
        assert stretch.phrases[stretch.tracks[RETURN].said[-1]].probes[0] == left
        assert figures(stretch, RETURN) == figures(stretch, AT_PROBE + left)  # kept, and nothing rests on it

    def test_the_one_that_reaches_furthest_down_carries(self):
        """A loss that is stated for one leaves the other its doubt: 30 kPa of R-410A are 1.2 K at 0 degC."""
        of = replace(self.OF, known_loss_pa={"of_a": 0.0})
        stretch = judged(of, p=800e3, of_a=4.0, of_b=4.5)
        assert stretch.phrases[stretch.tracks[RETURN].said[-1]].probes == ("of_b", "of_a")


class TestSecondBest:
    OF = module(
        layout(
            "evaporator:a probe:of_a junction:j",
            "evaporator:b probe:of_b junction:j",
            "evaporator:c junction:j",
            "junction:j vessel:v transducer:p compressor:1",
            modes={"cooling": {"evaporators": ["a", "b", "c"]}},
        ),
        signals={"p": TRANSDUCER},
    )

    def test_the_lowest_of_all_partial_probes(self):
        for low in ("of_a", "of_b"):
            stretch = judged(self.OF, p=800e3, **{"of_a": 9.0, "of_b": 9.0, low: 4.0})
            words = stretch.phrases[stretch.tracks[RETURN].said[-1]]
            assert words[:2] == DECIDED
            expected = ("of_a", "of_b") if low == "of_a" else ("of_b", "of_a")
            assert (words.standing, words.probes) == ("second_best", expected)
            assert words.text == "no probe sees c; the lowest carries the verdict"
            assert figures(stretch, RETURN) == figures(stretch, AT_PROBE + low)

    def test_an_outlet_probe_stands_in_for_return(self):
        stretch = judged(module(EARLY, without=["suction_pipe"]))
        words = stretch.phrases[stretch.tracks[RETURN].said[-1]]
        assert words[:2] == DECIDED
        assert (words.standing, words.probes) == ("after_accumulator", ("accumulator_outlet",))
        assert figures(stretch, RETURN) == figures(stretch, ACCUMULATOR_OUTLET)
        assert figures(stretch, RETURN)[0] == pytest.approx(5.0 - DEW_C)
        assert said(stretch, ACCUMULATOR_CHANGE) == GIVEN_UP


class TestOnChange:
    OF = module(
        signals={"suction_pipe": replace(STATE, half_width=0.5, on_change=True, max_age_us=1800 * SECOND)}
    )

    def test_old_yet_true(self):
        given_samples = samples(self.OF, LAST_US)
        first = Samples(np.array([START_US - 300 * SECOND]), np.array([8.0]))
        stretch = assess(self.OF, grid(20), given_samples | {"suction_pipe": first}, STEP_US)
        assert said(stretch, RETURN) == DECIDED
        assert figures(stretch, RETURN)[0] == pytest.approx(8.0 - DEW_C)

    def test_silence_is_missing(self):
        given_samples = cut_to(samples(self.OF, LAST_US), 0, LAST_US - 121 * SECOND)
        stretch = assess(self.OF, grid(20), given_samples, STEP_US)
        assert said(stretch, AT_PROBE + "suction_pipe")[0] in ("not_decidable", "missing")
        assert np.isnan(figures(stretch, AT_PROBE + "suction_pipe")[0])


class TestLawsOfTime:
    OF = [
        module(),
        module(EARLY),
        coarse(module()),
        module(signals={"discharge_pressure": TRANSDUCER}),
        module(
            without=["compressor_1_speed", "compressor_2_speed"],
            signals={"discharge_pressure": TRANSDUCER, "discharge_1": THERMISTOR},
        ),
    ]

    @staticmethod
    def records(of, times_us, given_samples, step_us):
        """What is kept, and whether a mode has lasted too long."""
        stretch = assess(of, times_us, given_samples, step_us)
        lasted_us = np.minimum(stretch.lasted_us, of.longest_transient_us + 1)
        return list(zip(stretch.records({}, ()), lasted_us.tolist(), strict=True))

    @law
    @given(st.data())
    def test_any_cutting_into_stretches_gives_the_same_records(self, data):
        """Also where only the readings of the lookback are at hand, and on grids that do not divide it."""
        of = data.draw(st.sampled_from(self.OF))
        step_us = data.draw(st.sampled_from([15, 30, 45, 70, 120, 180])) * SECOND
        given_samples = random_day(of, np.random.default_rng(data.draw(st.integers(0, 2**32))), 180)
        times_us = grid(180, step_us)
        cuts = sorted(data.draw(st.sets(st.integers(1, len(times_us) - 1), max_size=8)))
        pieces = [
            self.records(of, piece, cut_to(given_samples, piece[0] - of.lookback_us, piece[-1]), step_us)
            for piece in np.split(times_us, cuts)
        ]
        whole = self.records(of, times_us, given_samples, step_us)
        assert sum(pieces, []) == whole

    @law
    @given(st.data())
    def test_what_is_read_later_changes_nothing(self, data):
        of = data.draw(st.sampled_from(self.OF))
        given_samples = random_day(of, np.random.default_rng(data.draw(st.integers(0, 2**32))), 120)
        times_us = grid(120)
        until = data.draw(st.integers(1, len(times_us)))
        known = cut_to(given_samples, 0, times_us[until - 1])
        whole = self.records(of, times_us, given_samples, STEP_US)
        assert self.records(of, times_us[:until], known, STEP_US) == whole[:until]

    @law
    @given(st.data())
    def test_a_reading_touches_no_more_than_a_lookback_after_it(self, data):
        of = data.draw(st.sampled_from(self.OF))
        given_samples = random_day(of, np.random.default_rng(data.draw(st.integers(0, 2**32))), 120)
        name = data.draw(st.sampled_from(sorted(given_samples)))
        time_us, value = given_samples[name]
        gone = data.draw(st.integers(0, len(time_us) - 1))
        fewer = {name: Samples(np.delete(time_us, gone), np.delete(value, gone))}
        times_us = grid(120)
        touched = [
            one[0][0]
            for one, other in zip(
                self.records(of, times_us, given_samples, STEP_US),
                self.records(of, times_us, given_samples | fewer, STEP_US),
                strict=True,
            )
            if one != other
        ]
        assert all(time_us[gone] <= t <= time_us[gone] + of.lookback_us for t in touched)


class TestUnits:
    """One day in SI, and the same day as a gateway may write it."""

    TEMPERATURES = {"degC": lambda c: c, "degF": lambda c: c * 1.8 + 32, "K": lambda c: c + 273.15}
    PRESSURES = {"Pa": 1.0, "kPa": 1e-3, "bar": 1e-5, "psi": 1 / 6894.757293168361, "kgf/cm2": 1 / 98066.5}

    def written(self, given_samples, pick):
        found = {}
        for name, (time_us, value) in given_samples.items():
            if name == "suction_pressure":
                units = [pick(sorted(self.PRESSURES)) for _ in value]
                numbers = [v * self.PRESSURES[unit] for v, unit in zip(value, units, strict=True)]
                found[name] = Conversion(Dimension.PRESSURE).samples(time_us, numbers, units)
            elif name in LATE.suction_probes:
                units = [pick(sorted(self.TEMPERATURES)) for _ in value]
                numbers = [self.TEMPERATURES[unit](v) for v, unit in zip(value, units, strict=True)]
                found[name] = Conversion(Dimension.TEMPERATURE).samples(time_us, numbers, units)
            else:
                found[name] = Samples(time_us, value)
        return found

    def test_every_unit_and_any_mixture_gives_one_result(self):
        of, rng = module(), np.random.default_rng(811)
        given_samples = random_day(of, rng, 120)
        plain = assess(of, grid(120), given_samples, STEP_US)
        for pick in (rng.choice, lambda units: units[0], lambda units: units[-1]):
            other = assess(of, grid(120), self.written(given_samples, pick), STEP_US)
            for name in plain.tracks:
                one, two = plain.tracks[name], other.tracks[name]
                np.testing.assert_allclose([one.value, one.below], [two.value, two.below], atol=1e-6)
                assert statuses(other, name) == statuses(plain, name)

    def test_an_unusable_reading_is_missing_and_not_zero(self):
        conversion = Conversion(Dimension.TEMPERATURE, "degF")
        found = conversion.samples(np.arange(4), [41.0, "n/a", 41.0, 5.0], [None, None, "kPa", "degC"])
        np.testing.assert_allclose(found.value, [5.0, np.nan, np.nan, 5.0])


class TestProbesThatShouldReadAlike:
    """Two fit probes ahead of the accumulator see the same vapour."""

    OF = module(Layout.from_mapping(shipped("two-pipe-single-common")))

    def judged(self, coil_k):
        grid_us = grid(60)
        given = samples(
            self.OF, int(grid_us[-1]), mode=CODE["heating"], common_suction=8.0, outdoor_coil_gas=8.0 + coil_k
        )
        return assess(self.OF, grid_us, given, STEP_US)

    def test_a_few_kelvin_of_pipe_lie_between_them(self):
        assert said(self.judged(2.0), RETURN) == ("decided", "")

    @pytest.mark.parametrize("coil_k", [7.0, -7.0])
    def test_more_is_a_disagreement_and_the_colder_is_kept(self, coil_k):
        """A loose clamp errs towards the air around it: common practice, no source."""
        stretch = self.judged(coil_k)
        assert said(stretch, RETURN) == ("not_decidable", "disagreement")
        colder = "common_suction" if coil_k > 0 else "outdoor_coil_gas"
        assert stretch.phrases[stretch.tracks[RETURN].said[-1]].probes == (colder,)
        assert stretch.tracks[RETURN].value[-1] == stretch.tracks[AT_PROBE + colder].value[-1]
        assert text(stretch, RETURN) == (
            "common_suction and outdoor_coil_gas should read alike and are more than 3 K apart: "
            "one of them, or the layout, is wrong"
        )

"""Condensing, pressure ratio and subcooling: values, uncertainties, and each reason for none."""

from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from agent.assess import (
    CODE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SECOND,
    SUBCOOLING,
    Settling,
    Signal,
    assess,
)
from agent.piping import Layout
from tests.assess.world import (
    EARLY,
    STATE,
    STEP_US,
    THERMISTOR,
    TRANSDUCER,
    grid,
    module,
    said,
    samples,
    text,
)
from tests.piping.layouts import shipped

DECIDED = ("decided", "")
SIGNALS = {"discharge_pressure": TRANSDUCER, "liquid_line": THERMISTOR}
SUBCOOLER = Layout.from_mapping(shipped("two-pipe-single-late-subcooler"))


def judged(layout=EARLY, of=None, without=(), **values):
    of = of or module(layout, signals=SIGNALS, without=without)
    values = {"liquid_line": 35.0, "discharge_pressure": 2500e3} | values
    return assess(of, grid(20), samples(of, int(grid(20)[-1]), **values), STEP_US)


def figures(stretch, name):
    track = stretch.tracks[name]
    return track.value[-1], track.below[-1], track.above[-1]


def exact(**loss):
    """The module of the worked case: 25 kPa and 0.5 K, read without steps."""
    signals = {
        "discharge_pressure": Signal(120 * SECOND, 30 * SECOND, 25e3),
        "liquid_line": Signal(120 * SECOND, 30 * SECOND, 0.5),
    }
    return module(EARLY, signals=signals, **loss)


class TestValues:
    def test_the_worked_case_of_subcooling(self):
        """R-410A, 2500 kPa, 35 degC, +-25 kPa, +-0.5 K: 6.2492 K, u 0.3752 K (computed after Lemmon 2003).

        The equation's own 0.5 % of pressure (k = 2), 12.5 kPa, comes on top in quadrature.
        """
        slope = 0.01646e-3  # K/Pa: (0.3752^2 - 0.5^2 / 3)^0.5 / (25 kPa / 3^0.5), from the same case
        value, below, above = figures(judged(of=exact(high_side_loss_pa=0.0)), SUBCOOLING)
        assert value == pytest.approx(6.2492, abs=0.0005)
        assert below == above == pytest.approx(np.hypot(0.7505, slope * 12.5e3), abs=0.001)

    def test_a_condensers_loss_can_only_make_it_less(self):
        def bubble_c(pressure_pa):
            return PropsSI("T", "P", pressure_pa, "Q", 0, "R410A") - 273.15

        without, doubtful = (
            figures(judged(of=exact(high_side_loss_pa=loss)), SUBCOOLING) for loss in (0.0, 60e3)
        )
        assert doubtful[0] == without[0] and doubtful[2] == without[2]
        assert doubtful[1] - without[1] == pytest.approx(bubble_c(2500e3) - bubble_c(2440e3), abs=0.002)
        known = figures(judged(of=exact(known_loss_pa={"liquid_line": -60e3})), SUBCOOLING)
        assert known[0] == pytest.approx(bubble_c(2440e3) - 35.0, abs=0.002)
        assert known[1] == known[2]

    def test_condensing_is_the_dew_temperature(self):
        stretch = judged()
        assert said(stretch, SATURATED_CONDENSING) == DECIDED
        value, below, above = figures(stretch, SATURATED_CONDENSING)
        assert value == pytest.approx(PropsSI("T", "P", 2500e3, "Q", 1, "R410A") - 273.15, abs=0.002)
        assert 0.1 < below == above < 0.5  # 10 kPa and half a per cent at 0.0165 K/kPa

    def test_the_pressure_ratio_has_both_relative_uncertainties(self):
        stretch = judged()
        assert said(stretch, PRESSURE_RATIO) == DECIDED
        value, below, above = figures(stretch, PRESSURE_RATIO)
        assert value == pytest.approx(3.125)
        u_pa = np.hypot(10e3 / 3**0.5, 1e3 / 12**0.5)
        relative = 2 * np.hypot(u_pa / 2500e3, u_pa / 800e3)  # JCGM 100:2008, 5.1.6
        assert below == above == pytest.approx(3.125 * relative)

    def test_negative_subcooling_is_a_value(self):
        stretch = judged(liquid_line=41.5)
        assert said(stretch, SUBCOOLING) == DECIDED
        assert figures(stretch, SUBCOOLING)[0] == pytest.approx(-0.25, abs=0.01)


class TestWords:
    def test_the_reason_names_what_the_probe_sees(self):
        stretch = judged()
        assert said(stretch, SUBCOOLING) == DECIDED
        assert text(stretch, SUBCOOLING) == "all liquid of outdoor_coil, ahead of indoor_expansion"
        words = stretch.phrases[stretch.tracks[SUBCOOLING].said[-1]]
        assert (str(words.standing), words.probes) == ("fit", ("liquid_line",))

    def test_after_a_subcooler_a_high_one_proves_nothing(self):
        stretch = judged(SUBCOOLER, subcooler_valve=0.0)
        assert said(stretch, SUBCOOLING) == DECIDED
        assert str(stretch.phrases[stretch.tracks[SUBCOOLING].said[-1]].standing) == "upper_bound"

    def test_behind_an_expansion_it_is_not_measurable(self):
        stretch = judged(mode=CODE["heating"], outdoor_coil_gas=5.0)
        assert said(stretch, SUBCOOLING) == ("not_measurable", "piping")
        assert text(stretch, SUBCOOLING) == (
            "liquid_line: indoor_expansion expands between what condenses and it"
        )
        assert np.isnan(figures(stretch, SUBCOOLING)).all()

    @pytest.mark.parametrize("name", [SATURATED_CONDENSING, PRESSURE_RATIO, SUBCOOLING])
    def test_without_a_transducer_none_is_measurable(self, name):
        stretch = judged(without=("discharge_pressure",))
        assert said(stretch, name) == ("not_measurable", "piping")
        assert text(stretch, name) == "discharge_pressure is not among the module's signals"
        silent = judged(discharge_pressure=None)
        assert said(silent, name) == ("missing", "reading")
        assert text(silent, name) == "discharge_pressure is missing"
        assert np.isnan(figures(silent, name)).all()

    def test_a_layout_without_that_transducer(self):
        mapping = shipped("two-pipe-single-early")
        mapping["discharge_side"] = [[{"compressor": 1}, {"probe": "discharge_1"}]]
        stretch = judged(Layout.from_mapping(mapping), without=("discharge_pressure",))
        assert text(stretch, SUBCOOLING) == "the layout has no transducer on the discharge side"

    def test_without_a_liquid_probe_or_side(self):
        stretch = judged(without=("liquid_line",))
        assert said(stretch, SUBCOOLING) == ("not_measurable", "piping")
        assert text(stretch, SUBCOOLING) == "no probe on the liquid side gives readings"
        mapping = shipped("two-pipe-single-early")
        del mapping["liquid_side"]
        for mode in mapping["modes"].values():
            mode.pop("condensers", None)
            mode.pop("expands", None)
        stretch = judged(Layout.from_mapping(mapping))
        assert text(stretch, SUBCOOLING) == "the layout describes no liquid side"

    def test_what_does_not_arrive_is_missing(self):
        stretch = judged(liquid_line=None)
        assert said(stretch, SUBCOOLING) == ("missing", "reading")
        assert text(stretch, SUBCOOLING) == "liquid_line is missing"
        assert said(judged(suction_pressure=None), PRESSURE_RATIO) == ("missing", "reading")

    @pytest.mark.parametrize("mode", ["off", "defrost", "oil_recovery"])
    def test_other_modes_are_kept_and_not_judged(self, mode):
        stretch = judged(mode=CODE[mode])
        assert said(stretch, SUBCOOLING) == said(stretch, PRESSURE_RATIO) == ("not_decidable", "mode")
        assert figures(stretch, PRESSURE_RATIO)[0] == pytest.approx(3.125)

    def test_a_mode_that_nobody_knows(self):
        stretch = judged(mode=None)
        assert said(stretch, SUBCOOLING) == ("missing", "reading")

    def test_what_moves_has_not_settled(self):
        drifting = judged(liquid_line=lambda minute: 35.0 + 0.13 * minute)
        assert said(drifting, SUBCOOLING) == ("not_settled", "slope")
        assert text(drifting, SUBCOOLING) == "subcooling at liquid_line is drifting"
        assert np.isfinite(figures(drifting, SUBCOOLING)).all()
        swinging = judged(discharge_pressure=lambda m: 2500e3 + 1e5 * (-1) ** round(2 * m))
        for name in (SUBCOOLING, PRESSURE_RATIO, SATURATED_CONDENSING):
            assert said(swinging, name) == ("not_settled", "spread")

    def test_liquid_that_is_hotter_than_condensing_is_a_contradiction(self):
        stretch = judged(liquid_line=50.0)
        assert said(stretch, SUBCOOLING) == ("not_decidable", "contradiction")
        assert text(stretch, SUBCOOLING).startswith("liquid_line is hotter than condensing")

    def test_a_pressure_outside_the_table(self):
        stretch = judged(discharge_pressure=4.85e6, liquid_line=60.0)
        assert said(stretch, SUBCOOLING) == ("not_decidable", "failed")
        assert said(stretch, SATURATED_CONDENSING) == ("not_decidable", "failed")
        shown = {failure.text for failure in stretch.failures.words}
        assert any("were it true, the pressure would be dangerously high" in each for each in shown)

    def test_a_temperature_and_its_pressure_lie_close_in_time(self):
        of = module(EARLY, signals=SIGNALS | {"liquid_line": replace(THERMISTOR, max_age_us=300 * SECOND)})
        given = samples(of, int(grid(20)[-1]), liquid_line=35.0)
        time_us, value = given["liquid_line"]
        given["liquid_line"] = type(given["liquid_line"])(time_us[:-4], value[:-4])
        assert said(assess(of, grid(20), given, STEP_US), SUBCOOLING) == ("not_decidable", "skew")

    @pytest.mark.parametrize(
        ("lower_coil_valve", "words"),
        [(1.0, DECIDED), (None, ("not_decidable", "piping")), (0.0, ("not_decidable", "piping"))],
    )
    def test_a_coil_whose_liquid_may_miss_the_probe(self, lower_coil_valve, words):
        """Behind the upper coil: all that condenses passes it while the lower one evaporates."""
        mapping = shipped("three-pipe-split-coil")
        mapping["modes"]["simultaneous"]["condensers"] = ["upper_coil", "lower_coil"]
        layout = Layout.from_mapping(mapping)
        of = module(layout, signals={"discharge_pressure": TRANSDUCER, "upper_coil_liquid": THERMISTOR})
        values = {"mode": CODE["simultaneous"], "upper_coil_valve": 0.0, "lower_coil_valve": lower_coil_valve}
        stretch = judged(layout, of, **values, upper_coil_liquid=35.0)
        assert said(stretch, SUBCOOLING) == words


def test_what_is_said_does_not_rest_on_what_comes_later():
    of = module(EARLY, signals=SIGNALS | {"bypass_valve": STATE}, settling=Settling())
    given = samples(of, int(grid(40)[-1]), liquid_line=lambda m: 35.0 + (m > 25) * 5)
    whole = assess(of, grid(40), given, STEP_US)
    part = assess(of, grid(40)[20:30], given, STEP_US)
    for name in (SUBCOOLING, PRESSURE_RATIO, SATURATED_CONDENSING):
        np.testing.assert_array_equal(whole.tracks[name].value[20:30], part.tracks[name].value)
        assert [said(whole, name, at) for at in range(20, 30)] == [said(part, name, at) for at in range(10)]

"""What a compressor's discharge tells: wet, dry, or nothing, and each reason for none.

Discharge superheats of wet and dry suction are from an energy balance by flashes of CoolProp 8.0.0 that the
product does not use (isentropic efficiency 0.65, no heat loss); a published table was not found.
"""

from dataclasses import replace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from agent.alarms import CONDITIONS, conditions
from agent.assess import (
    CODE,
    CURRENT,
    CURRENT_BALANCE,
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    INJECTION,
    SECOND,
    Signal,
    assess,
)
from agent.assess.module import Dry
from agent.piping import Layout
from agent.thermo import LUMPED_EFFICIENCIES, REFRIGERANTS, border_for, standard_uncertainty
from tests.assess.world import (
    LATE,
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
from tests.published.test_compression import by_gas_alone

DECIDED = ("decided", "")
CLAMP = Signal(120 * SECOND, 30 * SECOND, 2.0, 0.1)
METER = Signal(120 * SECOND, 30 * SECOND, 0.5, 0.1)
BARE = Signal(120 * SECOND, 30 * SECOND)
SIGNALS = {
    "discharge_pressure": TRANSDUCER,
    "discharge_1": CLAMP,
    "discharge_2": CLAMP,
    "compressor_1_current": METER,
    "compressor_2_current": METER,
}
INJECTED = Layout.from_mapping(shipped("two-pipe-twin-both-injection"))
P1, P2 = 800e3, 2500e3
DEW_C = PropsSI("T", "P", P2, "Q", 1, "R410A") - 273.15


def discharge_c(quality=None, superheat_k=0.0, efficiency=0.65):
    """Discharge temperature of R-410A from 800 to 2500 kPa."""
    if quality is not None:
        h1, s1 = (PropsSI(what, "P", P1, "Q", quality, "R410A") for what in ("H", "S"))
    else:
        t1 = PropsSI("T", "P", P1, "Q", 1, "R410A") + max(superheat_k, 1e-3)
        h1, s1 = (PropsSI(what, "P", P1, "T", t1, "R410A") for what in ("H", "S"))
    h2 = h1 + (PropsSI("H", "P", P2, "S", s1, "R410A") - h1) / efficiency
    return PropsSI("T", "P", P2, "H", h2, "R410A") - 273.15


def dry(least, most, why=""):
    return Dry(least, most, () if why else (50.0,), (3.0, 3.2), why)


def judged(layout=LATE, of=None, without=(), minutes=20, **values):
    of = of or module(layout, signals=SIGNALS, without=without)
    values = {
        "discharge_1": 75.0,
        "discharge_2": 30.0,
        "compressor_1_current": 12.0,
        "compressor_2_current": 0.2,
    } | values
    return assess(of, grid(minutes), samples(of, int(grid(minutes)[-1]), **values), STEP_US)


def figures(stretch, name):
    track = stretch.tracks[name]
    return track.value[-1], track.below[-1], track.above[-1]


def verdict(stretch, compressor="1"):
    assert said(stretch, DISCHARGE_MARGIN + compressor) == DECIDED
    value, below, above = figures(stretch, DISCHARGE_MARGIN + compressor)
    return "wet" if value + above < 0 else "dry" if value - below > 0 else "inside"


class TestDischarge:
    def test_temperature_and_superheat_with_their_uncertainty(self):
        stretch = judged()
        assert (
            said(stretch, DISCHARGE_TEMPERATURE + "1") == said(stretch, DISCHARGE_SUPERHEAT + "1") == DECIDED
        )
        u_k = np.hypot(2.0 / 3**0.5, 0.1 / 12**0.5)
        assert figures(stretch, DISCHARGE_TEMPERATURE + "1") == pytest.approx((75.0, 2 * u_k, 2 * u_k))
        value, below, above = figures(stretch, DISCHARGE_SUPERHEAT + "1")
        assert value == pytest.approx(75.0 - DEW_C, abs=0.002)
        assert 2 * u_k < below == above < 2 * u_k + 0.1

    def test_a_standing_compressor_is_not_decidable_and_never_zero(self):
        stretch = judged()
        for name in (DISCHARGE_TEMPERATURE, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN, CURRENT):
            assert said(stretch, name + "2") == ("not_decidable", "mode")
            assert text(stretch, name + "2") == "compressor 2 stands"
        assert figures(stretch, DISCHARGE_TEMPERATURE + "2")[0] == pytest.approx(30.0)
        for name in (DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN):
            assert np.isnan(figures(stretch, name + "2")).all()

    def test_whether_it_runs_may_not_be_known(self):
        stretch = judged(compressor_1_speed=None)
        assert said(stretch, DISCHARGE_MARGIN + "1") == ("not_decidable", "mode")
        assert text(stretch, DISCHARGE_SUPERHEAT + "1") == "no signal tells whether compressor 1 runs"

    def test_no_probe_and_no_reading_are_two_things(self):
        without, silent = judged(without=("discharge_1",)), judged(discharge_1=None)
        for name in (DISCHARGE_TEMPERATURE, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN):
            assert said(without, name + "1") == ("not_measurable", "piping")
            assert text(without, name + "1") == "discharge_1 is not among the module's signals"
            assert said(silent, name + "1") == ("missing", "reading")
            assert np.isnan(figures(silent, name + "1")).all()
        common = shipped("two-pipe-twin-late")
        common["discharge_side"] = [
            [{"compressor": 1}, {"junction": "high_side"}],
            [{"compressor": 2}, {"junction": "high_side"}],
            [{"junction": "high_side"}, {"probe": "discharge"}, {"transducer": "discharge_pressure"}],
        ]
        stretch = judged(of=module(Layout.from_mapping(common), signals={"discharge": CLAMP}))
        expected = "no probe sees the discharge gas of compressor 1 alone"
        assert text(stretch, DISCHARGE_TEMPERATURE + "1") == expected

    def test_without_the_pressure_the_temperature_is_left(self):
        stretch = judged(without=("discharge_pressure",))
        assert said(stretch, DISCHARGE_TEMPERATURE + "1") == DECIDED
        assert said(stretch, DISCHARGE_SUPERHEAT + "1") == ("not_measurable", "piping")
        assert said(judged(suction_pressure=None), DISCHARGE_SUPERHEAT + "1") == DECIDED
        assert said(judged(suction_pressure=None), DISCHARGE_MARGIN + "1") == ("missing", "reading")

    def test_in_a_transient_mode_it_is_kept_and_not_judged(self):
        stretch = judged(mode=CODE["defrost"])
        assert said(stretch, DISCHARGE_MARGIN + "1") == ("not_decidable", "mode")
        assert np.isfinite(figures(stretch, DISCHARGE_SUPERHEAT + "1")).all()

    def test_a_pipe_that_warms_has_not_settled(self):
        stretch = judged(discharge_1=lambda minute: 60.0 + 0.55 * minute)
        assert said(stretch, DISCHARGE_MARGIN + "1") == ("not_settled", "slope")
        assert text(stretch, DISCHARGE_MARGIN + "1") == "discharge superheat at discharge_1 is drifting"
        after_start = judged(compressor_1_speed=lambda minute: 50.0 * (minute >= 10))
        assert said(after_start, DISCHARGE_MARGIN + "1") == ("not_settled", "change")

    def test_a_shell_that_is_cold_after_a_start_waits_for_less(self):
        """Within an hour of it a slow rise is the shell's (common practice, no source)."""
        rising = {"discharge_1": lambda minute: 60.0 + 0.3 * minute}
        assert verdict(judged(**rising)) == "inside"
        young = judged(compressor_1_speed=lambda minute: 50.0 * (minute >= -20), **rising)
        assert said(young, DISCHARGE_MARGIN + "1") == ("not_settled", "slope")

    @pytest.mark.parametrize(
        ("gas", "words"),
        [
            (lambda m: DEW_C - 2.0 + 2.0 * np.sin(2 * np.pi * m / 8), DECIDED),  # hunts by 2 K either way
            (lambda m: DEW_C - 2.0 + 4.0 * np.sin(2 * np.pi * m / 8), ("not_settled", "spread")),
            (lambda m: DEW_C - 0.3 * (m - 20), DECIDED),
            (lambda m: DEW_C - 0.6 * (m - 20), ("not_settled", "falling")),
        ],
    )
    def test_liquid_in_spurts_lets_the_gas_swing_and_fall(self, gas, words):
        """Discharge gas under liquid falls by 0.5 to 2 K/min or hunts by 2 K: common practice, no source."""
        stretch = judged(discharge_1=gas)
        assert said(stretch, DISCHARGE_MARGIN + "1") == words
        value, _, above = figures(stretch, DISCHARGE_MARGIN + "1")
        assert value + above < 0
        code = str(CONDITIONS[conditions(stretch)["discharge-superheat-low"][-1]])
        assert code == ("beyond" if words == DECIDED else "possible")

    def test_a_clamp_may_read_low_but_not_that_low(self):
        low = judged(discharge_1=DEW_C - 5.0)
        assert said(low, DISCHARGE_MARGIN + "1") == DECIDED
        assert verdict(low) == "wet"
        wrong = judged(discharge_1=DEW_C - 12.0)
        assert said(wrong, DISCHARGE_MARGIN + "1") == ("not_decidable", "contradiction")


class TestMargin:
    @pytest.mark.parametrize(
        ("came_in", "expected"),
        [
            ({"quality": 0.85}, "wet"),
            ({"quality": 0.98}, "inside"),
            ({"superheat_k": 0.0}, "inside"),
            ({"superheat_k": 5.0}, "inside"),
            ({"superheat_k": 30.0}, "dry"),
        ],
    )
    def test_the_general_band_decides_the_clear_cases(self, came_in, expected):
        assert verdict(judged(discharge_1=discharge_c(**came_in))) == expected

    @pytest.mark.parametrize(
        ("came_in", "expected"),
        [
            ({"quality": 0.85}, "wet"),
            ({"quality": 0.95}, "wet"),
            ({"superheat_k": 0.0}, "inside"),
            ({"superheat_k": 10.0}, "dry"),
        ],
    )
    def test_its_own_dry_history_narrows_it(self, came_in, expected):
        of = module(LATE, signals=SIGNALS, dry={"cooling": {"1": dry(0.63, 0.67)}})
        stretch = judged(of=of, discharge_1=discharge_c(**came_in))
        assert verdict(stretch) == expected
        assert text(stretch, DISCHARGE_MARGIN + "1").endswith(
            "after its own dry history (learnt at 50 to 50 Hz and pressure ratio 3.0 to 3.2)"
        )

    @pytest.mark.parametrize(
        ("changes", "own"),
        [
            ({"compressor_1_speed": 57.0}, True),
            ({"compressor_1_speed": 58.0}, False),  # more than 15 % off
            ({"compressor_1_speed": None, "compressor_1_current": 12.0}, False),
            ({"discharge_pressure": 2780e3}, True),
            ({"discharge_pressure": 2840e3}, False),  # ratio 3.55, more than a tenth off
        ],
    )
    def test_its_own_history_speaks_of_like_speed_and_ratio_alone(self, changes, own):
        single = Layout.from_mapping(shipped("two-pipe-single-early"))
        of = module(single, signals=SIGNALS, dry={"cooling": {"1": dry(0.63, 0.67)}})
        assert ("own dry history" in text(judged(of=of, **changes), DISCHARGE_MARGIN + "1")) is own

    def test_a_slow_leaky_compressor_with_liquid_is_not_dry_by_what_a_fast_one_taught(self):
        """R-410A -15/40 degC: efficiency 0.45 and quality 0.95 give 55.7 K (CoolProp 8.0.0)."""
        p1, p2 = (PropsSI("P", "T", t + 273.15, "Q", 1, "R410A") for t in (-15.0, 40.0))
        h1, s1 = (PropsSI(what, "P", p1, "Q", 0.95, "R410A") for what in ("H", "S"))
        h2 = h1 + (PropsSI("H", "P", p2, "S", s1, "R410A") - h1) / 0.45
        gas_c = PropsSI("T", "P", p2, "H", h2, "R410A") - 273.15
        assert gas_c - 40.0 == pytest.approx(55.7, abs=0.3)
        least, most = border_for("R-410A", p1, p2, 0.55, 0.71)  # learnt 0.60 to 0.66
        assert (least, most) == pytest.approx((40.4, 56.7), abs=0.5)
        of = module(LATE, signals=SIGNALS, dry={"cooling": {"1": dry(0.55, 0.71)}})
        cold = {"suction_pressure": p1, "discharge_pressure": p2, "suction_pipe": -13.0, "discharge_1": gas_c}
        assert verdict(judged(of=of, compressor_1_speed=22.0, **cold)) == "inside"

    def test_a_history_that_does_not_count_says_so(self):
        why = "heat loss or a low clamp"
        of = module(LATE, signals=SIGNALS, dry={"cooling": {"1": dry(np.nan, np.nan, why)}})
        expected = f"against what saturated suction would give; {why}"
        assert text(judged(of=of), DISCHARGE_MARGIN + "1") == expected

    def test_very_low_speed(self):
        stretch = judged(compressor_1_speed=15.0)
        least, most = border_for("R-410A", P1, P2, 0.3, 1.2)
        assert text(stretch, DISCHARGE_MARGIN + "1").endswith("at very low speed")
        value, *_ = figures(stretch, DISCHARGE_MARGIN + "1")
        assert value == pytest.approx(75.0 - DEW_C - (least + most) / 2, abs=0.01)

    def test_another_modes_or_compressors_history_does_not(self):
        for other in ({"heating": {"1": dry(0.63, 0.67)}}, {"cooling": {"2": dry(0.63, 0.67)}}):
            stretch = judged(of=module(LATE, signals=SIGNALS, dry=other))
            assert text(stretch, DISCHARGE_MARGIN + "1") == "against what saturated suction would give"

    def test_value_and_band(self):
        least, most = border_for("R-410A", P1, P2, 0.5, 0.8 / 0.85)
        value, below, above = figures(judged(), DISCHARGE_MARGIN + "1")
        assert value == pytest.approx(75.0 - DEW_C - (least + most) / 2, abs=0.01)
        u_clamp = 2 * np.hypot(2.0 / 3**0.5, 0.1 / 12**0.5)
        assert (most - least) / 2 + u_clamp < below < (most - least) / 2 + 1.3 * u_clamp
        assert above - below == pytest.approx(5.0)  # of the clamp, in air that nobody measures

    def test_the_uncertainty_follows_from_what_each_reading_makes_of_it(self):
        """JCGM 100:2008, 5.1.3 note 2: the output is evaluated once more with each input changed by its u."""
        read = {"discharge_1": 75.0, "suction_pressure": P1, "discharge_pressure": P2}
        of = module(LATE, signals=SIGNALS | {"suction_pressure": TRANSDUCER})
        value, below, _ = figures(judged(of=of, **read), DISCHARGE_MARGIN + "1")
        u = {"discharge_1": standard_uncertainty(CLAMP.half_width, CLAMP.step)}
        model = REFRIGERANTS["R-410A"].u_model_fraction
        for name in ("suction_pressure", "discharge_pressure"):
            own = standard_uncertainty(TRANSDUCER.half_width, TRANSDUCER.step)
            u[name] = np.hypot(own, model * read[name])
        changed = [
            figures(judged(of=of, **read | {name: read[name] + each}), DISCHARGE_MARGIN + "1")[0] - value
            for name, each in u.items()
        ]
        least, most = border_for("R-410A", P1, P2, *LUMPED_EFFICIENCIES)
        assert below == pytest.approx((most - least) / 2 + 2 * np.sqrt(np.sum(np.square(changed))), abs=2e-3)

    @pytest.mark.parametrize(("air_c", "expected_k"), [(25.0, 5.0), (40.0, 3.5)])
    def test_a_clamp_reads_low_by_a_share_of_what_its_pipe_is_hotter_than_the_air(self, air_c, expected_k):
        """A tenth: common practice, no source."""
        stretch = judged(of=module(LATE, signals=SIGNALS | {"outdoor_air": THERMISTOR}), outdoor_air=air_c)
        _, below, above = figures(stretch, DISCHARGE_MARGIN + "1")
        assert above - below == pytest.approx(expected_k, abs=1e-6)

    def test_a_loose_clamp_in_cold_weather_is_not_liquid_beyond_doubt(self):
        """R-410A 10/25 degC, 4 K superheat, efficiency 0.65: 15.5 K (an energy balance by CoolProp 8.0.0)."""
        p1, p2 = (PropsSI("P", "T", t + 273.15, "Q", 1, "R410A") for t in (10.0, 25.0))
        h1, s1 = (PropsSI(what, "T", 287.15, "P", p1, "R410A") for what in ("H", "S"))
        h2 = h1 + (PropsSI("H", "P", p2, "S", s1, "R410A") - h1) / 0.65
        gas_c = PropsSI("T", "P", p2, "H", h2, "R410A") - 273.15
        assert gas_c - 25.0 == pytest.approx(15.5, abs=0.2)
        cold = {"suction_pressure": p1, "discharge_pressure": p2, "suction_pipe": 14.0}
        assert verdict(judged(discharge_1=gas_c - 10.0, **cold)) == "inside"

    @pytest.mark.parametrize(
        "hard",
        [
            {"compressor_1_speed": 20.0},
            {"suction_pressure": 400e3, "suction_pipe": -15.0, "compressor_inlet": -5.0},
        ],
    )
    def test_the_band_reaches_lower_efficiencies_at_low_speed_and_high_ratio(self, hard):
        stretch = judged(**hard)
        assert "low or unknown speed" in text(stretch, DISCHARGE_MARGIN + "1")
        p1 = hard.get("suction_pressure", P1)
        least, most = border_for("R-410A", p1, P2, 0.4, 1.2)
        value, below, _ = figures(stretch, DISCHARGE_MARGIN + "1")
        assert value == pytest.approx(75.0 - DEW_C - (least + most) / 2, abs=0.01)
        assert below > (most - least) / 2

    def test_and_where_no_speed_is_known(self):
        stretch = judged(without=("compressor_1_speed",))
        assert "low or unknown speed" in text(stretch, DISCHARGE_MARGIN + "1")

    def test_speed_may_change_within_a_stretch(self):
        stretch = judged(minutes=60, compressor_1_speed=lambda minute: 50.0 if minute < 30 else 20.0)
        track = stretch.tracks[DISCHARGE_MARGIN + "1"]
        assert track.above[10] < track.above[-1]
        assert "low" not in text(stretch, DISCHARGE_MARGIN + "1", 10)
        assert "low" in text(stretch, DISCHARGE_MARGIN + "1", -1)

    def test_pressures_that_the_band_does_not_know(self):
        stretch = judged(suction_pressure=100e3, suction_pipe=-40.0)  # dew near -51 degC
        assert said(stretch, DISCHARGE_MARGIN + "1") == ("not_decidable", "range")
        assert said(stretch, DISCHARGE_SUPERHEAT + "1") == DECIDED

    @pytest.mark.parametrize(("suction_c", "condensing_c"), [(24.95, 41.0), (0.0, 64.95), (24.95, 64.95)])
    def test_at_the_end_of_what_the_band_knows_it_has_its_uncertainty(self, suction_c, condensing_c):
        at = {}
        for lower_k in (0.0, 1.0):
            places = np.array([suction_c, condensing_c]) - lower_k
            p1, p2 = (PropsSI("P", "T", t + 273.15, "Q", 1, "R410A") for t in places)
            pressures = {"suction_pressure": p1, "discharge_pressure": p2, "suction_pipe": suction_c + 8.0}
            at[lower_k] = figures(judged(**pressures), DISCHARGE_MARGIN + "1")[1:]
        assert at[0.0] == pytest.approx(at[1.0], abs=1.0)


class TestBlend:
    """R-454B, saturated at 5 degC: what the gas comes to is from equal fugacities and the gas alone."""

    @pytest.mark.parametrize("condensing_c", [45.0, 50.0, 55.0, 57.5, 60.0, 62.5, 64.9])
    def test_it_has_its_band_up_to_65_degc_condensing(self, condensing_c):
        of = replace(module(LATE, signals=SIGNALS), refrigerant="R-454B")
        p1, p2, saturated_k = by_gas_alone(5.0, condensing_c, 0.65, 0.0)
        least_k, most_k = (by_gas_alone(5.0, condensing_c, *ends)[2] for ends in ((0.8, 0.15), (0.5, 0.0)))
        middle_k = (least_k + most_k) / 2
        for superheat_k, expected in ((1.0, "wet"), (saturated_k, "inside"), (most_k + 20.0, "dry")):
            gas = {
                "suction_pressure": p1,
                "discharge_pressure": p2,
                "discharge_1": condensing_c + superheat_k,
            }
            stretch = judged(of=of, **gas)
            assert verdict(stretch) == expected
            assert figures(stretch, DISCHARGE_SUPERHEAT + "1")[0] == pytest.approx(superheat_k, abs=0.02)
            value, below, above = figures(stretch, DISCHARGE_MARGIN + "1")
            assert value == pytest.approx(superheat_k - middle_k, abs=0.2)
            assert min(below, above) > (most_k - least_k) / 2 - 0.2


class TestInjection:
    def of(self, layout=INJECTED, **more):
        return module(layout, signals=SIGNALS | {"injection_valve": BARE} | more)

    @pytest.mark.parametrize(
        ("opening", "words"),
        [
            (0.0, DECIDED),
            (0.2, ("not_decidable", "piping")),
            (None, ("not_decidable", "piping")),
            (lambda minute: float(minute < 6), ("not_decidable", "piping")),  # shut for less than 15 min
            (lambda minute: float(minute < 4), DECIDED),
        ],
    )
    def test_the_band_holds_only_while_it_is_known_shut(self, opening, words):
        stretch = judged(of=self.of(), injection_valve=opening)
        assert said(stretch, DISCHARGE_MARGIN + "1") == words
        assert said(stretch, DISCHARGE_SUPERHEAT + "1") == DECIDED
        if words != DECIDED:
            assert "cool" in text(stretch, DISCHARGE_MARGIN + "1")

    def test_a_valve_that_says_it_is_shut_may_leak(self):
        """1.4 % of liquid or so: common practice, no source."""
        _, below, above = figures(judged(of=self.of(), injection_valve=0.0), DISCHARGE_MARGIN + "1")
        *_, tight = figures(judged(), DISCHARGE_MARGIN + "1")
        assert above - tight == pytest.approx(5.0)
        assert above - below == pytest.approx(10.0)  # with what the clamp may read low

    def test_a_compressor_without_injection_is_judged(self):
        mapping = shipped("two-pipe-twin-both-injection")
        mapping["injection"]["into"] = ["2"]
        stretch = judged(of=self.of(Layout.from_mapping(mapping)), injection_valve=0.5)
        assert said(stretch, DISCHARGE_MARGIN + "1") == DECIDED

    def test_nothing_tells_the_valve(self):
        mapping = shipped("two-pipe-twin-both-injection")
        del mapping["injection"]["valve"]
        stretch = judged(of=module(Layout.from_mapping(mapping), signals=SIGNALS))
        assert said(stretch, DISCHARGE_MARGIN + "1") == ("not_decidable", "piping")
        expected = "wet compression is never watched by discharge on this module"
        assert text(stretch, DISCHARGE_MARGIN + "1").endswith(expected)
        assert said(stretch, INJECTION) == ("not_measurable", "piping")

    def test_liquid_let_into_the_suction_line_on_purpose(self):
        mapping = shipped("two-pipe-twin-late")
        mapping["inlets"]["hot_gas_bypass"] = {
            "kind": "liquid_injection", "effect": "cools", "valve": "bypass_valve",
        }  # fmt: skip
        layout = Layout.from_mapping(mapping)
        for opening, words in ((0.0, DECIDED), (1.0, ("not_decidable", "piping"))):
            stretch = judged(of=module(layout, signals=SIGNALS), bypass_valve=opening)
            assert said(stretch, DISCHARGE_MARGIN + "1") == words

    def test_the_opening_and_whether_it_makes_sense(self):
        stretch = judged(of=self.of(), injection_valve=0.4)
        assert said(stretch, INJECTION) == DECIDED
        assert figures(stretch, INJECTION)[0] == pytest.approx(0.4)
        assert np.isnan(figures(stretch, INJECTION)[1:]).all()  # nobody stated how exact it is
        standing = judged(of=self.of(), injection_valve=0.4, compressor_1_speed=0.0)
        assert said(standing, INJECTION) == ("not_decidable", "contradiction")
        assert text(standing, INJECTION) == "injection is open while compressor 1 or 2 stands"
        assert said(judged(of=self.of(), injection_valve=None), INJECTION) == ("missing", "reading")
        assert said(judged(), INJECTION) == ("not_measurable", "piping")
        shut = judged(of=self.of(), injection_valve=0.0, compressor_1_speed=0.0)
        assert (said(shut, INJECTION), figures(shut, INJECTION)[0]) == (DECIDED, 0.0)


class TestCurrent:
    BOTH = {"compressor_2_speed": 50.0, "compressor_1_current": 12.0, "compressor_2_current": 10.0}

    def test_each(self):
        stretch = judged()
        u_a = 2 * np.hypot(0.5 / 3**0.5, 0.1 / 12**0.5)
        assert said(stretch, CURRENT + "1") == DECIDED
        assert figures(stretch, CURRENT + "1") == pytest.approx((12.0, u_a, u_a))

    def test_without_a_stated_accuracy_there_is_no_uncertainty(self):
        stretch = judged(of=module(LATE, signals=SIGNALS | {"compressor_1_current": BARE}))
        value, *sides = figures(stretch, CURRENT + "1")
        assert value == 12.0 and np.isnan(sides).all()

    def test_not_there(self):
        assert said(judged(without=("compressor_1_current",)), CURRENT + "1") == ("not_measurable", "piping")
        assert said(judged(compressor_1_current=None), CURRENT + "1") == ("missing", "reading")

    def test_balance(self):
        stretch = judged(**self.BOTH)
        assert said(stretch, CURRENT_BALANCE) == DECIDED
        value, below, above = figures(stretch, CURRENT_BALANCE)
        assert value == pytest.approx(2.0 / 11.0)
        u_a = np.hypot(0.5 / 3**0.5, 0.1 / 12**0.5)
        assert below == above == pytest.approx(2 * 2**0.5 * u_a / 11.0)

    @pytest.mark.parametrize(
        ("changes", "words", "reason"),
        [
            ({"compressor_2_speed": 0.0}, ("not_decidable", "mode"), "fewer than two compressors run"),
            (
                {"compressor_2_speed": 40.0},
                ("not_decidable", "mode"),
                "the compressors do not run at like speed",
            ),
            (
                {"compressor_2_speed": None},
                ("not_decidable", "mode"),
                "no signal tells which compressors run",
            ),
            ({"compressor_2_current": None}, ("missing", "reading"), "compressor_2_current is missing"),
        ],
    )
    def test_balance_takes_like_speed(self, changes, words, reason):
        stretch = judged(**self.BOTH | changes)
        assert (said(stretch, CURRENT_BALANCE), text(stretch, CURRENT_BALANCE)) == (words, reason)
        assert np.isnan(figures(stretch, CURRENT_BALANCE)).all()

    def test_balance_takes_two_compressors(self):
        single = Layout.from_mapping(shipped("two-pipe-single-early"))
        stretch = judged(of=module(single, signals={"compressor_1_current": METER}))
        assert said(stretch, CURRENT_BALANCE) == ("not_measurable", "piping")


def test_any_cutting_of_time_gives_the_same():
    of = module(
        INJECTED,
        signals=SIGNALS | {"injection_valve": STATE, "liquid_line": THERMISTOR},
        dry={"cooling": {"1": dry(0.6, 0.7)}},
    )
    given = samples(
        of,
        int(grid(60)[-1]),
        discharge_1=lambda m: 70.0 + 4 * np.sin(m / 9),
        injection_valve=lambda m: float(20 < m < 30),
        compressor_2_speed=lambda m: 50.0 * (m > 25),
    )
    whole = assess(of, grid(60), given, STEP_US)
    for first, last in ((0, 1), (1, 50), (50, 51), (51, 120)):
        part = assess(of, grid(60)[first:last], given, STEP_US)
        for name, track in part.tracks.items():
            for side in ("value", "below", "above"):
                expected = getattr(whole.tracks[name], side)[first:last]
                np.testing.assert_array_equal(getattr(track, side), expected, name)
            words = [(said(part, name, at), text(part, name, at)) for at in range(last - first)]
            assert words == [(said(whole, name, at), text(whole, name, at)) for at in range(first, last)]

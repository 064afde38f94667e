"""Drift is told between probes that share a body, at rest, against what they showed when learnt."""

from dataclasses import replace

import pytest

from agent.alarms import CATALOGUE, WINDOW_HOURS, Condition, Past
from agent.alarms.drift import PROBE_DRIFT, probe_drift
from agent.assess.byhour.baseline import DAY_US, REST_HOURS, learn
from agent.assess.byhour.drift import drift, pressures_rest
from agent.assess.byhour.rest import REST_AFTER, at_rest, periods
from agent.piping import Layout, bodies
from tests.assess.resting import DAY_0, REST_PA, hour, nights
from tests.assess.world import THERMISTOR, TRANSDUCER, module
from tests.piping.layouts import shipped

BOTH = Layout.from_mapping(shipped("two-pipe-twin-both-injection"))
OF = module(BOTH, signals={"discharge_pressure": TRANSDUCER}, without=["outdoor_coil_gas"])
THREE = module(
    Layout.from_mapping(shipped("two-pipe-split-coil")), signals={"discharge_pressure": TRANSDUCER}
)
# The inlet is warmed by the shells' heaters; U of the difference of two +-0.5 K probes is 0.8 K (JCGM 100).
REST = {"suction_pipe": 0.5, "accumulator_outlet": 1.0, "compressor_inlet": 4.0}
COILS = {"suction_pipe": 0.5, "upper_coil_gas": 1.0, "lower_coil_gas": 0.8}


def judged(then, now, of=OF, *, days=3, **more):
    """The finding after some nights, learnt on four nights of ``then``."""
    learnt = learn(nights(0, 4, **then), 0, 48)
    hours = nights(10, days, **(now | more))
    return probe_drift(Past(of, learnt, tuple(hours[-WINDOW_HOURS:])), PROBE_DRIFT)


class TestRest:
    def test_an_hour_counts_after_standing_for_long(self):
        resting = at_rest(nights(0, 2))
        assert len(resting) == 2 * (8 - REST_AFTER)
        assert [len(each) for each in periods(resting)] == [4, 4]

    def test_a_hole_begins_anew(self):
        night = [hour(n) for n in range(8)]
        assert len(at_rest(night)) == 4
        assert at_rest([*night[:3], *night[4:]]) == []

    def test_running_for_a_moment_begins_anew(self):
        night = [hour(n) for n in range(9)]
        stirred = replace(night[4], parts=night[4].parts | hour(0, "starting").parts)
        assert at_rest([*night[:4], stirred, *night[5:]]) == []

    def test_pressures_are_at_rest_where_they_are_equal_and_steady(self):
        rest = {"suction_pressure": REST_PA, "discharge_pressure": REST_PA}
        assert pressures_rest(OF, hour(0, **rest))
        assert not pressures_rest(OF, hour(0, **(rest | {"discharge_pressure": 1.2 * REST_PA})))
        assert not pressures_rest(OF, hour(0, **rest, spreads={"suction_pressure": 20e3}))  # a sister runs
        assert not pressures_rest(OF, hour(0, suction_pipe=5.0))


class TestLearning:
    def test_the_first_hours_at_rest_are_held(self):
        hours = nights(0, 6, **REST)
        baseline = learn(hours, 0, 48)
        assert len(baseline.of("off")) == REST_HOURS
        assert baseline.from_us["off"] == DAY_0 + 3 * DAY_US  # the second night ends on the third day
        assert learn([*hours, *nights(6, 20, **(REST | {"suction_pipe": 9.0}))], 0, 48) == baseline

    def test_it_says_what_is_missing(self):
        words = "learning what is usual at rest: 4 of 8 hours after standing for 4 h"
        assert learn(nights(0, 1), 0, 48).lacking("off") == words
        assert learn(nights(0, 4), 0, 48).lacking("off") is None


class TestDrift:
    def test_what_stays_as_it_was_is_clear_whatever_it_is(self):
        assert judged(REST, REST).condition is Condition.CLEAR
        assert "-3.0 K against compressor_inlet" in judged(REST, REST).facts.text

    @pytest.mark.parametrize("by_k", [2.0, -2.0])
    def test_a_pair_that_came_apart(self, by_k):
        found = judged(REST, REST | {"compressor_inlet": 4.0 + by_k})
        assert found.condition is Condition.BEYOND
        assert found.facts.value_k == pytest.approx(-by_k)
        assert found.facts.below_k == pytest.approx(0.82, abs=0.01)

    def test_within_twice_the_uncertainty_it_is_not_told(self):
        assert judged(REST, REST | {"compressor_inlet": 5.5}).condition is Condition.CLEAR

    def test_one_night_is_not_enough(self):
        learnt = learn(nights(0, 4, **REST), 0, 48)
        hours = nights(10, 2, **REST) + nights(12, 1, **(REST | {"compressor_inlet": 7.0}))
        found = probe_drift(Past(OF, learnt, tuple(hours[-WINDOW_HOURS:])), PROBE_DRIFT)
        assert found.condition is Condition.INSIDE
        assert "it takes the same in 2 separate times" in found.facts.text

    def test_saturation_at_rest_tells_which(self):
        found = judged(REST, REST | {"compressor_inlet": 7.0})
        assert (found.facts.probe, "compressor_inlet has moved" in found.facts.text) == (
            "compressor_inlet",
            True,
        )
        found = judged(REST, REST | {"accumulator_outlet": 4.0})
        assert found.facts.probe == "accumulator_outlet"

    def test_otherwise_it_is_one_of_the_two(self):
        """Both have moved against saturation: other weather, and one of them besides."""
        now = {"suction_pipe": 8.0, "accumulator_outlet": 9.0, "compressor_inlet": 14.5}
        found = judged(REST, now)
        assert found.facts.probe == "accumulator_outlet, compressor_inlet"
        assert "one of the two has moved" in found.facts.text

    def test_a_third_tells_which(self):
        found = judged(
            COILS, {name: 10.0 + value for name, value in (COILS | {"lower_coil_gas": 4.0}).items()}, THREE
        )
        assert found.condition is Condition.BEYOND
        assert found.facts.probe == "lower_coil_gas"

    def test_other_weather_is_no_drift(self):
        warm = {name: value + 15.0 for name, value in REST.items()}
        assert (
            judged(REST, warm, suction_pressure=1.25e6, discharge_pressure=1.25e6).condition
            is Condition.CLEAR
        )


class TestNotDecided:
    def text(self, *args, **more):
        found = judged(*args, **more)
        assert found.condition is Condition.UNKNOWN
        return found.facts.text

    def test_no_long_standing(self):
        assert "has not stood long enough" in self.text(REST, REST, lasts=4)

    def test_while_a_sister_runs(self):
        assert "with its pressures at rest" in self.text(REST, REST, discharge_pressure=2.4e6)

    def test_before_it_is_learnt(self):
        found = probe_drift(Past(OF, learn((), 0, 48), tuple(nights(10, 3, **REST))), PROBE_DRIFT)
        assert found.condition is Condition.UNKNOWN
        assert found.facts.text.startswith("learning what is usual at rest: 0 of 8 hours")

    def test_in_the_sun(self):
        sunny = REST | {"spreads": {"compressor_inlet": 0.8, "accumulator_outlet": 0.1}}
        assert "free of sun and draught" in self.text(REST, sunny)

    def test_cooling_air_is_no_sun(self):
        """With the air known, an hour in which it cools may move more."""
        learnt = learn(nights(0, 4, **REST), 0, 48)
        spreads = {"compressor_inlet": 0.8}
        for sign, condition in ((-1, Condition.CLEAR), (1, Condition.UNKNOWN)):
            hours = [
                hour(
                    240 + n, outdoor_air=10.0 + sign * n,
                    suction_pressure=REST_PA, discharge_pressure=REST_PA,
                    spreads=spreads, **REST
                )
                for n in range(10)
            ]  # fmt: skip
            assert probe_drift(Past(OF, learnt, tuple(hours)), PROBE_DRIFT).condition is condition

    def test_no_two_probes_share_a_body(self):
        alone = module(BOTH, without=["outdoor_coil_gas", "accumulator_outlet"])
        assert "no two probes" in self.text(REST, REST, alone)


def test_a_plain_run_needs_no_learning():
    """Two probes on one straight pipe, nothing warm near: they should read alike from the first."""
    mapping = shipped("two-pipe-single-early")
    mapping["suction_side"][0] = [
        {"evaporator": "indoor_units"}, {"segment": "gas_pipe"}, {"probe": "suction_pipe"},
        {"probe": "second"}, {"segment": "short_pipe"}, {"junction": "low_side"},
    ]  # fmt: skip
    layout = Layout.from_mapping(mapping)
    assert [body for body in bodies(layout) if body.is_plain][0].probes == ("second", "suction_pipe")
    of = module(layout, signals={"discharge_pressure": TRANSDUCER}, without=["outdoor_coil_gas"])
    for second, apart in ((0.9, 0), (4.0, 1)):
        found = drift(of, learn((), 0, 48), nights(10, 3, suction_pipe=0.5, second=second))
        assert len(found.beyond) == apart


def test_bodies_end_at_vessels_coils_and_compressors():
    found = {body.probes for body in bodies(BOTH)}
    assert ("accumulator_outlet", "compressor_inlet") in found
    assert not any({"suction_pipe", "accumulator_outlet"} <= set(probes) for probes in found)
    assert bodies(Layout.unknown()) == []


def test_two_resistance_thermometers_of_class_b():
    """IEC 60751 class B: 0.30 + 0.005 |t| K (from memory); at 20 degC 0.40 K each: U = 0.65 K (JCGM 100)."""
    probe = replace(THERMISTOR, half_width=0.30 + 0.005 * 20.0, step=0.0)
    of = replace(OF, signals=OF.signals | dict.fromkeys(("accumulator_outlet", "compressor_inlet"), probe))
    warm = {"suction_pipe": 20.0, "accumulator_outlet": 20.0, "compressor_inlet": 21.0}
    for by_k, condition in ((1.2, Condition.CLEAR), (1.4, Condition.BEYOND)):
        found = judged(warm, warm | {"compressor_inlet": 21.0 + by_k}, of)
        assert found.condition is condition
    assert found.facts.below_k == pytest.approx(2 * (2 * 0.40**2 / 3) ** 0.5, abs=0.001)


def test_it_is_judged_by_the_hour():
    assert CATALOGUE["probe-drift"].by_hour

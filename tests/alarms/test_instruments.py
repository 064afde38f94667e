"""The alarm on a failed instrument: how weighty, what it says, and that no other comes of its values."""

from dataclasses import replace

import numpy as np
import pytest

from agent.alarms import (
    CATALOGUE,
    CONDITIONS,
    Detection,
    Facts,
    Priority,
    conditions,
    detect,
    facts,
    priority,
)
from agent.alarms.instruments import PROBE_FAILED
from agent.assess import CODE, SECOND, assess, load_assessment
from agent.assess.failing.failures import Failures
from tests.assess.world import EARLY, STEP_US, THERMISTOR, TRANSDUCER, grid, module, samples

MORE = {"discharge_1": THERMISTOR, "discharge_pressure": TRANSDUCER}


def judged(layout=None, minutes=60, **values):
    of = module(layout, signals=MORE) if layout else module(signals=MORE)
    given = samples(of, int(grid(minutes)[-1]), discharge_1=75.0, **values)
    return assess(of, grid(minutes), given, STEP_US)


def words(stretch, alarm="probe-failed"):
    return [str(CONDITIONS[code]) for code in conditions(stretch)[alarm].tolist()]


def last(stretch):
    grid_us, basis, figures = list(stretch.records(conditions(stretch), CONDITIONS))[-1]
    return load_assessment(grid_us, 1, basis, figures)


def state(stretch):
    codes = conditions(stretch)["probe-failed"]
    points = detect(Detection(), stretch.grid_us, codes, PROBE_FAILED.limits, STEP_US)
    return points[-1].state if points else Detection()


def test_a_healthy_module_is_clear_and_a_standing_one_cannot_tell():
    assert set(words(judged())) == {"clear"}
    off = judged(mode=CODE["off"], compressor_1_speed=0.0)
    assert set(words(off)) == {"unknown"}


@pytest.mark.parametrize(
    ("values", "level", "urgency"),
    [
        ({"suction_pipe": -60.0}, "beyond_doubt", Priority.HIGH),  # the one that speaks in cooling
        ({"suction_pressure": 0.0}, "beyond_doubt", Priority.HIGH),  # what everything rests on
        ({"outdoor_coil_gas": -60.0}, "beyond", Priority.MEDIUM),
        ({"discharge_1": 999.0}, "beyond", Priority.MEDIUM),
    ],
)
def test_it_weighs_more_where_return_superheat_rests_on_it(values, level, urgency):
    of = module(signals=MORE)
    given = samples(of, int(grid(60)[-1]), **({"discharge_1": 75.0} | values))
    stretch = assess(of, grid(60), given, STEP_US)
    assert words(stretch)[-1] == level
    assert state(stretch).active
    assert priority(PROBE_FAILED, state(stretch), last(stretch)) is urgency


def test_a_circuit_that_may_be_empty_is_most_urgent_where_both_pressures_say_so():
    of = module(signals=MORE)
    rest = {"mode": CODE["off"], "compressor_1_speed": 0.0, "discharge_1": 20.0, "suction_pressure": 101e3}
    for discharge_pa, level, urgency in (
        (102e3, "beyond_doubt", Priority.HIGH),
        (1e6, "beyond", Priority.MEDIUM),
    ):
        given = samples(of, int(grid(60)[-1]), discharge_pressure=discharge_pa, **rest)
        stretch = assess(of, grid(60), given, STEP_US)
        assert words(stretch)[-1] == level
        assert priority(PROBE_FAILED, state(stretch), last(stretch)) is urgency
        assert "near or below atmospheric" in facts(PROBE_FAILED, last(stretch), None).text


def test_a_second_best_in_its_place_does_not_make_it_less_urgent():
    stretch = judged(EARLY, suction_pipe=-60.0)
    assert priority(PROBE_FAILED, state(stretch), last(stretch)) is Priority.HIGH
    shown = facts(CATALOGUE["probe-failed"], last(stretch), None)
    assert shown.probe == "suction_pipe"
    assert shown.text.startswith(
        "suction_pipe (open or short circuit): it reads -60 degC, below all that there is at its place: an "
        "open or short circuit; return superheat is taken from accumulator_outlet: suction_pipe has failed"
    )


def test_it_says_that_nothing_speaks():
    shown = facts(PROBE_FAILED, last(judged(suction_pressure=0.0)), None)
    assert shown.probe == "suction_pressure"
    assert "return superheat is not decidable: suction_pressure has failed" in shown.text


def test_no_superheat_alarm_comes_of_a_failed_probe():
    for shown in (-60.0, -14.0, 58.0, 140.0):
        stretch = judged(suction_pipe=lambda m, shown=shown: 8.0 if m < 10 else shown)
        for alarm in ("superheat-low", "superheat-high"):
            assert {"possible", "beyond", "beyond_doubt"}.isdisjoint(words(stretch, alarm)), (shown, alarm)


def test_it_holds_through_standstill():
    given_up = judged(
        minutes=120, suction_pipe=lambda m: 8.3 + 0.1 * (m < -80), mode=lambda m: CODE["cooling"]
    )
    assert state(given_up).active
    code = conditions(given_up)["probe-failed"]
    off = conditions(judged(minutes=300, mode=CODE["off"], compressor_1_speed=0.0))["probe-failed"]
    later_us = given_up.grid_us[-1] + STEP_US + STEP_US * grid(300).argsort()
    assert detect(state(given_up), later_us, off, PROBE_FAILED.limits, STEP_US)[-1].state.active
    assert CONDITIONS[code[-1]] == "beyond_doubt"
    assert PROBE_FAILED.limits.off_delay_s * SECOND > 3600 * SECOND  # a still probe is seen again before


def test_a_module_without_instruments_that_can_fail_is_clear():
    assert words(replace(judged(), failures=Failures({}, ())))[-1] == "clear"


def test_it_weighs_more_only_while_that_probe_has_failed():
    """A probe that speaks in cooling comes back after half of the time."""
    of = module(signals=MORE)
    given = samples(of, int(grid(60)[-1]), discharge_1=75.0)
    before = given["suction_pipe"]
    value = np.where(before.time_us < int(grid(30)[-1]), -60.0, before.value)
    stretch = assess(of, grid(60), given | {"suction_pipe": before._replace(value=value)}, STEP_US)
    assert "beyond_doubt" in words(stretch) and words(stretch)[-1] == "clear"


def test_without_a_failure_it_says_so():
    found = facts(PROBE_FAILED, last(judged()), None)
    assert found == Facts("no probe and no transducer shows a failure now")

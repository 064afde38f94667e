"""One short scenario from payload to journal, and just verdicts. All: `python -m tests.scenarios`."""

from dataclasses import replace

import pytest

from agent.settings import load
from demo_feed.bench import Fault, FaultKind, play
from tests.bench.configuration import configuration
from tests.scenarios.listed import scenarios
from tests.scenarios.run import run, with_sensors
from tests.scenarios.scenario import BEGINS_US, HOUR_US, START_US, Found, Result
from tests.service.site import write

ALL = {each.name: each for each in scenarios()}
WET = ALL["valve stuck open 0.6: two-pipe-single-early, cooling"]
BLOCKED = ALL["oil return blocked 1: two-pipe-single-early, cooling"]
HEALTHY = ALL["healthy: two-pipe-single-early, cooling"]


def configured(scenario, payload):
    unit = scenario.unit
    return configuration(
        scenario.gateway, unit.refrigerant, unit.arrangement.name, payload, scenario.configured_probe
    )


def test_a_stuck_valve_is_found_from_its_payloads_alone():
    begins_us = START_US + 9 * HOUR_US
    fault = Fault(FaultKind.VALVE_STUCK_OPEN, 0.8, begins_us, grows_s=600.0)
    brief = replace(WET, unit=replace(WET.unit, faults=(fault,)), begins_us=begins_us, days=1)
    result = run(brief)
    assert result.broke == ""
    assert result.refused == {}
    assert result.verdict == "detected"
    assert 5 < result.delay_minutes < 60
    assert result.false == ()


def test_there_are_enough_and_each_can_be_configured(tmp_path):
    faulty = [each for each in ALL.values() if each.begins_us is not None]
    healthy = [each for each in ALL.values() if each.begins_us is None]
    assert len(faulty) >= 40
    assert sum(each.days for each in healthy) >= 30
    assert len({each.unit.arrangement.name for each in healthy}) == 12
    for each in {(each.unit.arrangement.name, each.gateway.on_change): each for each in healthy}.values():
        first = next(p.payload for p in play(each.unit, each.gateway, "a", START_US, START_US + HOUR_US))
        body, unknown = configured(each, first)
        assert len(load(write(tmp_path, body)).modules) == 1
        assert not {name for name in unknown if not name.endswith("_expansion")}


@pytest.mark.parametrize(
    ("scenario", "alarm", "after_h", "verdict", "false"),
    [
        (WET, "superheat-low", 1, "detected", 0),
        (WET, "superheat-low", -1, "missed", 1),
        (WET, "superheat-high", 1, "missed", 1),
        (BLOCKED, "watch-blind", 1, "cannot tell", 0),
        (BLOCKED, "oil-return-absent", 1, "false", 1),
        (HEALTHY, "superheat-low", 1, "false", 1),
        (HEALTHY, "probe-failed", 1, "quiet", 0),
    ],
)
def test_verdicts(scenario, alarm, after_h, verdict, false):
    result = Result(scenario, (Found(alarm, BEGINS_US + after_h * HOUR_US),), {}, (), 1.0)
    assert (result.verdict, result.false_of("process")) == (verdict, false)


def test_worse_sensors_leave_the_configuration_as_it_was():
    worse = with_sensors(WET, 3.0)
    payload = next(p.payload for p in play(WET.unit, WET.gateway, "a", START_US, START_US + HOUR_US))
    assert worse.gateway.error_factor == 3.0
    assert configured(worse, payload) == configured(WET, payload)

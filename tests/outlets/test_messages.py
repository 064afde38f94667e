"""What goes out over MQTT: topics, and JSON in which the four reasons for no value stay apart."""

import json

import pytest

from agent.alarms import CATALOGUE
from agent.outlets import ModuleView, alarm_messages, as_mapping, assessment_message, status_topic
from tests.outlets.views import ALARM, NOON_US, NOT_SETTLED, PATH, UNDECIDED, assessment, decided, shown

PREFIX = "watch/dewline"


def body(view):
    message = assessment_message(PREFIX, view)
    assert message.topic == "watch/dewline/hill-house/one/m1/assessment"
    return json.loads(message.payload)


def test_an_assessment_says_what_it_rests_on():
    found = body(shown(alarms=[ALARM]))
    assert (found["site"], found["system"], found["module"]) == PATH
    assert found["time"] == found["newest_reading"] == "2025-11-25T12:00:00Z"
    assert found["mode"] == "cooling" and found["running_compressors"] == ["1"]
    assert found["quantities"]["return_superheat"] == {
        "status": "decided",
        "cause": None,
        "reason": "all vapour passes here",
        "standing": "fit",
        "probes": ["suction_pipe"],
        "value": 6.0,
        "uncertainty_below": 1.7,
        "uncertainty_above": 0.7,
    }
    assert found["fitness"]["compressor_inlet"]["fitness"] == "mixed"
    assert [alarm["alarm"] for alarm in found["alarms"]] == ["superheat-low"]


@pytest.mark.parametrize("status", UNDECIDED)
def test_each_reason_for_no_value_is_said_and_none_is_a_number(status):
    found = body(shown(assessment(returned=UNDECIDED[status])))["quantities"]["return_superheat"]
    assert found["status"] == status.replace(" ", "_")
    assert found["cause"] and found["reason"]
    assert found["value"] == (3.3 if UNDECIDED[status] is NOT_SETTLED else None)


def test_zero_is_not_null():
    found = body(shown(assessment(returned=decided(0.0, 1.7, 0.7, "suction_pipe"))))
    assert found["quantities"]["return_superheat"]["value"] == 0.0


def test_every_alarm_of_the_catalogue_has_its_message_active_or_not():
    found = {m.topic: json.loads(m.payload) for m in alarm_messages(PREFIX, shown(alarms=[ALARM]), CATALOGUE)}
    assert found.keys() == {f"watch/dewline/hill-house/one/m1/alarm/{name}" for name in CATALOGUE}
    standing = found.pop("watch/dewline/hill-house/one/m1/alarm/superheat-low")
    who = {"site": "hill-house", "system": "one", "module": "m1"}
    assert standing == {
        **who,
        "time": "2025-11-25T12:00:00Z",
        "mode": "cooling",
        "first_response": CATALOGUE["superheat-low"].first_response,
        "alarm": "superheat-low",
        "active": True,
        "priority": "high",
        "since": "2025-11-25T11:30:00Z",
        **ALARM.facts._asdict(),
    }
    for topic, each in found.items():
        assert each["alarm"] == topic.rsplit("/")[-1]
        assert each["active"] is False
        assert {key: each[key] for key in who} == who


def test_a_module_without_an_assessment_sends_none_and_is_still_in_the_list():
    silent = ModuleView(PATH, None, (), NOON_US)
    assert assessment_message(PREFIX, silent) is None
    assert as_mapping(silent)["time"] is None
    assert as_mapping(silent)["newest_reading"] == "2025-11-25T12:00:00Z"
    assert as_mapping(ModuleView(PATH, None))["newest_reading"] is None


def test_where_the_agent_says_that_it_is_online():
    assert status_topic(PREFIX, "a1") == "watch/dewline/agent/a1"

"""What goes out over MQTT: topics, and JSON in which the four reasons for no value stay apart."""

import json
from dataclasses import replace

import pytest

from agent.alarms import CATALOGUE, Life, State
from agent.outlets import Lives, ModuleView, alarm_messages, as_mapping, assessment_message, status_topic
from tests.outlets.views import (
    ALARM,
    MINUTE_US,
    NOON_US,
    NOT_SETTLED,
    PATH,
    UNDECIDED,
    assessment,
    decided,
    shown,
)

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
        "in_doubt": None,
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


NORMAL = {
    "state": "normal",
    "changed": None,
    "known": None,
    "acknowledged": None,
    "acknowledged_by": None,
    "note": None,
    "held_back_by": None,
    "shelved_until": None,
    "shelved_by": None,
    "shelved_why": None,
    "out_of_service_by": None,
    "out_of_service_why": None,
    "withdrawn": None,
    "shadow": False,
    "of_unit_before": False,
}


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
        **NORMAL,
    }
    for topic, each in found.items():
        assert each["alarm"] == topic.rsplit("/")[-1]
        assert each["active"] is False
        assert {key: each[key] for key in who} == who


def test_a_message_says_the_state_who_saw_it_and_what_holds_it_back():
    until_us = NOON_US + 60 * MINUTE_US
    standing = State(active=True, acknowledged=False)
    lives = {
        "superheat-low": Life(
            standing._replace(shelved_until_us=until_us), shelved_by="B. Night", shelved_why="part ordered"
        ),
        "superheat-high": Life(
            standing._replace(acknowledged=True), acknowledged_by="A. Fitter", note="seen"
        ),
        "watch-blind": Life(standing._replace(suppressed=True), held_by="feed-stale"),
        "probe-unfit": Life(standing._replace(out_of_service=True), removed_by="C", removed_why="no gauge"),
        "superheat-hunting": Life(State(acknowledged=False), changed_us=NOON_US),
    }
    view = replace(shown(alarms=[ALARM]), lives=Lives(lives, NOON_US + 1, NOON_US))
    sent = {m.topic.rsplit("/")[-1]: json.loads(m.payload) for m in alarm_messages(PREFIX, view, CATALOGUE)}
    said = {
        name: {key: each[key] for key, usual in NORMAL.items() if each[key] != usual}
        for name, each in sent.items()
    }
    shadow = {"shadow": True}
    assert said == {
        **dict.fromkeys(CATALOGUE, shadow),
        "superheat-low": {
            "state": "shelved",
            "shelved_until": "2025-11-25T13:00:00Z",
            "shelved_by": "B. Night",
            "shelved_why": "part ordered",
            **shadow,
        },
        "superheat-high": {"state": "acknowledged", "acknowledged_by": "A. Fitter", "note": "seen", **shadow},
        "watch-blind": {"state": "suppressed by design", "held_back_by": "feed-stale", **shadow},
        "probe-unfit": {
            "state": "out of service",
            "out_of_service_by": "C",
            "out_of_service_why": "no gauge",
            **shadow,
        },
        "superheat-hunting": {
            "state": "returned to normal unacknowledged",
            "changed": "2025-11-25T12:00:00Z",
            **shadow,
        },
    }


def test_a_module_without_an_assessment_sends_none_and_is_still_in_the_list():
    silent = ModuleView(PATH, None, (), NOON_US)
    assert assessment_message(PREFIX, silent) is None
    assert as_mapping(silent)["time"] is None
    assert as_mapping(silent)["newest_reading"] == "2025-11-25T12:00:00Z"
    assert as_mapping(ModuleView(PATH, None))["newest_reading"] is None


def test_where_the_agent_says_that_it_is_online():
    assert status_topic(PREFIX, "a1") == "watch/dewline/agent/a1"

"""The shipped Alertmanager files by amtool, and in a real Alertmanager that sends real mail."""

import subprocess

import pytest

from tests.deploy.alertmanager import AMTOOL, MARKS, alertmanager
from tests.deploy.broker import DEPLOY
from tests.service.processes import eventually

pytestmark = MARKS

NORTH = {"site": "quince-court", "system": "north"}
ON_CALL, SERVICE, FACILITY = (f"{name}@quince-court.example" for name in ("on-call", "service", "facility"))
NEVER_QUIET = {
    '- {start_time: "22:00", end_time: "24:00"}\n          - {start_time: "00:00", end_time: "06:00"}': (
        '- {start_time: "00:00", end_time: "00:01"}'
    ),
    "[saturday, sunday]": "[sunday]",
}
ALWAYS_NIGHT = {
    '- {start_time: "22:00", end_time: "24:00"}\n          - {start_time: "00:00", end_time: "06:00"}': (
        '- {start_time: "00:00", end_time: "24:00"}'
    )
}


def amtool(*arguments):
    done = subprocess.run([str(AMTOOL), *arguments], cwd=DEPLOY, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_amtool_agrees():
    told = amtool("check-config", "alertmanager.yml")
    assert "3 receivers" in told
    assert "1 templates" in told


@pytest.mark.parametrize(
    ("labels", "receiver"),
    [
        (["priority=high", "alertname=superheat-low"], "on-call"),
        (["priority=high", "alertname=DewlineNotAnswering"], "on-call"),
        (["priority=medium", "alertname=superheat-high"], "service"),
        (["priority=low", "alertname=probe-drift"], "facility"),
        (["alertname=of-somebody-else"], "facility"),
    ],
)
def test_the_priority_says_who_is_told(labels, receiver):
    said = amtool("config", "routes", "test", "--config.file=alertmanager.yml", *labels)
    assert said.split() == [receiver]


def test_what_stands_in_one_circuit_is_one_message_that_reads_well(tmp_path):
    with alertmanager(tmp_path, NEVER_QUIET) as running:
        running.post("superheat-low", **NORTH, module="n1", priority="high")
        running.post("superheat-low", **NORTH, module="n2", priority="high")
        running.post("superheat-low", site="quince-court", system="south", module="s1", priority="high")
        eventually(lambda: len(running.mails) == 2, "a message for each circuit")
        running.settle()
        mails = sorted(running.mails, key=lambda mail: mail[1])
        assert [mail[:2] for mail in mails] == [
            (ON_CALL, "HIGH quince-court/north: superheat-low n1, superheat-low n2"),
            (ON_CALL, "HIGH quince-court/south: superheat-low s1"),
        ]
        north = mails[0][2]
        assert north.startswith(
            "HIGH superheat-low n1\nsuperheat-low at n1\n"
            "return superheat 0.4 K at suction_pipe, limit 2 K\nSince "
        )
        assert north.count("HIGH superheat-low") == 2
        assert north.count("no permission to work") == 1
        assert north.rstrip().endswith("Before anyone goes to the module: an aid, no permission to work.")

        running.post("superheat-low", over=True, **NORTH, module="n1", priority="high")
        eventually(lambda: len(running.mails) == 3, "one of the two is over")
        assert "OVER superheat-low n1" in running.mails[2][2]
        assert "(over, or no longer told by the agent)" in running.mails[2][2]
        assert "HIGH superheat-low n2" in running.mails[2][2]
        running.post("superheat-low", over=True, **NORTH, module="n2", priority="high")
        eventually(lambda: len(running.mails) == 4, "the other is over")
        assert running.mails[3][1] == "OVER quince-court/north: superheat-low n2"


def test_in_quiet_hours_only_what_is_urgent_goes_out(tmp_path):
    with alertmanager(tmp_path, ALWAYS_NIGHT) as running:
        running.post("superheat-high", **NORTH, module="n1", priority="medium")
        running.post("probe-drift", **NORTH, module="n1", priority="low")
        running.post("superheat-low", **NORTH, module="n2", priority="high")
        eventually(lambda: running.mails, "the urgent one is told")
        running.settle()
        assert [mail[:2] for mail in running.mails] == [
            (ON_CALL, "HIGH quince-court/north: superheat-low n2")
        ]


def test_outside_quiet_hours_each_goes_to_its_own(tmp_path):
    with alertmanager(tmp_path, NEVER_QUIET | {"night, weekend": "night"}) as running:
        running.post("superheat-high", **NORTH, module="n1", priority="medium")
        running.post("probe-drift", **NORTH, module="n1", priority="low")
        eventually(lambda: len(running.mails) == 2, "both are told")
        assert {mail[:2] for mail in running.mails} == {
            (SERVICE, "MEDIUM quince-court/north: superheat-high n1"),
            (FACILITY, "LOW quince-court/north: probe-drift n1"),
        }


def test_an_alarm_does_not_seem_over_because_the_agent_fell_silent(tmp_path):
    """What it posted last runs out, it comes back and posts again: between, its silence alone is told."""
    with alertmanager(tmp_path) as running:
        running.post("superheat-low", for_s=6, **NORTH, module="n2", priority="high")
        eventually(lambda: len(running.mails) == 1, "the alarm is told")
        silent = {"job": "dewline", "instance": "127.0.0.1:9464", "priority": "high"}
        running.post("DewlineNotAnswering", **silent)
        eventually(lambda: len(running.mails) == 2, "the silence is told")
        eventually(lambda: "superheat-low" not in running.states(), "what the agent had posted has run out")
        running.settle()
        running.post("superheat-low", for_s=60, **NORTH, module="n2", priority="high")
        running.post("DewlineNotAnswering", over=True, **silent)
        eventually(lambda: len(running.mails) == 3, "the silence is over")
        running.settle()
        assert [mail[1] for mail in running.mails] == [
            "HIGH quince-court/north: superheat-low n2",
            "HIGH: DewlineNotAnswering",
            "OVER: DewlineNotAnswering",
        ]
        assert running.states() == {"superheat-low": "active"}


def test_one_cause_is_told_once(tmp_path):
    module = {**NORTH, "module": "n1"}
    with alertmanager(tmp_path, {"group_wait: 30s": "group_wait: 2s"} | NEVER_QUIET) as running:
        running.post("feed-stale", **module, priority="medium")
        running.post("DewlineReadingsOld", **module, job="dewline", instance="i", priority="high")
        eventually(lambda: running.mails, "one is told")
        running.settle()
        assert running.states()["DewlineReadingsOld"] == "suppressed"
        assert [mail[1] for mail in running.mails] == ["MEDIUM quince-court/north: feed-stale n1"]

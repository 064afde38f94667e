"""The outside watchdog: its rules by promtool, and a real Prometheus that watches a real agent with them."""

import os
import signal
import subprocess

import pytest

from tests.deploy.broker import DEPLOY
from tests.deploy.watching import watching
from tests.mosquitto import Mosquitto, free_port, needs_mosquitto
from tests.prometheus import MARKS, PROMTOOL
from tests.service.processes import agent_on, process
from tests.service.site import configuration, write

pytestmark = MARKS


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "rules", "prometheus-rules.yml", "prometheus-rules-alarms.yml"),
        ("check", "config", "prometheus.yml"),
        ("test", "rules", "prometheus-rules-test.yml"),
        ("test", "rules", "prometheus-rules-alarms-test.yml"),
    ],
    ids=" ".join,
)
def test_promtool_agrees(arguments):
    done = subprocess.run(
        [str(PROMTOOL), *arguments], cwd=DEPLOY, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr


@needs_mosquitto
def test_prometheus_notices_that_the_broker_is_gone_and_then_that_the_agent_is(tmp_path):
    metrics_port = free_port()
    with Mosquitto(tmp_path / "broker") as broker:
        body = configuration(
            broker={"telemetry": "plant", "port": broker.port},
            http={"host": "127.0.0.1", "port": metrics_port},
        )
        with (
            process(agent_on(write(tmp_path, body)), tmp_path / "agent.log") as agent,
            watching(tmp_path / "prometheus", metrics_port) as prometheus,
        ):
            prometheus.comes_to({"DewlineNoReadings"}, "the agent runs and has heard nothing")
            broker.stop()
            prometheus.comes_to({"DewlineNoReadings", "DewlineBrokerAway"}, "the agent has no broker")
            os.killpg(agent.pid, signal.SIGKILL)
            prometheus.comes_to({"DewlineNotAnswering"}, "the agent is gone")

"""The outside watchdog: its rules by promtool, and a real Prometheus that watches a real agent with them."""

import json
import os
import signal
import subprocess
import urllib.request
from contextlib import contextmanager

import pytest

from tests.deploy.broker import DEPLOY
from tests.mosquitto import Mosquitto, free_port, needs_mosquitto
from tests.prometheus import MARKS, PROGRAM, PROMTOOL
from tests.service.processes import agent_on, eventually, process
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
            metrics={"host": "127.0.0.1", "port": metrics_port},
        )
        with (
            process(agent_on(write(tmp_path, body)), tmp_path / "agent.log") as agent,
            watching(tmp_path / "prometheus", metrics_port) as alerts,
        ):
            eventually(lambda: alerts() == {"DewlineNoReadings"}, "the agent runs and has heard nothing")
            broker.stop()
            eventually(
                lambda: alerts() == {"DewlineNoReadings", "DewlineBrokerAway"}, "the agent has no broker"
            )
            os.killpg(agent.pid, signal.SIGKILL)
            eventually(lambda: alerts() == {"DewlineNotAnswering"}, "the agent is gone")


@contextmanager
def watching(directory, metrics_port):
    """Prometheus on the shipped files, hurried; gives a function that names the alerts that stand or wait."""
    port = free_port()
    directory.mkdir()
    (directory / "prometheus-rules.yml").symlink_to(DEPLOY / "prometheus-rules.yml")
    text = (DEPLOY / "prometheus.yml").read_text()
    for old, new in {
        "scrape_interval: 15s": "scrape_interval: 1s",
        "evaluation_interval: 15s": "evaluation_interval: 1s",
        "127.0.0.1:9464": f"127.0.0.1:{metrics_port}",
        "127.0.0.1:9093": f"127.0.0.1:{free_port()}",
    }.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (directory / "prometheus.yml").write_text(text)
    command = [
        str(PROGRAM),
        f"--config.file={directory / 'prometheus.yml'}",
        f"--storage.tsdb.path={directory / 'data'}",
        f"--web.listen-address=127.0.0.1:{port}",
    ]

    def ask(path):
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/api/v1/{path}", timeout=10) as answer:
                return json.load(answer)["data"]
        except OSError:
            return None

    def alerts():
        return {alert["labels"]["alertname"] for alert in (ask("alerts") or {"alerts": []})["alerts"]}

    with process(command, directory / "prometheus.log"):
        eventually(lambda: ask("rules"), "prometheus answers")
        yield alerts
        assert [r for g in ask("rules")["groups"] for r in g["rules"] if r["health"] != "ok"] == []

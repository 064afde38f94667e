"""The agent as a process, killed while an alarm stands: each receiver, and Alertmanager, hears of it once."""

import json
import os
import signal
import sqlite3
import subprocess
import threading
import time
from contextlib import closing, contextmanager
from itertools import groupby

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from agent.service import now_us
from tests import alertmanager, mosquitto
from tests.alertmanager import RealAlertmanager
from tests.mosquitto import Mosquitto, free_port
from tests.receivers import HttpReceiver, Webhook
from tests.service.processes import agent_on, eventually
from tests.service.site import SECOND_US, WET_K, configuration, told, write

pytestmark = [*mosquitto.MARKS, *alertmanager.MARKS]

STEP_S = 5
ALARM = "superheat-low at hill-house/one/m1"


class Gateway:
    """Sends the last hour at once and then every few seconds what is: wet all the while."""

    def __init__(self, port):
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._start_us = (now_us() // (STEP_S * SECOND_US) - 720) * STEP_S * SECOND_US
        self._sent_s = 0
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._go_on)
        self._thread.start()

    def _go_on(self):
        while not self._stop.wait(1):
            until_s = (now_us() - self._start_us) // SECOND_US
            to_s = until_s // STEP_S * STEP_S
            self._send(self._sent_s, to_s)
            self._sent_s = to_s

    def _send(self, from_s, to_s):
        found = told(
            from_s / 60,
            to_s / 60,
            lambda _: WET_K,
            every_s=STEP_S,
            start_us=self._start_us,
        )
        for sample_us, of_one in groupby(found, key=lambda each: each[0]):
            records = [{"n": name, "v": value, "t": 0} for _, name, value in of_one]
            records[0]["bt"] = sample_us / 1e6
            self._client.publish("plant/hill-house/one/m1", json.dumps(records), qos=1)

    def close(self):
        self._stop.set()
        self._thread.join(10)
        self._client.disconnect()
        self._client.loop_stop()


@contextmanager
def agent(config, log, **environment):
    with log.open("ab") as output:
        started = subprocess.Popen(
            agent_on(config), stdout=output, stderr=output, env={**os.environ, **environment}
        )
    try:
        yield started
    finally:
        if started.poll() is None:
            started.kill()
        started.wait(30)


def site(directory, broker, **notices):
    return write(
        directory,
        configuration(
            broker={"telemetry": "plant", "port": broker.port},
            http={"port": free_port(), "public_url": "https://dew.example"},
            assess={"step_s": STEP_S, "grace_s": 1},
            alarms={"shadow_days": 0},
            limits={"superheat-low": {"on_delay_s": 30}},
            notices={"heartbeat_hour": 23, **notices},
        ),
    )


def stands(path):
    """Whether the alarm stands, as the store has it."""
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True, timeout=30)) as connection:
        kept = connection.execute("SELECT state FROM alarm_state WHERE alarm = 'superheat-low'").fetchall()
    return any(json.loads(state)["state"]["active"] for (state,) in kept)


def alarms(receiver):
    return [subject for subject, _ in receiver.accepted if ALARM in subject]


def test_killed_while_it_stands_each_route_hears_of_it_once(tmp_path):
    with Mosquitto(tmp_path / "broker") as broker, HttpReceiver() as crew, HttpReceiver() as chat:
        routes = [{"name": "crew", "url_env": "CREW"}, {"name": "chat", "url_env": "CHAT"}]
        config, log = site(tmp_path, broker, routes=routes), tmp_path / "log"
        known = {"CREW": crew.url, "CHAT": chat.url}
        gateway = None
        try:
            for kill in range(4):
                with agent(config, log, **known) as one:
                    if gateway is None:
                        eventually(lambda: "watching" in log.read_text(), "an agent")
                        gateway = Gateway(broker.port)
                    if kill == 3:
                        eventually(lambda: alarms(crew) and alarms(chat), "the alarm told", 120)
                        time.sleep(5)
                        one.send_signal(signal.SIGTERM)
                        assert one.wait(60) == 0
                    else:
                        if kill:  # the first one falls into a start
                            eventually(lambda: stands(tmp_path / "store.db"), "the alarm in the store", 120)
                        one.send_signal(signal.SIGKILL)
        finally:
            if gateway is not None:
                gateway.close()
        for receiver in (crew, chat):
            assert [subject for subject, _ in receiver.accepted] == [f"HIGH {ALARM}"]


def test_by_alertmanager_it_is_told_once_over_a_kill(tmp_path):
    with Mosquitto(tmp_path / "broker") as broker, Webhook() as hook:
        config = {
            "route": {"receiver": "crew", "group_wait": "1s", "group_interval": "1s"},
            "receivers": [{"name": "crew", "webhook_configs": [{"url": hook.url}]}],
        }
        with RealAlertmanager(tmp_path / "am", config) as there:
            file = site(tmp_path, broker, alertmanager={"url": there.url, "every_s": 5})
            log, gateway = tmp_path / "log", None
            try:
                with agent(file, log) as one:
                    eventually(lambda: "watching" in log.read_text(), "an agent")
                    gateway = Gateway(broker.port)
                    eventually(lambda: hook.accepted, "a notification")
                    one.send_signal(signal.SIGKILL)
                with agent(file, log) as one:
                    time.sleep(22)  # longer than what was posted before the kill holds
                    assert [each["labels"]["alertname"] for each in there.alerts()] == ["superheat-low"]
                    one.send_signal(signal.SIGTERM)
                    assert one.wait(60) == 0
            finally:
                if gateway is not None:
                    gateway.close()
            assert [each["status"] for each in hook.accepted] == ["firing"]

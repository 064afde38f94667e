"""An agent that is killed again and again beside one that is left alone: afterwards both hold the same."""

import json
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import ExitStack, closing, contextmanager
from decimal import Decimal

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from tests.mosquitto import MARKS, Mosquitto, free_port
from tests.service.processes import agent_on, eventually, listener, process
from tests.service.site import demo_configuration, write

pytestmark = MARKS

KILLS = 3
READINGS = 20_000
SEED = 20_251_125
BATCH = 350  # messages: longer than intake waits for a batch
PACE_S = 0.004  # between two messages, so that the agent is at work while they come


def record(path):
    """Four hours of the invented site up to now: topic and payload of each message."""
    command = [sys.executable, "-m", "demo_feed", "--record", str(path), "--backlog", "4h"]
    subprocess.run(command, check=True, timeout=120, capture_output=True)
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    return [(line["topic"], line["payload"]) for line in lines]


def readings_of(messages):
    """Owner, signal, sample time and value of every record: read here anew, not by the agent's decoder."""
    found = []
    for topic, payload in messages:
        pack = json.loads(payload, parse_float=Decimal)
        sample_us = int(pack[0]["bt"] * 1_000_000)
        for each in pack:
            value = each["vs"] if "vs" in each else float(each["v"])
            found.append((topic.removeprefix("plant/"), each["n"], sample_us, value))
    return found


@contextmanager
def publisher(port):
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.max_inflight_messages_set(50)
    client.connect("127.0.0.1", port)
    client.loop_start()
    try:
        yield client
    finally:
        client.disconnect()
        client.loop_stop()


class Kept:
    """A store seen by sqlite3 alone, beside the agent that writes it."""

    def __init__(self, path):
        self.path = path

    def rows(self, statement, *parameters):
        with closing(sqlite3.connect(f"file:{self.path}?mode=ro", uri=True, timeout=30)) as connection:
            return connection.execute(statement, parameters).fetchall()

    def count(self):
        return self.rows("SELECT count(*) FROM reading")[0][0]

    def readings(self):
        found = self.rows(
            "SELECT owner, name, sample_us, value FROM reading JOIN signal ON signal.id = signal_id"
        )
        return [(*key, value if isinstance(value, str) else float(value)) for *key, value in found]

    def is_done(self, count, until_us):
        progress = self.rows("SELECT assessed_us FROM progress")
        return (
            self.count() >= count
            and len(progress) == 5
            and all(assessed_us >= until_us for (assessed_us,) in progress)
            and not self.rows("SELECT 1 FROM dirty WHERE from_us <= ?", until_us)
        )

    def assessments(self, until_us):
        return self.rows(
            "SELECT system, name, grid_us, body, figures FROM assessment"
            " JOIN module ON module.id = module_id JOIN basis ON basis.id = basis_id"
            " WHERE grid_us <= ? ORDER BY system, name, grid_us",
            until_us,
        )

    def detections(self, until_us):
        return self.rows(
            "SELECT system, name, alarm, grid_us, state FROM detection"
            " JOIN module ON module.id = module_id WHERE grid_us <= ? ORDER BY system, name, alarm, grid_us",
            until_us,
        )


class Killed:
    """The agent that is killed: each time once it has stored something since its start, and with a batch in
    its hands, because the test holds the store's write lock while `BATCH` more messages come."""

    def __init__(self, stack, config, kept, log):
        self.stack, self.config, self.kept, self.log = stack, config, kept, log
        self.had = 0
        self.start()

    def start(self):
        self.process = self.stack.enter_context(process(agent_on(self.config), self.log))

    def is_at_work(self):
        return self.kept.path.exists() and self.kept.count() > self.had

    def hold(self):
        self.lock = sqlite3.connect(self.kept.path, isolation_level=None, timeout=30)
        self.lock.execute("BEGIN IMMEDIATE")

    def kill_and_start(self):
        self.process.kill()
        self.process.wait(10)
        self.lock.execute("ROLLBACK")
        self.lock.close()
        self.had = self.kept.count()
        self.start()


def test_three_kills_during_twenty_thousand_readings_leave_no_trace(tmp_path):
    messages = record(tmp_path / "messages.jsonl")
    expected = readings_of(messages)
    assert len(expected) >= READINGS
    until_us = max(sample_us for _, _, sample_us, _ in expected)
    chance = random.Random(SEED)
    due = sorted(chance.randrange(len(messages) // 10, len(messages) * 8 // 10) for _ in range(KILLS))

    with Mosquitto(tmp_path / "broker") as broker, ExitStack() as stack:
        configs, stores = {}, {}
        for name in ("killed", "left-alone"):
            body = demo_configuration(broker.port, free_port(), name, f"watch/{name}")
            configs[name] = write(tmp_path, body, f"{name}.yaml")
            stores[name] = Kept(tmp_path / f"{name}.db")
        logs = {name: tmp_path / f"{name}.log" for name in configs}
        calm = stack.enter_context(process(agent_on(configs["left-alone"]), logs["left-alone"]))
        killed = Killed(stack, configs["killed"], stores["killed"], logs["killed"])
        heard = stack.enter_context(listener(broker.port, "watch/#"))
        eventually(
            lambda: all(heard.last.get(f"watch/{name}/agent/{name}") == b"online" for name in configs),
            "both agents online",
        )
        client = stack.enter_context(publisher(broker.port))
        sent, kills, kill_at = [], 0, None
        for number, (topic, payload) in enumerate(messages):
            sent.append(client.publish(topic, payload, qos=1))
            time.sleep(PACE_S)
            if kill_at is None and due and number >= due[0] and number % 10 == 0 and killed.is_at_work():
                killed.hold()
                kill_at = number + BATCH
                due.pop(0)
            if number == kill_at or (kill_at is not None and number == len(messages) - 1):
                killed.kill_and_start()
                kills, kill_at = kills + 1, None
        for one in sent:
            one.wait_for_publish(60)
        while kills < KILLS:
            eventually(killed.is_at_work, "the killed agent to store what the broker kept for it")
            killed.hold()
            killed.kill_and_start()
            kills += 1
        for name, store in stores.items():
            eventually(
                lambda store=store: store.is_done(len(expected), until_us),
                f"{name} to have stored and assessed all of {len(expected)} readings",
            )
        for agent in (calm, killed.process):
            agent.send_signal(signal.SIGTERM)
            assert agent.wait(30) == 0, {name: log.read_text() for name, log in logs.items()}

    for store in stores.values():
        assert sorted(store.readings(), key=repr) == sorted(expected, key=repr)
        assert store.rows("SELECT count(*) FROM refused") == [(0,)]
        assert store.rows("SELECT count(*) FROM conflict") == [(0,)]
    after_kills, alone = stores["killed"], stores["left-alone"]
    assert len(alone.assessments(until_us)) > 5 * 4 * 119
    assert after_kills.assessments(until_us) == alone.assessments(until_us)
    assert any('"active":true' in state for *_, state in alone.detections(until_us))
    assert after_kills.detections(until_us) == alone.detections(until_us)

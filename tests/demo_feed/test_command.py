"""The command as a user runs it, against real brokers on loopback."""

import json
import signal
import socket
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from csv import DictReader

import pytest
from click.testing import CliRunner
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from demo_feed.__main__ import main
from demo_feed.broker import BrokerError, embedded_broker
from demo_feed.publisher import Publisher, PublishError
from tests.mosquitto import Mosquitto, free_port, needs_mosquitto

COMMAND = [sys.executable, "-m", "demo_feed"]
END = "1764057600"
PATIENCE_S = 60


def run(*arguments):
    return subprocess.run(
        [*COMMAND, *arguments], capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )


def record(path, *arguments):
    assert run("--record", str(path), "--end", END, *arguments).returncode == 0
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    assert all(line["scenario"] == "invented" for line in lines)
    return [(line["topic"], line["payload"]) for line in lines]


@contextmanager
def subscriber(port, protocol=MQTTProtocolVersion.MQTTv5):
    """Collects (topic, payload) of everything under plant/ until the context ends."""
    received, ready = [], threading.Event()
    client = Client(CallbackAPIVersion.VERSION2, protocol=protocol)
    client.on_connect = lambda *_: client.subscribe("plant/#", qos=1)
    client.on_subscribe = lambda *_: ready.set()
    client.on_message = lambda _client, _data, message: received.append(
        (message.topic, message.payload.decode())
    )
    client.connect("127.0.0.1", port)
    client.loop_start()
    assert ready.wait(PATIENCE_S)
    try:
        yield received
    finally:
        client.disconnect()
        client.loop_stop()


def wait_for(condition):
    deadline = time.monotonic() + PATIENCE_S
    while not condition() and time.monotonic() < deadline:
        time.sleep(0.05)
    return condition()


def listening(port):
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@needs_mosquitto
def test_every_record_of_the_backlog_arrives_in_order(tmp_path):
    expected = record(tmp_path / "expected.jsonl", "--backlog", "2h")
    with Mosquitto(tmp_path / "broker") as broker, subscriber(broker.port) as received:
        done = run("--port", str(broker.port), "--backlog", "2h", "--end", END, "--for", "0")
        assert done.returncode == 0, done.stderr
        assert f"live: {len(expected)} messages of backlog acknowledged" in done.stderr
        assert wait_for(lambda: len(received) >= len(expected))
    assert received[: len(expected)] == expected


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_with_its_own_broker_it_goes_live_and_leaves_nothing_behind(number):
    port = free_port()
    arguments = [*COMMAND, "--broker", "--port", str(port), "--backlog", "0"]
    with subprocess.Popen(arguments, stderr=subprocess.PIPE, text=True) as process:
        watchdog = threading.Timer(PATIENCE_S, process.kill)
        watchdog.start()
        live = any("live" in line for line in process.stderr)
        assert live and listening(port)
        process.send_signal(number)
        rest = process.stderr.read()
        assert process.wait() == 0
        watchdog.cancel()
    assert "all acknowledged" in rest
    assert not listening(port)


def test_embedded_broker_speaks_both_protocols():
    port, port_311 = free_port(), free_port()
    with (
        embedded_broker(port, port_311),
        subscriber(port) as new,
        subscriber(port_311, MQTTProtocolVersion.MQTTv311) as old,
        Publisher("127.0.0.1", port, threading.Event()) as publisher,
    ):
        for number in range(1000):
            publisher.publish("plant/x", str(number).encode())
        assert publisher.drain(PATIENCE_S) and publisher.acknowledged == 1000
        expected = [("plant/x", str(number)) for number in range(1000)]
        assert wait_for(lambda: new == expected) and wait_for(lambda: old == expected)


def test_a_taken_port_is_named():
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(BrokerError, match=str(port)), embedded_broker(port):
            pass


def test_a_missing_broker_is_named_with_what_to_do():
    port = free_port()
    with (
        pytest.raises(PublishError, match=f"127.0.0.1:{port}.*--broker"),
        Publisher("127.0.0.1", port, threading.Event(), patience_s=1.0),
    ):
        pass


def test_record_and_truth_repeat_exactly_and_cover_backlog_and_live(tmp_path):
    truth = tmp_path / "truth.csv"
    arguments = ("--backlog", "30m", "--for", "120")
    first = record(tmp_path / "1.jsonl", *arguments, "--truth", str(truth))
    assert first == record(tmp_path / "2.jsonl", *arguments)
    with truth.open(newline="") as file:
        rows = list(DictReader(file))
    assert len(rows) == 5 * (60 + 4)
    assert {row["scenario"] for row in rows} == {"invented"}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--backlog", "5x"), "whole number with s, m, h or d"),
        (("--record", "x", "--broker"), "leave one of them out"),
        (("--broker", "--host", "10.0.0.1"), "127.0.0.1 only"),
        (("--port-311", "1884"), "belongs to --broker"),
    ],
)
def test_wrong_arguments_are_explained(arguments, words):
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 2 and words in done.stderr

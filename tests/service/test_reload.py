"""SIGHUP on a running agent: a bad file is refused, a good one taken over, and no reading lost."""

import json
import signal
import socket
import threading
import time
import urllib.error
import urllib.request

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from agent.service import now_us
from tests.mosquitto import MARKS, Mosquitto, free_port
from tests.receivers import DrippingReceiver
from tests.service.processes import agent_on, eventually, listener, process
from tests.service.site import SECOND_US, configuration, told, write
from tests.service.test_shared_signals import rows

pytestmark = MARKS

MODULE = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
PASSWORD = "open-sesame-4711"


class World:
    """An agent on a broker of its own, and a gateway that publishes without a pause."""

    def __init__(self, directory, broker):
        self.directory, self.broker, self.metrics_port = directory, broker, free_port()
        self.log = directory / "log"
        (directory / "password").write_text(PASSWORD)

    def write(self, modules=("m1",), **more):
        systems = {"one": {"refrigerant": "R-410A", "modules": dict.fromkeys(modules, MODULE)}}
        broker = {"telemetry": "plant", "port": self.broker.port, "username": "dewline"}
        broker["password_file"] = str(self.directory / "password")
        http = {"port": self.metrics_port}
        body = configuration(systems=systems, broker=broker, http=http, assess={"step_s": 5, "grace_s": 1})
        return write(self.directory, body | more)

    def said(self, sentence):
        return self.log.read_text().count(sentence)

    def metric(self, name):
        try:
            with urllib.request.urlopen(
                f"http://127.0.0.1:{self.metrics_port}/metrics", timeout=10
            ) as answer:
                lines = answer.read().decode().splitlines()
        except (urllib.error.URLError, ConnectionError):
            return None  # between two agents
        return next((float(line.split()[-1]) for line in lines if line.startswith(name)), None)

    def modules(self):
        query = "SELECT DISTINCT owner FROM reading JOIN signal ON signal.id = signal_id ORDER BY owner"
        return [owner.rpartition("/")[2] for (owner,) in rows(self.directory / "store.db", query)]

    def kept(self, module):
        query = (
            f"SELECT count(*) FROM reading JOIN signal ON signal.id = signal_id WHERE owner LIKE '%/{module}'"
        )
        return rows(self.directory / "store.db", query)[0][0]


class Gateway:
    """Publishes one signal on each topic every few milliseconds, and counts what the broker took."""

    def __init__(self, port, modules):
        self.taken = 0
        self._modules, self._stop = modules, threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._publish)
        self._thread.start()

    def _publish(self):
        start_us, number = now_us(), 0
        while not self._stop.is_set():
            number += 1
            pack = json.dumps([{"n": "suction_pipe", "v": 11.0, "t": (start_us + number) / SECOND_US}])
            sent = [
                self._client.publish(f"plant/hill-house/one/{name}", pack, qos=1) for name in self._modules
            ]
            for one in sent:
                one.wait_for_publish(30)
            self.taken += 1
            time.sleep(0.005)

    def close(self):
        self._stop.set()
        self._thread.join(60)
        self._client.disconnect()
        self._client.loop_stop()


@pytest.fixture
def world(tmp_path):
    with Mosquitto(tmp_path / "broker") as broker:
        yield World(tmp_path, broker)


@pytest.fixture
def running(world):
    config = world.write()
    with (
        process(agent_on(config), world.log) as agent,
        listener(world.broker.port, "dewline/agent/#") as heard,
    ):
        eventually(lambda: heard.last.get("dewline/agent/dewline") == b"online", "the agent online")
        yield agent
        assert PASSWORD not in world.log.read_text()


def end(agent, world):
    agent.send_signal(signal.SIGTERM)
    assert agent.wait(30) == 0, world.log.read_text()


def test_a_good_file_is_taken_over_and_no_reading_is_lost(world, running):
    gateway = Gateway(world.broker.port, ["m1", "m2"])
    try:
        eventually(lambda: gateway.taken > 100, "readings on their way")
        world.write(modules=("m1", "m2"))
        for times in (1, 2, 3):
            running.send_signal(signal.SIGHUP)
            eventually(lambda times=times: world.said("configuration taken over") == times, "taken over")
        assert world.metric("dewline_config_reload_success") == 1
        before = gateway.taken
        eventually(lambda: gateway.taken > before + 100, "more readings on their way")
    finally:
        gateway.close()
    eventually(lambda: world.kept("m1") == gateway.taken, f"all of {gateway.taken} readings of m1")
    assert world.kept("m2") > 100
    assert world.said("watching 2 modules") == 3
    end(running, world)
    assert not world.said("had lost the session") and not world.said("Traceback")


def test_a_bad_file_is_refused_and_the_agent_goes_on(world, running):
    assert world.metric("dewline_config_reload_success") == 1
    world.write(modules=("m1", "m2"), site="Hill House", elevation_m="high")
    running.send_signal(signal.SIGHUP)
    eventually(
        lambda: world.said("the configuration is refused; the one before stays in force"), "the refusal"
    )
    assert world.said("found 'Hill House'; right would be a name of small letters, digits, - and _") == 1
    assert world.said("found 'high'; right would be a number") == 1
    eventually(lambda: world.metric("dewline_config_reload_success") == 0, "the metric of the refusal")
    (world.directory / "site.yaml").unlink()
    running.send_signal(signal.SIGHUP)
    eventually(lambda: world.said("no such file"), "the refusal of no file")
    publish(world, "m1")
    eventually(lambda: world.modules() == ["m1"], "a reading after the refusals")
    world.write(modules=("m1", "m2"))
    running.send_signal(signal.SIGHUP)
    eventually(lambda: world.said("configuration taken over") == 1, "the mended file")
    eventually(lambda: world.metric("dewline_config_reload_success") == 1, "the metric of the mended file")
    publish(world, "m2")
    eventually(lambda: world.modules() == ["m1", "m2"], "the new module's readings")
    end(running, world)


def test_a_configuration_that_cannot_start_gives_way_to_the_one_before(world, running):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        world.write(modules=("m1", "m2"), http={"port": port})
        running.send_signal(signal.SIGHUP)
        sentence = f"the one before goes on: http cannot be served on 127.0.0.1:{port}"
        eventually(lambda: world.said(sentence), "the old configuration again")
        eventually(lambda: world.metric("dewline_config_reload_success") == 0, "the metric of the failure")
    publish(world, "m1")
    eventually(lambda: world.modules() == ["m1"], "a reading under the old configuration")
    revisions = rows(world.directory / "store.db", "SELECT count(*) FROM revision")
    assert revisions == [(1,)]  # the one that could not start has left no trace
    assert not world.said("configuration taken over")
    end(running, world)


def test_told_to_end_while_it_takes_over_it_ends(world, running):
    world.write(modules=("m1", "m2"))
    running.send_signal(signal.SIGHUP)
    end(running, world)


@pytest.mark.parametrize("told", [signal.SIGTERM, signal.SIGHUP])
def test_a_receiver_whose_answer_drips_in_holds_up_neither_the_end_nor_a_new_configuration(world, told):
    """Alertmanager, and a route that is given a sign of life from midnight on."""
    with DrippingReceiver() as bad:
        there = {"url": bad.url.replace("json:", "http:").partition("/?")[0], "every_s": 5}
        routes = [{"name": "crew", "url": bad.url}]
        notices = {"heartbeat_hour": 0, "routes": routes, "alertmanager": there}
        config = world.write(notices=notices)
        with process(agent_on(config), world.log) as running:
            eventually(lambda: bad.asked == 2, "both to hang")
            running.send_signal(told)
            if told == signal.SIGHUP:
                eventually(lambda: world.said("configuration taken over") == 1, "taken over", 15)
                running.send_signal(signal.SIGTERM)
            assert running.wait(15) == 0, world.log.read_text()
    assert not world.said("left behind") and not world.said("Traceback")
    waiting = rows(world.directory / "store.db", "SELECT sent_us, attempts FROM outbox")
    assert waiting == [(None, 0)]  # for the next time


def publish(world, module):
    """A minute of readings of a module, as it might be now."""
    client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
    client.connect("127.0.0.1", world.broker.port)
    client.loop_start()
    for sample_us, name, value in told(0, 1, start_us=now_us() // SECOND_US * SECOND_US - 60 * SECOND_US):
        pack = json.dumps([{"n": name, "v": value, "t": sample_us / SECOND_US}])
        client.publish(f"plant/hill-house/one/{module}", pack, qos=1).wait_for_publish(30)
    client.disconnect()
    client.loop_stop()

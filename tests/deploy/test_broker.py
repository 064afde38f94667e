"""The shipped broker configuration under a real mosquitto: who may do what, and what it keeps."""

from contextlib import contextmanager

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from agent.intake import Connection, Inbox
from agent.service.intaking import BATCH_MESSAGES
from agent.service.machine.tls import tls_context
from agent.settings.model import BrokerSettings as ConfiguredBroker
from tests.certificates import Authority
from tests.deploy.broker import MARKS, PASSWORDS, DeployedMosquitto, stated, user
from tests.intake.test_mqtt import Clock, connection, eventually, numbers_of, settings

pytestmark = MARKS
V5, V311 = MQTTProtocolVersion.MQTTv5, MQTTProtocolVersion.MQTTv311


@pytest.fixture
def broker(tmp_path):
    with DeployedMosquitto(tmp_path / "broker") as running:
        yield running


@contextmanager
def agent(port, **options):
    """The agent's own connection, under its user."""
    known = {"username": "dewline", "password": PASSWORDS["dewline"]}
    with connection(port, **(known | options)) as made:
        yield made


def published(first, behind):
    return [b"%d" % number for number in range(first, behind)]


def taken_until(inbox, agent, last):
    """Numbers as they arrive, each acknowledged, until the last one is among them."""
    numbers = []
    while last not in numbers:
        eventually(lambda: len(inbox))
        batch = inbox.take(BATCH_MESSAGES, 0)
        numbers += numbers_of(batch)
        agent.acknowledge(batch)
    return numbers


def test_the_agent_hears_telemetry_and_speaks_under_its_own_prefix(broker):
    assessment = "dewline/hill-house/one/m1/assessment"
    with user(broker, "gateway") as gateway, user(broker, "dashboard", "dewline/#") as dashboard:
        with agent(broker.port) as (connected, inbox):
            assert gateway.publish("plant/hill-house/one/m1", b"1") == ["Success"]
            eventually(lambda: len(inbox) == 1)
            assert connected.publish(assessment, b"{}")
            eventually(lambda: len(dashboard.seen) == 2)
            assert connected.facts().protocol == "5"
        eventually(lambda: len(dashboard.seen) == 3)
        status = "dewline/agent/a1"
        assert dashboard.seen == [(status, b"online"), (assessment, b"{}"), (status, b"offline")]


@pytest.mark.parametrize(("protocol", "answer"), [(V5, "Not authorized"), (V311, "Success")])
def test_the_agents_user_cannot_write_to_equipment(broker, protocol, answer):
    """MQTT 3.1.1 has no word for it: the broker says "received", and throws it away."""
    with (
        user(broker, "dewline", "plant/#") as watcher,
        user(broker, "dewline", protocol=protocol) as wrong,
        user(broker, "gateway") as gateway,
    ):
        for topic in ("plant/hill-house/one/m1", "plant/hill-house/one/m1/set", "other"):
            assert wrong.publish(topic, b"0") == [answer]
        gateway.publish("plant/hill-house/one/m1", b"1")
        eventually(lambda: watcher.seen)
        assert watcher.seen == [("plant/hill-house/one/m1", b"1")]


@pytest.mark.parametrize(("protocol", "answer"), [(V5, "Not authorized"), (V311, "Success")])
@pytest.mark.parametrize("name", ["gateway", "dashboard"])
def test_nobody_but_the_agent_writes_its_prefix(broker, name, protocol, answer):
    with (
        user(broker, "dashboard", "dewline/#") as watcher,
        user(broker, name, protocol=protocol) as wrong,
        user(broker, "dewline") as right,
    ):
        for topic in ("dewline/agent/a1", "dewline/hill-house/one/m1/alarm/superheat-low"):
            assert wrong.publish(topic, b"0") == [answer]
        right.publish("dewline/agent/a1", b"1")
        eventually(lambda: watcher.seen)
        assert watcher.seen == [("dewline/agent/a1", b"1")]


def test_who_sees_what_of_everything_they_ask_for(broker):
    """A denied subscription is granted all the same; only what it is sent tells."""
    with (
        user(broker, "gateway", "#") as gateway,
        user(broker, "dewline", "#") as dewline,
        user(broker, "dashboard", "#") as dashboard,
    ):
        gateway.publish("plant/hill-house/one/m1", b"1")
        dewline.publish("dewline/hill-house/one/m1/assessment", b"2")
        for one in (gateway, dewline, dashboard):
            one.subscribe("nothing")
        assert gateway.seen == []
        assert dewline.seen == [("plant/hill-house/one/m1", b"1")]
        assert dashboard.seen == [("dewline/hill-house/one/m1/assessment", b"2")]


@pytest.mark.parametrize("login", [{}, {"username": "dewline", "password": "wrong"}, {"username": "dewline"}])
def test_without_a_users_password_nobody_comes_in(broker, login):
    refused = Connection(settings(broker.port, **login), Inbox(1_000_000), Clock())
    refused.start()
    try:
        eventually(lambda: refused.facts().last_reason)
        assert refused.facts().last_reason == "Not authorized"
        assert refused.facts().connects == 0
    finally:
        refused.stop()
    assert "not authorised" in (broker.directory / "mosquitto.log").read_text()


def test_what_waits_for_the_agent_outlives_an_orderly_restart(broker):
    with agent(broker.port):
        pass
    with user(broker, "gateway") as gateway:
        gateway.publish("plant/m", *published(0, 1500))
    broker.stop()
    broker.start()
    with user(broker, "gateway") as gateway:
        gateway.publish("plant/m", *published(1500, 2000))
    with agent(broker.port, expect_session=True) as (connected, inbox):
        assert taken_until(inbox, connected, 1999) == list(range(2000))
        assert connected.facts().sessions_lost == 0


def test_a_connected_agent_comes_back_to_its_session(broker):
    with agent(broker.port) as (connected, inbox):
        with user(broker, "gateway") as gateway:
            gateway.publish("plant/m", *published(0, 5))
        eventually(lambda: len(inbox) == 5)
        inbox.take(5, 0)  # and not acknowledged
        broker.stop()
        broker.start()
        with user(broker, "gateway") as gateway:
            gateway.publish("plant/m", *published(5, 10))
        assert taken_until(inbox, connected, 9) == list(range(10))
        facts = connected.facts()
        assert (facts.connects, facts.sessions_lost) == (2, 0)


def test_a_crash_of_the_broker_keeps_what_was_saved_and_no_more(broker):
    """Promised: the session, and what waited at the last save. What the broker took after it is gone, though
    it told the gateway "received": autosave_interval is how much that can be, and nobody is told of it."""
    with agent(broker.port):
        pass
    with user(broker, "gateway") as gateway:
        gateway.publish("plant/m", *published(0, 500))
        before = broker.saved()
        eventually(lambda: broker.saved() != before)
        last_save = broker.saved()
        gateway.publish("plant/m", *published(500, 1000))
        broker.kill()
    saved_again = broker.saved() != last_save
    broker.start()
    with agent(broker.port, expect_session=True) as (connected, inbox):
        with user(broker, "gateway") as gateway:
            gateway.publish("plant/m", b"5000")
        *kept, _ = taken_until(inbox, connected, 5000)
        assert kept == list(range(len(kept)))
        assert len(kept) >= 500
        assert len(kept) == 500 or saved_again
        assert connected.facts().sessions_lost == 0


def test_a_crash_before_the_first_save_loses_the_session_and_the_agent_says_so(broker):
    gaps = []
    with agent(broker.port, on_session_lost=lambda *gap: gaps.append(gap)) as (connected, _):
        broker.kill()
        lost = broker.saved() is None
        broker.start()
        eventually(lambda: connected.facts().connects == 2)
        assert connected.facts().sessions_lost == lost
        eventually(lambda: len(gaps) == lost)


def test_a_gateway_that_knows_qos_0_only_loses_nothing_behind_the_broker(broker):
    with user(broker, "gateway") as gateway:
        with agent(broker.port) as (_, inbox):
            gateway.publish("plant/m", *published(0, 10), qos=0)
            eventually(lambda: len(inbox) == 10)  # and not acknowledged
        gateway.publish("plant/m", *published(10, 20), qos=0)
        gateway.publish("plant/m", b"20")
    broker.stop()
    broker.start()
    with agent(broker.port, expect_session=True) as (connected, inbox):
        assert taken_until(inbox, connected, 20) == list(range(21))


def test_two_batches_are_under_way_with_mqtt_3_1_1_too(broker):
    """There the broker alone sets how many may be unacknowledged; 20 by default."""
    arrived = []
    slow = Client(CallbackAPIVersion.VERSION2, "slow", clean_session=False, protocol=V311, manual_ack=True)
    slow.username_pw_set("dewline", PASSWORDS["dewline"])
    slow.on_connect = lambda client, *_: client.subscribe("plant/#", 1)
    slow.on_message = lambda client, data, message: arrived.append(message.mid)
    slow.on_subscribe = lambda *_: arrived.append(None)
    slow.connect("127.0.0.1", broker.port)
    slow.loop_start()
    try:
        eventually(lambda: arrived == [None])
        with user(broker, "gateway") as gateway:
            gateway.publish("plant/m", *published(0, 2 * BATCH_MESSAGES + 200))
        eventually(lambda: len(arrived) - 1 >= 2 * BATCH_MESSAGES)
    finally:
        slow.disconnect()
        slow.loop_stop()
        slow.on_connect = slow.on_message = slow.on_subscribe = None


def test_a_payload_beyond_the_limit_is_dropped_and_stops_nobody(broker):
    limit = int(stated()["message_size_limit"])
    with agent(broker.port) as (connected, inbox), user(broker, "gateway", protocol=V311) as gateway:
        gateway.publish("plant/m", b"1", b" " * (limit + 1), b"2")
        assert taken_until(inbox, connected, 2) == [1, 2]
        assert connected.facts().disconnects == 0


@pytest.mark.parametrize("require", [False, True])
def test_the_tls_listener_lets_in_who_trusts_its_certificate(tmp_path, require):
    authority = Authority(tmp_path / "authority")
    files = {"ca_file": authority.certificate}
    if require:
        files["cert_file"], files["key_file"] = authority.issue("dewline")
    told = ConfiguredBroker(telemetry="plant", **{name: str(file) for name, file in files.items()})
    certificate, key = authority.issue("127.0.0.1")
    required = authority.certificate if require else None
    with (
        DeployedMosquitto(tmp_path / "broker", certificate, key, required) as broker,
        user(broker, "gateway") as gateway,
        agent(broker.tls_port, tls=tls_context(told, {})) as (_, inbox),
    ):
        gateway.publish("plant/m", b"1")
        eventually(lambda: len(inbox) == 1)


def test_where_it_requires_a_certificate_a_password_alone_does_not_do(tmp_path):
    authority = Authority(tmp_path / "authority")
    login = {"username": "dewline", "password": PASSWORDS["dewline"]}
    tls = tls_context(ConfiguredBroker(telemetry="plant", ca_file=str(authority.certificate)), {})
    certificate, key = authority.issue("127.0.0.1")
    with DeployedMosquitto(tmp_path / "broker", certificate, key, authority.certificate) as broker:
        refused = Connection(settings(broker.tls_port, tls=tls, **login), Inbox(1_000_000), Clock())
        refused.start()
        try:
            eventually(lambda: refused.facts().last_reason == "the broker requires a client certificate")
            assert refused.facts().connects == 0
        finally:
            refused.stop()

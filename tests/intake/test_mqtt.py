"""The connection against real brokers: what is not acknowledged comes again, and nothing is lost on the way.

Waits are bounded, never measured.
"""

import contextlib
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from iotcore import Broker
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from agent.intake.inbox import Inbox, Message
from agent.intake.mqtt import OFFLINE, ONLINE, BrokerSettings, Connection, covers
from agent.intake.pointmap import Point, PointMap
from tests.mosquitto import Mosquitto, free_port, needs_mosquitto
from tests.service.processes import eventually

PATIENCE_S = 30.0
STATUS = "dewline/agent/a1"


def settings(port: int, **changes: object) -> BrokerSettings:
    given: dict = {
        "host": "127.0.0.1",
        "port": port,
        "client_id": "dewline-a1",
        "prefix": "dewline/",
        "status_topic": STATUS,
        "subscriptions": ("plant/#",),
        "session_expiry_s": 3_600,
        "keepalive_s": 10,
    }
    return BrokerSettings(**(given | changes))


class Clock:
    """Counts; each arrival gets a time of its own."""

    def __init__(self) -> None:
        self._now_us = 1_700_000_000_000_000

    def __call__(self) -> int:
        self._now_us += 1
        return self._now_us


@contextlib.contextmanager
def connection(
    port: int, inbox: Inbox | None = None, **options: object
) -> Iterator[tuple[Connection, Inbox]]:
    if inbox is None:  # an empty one is as good as none to `or`
        inbox = Inbox(10_000_000)
    expect_session = bool(options.pop("expect_session", False))
    on_session_lost = options.pop("on_session_lost", None)
    made = Connection(
        settings(port, **options),
        inbox,
        Clock(),
        expect_session=expect_session,
        on_session_lost=on_session_lost,
    )
    made.start()
    try:
        eventually(lambda: made.facts().subscribed)
        yield made, inbox
    finally:
        made.stop()


def subscribed(made: Connection, connects: int) -> bool:
    facts = made.facts()
    return facts.subscribed and facts.connects == connects


class Peer:
    """Another client of the broker: publishes at QoS 1, and sees what others publish."""

    def __init__(self, port: int, see: str | None = None) -> None:
        self.seen: list[tuple[str, bytes, bool]] = []
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv311)
        self._client.on_message = lambda client, data, m: self.seen.append((m.topic, m.payload, m.retain))
        ready = threading.Event()
        self._client.on_subscribe = lambda *_: ready.set()
        self._client.on_connect = lambda *_: self._client.subscribe(see, 1) if see else ready.set()
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        assert ready.wait(PATIENCE_S)

    def publish(self, topic: str, payload: bytes, retain: bool = False) -> None:
        self._client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(PATIENCE_S)

    def publish_numbers(self, numbers: range, pad: int = 0) -> None:
        """Without waiting for each: a burst."""
        sent = [self._client.publish("plant/m", b"%d" % n + b" " * pad, qos=1) for n in numbers]
        for one in sent:
            one.wait_for_publish(PATIENCE_S)

    def close(self) -> None:
        self._client.disconnect()
        with contextlib.suppress(AttributeError):
            self._client.loop_stop()
        self._client.on_message = self._client.on_subscribe = self._client.on_connect = None


@contextlib.contextmanager
def peer(port: int, see: str | None = None) -> Iterator[Peer]:
    made = Peer(port, see)
    try:
        yield made
    finally:
        made.close()


def publish_numbers(port: int, numbers: range, pad: int = 0) -> None:
    with peer(port) as publisher:
        publisher.publish_numbers(numbers, pad)


def take_numbers(inbox: Inbox, count: int) -> list[Message]:
    eventually(lambda: len(inbox) >= count)
    return inbox.take(1_000_000, 0)


def numbers_of(messages: list[Message]) -> list[int]:
    return [int(message.payload) for message in messages]


@needs_mosquitto
def test_what_was_not_acknowledged_comes_again_and_what_was_does_not(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker:
        with connection(broker.port) as (agent, inbox):
            publish_numbers(broker.port, range(20))
            messages = take_numbers(inbox, 20)
            assert numbers_of(messages) == list(range(20))
            assert agent.facts().oldest_unacknowledged_us == messages[0].arrival_us
            agent.acknowledge(messages[:12])
            assert agent.facts().oldest_unacknowledged_us == messages[12].arrival_us
        with connection(broker.port, expect_session=True) as (agent, inbox):
            assert numbers_of(take_numbers(inbox, 8)) == list(range(12, 20))
            facts = agent.facts()
            assert (facts.sessions_lost, facts.acks_dropped, facts.protocol) == (0, 0, "5")


@needs_mosquitto
def test_a_restarted_agent_gets_what_was_published_meanwhile(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker:
        with connection(broker.port):
            pass
        publish_numbers(broker.port, range(3_000))
        with connection(broker.port, expect_session=True) as (agent, inbox):
            stored: list[int] = []
            while len(stored) < 3_000:
                batch = inbox.take(500, 0.05)
                stored += numbers_of(batch)
                agent.acknowledge(batch)
            assert stored == list(range(3_000))
            assert agent.facts().oldest_unacknowledged_us is None


@needs_mosquitto
def test_the_session_outlives_a_restart_of_the_broker(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, connection(broker.port) as (agent, inbox):
        publish_numbers(broker.port, range(5))
        first = take_numbers(inbox, 5)
        broker.stop()
        broker.start()
        again = take_numbers(inbox, 5)
        assert numbers_of(again) == numbers_of(first) == list(range(5))
        assert {m.generation for m in first} == {1}
        assert {m.generation for m in again} == {2}
        agent.acknowledge(first)
        agent.acknowledge(again)
        facts = agent.facts()
        assert (facts.connects, facts.disconnects, facts.sessions_lost, facts.acks_dropped) == (2, 1, 0, 5)


@needs_mosquitto
@pytest.mark.parametrize("how", ["broker restarted", "line cut"])
def test_what_comes_again_keeps_its_first_arrival(tmp_path: Path, how: str) -> None:
    """So that a reading without a time of its own, stored and not yet acknowledged, is the same reading."""
    points = PointMap({("plant/m", "suction_pipe"): Point(1, (11,))}, 7, 0)
    pack = b'[{"n":"suction_pipe","v":12.5}]'  # the same each time, as of a plant that stands still
    with (
        Mosquitto(tmp_path) as broker,
        Passage(broker.port) as passage,
        connection(passage.port) as (agent, inbox),
    ):
        with peer(broker.port, "dewline/roof/#") as other:
            for _ in range(5):
                other.publish("plant/m", pack)
            first = take_numbers(inbox, 5)
            agent.acknowledge(first[:2])
            agent.publish("dewline/roof/m1", b"after the acknowledgements, so they have arrived")
            eventually(lambda: other.seen)
        if how == "line cut":
            passage.cut()
        else:
            broker.stop()
            broker.start()
        eventually(lambda: subscribed(agent, 2))
        again = take_numbers(inbox, 3)
        assert [m.arrival_us for m in again] == [m.arrival_us for m in first[2:]]
        assert agent.facts().oldest_unacknowledged_us == first[2].arrival_us
        assert {m.generation for m in again} == {2}

        stored = [reading for m in first for reading in points.read(m).readings]
        assert len(set(stored)) == 5
        assert [reading for m in again for reading in points.read(m).readings] == stored[2:]

        agent.acknowledge(again)
        with peer(broker.port) as publisher:
            publisher.publish("plant/m", pack)
        (new,) = take_numbers(inbox, 1)
        assert new.arrival_us > first[4].arrival_us


@needs_mosquitto
@pytest.mark.parametrize(
    "spoil",
    [
        pytest.param((b"12.5", b"13.5"), id="another payload"),
        pytest.param((b"\x3a\x11\x00\x07plant/m", b"\x32\x11\x00\x07plant/m"), id="no duplicate flag"),
    ],
)
def test_what_may_be_another_message_has_its_own_arrival(tmp_path: Path, spoil: tuple[bytes, bytes]) -> None:
    with (
        Mosquitto(tmp_path) as broker,
        Passage(broker.port) as passage,
        connection(passage.port) as (agent, inbox),
    ):
        with peer(broker.port) as publisher:
            publisher.publish("plant/m", b"12.5 ")
        (first,) = take_numbers(inbox, 1)
        passage.spoil = spoil
        passage.cut()
        eventually(lambda: subscribed(agent, 2))
        (second,) = take_numbers(inbox, 1)
        assert second.mid == first.mid
        assert second.arrival_us > first.arrival_us


@needs_mosquitto
def test_a_new_session_has_no_first_arrivals(tmp_path: Path) -> None:
    """Its packet ids start again: message 1 is another one, though it looks the same."""
    with (
        Mosquitto(tmp_path, persistence=False) as broker,
        Passage(broker.port) as passage,
        connection(passage.port) as (agent, inbox),
    ):
        publish_numbers(broker.port, range(1))
        (lost,) = take_numbers(inbox, 1)
        broker.stop()
        broker.start()
        eventually(lambda: subscribed(agent, 2))
        publish_numbers(broker.port, range(1))
        (new,) = take_numbers(inbox, 1)
        passage.cut()
        eventually(lambda: subscribed(agent, 3))
        (again,) = take_numbers(inbox, 1)
        assert lost[1:5] == new[1:5] == again[1:5]
        assert lost.arrival_us < new.arrival_us == again.arrival_us


@needs_mosquitto
def test_a_topic_that_is_not_utf_8_is_told_and_acknowledged(tmp_path: Path) -> None:
    """mosquitto 2.0.11 cuts off who publishes to one, so the line spoils it here."""
    with Mosquitto(tmp_path) as broker:
        with (
            Passage(broker.port, spoil=(b"plant/m", b"plant/\xff")) as passage,
            connection(passage.port) as (agent, inbox),
        ):
            publish_numbers(broker.port, range(1))
            (message,) = take_numbers(inbox, 1)
            assert message.topic == "plant/\\xff"
            decoded = PointMap({("plant/m", "suction_pipe"): Point(1, (11,))}, 7, 0).read(message)
            assert decoded.counts == {"unmapped": 1}
            assert agent.facts().callback_errors == 0
            agent.acknowledge([message])
            assert agent.facts().oldest_unacknowledged_us is None
        with connection(broker.port, expect_session=True) as (_, inbox):
            publish_numbers(broker.port, range(1, 2))
            assert numbers_of(take_numbers(inbox, 1)) == [1]


@needs_mosquitto
def test_old_acknowledgements_do_not_reach_the_messages_of_a_new_session(tmp_path: Path) -> None:
    """Packet ids start again at 1, so each late acknowledgement would hit a message nobody has stored."""
    gaps: list[tuple[int | None, int]] = []
    with Mosquitto(tmp_path, persistence=False) as broker:
        with connection(broker.port, on_session_lost=lambda *gap: gaps.append(gap)) as (agent, inbox):
            publish_numbers(broker.port, range(20))
            old = take_numbers(inbox, 20)
            broker.stop()
            broker.start()
            eventually(lambda: subscribed(agent, 2))
            publish_numbers(broker.port, range(100, 120))
            new = take_numbers(inbox, 20)
            assert [m.mid for m in new] == [m.mid for m in old]
            agent.acknowledge(old)
            assert agent.facts().acks_dropped == 20
            assert agent.facts().sessions_lost == 1
            ((since_us, until_us),) = gaps
            assert since_us is not None
            assert since_us < until_us
        with connection(broker.port, expect_session=True) as (_, inbox):
            assert numbers_of(take_numbers(inbox, 20)) == list(range(100, 120))


@needs_mosquitto
def test_a_session_is_only_missed_by_who_had_one(tmp_path: Path) -> None:
    gaps: list[tuple[int | None, int]] = []
    with Mosquitto(tmp_path) as broker:
        with connection(broker.port) as (agent, _):
            assert agent.facts().sessions_lost == 0
        with connection(
            broker.port,
            client_id="dewline-other",
            expect_session=True,
            on_session_lost=lambda *gap: gaps.append(gap),
        ) as (agent, _):
            eventually(lambda: gaps)
            assert agent.facts().sessions_lost == 1
    assert [since_us for since_us, _ in gaps] == [None]


@needs_mosquitto
def test_a_retained_message_is_not_delivered_again_on_reconnect(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker:
        with peer(broker.port) as publisher:
            publisher.publish("plant/m", b"1", retain=True)
        with connection(broker.port) as (agent, inbox):
            (message,) = take_numbers(inbox, 1)
            assert message.retain
            agent.acknowledge([message])
            broker.stop()
            broker.start()
            eventually(lambda: subscribed(agent, 2))
            publish_numbers(broker.port, range(2, 3))
            assert numbers_of(take_numbers(inbox, 1)) == [2]


@needs_mosquitto
def test_online_while_connected_and_offline_after_a_goodbye(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, peer(broker.port, STATUS) as watcher:
        with connection(broker.port):
            eventually(lambda: [payload for _, payload, _ in watcher.seen] == [ONLINE])
        eventually(lambda: [payload for _, payload, _ in watcher.seen] == [ONLINE, OFFLINE])
        with peer(broker.port, STATUS) as later:
            eventually(lambda: later.seen == [(STATUS, OFFLINE, True)])


@needs_mosquitto
def test_the_will_says_offline_for_an_agent_that_is_gone(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path) as broker,
        peer(broker.port, STATUS) as watcher,
        Passage(broker.port) as passage,
        connection(passage.port) as (agent, _),
    ):
        eventually(lambda: watcher.seen)
        passage.cut()
        eventually(lambda: [payload for _, payload, _ in watcher.seen][:2] == [ONLINE, OFFLINE])
        eventually(lambda: subscribed(agent, 2))
        eventually(lambda: watcher.seen[-1][1] == ONLINE)


@needs_mosquitto
def test_publishes_under_its_own_prefix_and_nowhere_else(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path) as broker,
        peer(broker.port, "dewline/roof/#") as watcher,
        connection(broker.port, subscriptions=("#",)) as (agent, inbox),
    ):
        for topic in ("plant/m/setpoint", "dewline", "dewline/", "dewlineX/a", "dewline/+", "dewline/#", ""):
            with pytest.raises(ValueError, match="right is a topic under"):
                agent.publish(topic, b"1")
        assert agent.publish("dewline/roof/m1/assessment", b"{}")
        eventually(lambda: watcher.seen == [("dewline/roof/m1/assessment", b"{}", False)])
        publish_numbers(broker.port, range(1))
        (message,) = take_numbers(inbox, 1)
        assert message.topic == "plant/m"  # and nothing that the agent itself has published


@needs_mosquitto
def test_publishes_of_an_outage_are_kept_up_to_a_bound(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, connection(broker.port, max_queued_messages=10) as (agent, _):
        broker.stop()
        eventually(lambda: not agent.facts().connected)
        kept = [agent.publish(f"dewline/roof/{number}", b"%d" % number) for number in range(15)]
        room = sum(kept)
        assert room in (9, 10)  # the word that it is online may still be on its way, and takes a place
        assert kept == [True] * room + [False] * (15 - room)
        assert agent.facts().publishes_dropped == 15 - room
        broker.start()
        eventually(lambda: agent.facts().connected)
        with peer(broker.port, "dewline/#") as later:
            eventually(lambda: len(later.seen) == room + 1)
            assert (STATUS, ONLINE, True) in later.seen


@needs_mosquitto
def test_waits_for_a_broker_that_is_not_there_yet(tmp_path: Path) -> None:
    broker = Mosquitto(tmp_path)
    inbox = Inbox(1_000_000)
    agent = Connection(settings(broker.port), inbox, Clock())
    agent.start()
    try:
        assert agent.publish("dewline/roof/m1", b"early")
        nobody = f"no connection to 127.0.0.1:{broker.port}: Connection refused"
        eventually(lambda: agent.facts().last_reason == nobody)
        assert agent.facts().unreachable >= 1 and agent.facts().turned_away == 0
        with broker:
            eventually(lambda: agent.facts().connected)
            with peer(broker.port, "dewline/roof/#") as watcher:
                eventually(lambda: [payload for _, payload, _ in watcher.seen] == [b"early"])
            agent.stop()
    finally:
        agent.stop()


def test_stopping_without_a_broker_ends_at_once() -> None:
    agent = Connection(settings(free_port()), Inbox(1_000_000), Clock())
    agent.start()
    agent.stop()
    assert not agent.facts().connected
    assert not agent.publish("dewline/roof/m1", b"late")


@needs_mosquitto
def test_shedding_loses_nothing(tmp_path: Path) -> None:
    """An inbox of a few messages, a burst of thousands, and a writer that stands still and then is slow."""
    count = 4_000
    with (
        Mosquitto(tmp_path) as broker,
        connection(broker.port, Inbox(5_000), keepalive_s=3) as (agent, inbox),
        peer(broker.port, STATUS) as watcher,
    ):
        publish_numbers(broker.port, range(count), pad=20)
        eventually(lambda: agent.facts().sheds == 1)
        eventually(lambda: not agent.facts().connected)
        assert agent.facts().last_reason == "inbox full"
        eventually(lambda: watcher.seen[-1][1] == OFFLINE)
        stored: list[int] = []
        arrivals: set[tuple[bytes, int]] = set()
        while len(set(stored)) < count:
            batch = inbox.take(40, 0.05)
            time.sleep(0.002)
            stored += numbers_of(batch)
            arrivals.update((message.payload, message.arrival_us) for message in batch)
            agent.acknowledge(batch)
        assert sorted(set(stored)) == list(range(count))
        facts = agent.facts()
        assert (facts.sessions_lost, facts.callback_errors) == (0, 0)
        assert facts.connects == facts.sheds + 1
        assert facts.acks_dropped == len(stored) - count  # each of them came again, and no other
        assert len(arrivals) == count


@needs_mosquitto
def test_a_callback_that_fails_is_counted_and_the_next_message_still_comes(tmp_path: Path) -> None:
    class Broken(Inbox):
        failures = 1

        def put(self, message: Message, timeout_s: float) -> bool:
            if self.failures:
                self.failures -= 1
                raise OSError("no room for this one")
            return super().put(message, timeout_s)

    with Mosquitto(tmp_path) as broker, connection(broker.port, Broken(1_000_000)) as (agent, inbox):
        publish_numbers(broker.port, range(2))
        assert numbers_of(take_numbers(inbox, 1)) == [1]
        assert agent.facts().callback_errors == 1


@needs_mosquitto
def test_messages_after_the_inbox_is_closed_are_left_to_the_next_start(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker:
        with connection(broker.port) as (agent, inbox):
            inbox.close()
            publish_numbers(broker.port, range(3))
            eventually(lambda: agent.facts().last_arrival_us)
            assert agent.facts().sheds == 0
        with connection(broker.port, expect_session=True) as (_, inbox):
            assert numbers_of(take_numbers(inbox, 3)) == [0, 1, 2]


@needs_mosquitto
def test_wrong_credentials_are_told_and_tried_again(tmp_path: Path) -> None:
    passwords = tmp_path / "passwords"
    tmp_path.mkdir(exist_ok=True)
    passwords.write_text("")
    with Mosquitto(tmp_path, config=f"password_file {passwords}") as broker:
        agent = Connection(settings(broker.port, username="a", password="b"), Inbox(1_000_000), Clock())
        agent.start()
        try:
            eventually(lambda: agent.facts().last_reason == "Not authorized")
            assert agent.facts().protocol == "5"
            assert agent.facts().turned_away >= 1 and agent.facts().unreachable == 0
        finally:
            agent.stop()


def test_falls_back_to_3_1_1_where_the_broker_closes_on_version_5() -> None:
    """A broker whose only listener speaks 3.1.1: it closes the connection without an answer."""
    port = free_port()
    with Broker(port=port, listen="127.0.0.1"):
        agent = Connection(settings(port), Inbox(1_000_000), Clock())
        agent.start()
        try:
            assert agent.publish("dewline/roof/m1", b"before the version was known")
            eventually(lambda: agent.facts().connected)
            assert agent.facts().protocol == "3.1.1"
            with peer(port, "dewline/#") as watcher:
                eventually(lambda: len(watcher.seen) == 2)
                assert {payload for _, payload, _ in watcher.seen} == {
                    b"before the version was known",
                    ONLINE,
                }
        finally:
            agent.stop()


def test_3_1_1_keeps_what_was_not_acknowledged() -> None:
    port = free_port()
    with Broker(port=port, listen="127.0.0.1"):
        with connection(port) as (agent, inbox):
            publish_numbers(port, range(20))
            agent.acknowledge(take_numbers(inbox, 20)[:12])
        publish_numbers(port, range(20, 30))
        with connection(port, expect_session=True) as (agent, inbox):
            assert numbers_of(take_numbers(inbox, 18)) == list(range(12, 30))
            assert (agent.facts().protocol, agent.facts().sessions_lost) == ("3.1.1", 0)


@needs_mosquitto
def test_falls_back_to_3_1_1_where_the_broker_refuses_version_5(tmp_path: Path) -> None:
    with (
        Mosquitto(tmp_path) as broker,
        Passage(broker.port, refuse_version_5=True) as passage,
        connection(passage.port) as (agent, inbox),
    ):
        assert agent.facts().protocol == "3.1.1"
        publish_numbers(broker.port, range(3))
        assert numbers_of(take_numbers(inbox, 3)) == [0, 1, 2]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"client_id": ""}, "client_id is empty"),
        ({"session_expiry_s": 0}, "session_expiry_s is 0"),
        ({"keepalive_s": 0}, "keepalive_s is 0"),
        ({"receive_maximum": 70_000}, "receive_maximum is 70000"),
        ({"prefix": ""}, 'prefix is ""'),
        ({"prefix": "dewline"}, 'ends in "/"'),
        ({"prefix": "+/"}, "no wildcards"),
        ({"status_topic": "plant/status"}, 'topic is "plant/status"'),
        ({"subscriptions": ()}, "subscriptions is empty"),
        ({"subscriptions": ("plant/#/m",)}, 'filter "plant/#/m"'),
        ({"subscriptions": ("plant/m+",)}, 'filter "plant/m\\+"'),
        ({"subscriptions": ("",)}, 'filter ""'),
    ],
)
def test_settings_a_broker_would_misunderstand(change: dict, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        settings(1883, **change)


def test_a_password_is_not_shown() -> None:
    assert "secret" not in repr(settings(1883, username="a", password="secret"))


class Passage:
    """Passes bytes between an agent and a real broker. It can cut the line, as a network does; it can answer
    a version 5 CONNECT with "unacceptable protocol version", as MQTT 3.1.1 section 3.1.2.2 asks; and it can
    put other bytes of the same length in what the broker sends."""

    def __init__(
        self, broker_port: int, refuse_version_5: bool = False, spoil: tuple[bytes, bytes] | None = None
    ) -> None:
        self._broker_port = broker_port
        self.spoil = spoil
        self._refuse_version_5 = refuse_version_5
        self._server = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._server.getsockname()[1])
        self._lines: list[socket.socket] = []
        self._threads = [threading.Thread(target=self._serve)]

    def __enter__(self) -> "Passage":
        self._threads[0].start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown(socket.SHUT_RDWR)
        self.cut()
        for thread in self._threads:
            thread.join(PATIENCE_S)
        for line in (self._server, *self._lines):
            line.close()

    def cut(self) -> None:
        for line in self._lines:
            with contextlib.suppress(OSError):
                line.shutdown(socket.SHUT_RDWR)

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                agent, _ = self._server.accept()
                self._lines.append(agent)
                first = agent.recv(65_536)
                if self._refuse_version_5 and first[first.index(b"MQTT") + 4] == 5:
                    agent.sendall(bytes([0x20, 2, 0, 1]))
                    agent.shutdown(socket.SHUT_RDWR)
                    continue
                broker = socket.create_connection(("127.0.0.1", self._broker_port))
                self._lines.append(broker)
                broker.sendall(first)
                for source, target in ((agent, broker), (broker, agent)):
                    pump = threading.Thread(target=self._pump, args=(source, target, source is broker))
                    self._threads.append(pump)
                    pump.start()

    def _pump(self, source: socket.socket, target: socket.socket, from_broker: bool) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65_536):
                target.sendall(data.replace(*self.spoil) if self.spoil and from_broker else data)
        with contextlib.suppress(OSError):
            target.shutdown(socket.SHUT_RDWR)


@needs_mosquitto
def test_who_looks_on_hears_everything_and_leaves_no_trace(tmp_path: Path) -> None:
    with Mosquitto(tmp_path, "log_type all") as broker, peer(broker.port, "#") as other:
        other.publish("plant/old", b"kept", retain=True)
        with connection(broker.port, client_id="dewline-a1") as (agent, inbox):
            watcher = {"client_id": "dewline-a1-listen", "subscriptions": ("plant/#",), "looks_on": True}
            with connection(broker.port, **watcher) as (looking, heard):
                eventually(lambda: len(heard) == 1)
                other.publish("plant/m", b"1")
                eventually(lambda: len(heard) == 2)
                messages = heard.take(10, 0)
                assert [(m.payload, m.retain) for m in messages] == [(b"kept", True), (b"1", False)]
                looking.acknowledge(messages)
                with pytest.raises(RuntimeError, match="looks on"):
                    looking.publish("dewline/roof/m1", b"no")
            assert len(inbox) == 2 and agent.facts().disconnects == 0
            assert agent.facts().oldest_unacknowledged_us is not None
        eventually(lambda: (STATUS, OFFLINE, False) in other.seen)
        said = [payload for topic, payload, _ in other.seen if topic == STATUS]
        assert said == [ONLINE, OFFLINE], "only the agent's own"
    log = (tmp_path / "mosquitto.log").read_text()
    assert "as dewline-a1-listen (p5, c1," in log and "Received PUBLISH from dewline-a1-listen" not in log


@needs_mosquitto
def test_who_looks_on_is_no_loss_of_a_session_after_the_broker_restarts(tmp_path: Path) -> None:
    with Mosquitto(tmp_path) as broker, connection(broker.port, looks_on=True) as (looking, _):
        broker.stop()
        broker.start()
        eventually(lambda: subscribed(looking, 2))
        assert looking.facts().sessions_lost == 0


@pytest.mark.parametrize(
    ("topic_filter", "topic", "covered"),
    [("plant/#", "plant/a/b", True), ("plant/+", "plant/a/b", False), ("plant/a", "plant/a", True)],
)
def test_what_a_filter_covers(topic_filter: str, topic: str, covered: bool) -> None:
    """MQTT 5, section 4.7.1."""
    assert covers(topic_filter, topic) is covered


def test_what_the_configuration_no_longer_names_is_not_heard_any_more(tmp_path: Path) -> None:
    """The broker keeps the subscriptions of a kept session until they are taken back."""
    with Mosquitto(tmp_path) as broker:
        with connection(broker.port, subscriptions=("plant/+", "old/#")):
            pass
        with connection(broker.port, subscriptions=("plant/+",), ended=("old/#",)) as (_, inbox):
            peer = Peer(broker.port)
            peer.publish("old/m", b"1")
            peer.publish("plant/m", b"2")
            peer.close()
            eventually(lambda: len(inbox))
            assert [message.topic for message in inbox.take(10, 1.0)] == ["plant/m"]

"""What it takes to take in a reading, and how many bytes go to the disk for it.

A real broker holds the same messages for the agent's intake and for a floor: an empty callback of the same
library, orjson, and bare sqlite3 that is given the same rows, in transactions of the same size. The publisher
is a process of its own. `python -m tests.benchmarks.intake --readings 1 --profile` says where the time goes.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import sqlite3
import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing
from itertools import islice
from pathlib import Path
from statistics import median
from typing import Any

import orjson
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from agent.intake import Connection, Inbox
from agent.outlets import Metrics
from agent.service.agent import INBOX_BYTES
from agent.service.intaking import intake_of
from agent.service.machine.broker import broker_settings
from agent.service.machine.clock import now_us
from agent.service.work.registering import register
from agent.settings import Plan, load
from agent.store import Added, Store
from demo_feed.publisher import Publisher
from tests.benchmarks.plant import PATIENCE_S, apart, wait
from tests.benchmarks.rows import Row, cpu_s
from tests.mosquitto import Mosquitto
from tests.service.site import SECOND_US, configuration, write

MODULES = 20
SIGNALS = 20
SESSION_S = 3600
BARE_READINGS = """
    CREATE TABLE reading (sample_us, signal_id, value, unit, arrival_us, mapping_id,
    PRIMARY KEY (sample_us, signal_id)) WITHOUT ROWID
"""


def report(quick: bool) -> Iterator[Row]:
    yield taken_in(4_000 if quick else 20_000, 1, 3 if quick else 5)
    yield taken_in(1_000 if quick else 10_000, 20, 3 if quick else 5)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--readings", type=int, choices=(1, 20), default=1, help="in a message")
    parser.add_argument("--messages", type=int, default=20_000)
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--profile", action="store_true", help="also say where the time goes")
    asked = parser.parse_args()
    print(*taken_in(asked.messages, asked.readings, asked.runs, profile=asked.profile), sep=" | ")


def taken_in(messages: int, per_message: int, runs: int, *, profile: bool = False) -> Row:
    taken = [_in_turn(messages, per_message, profile) for _ in range(runs)]
    ours, floors, batches = zip(*taken, strict=True)
    readings = messages * per_message
    each, floor = (median(times) / readings * 1e6 for times in (ours, floors))
    sizes = [size for each in batches for size in each]
    return Row(
        f"intake at {per_message} a message, {sum(sizes) / len(sizes):.0f} readings a commit",
        f"{each:.1f} us a reading",
        f"{floor:.1f} us: empty callback, orjson, bare sqlite3",
        each / floor,
        "1.5",
    )


def _in_turn(messages: int, per_message: int, profile: bool) -> tuple[float, float, list[int]]:
    """Processor time in s of ours and of the floor, and how many readings each commit had."""
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="intake-")))
        broker = stack.enter_context(Mosquitto(folder / "broker"))
        agent = stack.enter_context(Taken(folder, broker.port))
        bare = Bare(folder, broker.port)
        agent.subscribe()
        bare.subscribe()
        apart(_publish, broker.port, messages, per_message)
        agent.ready()
        ours = cpu_s(lambda: agent.take(messages * per_message, profile))
        bare.rows, bare.batches = agent.stored(), agent.batches
        return ours, cpu_s(bare.take), agent.batches


def site(folder: Path, port: int) -> Plan:
    signals = {f"probe_{n}": {"unit": "degC", "accuracy": 0.5, "step": 0.1} for n in range(SIGNALS)}
    modules = {f"m[1..{MODULES}]": {"layout": "unknown", "signal_set": "polled"}}
    body = configuration(
        broker={"telemetry": "plant", "port": port},
        signal_sets={"polled": {"every_s": 30, "max_age_s": 120, "signals": signals}},
        systems={"one": {"refrigerant": "R-410A", "modules": modules}},
    )
    return load(write(folder, body))


def _publish(port: int, messages: int, per_message: int) -> None:
    with Publisher("127.0.0.1", port, threading.Event()) as publisher:
        for topic, payload in _messages(messages, per_message, now_us() - messages * SECOND_US):
            publisher.publish(topic, payload)
        assert publisher.drain(PATIENCE_S)


def _messages(number: int, per_message: int, start_us: int) -> Iterator[tuple[str, bytes]]:
    """A poll of every module each second, its signals in as many messages as it takes."""
    parts = [range(first, first + per_message) for first in range(0, SIGNALS, per_message)]
    for each in range(number):
        poll, part = divmod(each, len(parts) * MODULES)
        module, part = divmod(part, len(parts))
        head = {"bt": (start_us + poll * SECOND_US) / 1e6}
        records = [{"n": f"probe_{n}", "v": round(4 + n + poll % 50 / 10, 1)} for n in parts[part]]
        yield f"plant/hill-house/one/m{module + 1}", orjson.dumps([head | records[0], *records[1:]])


class Taken:
    """The agent's intake: broker, inbox, decoders, store, acknowledgement."""

    def __init__(self, folder: Path, port: int) -> None:
        self.plan = site(folder, port)
        self.store = CountedStore.open(self.plan.store_url)
        self.watched = register(self.store, self.plan, now_us())

    def __enter__(self) -> Taken:
        return self

    def __exit__(self, *_: object) -> None:
        self.store.close()

    @property
    def batches(self) -> list[int]:
        return self.store.batches

    def subscribe(self) -> None:
        connection = Connection(broker_settings(self.plan, {}), Inbox(INBOX_BYTES), now_us)
        connection.start()
        wait(lambda: connection.facts().subscribed, "the broker to answer the subscription")
        connection.stop()

    def ready(self) -> None:
        """All that is there before the first message comes."""
        self.inbox = Inbox(INBOX_BYTES)
        self.connection = Connection(broker_settings(self.plan, {}), self.inbox, now_us)
        metrics = Metrics(now_us, 60 * SECOND_US, {})
        self.intake = intake_of(
            self.store, self.plan, self.watched, self.inbox, self.connection, metrics, now_us()
        )

    def take(self, readings: int, profile: bool) -> None:
        profiler = cProfile.Profile()

        def run() -> None:
            if profile:
                profiler.runcall(self.intake.run, threading.Event())
            else:
                self.intake.run(threading.Event())

        thread = threading.Thread(target=run)
        thread.start()
        self.connection.start()
        wait(lambda: sum(self.store.batches) >= readings, "all readings stored", 0.1)
        wait(lambda: self.connection.facts().oldest_unacknowledged_us is None, "all acknowledged", 0.1)
        self.connection.stop()
        self.inbox.close()
        thread.join()
        if profile:
            pstats.Stats(profiler).sort_stats("tottime").print_stats(25)

    def stored(self) -> list[tuple[object, ...]]:
        with closing(sqlite3.connect(self.store.path)) as connection:
            return connection.execute("SELECT * FROM reading ORDER BY arrival_us, sample_us").fetchall()


class CountedStore(Store):
    """Knows how large the batches were."""

    @property
    def batches(self) -> list[int]:
        return self.__dict__.setdefault("_batches", [])

    def add_batch(self, batch: Any, *rest: Any) -> Added:
        added = super().add_batch(batch, *rest)
        self.batches.append(added.stored)
        return added


class Bare:
    """The floor."""

    def __init__(self, folder: Path, port: int) -> None:
        self.port = port
        self.path = folder / "bare.db"
        self.rows: Sequence[tuple[object, ...]] = ()
        self.batches: Sequence[int] = ()

    def client(self) -> Client:
        client = Client(CallbackAPIVersion.VERSION2, client_id="bare", protocol=MQTTProtocolVersion.MQTTv5)
        properties = Properties(PacketTypes.CONNECT)
        properties.SessionExpiryInterval = SESSION_S
        properties.ReceiveMaximum = 1000
        client.connect_async("127.0.0.1", self.port, clean_start=False, properties=properties)
        return client

    def subscribe(self) -> None:
        subscribed = threading.Event()
        client = self.client()
        client.on_connect = lambda *_: client.subscribe("plant/#", options=SubscribeOptions(qos=1))
        client.on_subscribe = lambda *_: subscribed.set()
        client.loop_start()
        assert subscribed.wait(PATIENCE_S)
        client.disconnect()
        client.loop_stop()

    def take(self) -> None:
        with closing(sqlite3.connect(self.path, isolation_level=None, check_same_thread=False)) as store:
            store.execute("PRAGMA journal_mode = WAL")
            store.execute("PRAGMA synchronous = NORMAL")
            store.execute(BARE_READINGS)
            done = threading.Event()
            sizes = iter(self.batches)
            rows = iter(self.rows)
            waiting, size = 0, next(sizes)

            def keep(_: Client, __: object, message: MQTTMessage) -> None:
                nonlocal waiting, size
                waiting += len(orjson.loads(message.payload))
                while size and waiting >= size:
                    store.execute("BEGIN IMMEDIATE")
                    store.executemany("INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?)", islice(rows, size))
                    store.execute("COMMIT")
                    waiting, size = waiting - size, next(sizes, 0)
                if not size:
                    done.set()

            client = self.client()
            client.on_message = keep
            client.loop_start()
            assert done.wait(PATIENCE_S)
            client.disconnect()
            client.loop_stop()


if __name__ == "__main__":
    main()

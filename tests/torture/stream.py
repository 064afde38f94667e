"""The stream that a trial is fed with: a recording of the invented site, disordered, published at QoS 1.

Knows nothing of agents and stores.
"""

import json
import subprocess
import sys
import threading
import time
from collections.abc import Iterable, Sequence
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import NamedTuple

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

from tests.service.processes import eventually

SEED = "quince"
SYSTEMS = {"north": ["n2"], "east": ["e1"]}  # liquid returns to one, the other hunts, stops and starts
TOPICS = {f"plant/quince-court/{system}/{name}" for system, names in SYSTEMS.items() for name in names}
MOST_LATE_US = 40_000_000  # of a live message

ReadingKey = tuple[str, str, int, float | str]  # owner, signal, sample time, value


class Message(NamedTuple):
    sample_us: int
    topic: str
    payload: str


class Due(NamedTuple):
    due_us: int  # not before that; of the past: at its turn
    message: Message


def now_us() -> int:
    return time.time_ns() // 1000


def record(path: Path, end_us: int, backlog: str, live_s: int) -> list[Message]:
    """The past up to `end_us` and what comes after it, in order."""
    command = [sys.executable, "-m", "demo_feed", "--record", str(path), "--seed", SEED]
    command += ["--backlog", backlog, "--end", str(end_us / 1e6), "--for", str(live_s)]
    subprocess.run(command, check=True, timeout=120, capture_output=True)
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    found = [
        Message(_sample_us(line["payload"]), line["topic"], line["payload"])
        for line in lines
        if line["topic"] in TOPICS
    ]
    return sorted(found)


def _sample_us(payload: str) -> int:
    return int(json.loads(payload, parse_float=Decimal)[0]["bt"] * 1_000_000)


def readings_of(messages: Iterable[Message]) -> set[ReadingKey]:
    """Every record of the messages: read here anew, not by the agent's decoder."""
    found: set[ReadingKey] = set()
    for sample_us, topic, payload in messages:
        owner = topic.removeprefix("plant/")
        for each in json.loads(payload):
            found.add((owner, each["n"], sample_us, each["vs"] if "vs" in each else float(each["v"])))
    return found


def in_order(messages: Iterable[Message]) -> list[Due]:
    return [Due(message.sample_us, message) for message in messages]


def disordered(messages: Sequence[Message], end_us: int, chance: Random) -> list[Due]:
    """Batches of the past that are late, doubled or shuffled; of what is live, some late and some doubled."""
    past = [message for message in messages if message.sample_us <= end_us]
    batches: list[tuple[float, list[Message]]] = []
    start = 0
    while start < len(past):
        batch = past[start : start + chance.randint(5, 60)]
        start += len(batch)
        place = float(start)
        if chance.random() < 0.2:
            chance.shuffle(batch)
        if chance.random() < 0.2:
            place += chance.uniform(0, len(past) / 2)  # hours late
        batches.append((place, batch))
        if chance.random() < 0.15:
            batches.append((place + chance.uniform(0, len(past) / 4), batch))
    batches.sort(key=lambda each: each[0])
    schedule = [Due(message.sample_us, message) for _, batch in batches for message in batch]
    live = []
    for message in messages[len(past) :]:
        late_us = chance.randrange(MOST_LATE_US) if chance.random() < 0.2 else 0
        live.append(Due(message.sample_us + late_us, message))
        if chance.random() < 0.1:
            live.append(Due(message.sample_us + chance.randrange(MOST_LATE_US), message))
    return schedule + sorted(live)


class Feed:
    """Publishes a schedule from a thread of its own: the past within `past_s`, then each message when due."""

    def __init__(self, port: int, schedule: Sequence[Due], end_us: int, past_s: float) -> None:
        self._schedule = schedule
        self._past = sum(each.message.sample_us <= end_us for each in schedule)
        self._pause_s = past_s / self._past
        # With packet ids: there are more of them than messages, so none is used twice.
        self._sent: list[tuple[int, Message]] = []
        self._acknowledged: set[int] = set()
        self._stop = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.max_inflight_messages_set(50)
        self._client.reconnect_delay_set(1, 1)
        self._client.on_publish = lambda client, data, packet_id, *_: self._acknowledged.add(packet_id)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._run, name="feed")
        self._thread.start()

    @property
    def share(self) -> float:
        """How much of the past has been handed over."""
        return len(self._sent) / self._past

    def acknowledged(self) -> list[Message]:
        """What the broker has said it has."""
        return [message for packet_id, message in list(self._sent) if packet_id in self._acknowledged]

    def end(self) -> int:
        """Publish at once what is still held back, but nothing that is not yet due; returns the end's time.

        Every message sampled before it has then been acknowledged by the broker.
        """
        self._stop.set()
        self._thread.join()
        ended_us = now_us()
        for _, message in self._schedule[len(self._sent) :]:
            if message.sample_us <= ended_us:
                self._publish(message)
        eventually(lambda: len(self._acknowledged) >= len(self._sent), "the broker to acknowledge all")
        return ended_us

    def close(self) -> None:
        self._stop.set()
        self._thread.join()
        self._client.disconnect()
        self._client.loop_stop()
        self._client.on_publish = None

    def _run(self) -> None:
        began = time.monotonic()
        for number, (due_us, message) in enumerate(self._schedule):
            if number < self._past:
                wait_s = began + number * self._pause_s - time.monotonic()
            else:
                wait_s = (due_us - now_us()) / 1e6
            if self._stop.wait(max(wait_s, 0.0)):
                return
            self._publish(message)

    def _publish(self, message: Message) -> None:
        sent = self._client.publish(message.topic, message.payload, qos=1)  # without a connection it waits
        self._sent.append((sent.mid, message))

"""The agent and the simulated gateway as processes, and a client that listens; what starts here ends here."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TypeVar

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion

PATIENCE_S = 60.0
DEWLINE = [str(Path(sys.executable).with_name("dewline"))]


Met = TypeVar("Met")


def eventually(
    met: Callable[[], Met], what: str = "what is asked for", patience_s: float = PATIENCE_S
) -> Met:
    """What is met in the end."""
    deadline = time.monotonic() + patience_s
    while not (found := met()):
        assert time.monotonic() < deadline, f"waited {patience_s:.0f} s in vain: {what}"
        time.sleep(0.05)
    return found


@contextmanager
def process(arguments: list[str], log: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A process in a group of its own, killed with all its children at the end."""
    with log.open("ab") as output:
        started = subprocess.Popen(arguments, stdout=output, stderr=output, start_new_session=True)
    try:
        yield started
    finally:
        if started.poll() is None:
            started.kill()
        started.wait(10)
        if group_is_alive(started.pid):
            os.killpg(started.pid, signal.SIGKILL)


def group_is_alive(leader: int) -> bool:
    try:
        os.killpg(leader, 0)
    except ProcessLookupError:
        return False
    return True


def agent_on(config: Path) -> list[str]:
    return [*DEWLINE, "run", "-c", str(config)]


class Listener:
    """Keeps the last payload of each topic, and whether the broker keeps it too."""

    def __init__(self, port: int, topic_filter: str) -> None:
        self.last: dict[str, bytes] = {}
        self.retained: set[str] = set()
        ready = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=MQTTProtocolVersion.MQTTv5)
        self._client.on_subscribe = lambda *_: ready.set()
        self._client.on_message = lambda client, data, message: self._hear(message)
        self._client.connect("127.0.0.1", port)
        self._client.subscribe(topic_filter, qos=1)
        self._client.loop_start()
        assert ready.wait(PATIENCE_S), "the broker did not answer the subscription"

    def _hear(self, message: MQTTMessage) -> None:
        self.last[message.topic] = bytes(message.payload)
        if message.retain:
            self.retained.add(message.topic)

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()
        self._client.on_message = self._client.on_subscribe = None


@contextmanager
def listener(port: int, topic_filter: str) -> Iterator[Listener]:
    made = Listener(port, topic_filter)
    try:
        yield made
    finally:
        made.close()

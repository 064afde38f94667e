"""The one door to MQTT: sends at QoS 1, a bounded number unacknowledged, and counts what the broker took.

It must not know what it sends.
"""

import os
import threading
from types import TracebackType
from typing import Any, Self

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

UNACKNOWLEDGED_AT_MOST = 200
IN_FLIGHT_AT_MOST = 50
LOOK_AGAIN_S = 0.5  # how often a waiting call looks whether it should give up


class PublishError(Exception):
    """The broker cannot be reached or refuses what is sent."""


class Publisher:
    """Use as a context manager. `stop` set from elsewhere makes every waiting call return early."""

    def __init__(self, host: str, port: int, stop: threading.Event, patience_s: float = 30.0) -> None:
        self.acknowledged = 0
        self._sent = 0
        self._host, self._port, self._stop, self._patience_s = host, port, stop, patience_s
        self._changed = threading.Condition()
        self._connected = False
        self._no_entry = self._refusal = ""
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"demo-feed-{os.getpid()}",
            protocol=MQTTProtocolVersion.MQTTv5,
        )
        client.max_inflight_messages_set(IN_FLIGHT_AT_MOST)
        client.reconnect_delay_set(1, 5)
        client.on_connect, client.on_disconnect, client.on_publish = (
            self._on_connect,
            self._on_disconnect,
            self._on_ack,
        )
        self._client = client

    def __enter__(self) -> Self:
        """Connects, trying again for `patience_s`; raises PublishError after that."""
        self._client.connect_async(self._host, self._port)
        self._client.loop_start()
        tries = round(self._patience_s / LOOK_AGAIN_S)
        with self._changed:
            while tries and not self._stop.is_set():
                if self._changed.wait_for(lambda: self._connected, LOOK_AGAIN_S):
                    return self
                tries -= 1
        if self._stop.is_set():
            return self
        self._client.loop_stop()
        why = f"it refuses the connection: {self._no_entry}" if self._no_entry else "nothing answers there"
        raise PublishError(
            f"no MQTT 5 broker at {self._host}:{self._port} after {self._patience_s:.0f} s ({why}); "
            "start one there, name another with --host and --port, or add --broker"
        )

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def publish(self, topic: str, payload: bytes) -> None:
        """Hands one message over; waits while too many are unacknowledged. PublishError on a refusal."""
        with self._changed:
            while self._sent - self.acknowledged >= UNACKNOWLEDGED_AT_MOST and not self._stop.is_set():
                self._raise_refusal()
                self._changed.wait(LOOK_AGAIN_S)
            self._raise_refusal()
            if self._stop.is_set():
                return
            self._sent += 1
        self._client.publish(topic, payload, qos=1)

    def drain(self, give_up_after_s: float) -> bool:
        """Waits until the broker has acknowledged everything; False where it had not in time."""
        with self._changed:
            self._changed.wait_for(lambda: self._refusal or self._sent == self.acknowledged, give_up_after_s)
            self._raise_refusal()
            return self._sent == self.acknowledged

    def _raise_refusal(self) -> None:
        if self._refusal:
            raise PublishError(f"the broker at {self._host}:{self._port} refused a message: {self._refusal}")

    def _on_connect(
        self,
        _client: Client,
        _data: Any,
        _flags: ConnectFlags,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        with self._changed:
            self._connected = not reason.is_failure
            self._no_entry = str(reason) if reason.is_failure else ""
            self._changed.notify_all()

    def _on_disconnect(
        self,
        _client: Client,
        _data: Any,
        _flags: DisconnectFlags,
        _reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        with self._changed:
            self._connected = False

    def _on_ack(
        self, _client: Client, _data: Any, _mid: int, reason: ReasonCode, _properties: Properties | None
    ) -> None:
        with self._changed:
            if reason.is_failure:
                self._refusal = str(reason)
            else:
                self.acknowledged += 1
            self._changed.notify_all()

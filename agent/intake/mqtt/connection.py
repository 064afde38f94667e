"""The connection: what is said and done when it comes, brings a message, goes, or does not come about.

A message is acknowledged only when `acknowledge` says so, which is after its readings are committed; what
was not acknowledged comes again.

The network thread is the library's. Its callbacks take `_lock` only to read or set a few fields, and
nothing but `Client.ack` is called under it: the library holds locks of its own around `publish`.
"""

import contextlib
import logging
import ssl
import sys
import threading
from collections.abc import Callable, Iterable
from typing import Any

from paho.mqtt.client import (
    MQTT_ERR_NO_CONN,
    MQTT_ERR_QUEUE_SIZE,
    MQTT_ERR_SUCCESS,
    Client,
    ConnectFlags,
    DisconnectFlags,
    MQTTMessage,
)
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from agent.intake.inbox import Inbox, Message
from agent.intake.mqtt.facts import Facts
from agent.intake.mqtt.library import FIVE, THREE, build, cut, join, run, subscribe, topic_of
from agent.intake.mqtt.settings import BrokerSettings
from agent.intake.mqtt.tls_errors import tls_reason
from agent.intake.mqtt.unacknowledged import Unacknowledged

ONLINE = b"online"
OFFLINE = b"offline"

UNANSWERED_BEFORE_FALL_BACK = 3  # connections closed without an answer; a broker that restarts closes one
_UNSUPPORTED_VERSION = 0x84  # MQTT 5, section 3.2.2.2
_OF_THE_LOGIN = (0x86, 0x87)  # the same: bad user name or password, not authorized
_FAREWELL_S = 2.0
_SLICE_S = 0.5

_log = logging.getLogger(__name__)


class Connection:
    """Connects for as long as it takes, and again after each loss.

    `clock` gives the arrival time in us. `expect_session`: an earlier process has connected under this client
    id, so a broker that knows nothing of it has lost messages. `on_session_lost(since_us, now_us)` is told of
    each such gap, with None where it began before this process; it runs in the network thread: be quick.
    """

    def __init__(
        self,
        settings: BrokerSettings,
        inbox: Inbox,
        clock: Callable[[], int],
        *,
        expect_session: bool = False,
        on_session_lost: Callable[[int | None, int], None] | None = None,
    ) -> None:
        self._settings = settings
        self._inbox = inbox
        self._clock = clock
        self._expect_session = expect_session
        self._on_session_lost = on_session_lost

        self._client_lock = threading.Lock()  # which client there is; never taken in a callback
        self._client: Client | None = None
        self._protocol = FIVE
        self._stopping = threading.Event()
        self._ended = threading.Event()

        # Reentrant: with a network thread that died, ack() writes from its caller's and may call back.
        self._lock = threading.RLock()
        self._generation = 0
        self._live: Client | None = None  # None from a disconnect until the next connect
        self._unacknowledged = Unacknowledged()
        self._shedding = False
        self._unanswered = 0
        self._version_refused = False
        self._tls_reason: str | None = None  # why this try failed, where that is a matter of TLS
        self._tls_told: str | None = None
        self._down_since_us: int | None = None
        self._started_us = clock()
        self._last_reason: str | None = None
        self._last_arrival_us: int | None = None
        self._connects = 0
        self._answered = False
        self._disconnects = 0
        self._sessions_lost = 0
        self._sheds = 0
        self._callback_errors = 0
        self._acks_dropped = 0
        self._publishes_dropped = 0
        self._subscriptions_refused = 0
        self._unreachable_count = 0
        self._turned_away = 0

    def start(self) -> None:
        """Begins to connect, in threads of its own; a broker that is not there yet is waited for."""
        with self._client_lock:
            if self._client is not None or self._stopping.is_set():
                raise RuntimeError("a connection is started once")
            self._client = self._build()
            run(self._client, self._settings)

    def stop(self) -> None:
        """Says offline, disconnects and ends the threads; the broker keeps the session."""
        self._stopping.set()
        with self._client_lock:
            client, self._client = self._client, None
            if client is None:
                return
            if self._live is not None:
                if not self._settings.looks_on:
                    farewell = client.publish(self._settings.status_topic, OFFLINE, qos=1, retain=True)
                    with contextlib.suppress(RuntimeError, ValueError):
                        farewell.wait_for_publish(_FAREWELL_S)
                client.disconnect()
                if not self._ended.wait(_FAREWELL_S):
                    cut(client)
            else:
                client.disconnect()
            join(client)
        with self._lock:
            self._live = None  # so that the client goes now, and its sockets with it

    def acknowledge(self, messages: Iterable[Message]) -> None:
        """Tells the broker that these are safe. Of an earlier connection they are dropped: packet ids start
        again with a new session, and would acknowledge messages that nobody has stored."""
        for message in messages:
            with self._lock:
                if self._live is None or message.generation != self._generation:
                    self._acks_dropped += 1
                elif message.qos:
                    self._live.ack(message.mid, message.qos)
                    self._unacknowledged.acknowledge(message.mid)

    def publish(self, topic: str, payload: bytes, retain: bool = True) -> bool:
        """Sends at QoS 1, or queues while offline; False when the queue is full or the connection stopped.

        Raises ValueError for a topic outside the agent's own prefix, and RuntimeError where it only looks on.
        """
        if self._settings.looks_on:
            raise RuntimeError("a connection that looks on publishes nothing")
        self._settings.check_own(topic)
        with self._client_lock:
            if self._client is not None:
                sent = self._client.publish(topic, payload, qos=1, retain=retain)
                if sent.rc in (MQTT_ERR_SUCCESS, MQTT_ERR_NO_CONN):
                    return True
        with self._lock:
            self._publishes_dropped += 1
        return False

    def facts(self) -> Facts:
        with self._lock:
            return Facts(
                connected=self._live is not None,
                subscribed=self._live is not None and self._answered,
                protocol="5" if self._protocol == FIVE else "3.1.1",
                connects=self._connects,
                disconnects=self._disconnects,
                sessions_lost=self._sessions_lost,
                sheds=self._sheds,
                callback_errors=self._callback_errors,
                acks_dropped=self._acks_dropped,
                publishes_dropped=self._publishes_dropped,
                subscriptions_refused=self._subscriptions_refused,
                unreachable=self._unreachable_count,
                turned_away=self._turned_away,
                last_reason=self._last_reason,
                last_arrival_us=self._last_arrival_us,
                oldest_unacknowledged_us=self._unacknowledged.oldest_us,
                unconnected_since_us=None if self._live else (self._down_since_us or self._started_us),
            )

    def _build(self) -> Client:
        client = build(self._settings, self._protocol, OFFLINE, self._library_said)
        client.on_pre_connect = self._guarded(self._before_connect)
        client.on_connect = self._guarded(self._connected)
        client.on_subscribe = self._guarded(self._subscribed)
        client.on_message = self._guarded(self._received)
        client.on_disconnect = self._guarded(self._disconnected)
        client.on_connect_fail = self._guarded(self._unreachable)
        return client

    def _guarded(self, callback: Callable[..., None]) -> Callable[..., None]:
        def guarded(*arguments: Any) -> None:
            try:
                callback(*arguments)
            except Exception:
                with self._lock:
                    self._callback_errors += 1
                _log.exception("a callback of the broker's connection failed")

        return guarded

    def _library_said(self, record: logging.LogRecord) -> bool:
        """An alert of TLS comes with the first read, and the library tells it to its log alone."""
        for each in record.args or ():
            if isinstance(each, ssl.SSLError):
                self._tls_reason = tls_reason(each, self._settings.host)
        return False

    def _tell_tls(self) -> None:
        """Once, not with each try: tries go on."""
        if self._tls_reason is not None and self._tls_reason != self._tls_told:
            self._tls_told = self._tls_reason
            _log.warning(
                "no connection to %s:%s: %s", self._settings.host, self._settings.port, self._tls_reason
            )

    def _before_connect(self, client: Client, userdata: Any) -> None:
        self._tls_reason = None
        with self._lock:
            self._live = None

    def _connected(
        self,
        client: Client,
        userdata: Any,
        flags: ConnectFlags,
        reason_code: ReasonCode,
        properties: Properties | None,
    ) -> None:
        if reason_code.is_failure:
            with self._lock:
                self._version_refused = reason_code.value == _UNSUPPORTED_VERSION
                self._turned_away += not self._version_refused
                self._unanswered = -1  # this one has answered; its disconnect follows
                self._last_reason = str(reason_code)
            login = "; are user name and password right?" if reason_code.value in _OF_THE_LOGIN else ""
            _log.warning("the broker refused the connection: %s%s", reason_code, login)
            return
        now_us = self._clock()
        self._tls_told = None
        self._ended.clear()
        with self._lock:
            self._generation += 1
            self._live = client
            self._unacknowledged.begin(flags.session_present)
            self._connects += 1
            self._answered = False
            since_us = self._down_since_us
            lost = self._expect_session and not flags.session_present
            self._expect_session = not self._settings.looks_on
            self._sessions_lost += lost
        _log.info("connected to %s:%s", self._settings.host, self._settings.port)
        if self._stopping.is_set():
            client.disconnect()
            return
        subscribe(client, self._settings)
        if self._settings.looks_on:
            return
        born = client.publish(self._settings.status_topic, ONLINE, qos=1, retain=True)
        if born.rc == MQTT_ERR_QUEUE_SIZE:  # filled while offline; the will of then must not stand
            client.publish(self._settings.status_topic, ONLINE, qos=0, retain=True)
        if lost:
            _log.error("the broker has lost the session: what it held for this agent is gone")
            if self._on_session_lost is not None:
                self._on_session_lost(since_us, now_us)

    def _subscribed(
        self,
        client: Client,
        userdata: Any,
        mid: int,
        reason_codes: list[ReasonCode],
        properties: Properties | None,
    ) -> None:
        refused = [str(code) for code in reason_codes if code.is_failure]
        with self._lock:
            self._answered = True
        if refused:
            with self._lock:
                self._subscriptions_refused += len(refused)
                self._last_reason = f"subscription refused: {refused[0]}"
            _log.error("the broker refused %d subscriptions: %s", len(refused), refused[0])

    def _received(self, client: Client, userdata: Any, received: MQTTMessage) -> None:
        if self._stopping.is_set():
            return
        topic = topic_of(received)
        if topic.startswith(self._settings.prefix):  # a wide filter brings back what the agent published
            if not self._shedding:
                client.ack(received.mid, received.qos)
            return
        payload = bytes(received.payload)
        arrival_us = self._note_arrival(received, hash((topic, payload)))
        if self._shedding:
            return
        message = Message(
            self._generation, received.mid, received.qos, topic, payload, received.retain, arrival_us
        )
        if self._offer(message) or self._inbox.closed or self._stopping.is_set():
            return
        with self._lock:
            self._shedding = True
            self._sheds += 1
        _log.warning("the inbox is full: disconnecting until it has drained; the broker keeps the rest")
        cut(client)

    def _note_arrival(self, received: MQTTMessage, digest: int) -> int:
        """When the message arrived; where it comes again, when it did so first."""
        arrival_us = self._clock()
        with self._lock:
            self._last_arrival_us = arrival_us
            if received.qos:
                arrival_us = self._unacknowledged.arrive(received.mid, arrival_us, digest, again=received.dup)
        return arrival_us

    def _offer(self, message: Message) -> bool:
        """Waits for room, but not so long that the broker misses the keep-alive."""
        for _ in range(max(1, round(self._settings.keepalive_s / 3 / _SLICE_S))):
            if self._inbox.put(message, _SLICE_S):
                return True
            if self._inbox.closed or self._stopping.is_set():
                break
        return False

    def _disconnected(
        self,
        client: Client,
        userdata: Any,
        flags: DisconnectFlags,
        reason_code: ReasonCode,
        properties: Properties | None,
    ) -> None:
        with self._lock:
            was_live = self._live is not None
            self._live = None
            if was_live:
                self._disconnects += 1
                self._down_since_us = self._clock()
                self._last_reason = "inbox full" if self._shedding else str(reason_code)
            elif self._tls_reason is not None:
                self._last_reason = self._tls_reason
            else:
                self._unanswered += 1
                if self._unanswered > 0:
                    self._last_reason = f"closed without an answer: {reason_code}"
            fall_back = not self._connects and (
                self._version_refused or self._unanswered >= UNANSWERED_BEFORE_FALL_BACK
            )
        self._ended.set()
        _log.info("disconnected: %s", self._last_reason)
        if not was_live:
            self._tell_tls()
        if self._shedding:
            # The socket is closed, so nothing is kept waiting here but the reconnect.
            while not self._stopping.is_set() and not self._inbox.wait_for_room(_SLICE_S):
                pass
            self._shedding = False
        elif fall_back and not self._stopping.is_set():
            with self._lock:
                self._unanswered = 0
                self._version_refused = False
            threading.Thread(target=self._change_protocol, name="mqtt-change-protocol").start()

    def _unreachable(self, client: Client, userdata: Any) -> None:
        error = sys.exception()  # the library calls back while it handles it, and does not hand it over
        if self._settings.tls is not None:
            self._tls_reason = tls_reason(error, self._settings.host)
        why = f": {getattr(error, 'strerror', None) or error}" if error else ""
        with self._lock:
            self._unreachable_count += 1
            nowhere = f"no connection to {self._settings.host}:{self._settings.port}{why}"
            self._last_reason = self._tls_reason or nowhere
        self._tell_tls()

    def _change_protocol(self) -> None:
        """Tries the other version with a new client, since the library's keeps its own for life."""
        with self._client_lock:
            if self._client is None:
                return
            join(self._client)
            queued = self._client.drop_out_messages()
            self._protocol = THREE if self._protocol == FIVE else FIVE
            _log.warning("no answer to that version of MQTT; trying %s", self._protocol.name)
            self._client = self._build()
            for message in queued:
                self._client.publish(message.topic, message.payload, qos=1, retain=message.retain)
            run(self._client, self._settings)

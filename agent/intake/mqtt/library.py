"""The library's client, as not losing anything wants it; its defaults would each lose messages.

Its network thread takes what happens to callbacks that `connection` sets.
"""

import contextlib
import logging
import socket
from collections.abc import Callable

from paho.mqtt.client import Client, MQTTMessage, topic_matches_sub
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from agent.intake.mqtt.settings import BrokerSettings

FIVE, THREE = MQTTProtocolVersion.MQTTv5, MQTTProtocolVersion.MQTTv311

_RETAINED_WHEN_NEW = 1  # MQTT 5, section 3.8.3.1: only for a subscription that did not exist yet


def build(
    settings: BrokerSettings,
    protocol: MQTTProtocolVersion,
    will: bytes,
    heard: Callable[[logging.LogRecord], bool],
) -> Client:
    """A client that keeps its session, acknowledges nothing by itself and survives a callback that fails.

    `heard` is given what the library tells to its log alone.
    """
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=settings.client_id,
        clean_session=None if protocol == FIVE else settings.looks_on,
        protocol=protocol,
        manual_ack=True,
    )
    library = logging.Logger("paho", logging.ERROR)
    library.addFilter(heard)
    client.enable_logger(library)
    client.suppress_exceptions = True  # the network thread would die of one and still say it is connected
    client.reconnect_delay_set(settings.reconnect_min_s, settings.reconnect_max_s)
    client.max_queued_messages_set(settings.max_queued_messages)
    if not settings.looks_on:
        client.will_set(settings.status_topic, will, qos=1, retain=True)
    if settings.username is not None:
        client.username_pw_set(settings.username, settings.password)
    if settings.tls is not None:
        client.tls_set_context(settings.tls)
    return client


def run(client: Client, settings: BrokerSettings) -> None:
    """Connects in a thread of its own, and again after each loss."""
    properties = None
    if client.protocol == FIVE:
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.SessionExpiryInterval = 0 if settings.looks_on else settings.session_expiry_s
        properties.ReceiveMaximum = settings.receive_maximum
    client.connect_async(
        settings.host,
        settings.port,
        settings.keepalive_s,
        clean_start=settings.looks_on,
        properties=properties,
    )
    client.loop_start()


def subscribe(client: Client, settings: BrokerSettings) -> None:
    """On each connect: the library never does, and a broker that lost the session knows of none."""
    if settings.ended:
        client.unsubscribe(list(settings.ended))
    if client.protocol == FIVE:
        options = SubscribeOptions(qos=1, retainHandling=_RETAINED_WHEN_NEW)
        client.subscribe([(topic_filter, options) for topic_filter in settings.subscriptions])
    else:
        client.subscribe([(topic_filter, 1) for topic_filter in settings.subscriptions])


def cut(client: Client) -> None:
    """Drops the network connection without a goodbye, so that the broker publishes the will."""
    connection = client.socket()
    if isinstance(connection, socket.socket):
        with contextlib.suppress(OSError):
            # Not the TLS socket's own method: that one goes on reading in the clear.
            socket.socket.shutdown(connection, socket.SHUT_RDWR)


def join(client: Client) -> None:
    """Waits for the network thread; the library forgets the thread between its own check and its join."""
    with contextlib.suppress(AttributeError):
        client.loop_stop()


def topic_of(received: MQTTMessage) -> str:
    """One that is not UTF-8 is no signal's, and is to be refused and acknowledged like any such."""
    try:
        return received.topic
    except UnicodeDecodeError as error:
        return error.object.decode(errors="backslashreplace")


def covers(topic_filter: str, topic: str) -> bool:
    """Whether a subscription to the filter brings the topic."""
    return topic_matches_sub(topic_filter, topic)

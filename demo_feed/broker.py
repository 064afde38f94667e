"""An embedded MQTT broker for the demonstration, on loopback only. For a demonstration, not for service:
its log of messages is in memory and it checks no passwords.
"""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

LOOPBACK = "127.0.0.1"

CONFIGURATION = """\
id = 0
[router]
id = 0
max_connections = 100
max_outgoing_packet_count = 200
max_segment_size = 33554432
max_segment_count = 8
"""

# One listener speaks one version of the protocol.
LISTENER = """\
[{version}.1]
name = "{version}"
listen = "{host}:{port}"
next_connection_delay_ms = 1
    [{version}.1.connections]
    connection_timeout_ms = 60000
    max_payload_size = 65536
    max_inflight_count = 100
"""


class BrokerError(Exception):
    """The embedded broker cannot start."""


@contextmanager
def embedded_broker(port: int, port_mqtt_311: int | None = None) -> Iterator[None]:
    """Runs a broker as a child process while the context lasts.

    MQTT 5 on `port`, MQTT 3.1.1 on its own port if one is given.
    Raises BrokerError where a port is taken or the optional package is missing.
    """
    try:
        from iotcore import Broker
    except ImportError:
        raise BrokerError(
            "the embedded broker needs the package iotcore: install dewline[demo], "
            "or start a broker of your own and leave --broker out"
        ) from None
    listeners = [LISTENER.format(version="v5", host=LOOPBACK, port=port)]
    if port_mqtt_311 is not None:
        listeners.append(LISTENER.format(version="v4", host=LOOPBACK, port=port_mqtt_311))
    with tempfile.TemporaryDirectory(prefix="demo-broker-") as directory:
        path = Path(directory) / "broker.toml"
        path.write_text(CONFIGURATION + "".join(listeners), encoding="utf-8")
        try:
            broker = Broker(config_path=str(path)).start()
        except (OSError, RuntimeError) as error:
            raise BrokerError(f"the embedded broker cannot listen on {LOOPBACK}:{port}: {error}") from error
        try:
            yield
        finally:
            broker.stop()

"""The broker as deploy/ sets it up: its own files, with only the paths and ports of one test put in."""

import os
import re
import shutil
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.reasoncodes import ReasonCode

from tests.mosquitto import MARKS as MOSQUITTO
from tests.mosquitto import PROGRAM, Mosquitto, free_port

DEPLOY = Path(__file__).parents[2] / "deploy"
PASSWD = shutil.which("mosquitto_passwd")
MARKS = [*MOSQUITTO, pytest.mark.skipif(PASSWD is None, reason="mosquitto_passwd is not installed")]
PASSWORDS = {"dewline": "one of four", "gateway": "two of four", "dashboard": "three of four"}
PATIENCE_S = 30.0

TLS_WORDS = ["listener", "certfile", "keyfile", "cafile", "require_certificate"]


def conf() -> str:
    return (DEPLOY / "mosquitto.conf").read_text()


def stated() -> dict[str, str]:
    """Each setting of the file by its word."""
    return dict(line.split(" ", 1) for line in conf().splitlines() if line and line[0] != "#")


def with_tls(text: str) -> str:
    """What the file says to do: takes away the sign before the five words."""
    for word in TLS_WORDS:
        text, count = re.subn(rf"^#(?={word} )", "", text, flags=re.MULTILINE)
        assert count == 1, f"the file has {count} lines that begin with #{word}"
    return text


class DeployedMosquitto(Mosquitto):
    """`certificate` and `key` (PEM files) open the TLS listener too, on `tls_port`; `authority` is whose
    signature it then requires of who comes in."""

    def __init__(
        self,
        directory: Path,
        certificate: Path | None = None,
        key: Path | None = None,
        authority: Path | None = None,
    ) -> None:
        super().__init__(directory)
        self.tls_port = free_port()
        directory.mkdir(parents=True, exist_ok=True)
        passwords = directory / "dewline.passwd"
        for user, password in PASSWORDS.items():
            create = [] if passwords.exists() else ["-c"]
            subprocess.run([str(PASSWD), *create, "-b", str(passwords), user, password], check=True)
        put_in = {
            "/var/lib/mosquitto/": f"{directory}/",
            "/etc/mosquitto/dewline.passwd": passwords,
            "/etc/mosquitto/dewline.acl": DEPLOY / "mosquitto.acl",
            "listener 1883 127.0.0.1": f"listener {self.port} 127.0.0.1",
        }
        text = conf()
        if certificate is not None:
            text = with_tls(text)
            put_in |= {
                "listener 8883": f"listener {self.tls_port} 127.0.0.1",
                "/etc/mosquitto/certs/broker.crt": certificate,
                "/etc/mosquitto/certs/broker.key": key,
                "/etc/mosquitto/ca_certificates/ca.crt": authority or certificate,
            }
            if authority is not None:
                put_in["require_certificate false"] = "require_certificate true"
        settings = [line for line in text.splitlines() if line and not line.startswith("#")]
        text = "\n".join(settings) + "\n"
        for old, new in put_in.items():
            assert text.count(old) == 1, f"{old} stands {text.count(old)} times in the file"
            text = text.replace(old, str(new))
        if os.geteuid() == 0:
            text += "user root\n"  # who else could not write to a test's directory
        (directory / "mosquitto.conf").write_text(text)

    def start(self) -> None:
        command = [str(PROGRAM), "-c", str(self.directory / "mosquitto.conf")]
        with (self.directory / "mosquitto.log").open("ab") as log:
            self._process = subprocess.Popen(command, stdout=log, stderr=log)
        for _ in range(200):
            if self._process.poll() is not None:
                break
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        self.stop()
        raise RuntimeError((self.directory / "mosquitto.log").read_text())

    def saved(self) -> tuple[int, int] | None:
        """Another value after each save; None before the first."""
        try:
            file = (self.directory / "mosquitto.db").stat()
        except FileNotFoundError:
            return None
        return file.st_ino, file.st_mtime_ns


class User:
    """A client under one of the users: `seen` is what it was sent, `publish` says what it was answered."""

    def __init__(self, port: int, user: str, see: str | None, protocol: MQTTProtocolVersion) -> None:
        self.seen: list[tuple[str, bytes]] = []
        self._reasons: dict[int | None, str] = {}
        self._answered = threading.Event()
        self._subscribed = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, protocol=protocol)
        self._client.username_pw_set(user, PASSWORDS[user])
        self._client.on_connect = lambda *_: self._answered.set()
        self._client.on_message = lambda client, data, m: self.seen.append((m.topic, m.payload))
        self._client.on_publish = self._published
        self._client.on_subscribe = lambda *_: self._subscribed.set()
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        assert self._answered.wait(PATIENCE_S)
        if see is not None:
            self.subscribe(see)

    def _published(self, client: Client, data: object, mid: int, reason: ReasonCode, _: object) -> None:
        self._reasons[mid] = str(reason)

    def subscribe(self, topic_filter: str) -> None:
        """Returns when it is answered; what the broker had for this client before has been seen by then."""
        self._subscribed.clear()
        self._client.subscribe(topic_filter, 1)
        assert self._subscribed.wait(PATIENCE_S)

    def publish(self, topic: str, *payloads: bytes, qos: int = 1) -> list[str]:
        sent = [self._client.publish(topic, payload, qos) for payload in payloads]
        for one in sent:
            one.wait_for_publish(PATIENCE_S)
        return [self._reasons[one.mid] for one in sent]

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()
        self._client.on_connect = self._client.on_message = None
        self._client.on_publish = self._client.on_subscribe = None


@contextmanager
def user(
    broker: Mosquitto,
    name: str,
    see: str | None = None,
    protocol: MQTTProtocolVersion = MQTTProtocolVersion.MQTTv5,
) -> Iterator[User]:
    made = User(broker.port, name, see, protocol)
    try:
        yield made
    finally:
        made.close()

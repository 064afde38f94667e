"""The real server on a free port of its own, with pages that a test says."""

import socket
import ssl
import threading
from contextlib import contextmanager
from dataclasses import dataclass, field

import httpx

from agent.outlets.web import app
from agent.service.serving import Serving
from agent.settings import UnknownModuleError
from agent.settings.http import HttpSettings
from tests.mosquitto import free_port

TOKEN = "open-sesame-4711-0815"
ALARM_TOKEN = "of-this-alarm-only"
OLD_TOKEN = "of-last-week"
NOW_US = 1_764_057_600_000_000  # 2025-11-25 08:00 UTC


@dataclass
class Told:
    outcome: str
    text: str


@dataclass
class SmallSite:
    """Pages of one module, m1 in system one; what was asked is kept."""

    html: str = "<!doctype html><title>Hill House</title>"
    pieces: list[str] = field(default_factory=lambda: ["time,value\r\n", "2025-11-25T08:00:00Z,1\r\n"])
    reasons: list[str] = field(default_factory=list)
    acknowledged: list[tuple[str, str, str]] = field(default_factory=list)
    asked: list[object] = field(default_factory=list)
    kept_us: int | None = None  # since when all readings are kept
    waits: threading.Event | None = None  # what the brief waits for

    def status(self, *, still):
        self.asked.append(still)
        return self.html

    def visit(self, system, module, since_us):
        self._known(system, module)
        if self.waits is not None:
            assert self.waits.wait(60)
        return f"{self.html}{since_us}"

    def history(self, system, module, from_us, to_us, readings):
        self._known(system, module)
        self.asked.append((from_us, to_us, readings))
        return iter(self.pieces)

    def kept_from_us(self):
        return self.kept_us

    def acknowledgeable(self, alarm_id, token):
        if token == OLD_TOKEN:
            return Told("expired", "This link worked until yesterday.")
        if token != ALARM_TOKEN:
            return Told("forbidden", "That token does not allow it.")
        if self.acknowledged:
            _, who, note = self.acknowledged[-1]
            return Told("refused", f"It is acknowledged already, by {who} ({note}).")
        return Told("open", "The alarm still stands.")

    def acknowledge(self, alarm_id, token, who, note):
        if token != ALARM_TOKEN:
            return Told("forbidden", "That token does not allow it.")
        self.acknowledged.append((alarm_id, who, note))
        return Told("done", f"{who} sees to it.")

    def not_ready(self):
        return self.reasons

    def _known(self, system, module):
        if (system, module) != ("one", "m1"):
            raise UnknownModuleError("there is one/m1 alone")


def metrics(accept):
    return b"dewline_up 1\n", "text/plain; version=0.0.4; charset=utf-8"


@dataclass
class Served:
    port: int
    site: SmallSite
    broke: list[bool] = field(default_factory=list)
    base: str = ""

    def get(self, path, **more):
        return self.ask("GET", path, **more)

    def ask(self, method, path, *, token=None, verify=True, **more):
        headers = {"authorization": f"Bearer {token}"} if token else {}
        headers |= more.pop("headers", {})
        with httpx.Client(base_url=self.base, verify=verify, trust_env=False, timeout=20) as client:
            return client.request(method, path, headers=headers, **more)

    def socket(self, sends=b""):
        made = socket.create_connection(("127.0.0.1", self.port), timeout=20)
        made.sendall(sends)
        return made

    def say(self, sends):
        """What comes back for these bytes until the server closes or a second is over."""
        with self.socket(sends) as made:
            made.settimeout(1)
            got = b""
            try:
                while part := made.recv(65536):
                    got += part
            except TimeoutError:
                pass
            return got


@contextmanager
def served(site=None, *, environment=None, scrape=metrics, **http):
    settings = HttpSettings(port=free_port(), **http)
    with Serving(settings, environment or {}) as serving:
        found = Served(settings.port, site or SmallSite(), base=settings.origin)
        made = app(found.site, scrape, settings, serving.token, lambda: NOW_US)
        serving.start(made, lambda: found.broke.append(True))
        yield found
    assert found.broke == []


@contextmanager
def guarded(site=None, **more):
    """With a token."""
    with served(site, environment={"DEWLINE_TOKEN": TOKEN}, token_env="DEWLINE_TOKEN", **more) as found:
        yield found


def trusting(certificate):
    return ssl.create_default_context(cafile=str(certificate))

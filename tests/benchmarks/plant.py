"""A large invented site for the benchmarks, its gateway, and the agent that watches it.

Every module sends the course of one module of the bench, 15 signals, under a topic of its own. The gateway is
a process of its own.
"""

from __future__ import annotations

import multiprocessing
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import orjson

from agent.intake import Connection, Inbox, Message
from agent.outlets import Metrics
from agent.service.agent import INBOX_BYTES
from agent.service.intaking import intake_of
from agent.service.machine.broker import broker_settings
from agent.service.work.alarming import Alarms
from agent.service.work.assessing import Assessor
from agent.service.work.registering import register
from agent.settings import load
from agent.store import Store
from demo_feed.bench import ARRANGEMENTS, Gateway, Unit, play
from demo_feed.publisher import Publisher
from tests.bench.configuration import configuration
from tests.mosquitto import Mosquitto, free_port
from tests.scenarios.scenario import DAY_US, START_US
from tests.service.processes import agent_on, listener, process
from tests.service.site import SECOND_US, write

LAYOUT = "two-pipe-twin-late"
SIGNALS = 15
LEFT_OUT = ("outdoor_fan_share", "compressor_2_current")  # so that 15 are left
OF_A_SYSTEM = 1000
PATIENCE_S = 1800.0


class Plant(NamedTuple):
    """Each of its modules sends all its signals every ``every_s``."""

    modules: int
    every_s: int = 30

    def configured(self, folder: Path, **sections: Any) -> Path:
        """The configuration file, in a folder."""
        body, _ = configuration(Gateway(poll_s=self.every_s), "R410A", LAYOUT, course(self.every_s)[0])
        circuit = body["systems"].pop("one")
        module = circuit["modules"]["m1"]
        for first in range(0, self.modules, OF_A_SYSTEM):
            names = f"m[1..{min(OF_A_SYSTEM, self.modules - first)}]"
            body["systems"][f"s{first // OF_A_SYSTEM}"] = {**circuit, "modules": {names: module}}
        return write(folder, body | {"alarms": {"shadow_days": 0}} | sections)

    def readings(self, from_us: int, to_us: int) -> int:
        """How many are sampled in a time."""
        every_us = self.every_s * SECOND_US
        return (-(-to_us // every_us) + from_us // -every_us) * self.modules * SIGNALS

    def messages(self, from_us: int, to_us: int) -> Iterator[tuple[int, str, bytes]]:
        """Sample time, topic and payload of all that is sampled in a time, in its order."""
        every_us = self.every_s * SECOND_US
        payloads = course(self.every_s)
        for sample_us in range(-(-from_us // every_us) * every_us, to_us, every_us):
            head = b'[{"bt":%d.6,' % (sample_us // SECOND_US)
            payload = head + payloads[sample_us % DAY_US // every_us].partition(b",")[2]
            for number in range(self.modules):
                system, module = divmod(number, OF_A_SYSTEM)
                yield sample_us, f"plant/bench/s{system}/m{module + 1}", payload


class Watch:
    """The agent's parts on a real store, with a clock of their own and without a broker."""

    def __init__(self, folder: Path, plant: Plant, start_us: int) -> None:
        self.plant = plant
        self.now_us = start_us
        self.plan = load(plant.configured(folder))
        self.store = Store.open(self.plan.store_url)
        self.watched = register(self.store, self.plan, start_us)
        assess = self.plan.settings.assess
        self.grace_us = assess.grace_s * SECOND_US
        self.alarms = Alarms(self.store)
        self.assessor = Assessor(self.store, assess.step_s * SECOND_US, self.grace_us, self.alarms)
        unused = Connection(broker_settings(self.plan, {}), Inbox(1), lambda: self.now_us)
        metrics = Metrics(lambda: self.now_us, 60 * SECOND_US, {})
        self.intake = intake_of(self.store, self.plan, self.watched, Inbox(1), unused, metrics, start_us)

    def __enter__(self) -> Watch:
        return self

    def __exit__(self, *_: object) -> None:
        self.store.close()

    def play(self, to_us: int, every_us: int) -> Iterator[int]:
        """Takes in and assesses up to a time, so much at once; yields how far it has come."""
        for until_us in range(self.now_us + every_us, to_us + 1, every_us):
            self.take_in(until_us)
            self.work_off()
            yield until_us

    def take_in(self, until_us: int) -> None:
        self.intake.inbox = inbox = Inbox(INBOX_BYTES)
        for sample_us, topic, payload in self.plant.messages(self.now_us, until_us):
            inbox.put(Message(1, 1, 1, topic, payload, False, sample_us + SECOND_US), 0)
        inbox.close()
        self.intake.run(threading.Event())
        self.now_us = until_us

    def work_off(self) -> None:
        for each in self.watched:
            self.assessor.work_off(each, self.now_us + self.grace_us)
            self.alarms.settle(each, self.now_us + self.grace_us)


class Running:
    """A real agent as a process, on a real broker that runs; it is online when it is entered."""

    def __init__(self, folder: Path, plant: Plant, broker: Mosquitto) -> None:
        self.store = folder / "store.db"
        self._port = broker.port
        self._folder = folder
        self._plant = plant
        self._open = ExitStack()

    def __enter__(self) -> Running:
        with self._open as stack:
            broker = {"port": self._port, "telemetry": "plant", "client_id": "measured", "prefix": "watch"}
            http = {"host": "127.0.0.1", "port": free_port()}
            file = self._plant.configured(self._folder, broker=broker, http=http)
            with listener(self._port, "watch/agent/#") as heard:
                self.process = stack.enter_context(process(agent_on(file), self._folder / "agent.log"))
                wait(lambda: heard.last.get("watch/agent/measured") == b"online", "the agent online")
            self._open = stack.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def resident(self, what: str = "VmRSS") -> float:
        """MiB."""
        return resident(self.process.pid, what)

    def wait_worked_off(self, readings: int, until_us: int) -> None:
        """Until so many are stored, and all modules assessed up to a time."""
        with closing(sqlite3.connect(f"file:{self.store}?mode=ro", uri=True)) as store:

            def found(query: str) -> int:
                return int(store.execute(query).fetchone()[0])

            wait(lambda: found("SELECT count(*) FROM reading") >= readings, "all readings stored", 1.0)
            late = f"SELECT count(*) FROM progress WHERE assessed_us < {until_us - 60 * SECOND_US}"
            modules = self._plant.modules
            wait(lambda: found("SELECT count(*) FROM progress") == modules, "all modules assessed", 1.0)
            wait(lambda: not found(late) and not found("SELECT count(*) FROM dirty"), "all worked off", 1.0)


def resident(pid: int | str, what: str = "VmRSS") -> float:
    """Memory of a process in MiB, by a line of its status."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(what)) / 1024


@cache
def course(every_s: int) -> tuple[bytes, ...]:
    """A day's payloads of one module, from midnight on."""
    unit, gateway = Unit(ARRANGEMENTS[LAYOUT]), Gateway(poll_s=every_s)
    played = play(unit, gateway, "a", START_US, START_US + DAY_US)
    return tuple(_of_15(each.payload) for each in played if each.payload is not None)


def _of_15(payload: bytes) -> bytes:
    kept = [record for record in orjson.loads(payload) if record["n"] not in LEFT_OUT]
    return orjson.dumps(kept[:SIGNALS])


def send(port: int, plant: Plant, from_us: int, to_us: int) -> None:
    """Publishes a past as fast as the broker takes it."""
    with Publisher("127.0.0.1", port, threading.Event()) as publisher:
        for _, topic, payload in plant.messages(from_us, to_us):
            publisher.publish(topic, payload)
        assert publisher.drain(PATIENCE_S)


def apart(do: Callable[..., object], *given: object) -> None:
    """In a process of its own, until it ends."""
    child = multiprocessing.get_context("spawn").Process(target=do, args=given)
    child.start()
    child.join(PATIENCE_S)
    assert child.exitcode == 0, f"{do.__name__} ended with {child.exitcode}"


def wait(condition: Callable[[], object], what: str, every_s: float = 0.02) -> None:
    until = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < until, f"waited in vain: {what}"
        time.sleep(every_s)

"""A small invented site for tests: its configuration, readings whose superheat is known beforehand, and the
agent's parts on a real store with a stated now."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import yaml

from agent.assess import Assessment
from agent.readings import EVER_US, Reading, Span
from agent.service.work.assessing import Assessor
from agent.service.work.registering import register
from agent.service.work.watched import Watched
from agent.settings import Plan, load
from agent.settings.source import Source
from agent.store import DetectionChange, JournalEntry, Store, StoreError

ROOT = Path(__file__).parents[2]
SECOND_US = 1_000_000
MINUTE_US = 60 * SECOND_US
STEP_US = 30 * SECOND_US
GRACE_US = 45 * SECOND_US
START_US = 1_764_057_600_000_000  # 2025-11-25 08:00 UTC, a grid time

PRESSURE_KPA = 944
DEW_C = 5.38  # of R-410A at 944 kPa absolute: CoolProp 8.0.0 and, independently, teqp 0.23.2
HEALTHY_K, WET_K = 6.0, 0.4

_PIPE = {"unit": "degC", "accuracy": 0.5, "step": 0.1}
_SPEED = {"unit": "Hz"}
SIGNALS: dict[str, dict[str, Any]] = {
    "mode": {"values": {0: "off", 1: "cooling", 2: "heating"}},
    "suction_pipe": _PIPE,
    "compressor_inlet": _PIPE,
    "suction_pressure": {"unit": "kPa", "reference": "absolute", "accuracy": 10, "step": 1},
    "compressor_1_speed": _SPEED,
    "compressor_2_speed": _SPEED,
    "bypass_valve": {"values": {0: "shut", 1: "open"}},
}


def configuration(**changes: Any) -> dict[str, Any]:
    """One system with module m1; a keyword replaces a whole section."""
    module = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
    return {
        "site": "hill-house",
        "layouts": str(ROOT / "config" / "layouts"),
        "store": {"url": "sqlite:///store.db"},
        "broker": {"telemetry": "plant"},
        "signal_sets": {"polled": {"every_s": 30, "max_age_s": 120, "signals": SIGNALS}},
        "systems": {"one": {"refrigerant": "R-410A", "modules": {"m1": module}}},
        **changes,
    }


def demo_configuration(port: int, metrics_port: int, client_id: str, prefix: str) -> dict[str, Any]:
    """The demonstration's own, with a world of its own."""
    demo = Source(ROOT / "config" / "demo.yaml").data
    return {
        **demo,
        "layouts": str(ROOT / "config" / "layouts"),
        "store": {"url": f"sqlite:///{client_id}.db"},
        "broker": {**demo["broker"], "port": port, "client_id": client_id, "prefix": prefix},
        "http": {"host": "127.0.0.1", "port": metrics_port},
        "assess": {"step_s": 30, "grace_s": 5},
    }


def write(directory: Path, body: dict[str, Any], name: str = "site.yaml") -> Path:
    path = directory / name
    path.write_text(yaml.safe_dump(body, sort_keys=False), encoding="utf-8")
    return path


def plan(directory: Path, **changes: Any) -> Plan:
    return load(write(directory, configuration(**changes)))


def minute(number: float) -> int:
    return START_US + round(number * MINUTE_US)


def told(
    from_minute: float,
    to_minute: float,
    superheat_k: Callable[[float], float] = lambda _: HEALTHY_K,
    *,
    every_s: int = 30,
    mode: Callable[[float], int] = lambda _: 1,
    start_us: int = START_US,
    rise_k: float = 3.0,
) -> Iterator[tuple[int, str, float]]:
    """Sample time, signal and value of a module that is polled; a superheat of NaN is a poll that failed."""
    for second in range(round(from_minute * 60), round(to_minute * 60), every_s):
        now = second / 60
        superheat = superheat_k(now)
        if superheat != superheat:
            continue
        sample_us = start_us + second * SECOND_US + 600_000
        pipe_c = round(DEW_C + superheat + 0.1 * (second * 7 // every_s % 3 - 1), 1)
        speed = 55 if mode(now) else 0
        yield sample_us, "mode", mode(now)
        yield sample_us, "suction_pipe", pipe_c
        yield sample_us, "compressor_inlet", round(pipe_c + rise_k, 1)
        yield sample_us, "suction_pressure", PRESSURE_KPA
        yield sample_us, "compressor_1_speed", speed
        yield sample_us, "compressor_2_speed", speed
        yield sample_us, "bypass_valve", 0


Told = tuple[int, str, float]


class World:
    """The first module of a plan on a store, without a broker; `restart` is what a new process does."""

    def __init__(self, site: Plan, store: Store, opened_us: int = START_US) -> None:
        self.plan = site
        self.store = store
        self.opened_us = opened_us
        self.restart()

    def restart(self) -> None:
        self.watched: Watched = register(self.store, self.plan, self.opened_us)[0]
        settings = self.plan.settings.assess
        self.assessor = Assessor(self.store, settings.step_s * SECOND_US, settings.grace_s * SECOND_US)

    def receive(self, batch: Iterable[Told]) -> None:
        """Store a batch as intake does, with its span."""
        readings = [
            Reading(sample_us, self.watched.signal_ids[name], value, None, sample_us, 1)
            for sample_us, name, value in batch
        ]
        times = [reading.sample_us for reading in readings]
        spans = [Span(self.watched.module_id, min(times), max(times))] if times else []
        self.store.add_batch(readings, [], spans)

    def work(self, now_minute: float) -> list[Assessment]:
        """Assess as if it were this minute, and the grace over."""
        return self.assessor.work_off(self.watched, minute(now_minute) + GRACE_US)

    @property
    def assessed(self) -> dict[int, tuple[str, str]]:
        """Basis and figures of every grid time under the newest revision."""
        kept = self.store.assessments(self.watched.module_id, 0, EVER_US)
        return {each.grid_us: (each.basis, each.figures) for each in kept}

    @property
    def detected(self) -> list[DetectionChange]:
        return self.store.detections(self.watched.module_id, self.watched.revision_id, 0, EVER_US)

    @property
    def journal(self) -> list[JournalEntry]:
        """In the order in which it was written."""
        entries = self.store.journal(self.watched.module_id, 0, EVER_US)
        return sorted(entries, key=lambda entry: entry.id or 0)

    def lines(self, alarm: str) -> list[JournalEntry]:
        return [entry for entry in self.journal if entry.alarm == alarm]

    def transitions(self, alarm: str) -> list[str]:
        return [entry.transition for entry in self.lines(alarm)]


class WatchedStore(Store):
    """A real store that notes the grid times it is given, and fails once where it is told to."""

    finished = 0
    fail_at: int | None = None
    written: list[int]

    def finish(self, module_id: int, revision_id: int, rows: Any, **more: Any) -> None:
        self.finished += 1
        if self.finished == self.fail_at:
            raise StoreError("the disk was full for a moment")
        super().finish(module_id, revision_id, rows, **more)
        self.__dict__.setdefault("written", []).extend(row[0] for row in rows)


@contextmanager
def world(directory: Path, name: str = "store", site: Plan | None = None) -> Iterator[World]:
    """A new world of its own below a directory."""
    directory.mkdir(parents=True, exist_ok=True)
    with WatchedStore.open(f"sqlite:///{directory / name}.db") as store:
        yield World(site or plan(directory), store)

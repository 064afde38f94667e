"""What Prometheus scrapes. What stopped is absent, never zero.

No timestamps go out, so that a value that disappears turns stale at the next scrape.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Protocol

from prometheus_client import generate_latest
from prometheus_client.core import (
    CounterMetricFamily,
    GaugeMetricFamily,
    InfoMetricFamily,
    Metric,
    SummaryMetricFamily,
)
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

from agent.assess import Assessment
from agent.outlets.metrics.modules import MODULE, Told, module_families
from agent.outlets.metrics.text import Families, ModuleText
from agent.outlets.view import ModuleView
from agent.piping import RETURN
from agent.settings import ModulePath

_STANDING_MODES = ("off", "unknown")


class ConnectionFacts(Protocol):
    """What is told of the connection to the broker; counters since the start of the process."""

    @property
    def connected(self) -> bool: ...
    @property
    def connects(self) -> int: ...
    @property
    def disconnects(self) -> int: ...
    @property
    def sessions_lost(self) -> int: ...
    @property
    def callback_errors(self) -> int: ...
    @property
    def oldest_unacknowledged_us(self) -> int | None: ...


class Metrics(Collector):
    """Holds the latest view of each module and the counters of this process.

    ``clock``: microseconds of UTC. A module shows no values once its assessment is older than ``stale_us``.
    """

    def __init__(self, clock: Callable[[], int], stale_us: int, build: Mapping[str, str]) -> None:
        self._clock = clock
        self._stale_us = stale_us
        self._build = dict(build)
        self._lock = threading.Lock()
        self._views: dict[ModulePath, ModuleView] = {}
        self._readings: Counter[ModulePath] = Counter()
        self._refused: Counter[str] = Counter()
        self._running_s: Counter[ModulePath] = Counter()
        self._undecided_s: Counter[tuple[ModulePath, str]] = Counter()
        self._facts: Callable[[], ConnectionFacts | None] = lambda: None
        self._notices: Callable[[], Mapping[tuple[str, str], int]] = dict
        self._offsets: Callable[[], Mapping[ModulePath, int]] = dict
        self._kept_from_us: Callable[[], int | None] = lambda: None
        self._clock_steps = 0
        self._reloaded = True
        self._failed: Counter[str] = Counter()
        self._assessed = 0
        self._assess_s = 0.0
        self._writing = threading.Lock()
        self._form = ""  # the one that was asked for last; its text is kept
        self._modules = ModuleText(generate_latest)

    def show(self, view: ModuleView) -> None:
        """Show this from now on."""
        with self._lock:
            self._views[view.path] = view

    def count_readings(self, received: Mapping[ModulePath, int], refused: Mapping[str, int]) -> None:
        """Add a stored batch: usable readings by whose they are, refused ones by reason."""
        with self._lock:
            self._readings.update(received)
            self._refused.update(refused)

    def count_assessed(self, path: ModulePath, fresh: Iterable[Assessment], step_s: float) -> None:
        """Add live assessments to the running and undecided times of a module."""
        with self._lock:
            for assessment in fresh:
                if assessment.mode in _STANDING_MODES:
                    continue
                self._running_s[path] += int(step_s)
                returned = assessment.quantities[RETURN]
                if not returned.decided:
                    self._undecided_s[path, returned.said.cause] += int(step_s)

    def count_work(self, seconds: float) -> None:
        """Add one round of assessing."""
        with self._lock:
            self._assessed += 1
            self._assess_s += seconds

    def count_failed(self, work: str) -> None:
        """Add a round of work that did not come to its end."""
        with self._lock:
            self._failed[work] += 1

    def count_clock_step(self) -> None:
        """Add a step of this machine's clock."""
        with self._lock:
            self._clock_steps += 1

    def show_reload(self, taken_over: bool) -> None:
        """Show what became of the configuration that was loaded last."""
        with self._lock:
            self._reloaded = taken_over

    def ask_notices(self, counts: Callable[[], Mapping[tuple[str, str], int]]) -> None:
        """Where to ask for the notices sent, by route and outcome."""
        self._notices = counts

    def ask_offsets(self, offsets: Callable[[], Mapping[ModulePath, int]]) -> None:
        """Where to ask how far each gateway's clock is behind, in µs."""
        self._offsets = offsets

    def ask_kept(self, kept_from_us: Callable[[], int | None]) -> None:
        """Where to ask since when all readings are kept as received, None where there are none."""
        self._kept_from_us = kept_from_us

    def ask(self, facts: Callable[[], ConnectionFacts]) -> None:
        """Where to ask for the connection's facts when scraped."""
        self._facts = facts

    def exposition(self, accept: str) -> tuple[bytes, str]:
        """All of it in the form that an Accept header asks for, and the name of that form."""
        encode, form = choose_encoder(accept)
        views, now_us = self._views_now(), self._clock()
        with self._writing:
            if self._form != form:
                self._form, self._modules = form, ModuleText(encode)
            modules = self._modules.text(self._told(views, now_us))
        return modules + encode(Families(self._others(views, now_us))), form

    def describe(self) -> Iterable[Metric]:
        return ()

    def collect(self) -> Iterator[Metric]:
        views, now_us = self._views_now(), self._clock()
        yield from module_families(self._told(views, now_us))
        yield from self._others(views, now_us)

    def _views_now(self) -> list[ModuleView]:
        with self._lock:
            return list(self._views.values())

    def _told(self, views: Iterable[ModuleView], now_us: int) -> list[Told]:
        return [Told.of(view, now_us - self._stale_us) for view in views]

    def _others(self, views: Iterable[ModuleView], now_us: int) -> Iterator[Metric]:
        """What is not of modules alone, and what goes on with the clock."""
        with self._lock:
            counters = list(self._counters())
        age = GaugeMetricFamily(
            "dewline_reading_age_seconds",
            "Age of a module's newest reading by its sample time",
            labels=MODULE,
        )
        for view in views:
            if view.newest_us is not None:
                age.add_metric(view.path, (now_us - view.newest_us) / 1e6)
        yield age
        yield from counters
        yield from _broker(self._facts(), now_us)
        offset = GaugeMetricFamily(
            "dewline_gateway_clock_offset_seconds",
            "How far the gateway's clock is behind this machine's, at most; negative: ahead",
            labels=MODULE,
        )
        for path, offset_us in self._offsets().items():
            offset.add_metric(path, offset_us / 1e6)
        yield offset
        kept_from_us = self._kept_from_us()
        if kept_from_us is not None:
            text = "Since when readings are kept as received, in s since 1970; before that in summaries"
            yield GaugeMetricFamily("dewline_readings_kept_from_timestamp_seconds", text, kept_from_us / 1e6)
        notices = CounterMetricFamily(
            "dewline_notices", "Notices by what became of them", labels=("route", "outcome")
        )
        for labels, count in self._notices().items():
            notices.add_metric(labels, count)
        yield notices
        build = InfoMetricFamily("dewline_build", "What runs")
        build.add_metric((), self._build)
        yield build

    def _counters(self) -> Iterator[Metric]:
        text = "Usable readings received; a shared one counts once, with no module, or system, in its labels"
        readings = CounterMetricFamily("dewline_readings", text, labels=MODULE)
        for path, count in self._readings.items():
            readings.add_metric(path, count)
        yield readings
        refused = CounterMetricFamily("dewline_readings_refused", "Readings refused", labels=("reason",))
        for reason, count in self._refused.items():
            refused.add_metric((reason,), count)
        yield refused
        running = CounterMetricFamily("dewline_running_seconds", "Time that a module ran", labels=MODULE)
        for path, seconds in self._running_s.items():
            running.add_metric(path, seconds)
        yield running
        undecided = CounterMetricFamily(
            "dewline_undecided_seconds",
            "Time that a module ran without a decided return superheat",
            labels=(*MODULE, "cause"),
        )
        for (path, cause), seconds in self._undecided_s.items():
            undecided.add_metric((*path, cause), seconds)
        yield undecided
        failed = CounterMetricFamily(
            "dewline_work_failed", "Rounds of work that failed and are tried again", labels=("work",)
        )
        for work, count in self._failed.items():
            failed.add_metric((work,), count)
        yield failed
        yield CounterMetricFamily(
            "dewline_clock_steps", "Times that this machine's clock was seen to step", self._clock_steps
        )
        text = "1 while the configuration that was loaded last is in force, 0 where it was refused"
        yield GaugeMetricFamily("dewline_config_reload_success", text, float(self._reloaded))
        yield SummaryMetricFamily(
            "dewline_assess_duration_seconds",
            "Time that a round of assessing took",
            count_value=self._assessed,
            sum_value=self._assess_s,
        )


def _broker(facts: ConnectionFacts | None, now_us: int) -> Iterator[Metric]:
    if facts is None:
        return
    connected = "1 while the broker is connected"
    yield GaugeMetricFamily("dewline_broker_connected", connected, float(facts.connected))
    counters = {
        "connects": ("Connections made", facts.connects),
        "disconnects": ("Connections lost", facts.disconnects),
        "sessions_lost": ("Sessions that the broker had lost: each is a gap", facts.sessions_lost),
        "callback_errors": ("Messages that broke the receiver", facts.callback_errors),
    }
    for name, (text, count) in counters.items():
        yield CounterMetricFamily(f"dewline_broker_{name}", text, count)
    if facts.oldest_unacknowledged_us is not None:
        waits = "Age of the oldest message that is not stored yet"
        age_s = (now_us - facts.oldest_unacknowledged_us) / 1e6
        yield GaugeMetricFamily("dewline_broker_oldest_unacknowledged_seconds", waits, age_s)

"""What Prometheus scrapes. Families are built when asked; what stopped is absent, never zero.

No timestamps go out, so that a value that disappears turns stale at the next scrape.
"""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Protocol

from prometheus_client import CollectorRegistry
from prometheus_client.core import (
    CounterMetricFamily,
    GaugeMetricFamily,
    InfoMetricFamily,
    Metric,
    SummaryMetricFamily,
)
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

from agent.assess import AT_PROBE, SATURATED_SUCTION, Assessment, Quantity
from agent.outlets.highside import KELVINS, highside_metrics, highside_quantities
from agent.outlets.view import ModuleView
from agent.piping import ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RETURN, RISE, Fitness
from agent.settings import ModulePath

_MODULE = ("site", "system", "module")
_PLACES = {
    RETURN: "Superheat of the vapour coming back, ahead of the accumulator",
    ACCUMULATOR_OUTLET: "Superheat after the accumulator, ahead of every inlet",
    COMPRESSOR_INLET: "Superheat after the inlets: for gas density, not for vapour quality",
    RISE: "Temperature gained between the fit reference and a probe after the oil return",
}
_NOT_SUCTION = (Fitness.HIGH_SIDE, Fitness.IDLE)
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
        self._registry = CollectorRegistry(auto_describe=False)
        self._registry.register(self)

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
        encode, content_type = choose_encoder(accept)
        return encode(self._registry), content_type

    def describe(self) -> Iterable[Metric]:
        return ()

    def collect(self) -> Iterator[Metric]:
        with self._lock:
            views = list(self._views.values())
            counters = list(self._counters())
        now_us = self._clock()
        fresh = [
            view
            for view in views
            if view.assessment is not None and now_us - view.assessment.grid_us <= self._stale_us
        ]
        yield from self._values(fresh)
        yield from self._words(fresh)
        yield _alarms(views)
        yield from _alarm_states(views)
        age = GaugeMetricFamily(
            "dewline_reading_age_seconds",
            "Age of a module's newest reading by its sample time",
            labels=_MODULE,
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
            labels=_MODULE,
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
        readings = CounterMetricFamily("dewline_readings", text, labels=_MODULE)
        for path, count in self._readings.items():
            readings.add_metric(path, count)
        yield readings
        refused = CounterMetricFamily("dewline_readings_refused", "Readings refused", labels=("reason",))
        for reason, count in self._refused.items():
            refused.add_metric((reason,), count)
        yield refused
        running = CounterMetricFamily("dewline_running_seconds", "Time that a module ran", labels=_MODULE)
        for path, seconds in self._running_s.items():
            running.add_metric(path, seconds)
        yield running
        undecided = CounterMetricFamily(
            "dewline_undecided_seconds",
            "Time that a module ran without a decided return superheat",
            labels=(*_MODULE, "cause"),
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

    def _values(self, fresh: list[ModuleView]) -> Iterator[Metric]:
        for place, text in _PLACES.items():
            family = GaugeMetricFamily(
                f"dewline_{place}_kelvin", f"{text}; only where decided", labels=_MODULE
            )
            for view, quantity in _quantities(fresh, place):
                if quantity.decided and quantity.value is not None:
                    family.add_metric(view.path, quantity.value)
            yield family
        saturated = GaugeMetricFamily(
            "dewline_saturated_suction_celsius", "Dew temperature at suction pressure", labels=_MODULE
        )
        for view, quantity in _quantities(fresh, SATURATED_SUCTION):
            if quantity.value is not None:
                saturated.add_metric(view.path, quantity.value)
        yield saturated
        apparent = GaugeMetricFamily(
            "dewline_apparent_superheat_kelvin",
            "What a probe on the suction side that is not fit would have shown",
            labels=(*_MODULE, "probe"),
        )
        for view in fresh:
            for probe, quantity in unfit(view.assessment):
                suction_side = view.assessment and view.assessment.fitness[probe][0] not in _NOT_SUCTION
                if quantity.value is not None and suction_side:
                    apparent.add_metric((*view.path, probe), quantity.value)
        yield apparent
        yield from highside_metrics(fresh, _MODULE)

    def _words(self, fresh: list[ModuleView]) -> Iterator[Metric]:
        spread = GaugeMetricFamily(
            "dewline_superheat_uncertainty_kelvin",
            "Expanded uncertainty (k = 2) to one side of a decided superheat, subcooling or margin",
            labels=(*_MODULE, "place", "side"),
        )
        chosen = GaugeMetricFamily(
            "dewline_chosen_probe", "The probe that speaks for a place", labels=(*_MODULE, "place", "probe")
        )
        status = GaugeMetricFamily(
            "dewline_quantity_status",
            "Whether a quantity is decided, not settled, not decidable, missing or not measurable",
            labels=(*_MODULE, "place", "status"),
        )
        for place in _PLACES:
            name = place.removesuffix("_superheat")
            for view, quantity in _quantities(fresh, place):
                status.add_metric((*view.path, name, quantity.said.status), 1)
                for probe in quantity.said.probes:
                    chosen.add_metric((*view.path, name, probe), 1)
                if not (place.endswith("_superheat") and quantity.decided):
                    continue
                for side, figure in (("below", quantity.below), ("above", quantity.above)):
                    if figure is not None:
                        spread.add_metric((*view.path, name, side), figure)
        for view in fresh:
            for name, quantity in highside_quantities(view.assessment) if view.assessment else ():
                status.add_metric((*view.path, name, quantity.said.status), 1)
                if not (name.startswith(KELVINS) and quantity.decided):
                    continue
                for side, figure in (("below", quantity.below), ("above", quantity.above)):
                    if figure is not None:
                        spread.add_metric((*view.path, name, side), figure)
        fitness = GaugeMetricFamily(
            "dewline_probe_fitness", "What a probe is worth now", labels=(*_MODULE, "probe", "fitness")
        )
        failed = GaugeMetricFamily(
            "dewline_probe_failed",
            "A probe or transducer that has failed",
            labels=(*_MODULE, "probe", "kind"),
        )
        mode = GaugeMetricFamily("dewline_mode", "The mode in force", labels=(*_MODULE, "mode"))
        for view in fresh:
            assert view.assessment is not None
            mode.add_metric((*view.path, view.assessment.mode), 1)
            for probe, (verdict, _) in view.assessment.fitness.items():
                fitness.add_metric((*view.path, probe, verdict), 1)
            for probe, (kind, _) in view.assessment.failed.items():
                failed.add_metric((*view.path, probe, kind), 1)
        yield from (spread, chosen, status, fitness, failed, mode)


def unfit(assessment: Assessment | None) -> Iterator[tuple[str, Quantity]]:
    """Suction probes that are not fit now, each with the superheat that it shows."""
    for name, quantity in assessment.quantities.items() if assessment else ():
        probe = name.removeprefix(AT_PROBE)
        if probe != name and assessment and assessment.fitness[probe][0] is not Fitness.FIT:
            yield probe, quantity


def _quantities(views: list[ModuleView], name: str) -> Iterator[tuple[ModuleView, Quantity]]:
    for view in views:
        if view.assessment is not None and name in view.assessment.quantities:
            yield view, view.assessment.quantities[name]


def _alarms(views: list[ModuleView]) -> Metric:
    """Alarms hold through a gap, so they are shown even where the values have gone stale."""
    family = GaugeMetricFamily(
        "dewline_alarm_active", "An alarm that stands", labels=(*_MODULE, "alarm", "priority")
    )
    for view in views:
        for alarm in view.alarms:
            family.add_metric((*view.path, alarm.name, alarm.priority), 1)
    return family


def _alarm_states(views: list[ModuleView]) -> Iterator[Metric]:
    states = GaugeMetricFamily(
        "dewline_alarm_state",
        "An alarm that is not normal, by the state's name in ISA-18.2 and IEC 62682",
        labels=(*_MODULE, "alarm", "state"),
    )
    shadow = GaugeMetricFamily(
        "dewline_shadow", "A new module whose alarms are shown and not sent", labels=_MODULE
    )
    for view in views:
        for name in view.lives.listed:
            states.add_metric((*view.path, name, view.lives.standing(name)), 1)
        if view.lives.shadow:
            shadow.add_metric(view.path, 1)
    yield from (states, shadow)


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

"""The metrics, as the collector itself yields them, and what their labels may say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from types import SimpleNamespace

from prometheus_client.core import Metric

from agent.alarms import CATALOGUE, Priority, StateName
from agent.assess import Cause, Status
from agent.assess.failing.failures import Kind
from agent.assess.mode_codes import MODES
from agent.intake.refusals import REASONS
from agent.outlets import Metrics
from agent.piping import Fitness
from agent.service.tell.delivering import OUTCOMES
from tests.reference.markdown import code, page, table

_UNITS = {"celsius": "degC", "kelvin": "K", "seconds": "s"}
_SAMPLES = {"counter": ("_total",), "info": ("_info",), "summary": ("_count", "_sum")}
_LABELS: dict[str, str | Iterable[str]] = {
    "site": "the building",
    "system": "the refrigerant circuit",
    "module": "the outdoor module",
    "probe": "a probe or transducer of the layout",
    "compressor": "its number in the layout",
    "place": "`return`, `accumulator_outlet`, `compressor_inlet`, `oil_return_rise`, or a quantity of the "
    "high side",
    "side": ("below", "above"),
    "route": "a route's name, or `alertmanager`",
    "work": "what was tried: `store`, `assess`, `commands` or `keeping`",
    "alarm": CATALOGUE,
    "priority": Priority,
    "state": [name for name in StateName if name is not StateName.NORMAL],
    "mode": MODES,
    "fitness": Fitness,
    "status": Status,
    "cause": [cause for cause in Cause if cause is not Cause.NONE],
    "kind": [kind for kind in Kind if kind not in (Kind.FINE, Kind.SPIKE)],
    "reason": REASONS,
    "outcome": OUTCOMES,
    "version": "of the agent",
    "coolprop": "version of the library that knows the refrigerants",
}
_HEAD = (
    "What `/metrics` serves, for Prometheus. Units are SI and the clock is UTC at every site. "
    "What has no value is **absent, never 0**; a value that is no longer known disappears. "
    "A metric of words (mode, fitness, status, alarm) is 1 under the words that hold now.",
    "Counters begin at 0 with each start of the agent. `deploy/prometheus-rules.yml` and the dashboards in "
    "`deploy/grafana/` are written on these names.",
)


def metrics() -> str:
    families = list(_families())
    rows = [
        (
            _names(family),
            family.type,
            ", ".join(map(code, _labels(family))),
            _unit(family.name),
            family.documentation,
        )
        for family in families
    ]
    used = dict.fromkeys(label for family in families for label in _labels(family))
    labels = [(code(label), _values(_LABELS[label])) for label in used]
    return page(
        "The metrics",
        *_HEAD,
        table(("metric", "type", "labels", "unit", "is"), rows),
        "## What the labels say",
        table(("label", "values"), labels),
    )


def _families() -> Iterator[Metric]:
    """Every family: those that are empty as well, and those of a connection."""
    collector = Metrics(lambda: 0, 0, {"version": "", "coolprop": ""})
    counts = dict.fromkeys(("connects", "disconnects", "sessions_lost", "callback_errors"), 0)
    collector.ask(lambda: SimpleNamespace(connected=True, oldest_unacknowledged_us=0, **counts))
    collector.ask_kept(lambda: 0)
    yield from collector.collect()


def _names(family: Metric) -> str:
    return "<br>".join(code(family.name + suffix) for suffix in _SAMPLES.get(family.type, ("",)))


def _labels(family: Metric) -> tuple[str, ...]:
    """An empty family shows its labels nowhere else; of one without labels they are those of its samples."""
    names: tuple[str, ...] = family._labelnames
    return names or tuple(dict.fromkeys(name for sample in family.samples for name in sample.labels))


def _unit(name: str) -> str:
    return next((unit for suffix, unit in _UNITS.items() if suffix in name.split("_")), "")


def _values(values: str | Iterable[str]) -> str:
    return values if isinstance(values, str) else ", ".join(code(str(each)) for each in values)

"""What a scrape takes beside prometheus-client rendering as many samples that never change.

One module of the bench is watched for some hours; as many as are asked for show what it does.
"""

import itertools
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

from prometheus_client import CollectorRegistry, Metric
from prometheus_client.exposition import choose_encoder
from prometheus_client.registry import Collector

from agent.outlets import Metrics, ModuleView
from agent.service.look.looking import look
from agent.settings import ModulePath
from tests.bench_site import Bench, sent, settings
from tests.benchmarks.rows import Row, in_turns

LAYOUT = "two-pipe-twin-late"
DAYS = 0.5
STALE_US = 180_000_000
FORMS = {
    "text": "text/plain;version=0.0.4",
    "OpenMetrics": "application/openmetrics-text;version=1.0.0",
}


class Constant(Collector):
    """Families that were built once."""

    def __init__(self, families: Iterable[Metric]) -> None:
        self.families = list(families)

    def collect(self) -> Iterator[Metric]:
        return iter(self.families)


def report(quick: bool) -> Iterator[Row]:
    with tempfile.TemporaryDirectory(prefix="scrape-") as directory:
        view = _seen(Path(directory))
    for number in (10, 100, 1000) if quick else (10, 100, 1000, 10_000):
        for form, accept in FORMS.items():
            yield from of(number, form, accept, view, runs=7 if number < 1000 else 3)


def _seen(directory: Path) -> ModuleView:
    payloads = sent(LAYOUT, DAYS)
    with Bench(directory, settings(LAYOUT, payloads[0][1])) as bench:
        bench.live(payloads)
        return look(bench.store, bench.plan, payloads[-1][0])[0]


def of(number: int, form: str, accept: str, view: ModuleView, runs: int) -> Iterator[Row]:
    assert view.assessment is not None
    now_us = view.assessment.grid_us
    grid = itertools.count(now_us)
    metrics = Metrics(lambda: now_us, STALE_US, {"version": "0"})
    paths = [ModulePath("hill-house", f"system-{n // 20}", f"m{n}") for n in range(number)]

    def show(share: float) -> None:
        """So large a share of the modules is assessed anew."""
        for path in paths[: round(share * number)]:
            assessment = replace(view.assessment, grid_us=next(grid))
            metrics.show(replace(view, path=path, assessment=assessment))
            metrics.count_assessed(path, [assessment], 60)

    def scrape() -> None:
        metrics.exposition(accept)

    show(1.0)
    metrics.count_readings(dict.fromkeys(paths, 1), {})
    registry = CollectorRegistry(auto_describe=False)
    constant = Constant(metrics.collect())
    registry.register(constant)
    encode, _ = choose_encoder(accept)
    samples = sum(len(family.samples) for family in constant.families)
    assert encode(registry) == metrics.exposition(accept)[0]
    for what, share in (("all assessed anew", 1.0), ("a quarter", 0.25), ("none", 0.0)):

        def ours(share: float = share) -> None:
            show(share)
            scrape()

        took_s, floor_s = in_turns(ours, lambda: encode(registry), runs)
        yield Row(
            f"scrape of {number} modules, {samples} series, {form}; {what}",
            f"{took_s * 1e3:.1f} ms",
            f"{floor_s * 1e3:.1f} ms: prometheus-client renders as many constant samples",
            took_s / floor_s,
            "1",
        )

"""One scenario through the agent's own path: payloads, decoders, store, assessor, journal. No broker.

Worked off every two hours of event time: an alarm is raised only where its condition is known at the live
edge, and at the end of most days a module stands.
"""

import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Any

import orjson

from agent.intake import Message, PointMap
from agent.service.assessing import EVER_US, Assessor
from agent.service.evidence import evidence
from agent.service.mapping import Mapped, point_map
from agent.service.registering import origins, register
from agent.service.watched import Watched
from agent.settings import load
from agent.store import JournalEntry, Store
from demo_feed.bench import Played, play
from demo_feed.bench.play import TOPIC
from tests.scenarios.configuration import configuration
from tests.scenarios.scenario import HOUR_US, START_US, Found, Result, Scenario
from tests.service.site import SECOND_US, write

LOOKS_US = 2 * HOUR_US
ARRIVES_US = 400_000  # after it was sampled
FOUND = ("raised", "found_late")


def with_sensors(scenario: Scenario, factor: float) -> Scenario:
    """The same with instruments whose errors are so many times their class; the agent is not told."""
    gateway = replace(scenario.gateway, error_factor=scenario.gateway.error_factor * factor)
    return replace(scenario, gateway=gateway)


def run(scenario: Scenario) -> Result:
    """Never raises: what broke is in the result."""
    began = time.monotonic()
    try:
        with tempfile.TemporaryDirectory(prefix="scenario-") as directory:
            found, refused, unknown, likely = _run(scenario, Path(directory))
    except Exception:
        return Result(scenario, (), {}, (), time.monotonic() - began, traceback.format_exc())
    return Result(scenario, found, refused, unknown, time.monotonic() - began, likely=likely)


def _run(
    scenario: Scenario, directory: Path
) -> tuple[tuple[Found, ...], Counter[str], tuple[str, ...], str | None]:
    played = play(scenario.unit, scenario.gateway, scenario.seed, START_US, scenario.end_us)
    head = [next(played)]
    while head[-1].payload is None:
        head.append(next(played))
    assert head[-1].payload is not None
    body, unknown = configuration(scenario, head[-1].payload)
    plan = load(write(directory, body))
    refused: Counter[str] = Counter()
    with Store.open(f"sqlite:///{directory}/store.db") as store:
        watched = register(store, plan, START_US)[0]
        points = _points(store, plan, watched)
        assess = plan.settings.assess
        assessor = Assessor(store, assess.step_s * SECOND_US, assess.grace_s * SECOND_US)
        for now_us, batch in _stretches(chain(head, played)):
            _receive(store, points, batch, refused)
            assessor.work_off(watched, now_us + assess.grace_s * SECOND_US)
        journal = store.journal(watched.module_id, 0, EVER_US)
        known = evidence(store, plan, plan.modules[0], scenario.end_us)
        likely = known.causes.named if known else None
    refused.pop("unmapped", None)  # signals of the bench that the agent has no name for
    return tuple(_found(journal)), refused, unknown, likely


def _stretches(played: Iterable[Played]) -> Iterator[tuple[int, list[tuple[int, bytes]]]]:
    """What is sent between two looks of the agent's, with the second one's time."""
    ends_us = START_US + LOOKS_US
    payloads: list[tuple[int, bytes]] = []
    for each in played:
        if each.time_us >= ends_us:
            yield ends_us, payloads
            ends_us, payloads = ends_us + LOOKS_US, []
        if each.payload is not None:
            payloads.append((each.time_us, each.payload))
    yield ends_us, payloads


def _points(store: Store, plan: Any, watched: Watched) -> PointMap:
    mapping_id = store.register_mapping(plan.mapping, START_US)
    mapped = [
        Mapped(origin, ids, dict.fromkeys(ids, (watched.module_id,))) for origin, ids in origins(store, plan)
    ]
    return point_map(mapped, mapping_id, plan.settings.assess.tolerance_s * SECOND_US)


def _receive(store: Store, points: PointMap, batch: list[tuple[int, bytes]], refused: Counter[str]) -> None:
    """A batch as intake keeps it, from decoder to commit."""
    readings, spans, refusals = [], [], []
    for time_us, payload in batch:
        decoded = points.read(Message(1, 1, 1, TOPIC, payload, False, time_us + SECOND_US + ARRIVES_US))
        readings += decoded.readings
        spans += decoded.spans
        refusals += decoded.refusals
        refused.update(decoded.counts)
    store.add_batch(readings, refusals, spans)


def _found(journal: Iterable[JournalEntry]) -> Iterator[Found]:
    """Occurrences that were told and not taken back."""
    entries = sorted(journal, key=lambda entry: entry.id or 0)
    bodies = [orjson.loads(entry.body) for entry in entries]
    withdrawn = {
        (entry.alarm, body.get("since_us"))
        for entry, body in zip(entries, bodies, strict=True)
        if entry.transition == "withdrawn"
    }
    for entry, body in zip(entries, bodies, strict=True):
        if entry.transition in FOUND and (entry.alarm, body.get("since_us")) not in withdrawn:
            yield Found(entry.alarm, entry.event_us)

"""One scenario through the agent's own path: payloads, decoders, store, assessor, journal."""

import tempfile
import time
import traceback
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from pathlib import Path

import orjson

from agent.readings import EVER_US
from agent.service.look.evidence import evidence
from agent.settings import load
from agent.store import JournalEntry
from demo_feed.bench import play
from tests.bench.configuration import configuration
from tests.bench.path import begun, worked_off
from tests.scenarios.scenario import START_US, Found, Result, Scenario
from tests.service.site import write

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
    first, played = begun(played)
    body, unknown = configuration(
        scenario.gateway,
        scenario.unit.refrigerant,
        scenario.unit.arrangement.name,
        first,
        scenario.configured_probe,
    )
    plan = load(write(directory, body))
    with worked_off(directory, plan, played, START_US) as done:
        journal = done.store.journal(done.watched.module_id, 0, EVER_US)
        known = evidence(done.store, plan, plan.modules[0], scenario.end_us)
        likely = known.causes.named if known else None
        refused = done.refused
    refused.pop("unmapped", None)  # signals of the bench that the agent has no name for
    return tuple(_found(journal)), refused, unknown, likely


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

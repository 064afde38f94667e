"""Where signals come in: no value belongs to two owners, and the stamps of a topic are of one zone."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from typing import NamedTuple
from zoneinfo import available_timezones

from agent.settings.mapping import Payload, Taken
from agent.settings.model import ModuleSettings, Settings
from agent.settings.names import ModulePath
from agent.settings.sentences import meant
from agent.settings.shared import Scope
from agent.settings.signal_sets import Report, payload_of, points_of
from agent.settings.source import Where


class Origin(NamedTuple):
    """What signals come from: where it is written, whose they are, the topic, the set and their zone."""

    where: Where
    path: ModulePath
    topic: str
    signal_set: str
    zone: str | None
    where_zone: Where


def topic_of(settings: Settings, described: ModuleSettings, path: ModulePath) -> str:
    """Where the signals of a module come in."""
    return described.topic or f"{settings.broker.telemetry}/{path}"


def newest_set(described: ModuleSettings) -> str:
    """The signal set of the newest layout: what arrives now is stored by its names."""
    return described.layout[-1].signal_set or described.signal_set


def origins(settings: Settings, shared: Iterable[Scope]) -> Iterator[Origin]:
    """All that signals come from, shared ones first."""
    for scope in shared:
        zone_at = (*scope.where, "stamps_zone")
        yield Origin(scope.where, scope.path, scope.topic, scope.settings.signal_set, scope.zone, zone_at)
    for name, system in settings.systems.items():
        for module, described in system.modules.items():
            path = ModulePath(settings.site, name, module)
            where: Where = ("systems", name, "modules", module)
            topic, zone_at = topic_of(settings, described, path), ("systems", name, "stamps_zone")
            yield Origin(where, path, topic, newest_set(described), system.stamps_zone, zone_at)


def check_topics(settings: Settings, found: Iterable[Origin], wrong: Report) -> None:
    """No value may belong to two owners, and none may come in where the agent publishes."""
    taken = Taken(settings.broker.prefix)
    for each in found:
        signals = settings.signal_sets.get(each.signal_set)
        payload, points = (payload_of(signals), points_of(signals)) if signals else (Payload(), {})
        for problem in taken.take(str(each.path), each.topic, payload, points):
            wrong((*each.where, "topic"), problem)


def check_zones(found: Iterable[Origin], wrong: Report) -> None:
    """A zone exists, and a topic's stamps are of one."""
    zones: dict[str, Origin] = {}
    told: set[Where] = set()
    for each in found:
        if each.zone is not None and each.zone not in _zones():
            wrong(each.where_zone, f"no time zone {each.zone!r}{_meant(each.zone)}")
        first = zones.setdefault(each.topic, each)
        if first.zone != each.zone and each.where_zone not in told:
            told.add(each.where_zone)
            of = f"system {first.path.system}" if first.path.module else f"the shared signals of {first.path}"
            said = f"{each.zone or 'UTC'} here and {first.zone or 'UTC'} in {of}"
            wrong(each.where_zone, f"topic {each.topic} is stamped in {said}; right would be one stamps_zone")


def _meant(zone: str) -> str:
    said = meant(zone, _zones())
    if "did you mean" in said:
        return said
    return "; right would be a name of the IANA time zone database, as Europe/Berlin"  # there are 600


@cache
def _zones() -> set[str]:
    """Read from the disk once."""
    return available_timezones()

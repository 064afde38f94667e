"""What decodes the messages of a configuration: the point map that is made of it, whoever listens."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple
from zoneinfo import ZoneInfo

from agent.intake import Point, PointMap, Stamps
from agent.intake.refusals import KEPT_PER_MINUTE
from agent.settings import ModulePlan, SharedPlan


class ToDecode(NamedTuple):
    """A module or shared signals, with the numbers that the signals and the modules that use them go by."""

    origin: ModulePlan | SharedPlan
    signal_ids: Mapping[str, int]
    users: Mapping[str, tuple[int, ...]]  # per signal the modules whose frames hold it


def point_map(
    mapped: Iterable[ToDecode], mapping_id: int, tolerance_us: int, kept_per_minute: int = KEPT_PER_MINUTE
) -> PointMap:
    """What decodes these. `kept_per_minute`: how many refusals are handed on with their cause."""
    every = list(mapped)
    points = {
        address: Point(
            each.signal_ids[name],
            each.users[name],
            units=each.origin.conversions[name].units,
            sentinels=each.origin.conversions[name].sentinels,
        )
        for each in every
        for address, name in each.origin.addresses.items()
    }
    payloads = {topic: each.origin.payload for each in every for topic, _ in each.origin.addresses}
    zones = {
        topic: each.origin.zone for each in every if each.origin.zone for topic, _ in each.origin.addresses
    }
    return PointMap(
        points,
        mapping_id,
        tolerance_us,
        payloads=payloads,
        stamps={topic: Stamps(ZoneInfo(zone)) for topic, zone in zones.items()},
        kept_per_minute=kept_per_minute,
    )

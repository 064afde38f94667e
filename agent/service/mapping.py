"""From the configuration to the point map: what intake decodes with, whoever listens."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple
from zoneinfo import ZoneInfo

from agent.intake import Point, PointMap, Stamps
from agent.intake.refusals import KEPT_PER_MINUTE
from agent.settings import ModulePlan


class Mapped(NamedTuple):
    """A module with the numbers that it and its signals go by."""

    plan: ModulePlan
    module_id: int
    signal_ids: Mapping[str, int]


def point_map(
    modules: Iterable[Mapped], mapping_id: int, tolerance_us: int, kept_per_minute: int = KEPT_PER_MINUTE
) -> PointMap:
    """What decodes these modules. `kept_per_minute`: how many refusals are handed on with their cause."""
    each_module = list(modules)
    points = {
        (each.plan.topic, point): Point(
            each.signal_ids[name], each.module_id, units=each.plan.conversions[name].units
        )
        for each in each_module
        for point, name in each.plan.points.items()
    }
    zones = {each.plan.topic: each.plan.zone for each in each_module if each.plan.zone}
    stamps = {topic: Stamps(ZoneInfo(zone)) for topic, zone in zones.items()}
    return PointMap(points, mapping_id, tolerance_us, stamps=stamps, kept_per_minute=kept_per_minute)

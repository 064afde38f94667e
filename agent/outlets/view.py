"""A module as a person or a program is shown it: the latest assessment and the alarms that stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

from agent.alarms import (
    FEED_STALE,
    NOTHING_FOUND,
    Detection,
    Facts,
    Finding,
    Priority,
    active,
    cannot_prove_dry,
    facts,
    priority,
)
from agent.assess import Assessment
from agent.settings import ModulePath, ModulePlan


class StandingAlarm(NamedTuple):
    """An active alarm: since when its condition holds, and what it rests on now."""

    name: str
    priority: Priority
    since_us: int | None
    facts: Facts


@dataclass(frozen=True)
class ModuleView:
    """What is known of a module now. None: nothing assessed yet, or never a reading."""

    path: ModulePath
    assessment: Assessment | None
    alarms: tuple[StandingAlarm, ...] = ()
    newest_us: int | None = None  # sample time of the newest reading
    notes: tuple[str, ...] = ()  # what these instruments cannot do


def view(
    plan: ModulePlan,
    assessment: Assessment | None,
    states: Mapping[str, Detection],
    newest_us: int | None,
    stale: StandingAlarm | None = None,
    findings: Mapping[str, Finding] = NOTHING_FOUND,
) -> ModuleView:
    """Put together what is shown of a module.

    ``stale``: the alarm that is not judged in event time. ``findings``: of the alarms judged by the hour.
    """
    by_clock = (stale,) if stale else ()
    if assessment is None:
        return ModuleView(plan.path, None, by_clock, newest_us)
    alarms = tuple(
        StandingAlarm(
            name,
            priority(plan.catalogue[name], state, assessment),
            state.since_us,
            facts(plan.catalogue[name], assessment, plan.configured_probe, findings),
        )
        for name, state in active(states).items()
        if name in plan.catalogue
    )
    doubt = cannot_prove_dry(plan.catalogue, assessment)
    return ModuleView(plan.path, assessment, alarms + by_clock, newest_us, (doubt,) if doubt else ())


def stale_alarm(text: str, since_us: int | None) -> StandingAlarm:
    """The alarm on a feed, which no assessment knows."""
    return StandingAlarm(FEED_STALE.name, FEED_STALE.priority, since_us, Facts(text))

"""A module as a person or a program is shown it: the latest assessment and the alarms that stand."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

from agent.alarms import (
    FEED_STALE,
    NOTHING_FOUND,
    Detection,
    Facts,
    Finding,
    Life,
    Priority,
    StateName,
    active,
    cannot_prove_dry,
    facts,
    priority,
)
from agent.assess import AT_PROBE, Assessment, Quantity
from agent.piping import Fitness, Graph
from agent.settings import ModulePath, ModulePlan

NO_VERDICT = (Fitness.MIXED, Fitness.PARTIAL, Fitness.UNPROVEN)  # a probe shows a superheat, and no verdict
WITHDRAWN_SHOWN_US = 7 * 86_400 * 1_000_000  # design choice, no source


class StandingAlarm(NamedTuple):
    """An active alarm: since when its condition holds, and what it rests on now."""

    name: str
    priority: Priority
    since_us: int | None
    facts: Facts


class Lives(NamedTuple):
    """What has become of a module's alarms, by name; one that never stood is absent."""

    of: Mapping[str, Life] = MappingProxyType({})
    shadow_ends_us: int | None = None  # of a new module: before, they are shown and not sent
    at_us: int = 0  # as seen then
    unconfirmed_us: int | None = None  # since then another unit stands here, its layout not confirmed
    replaced_us: int | None = None  # since then another unit stands here

    @property
    def shadow(self) -> bool:
        """Whether they are shown and not sent."""
        return self.shadow_ends_us is not None and self.at_us < self.shadow_ends_us

    def standing(self, name: str) -> StateName:
        """An alarm's state by the standards' name."""
        return self.of.get(name, Life()).standing(self.at_us)

    def of_unit_before(self, name: str) -> bool:
        """Whether an alarm stood already when another unit came to stand here."""
        since_us = self.of.get(name, Life()).since_us
        return self.replaced_us is not None and since_us is not None and since_us < self.replaced_us

    @property
    def listed(self) -> dict[str, Life]:
        """Those that are not normal."""
        return {name: life for name, life in self.of.items() if self.standing(name) is not StateName.NORMAL}

    @property
    def withdrawn(self) -> dict[str, Life]:
        """Those that are normal since their newest occurrence was withdrawn, of late."""
        return {
            name: life
            for name, life in self.of.items()
            if life.withdrawn
            and self.standing(name) is StateName.NORMAL
            and self.at_us - (life.changed_us or 0) <= WITHDRAWN_SHOWN_US
        }

    def is_told(self, name: str) -> bool:
        """Whether people hear of an alarm."""
        return not self.shadow and self.of.get(name, Life()).state.is_told(self.at_us)


NO_LIVES = Lives()


@dataclass(frozen=True)
class ModuleView:
    """What is known of a module now. None: nothing assessed yet, or never a reading."""

    path: ModulePath
    assessment: Assessment | None
    alarms: tuple[StandingAlarm, ...] = ()
    newest_us: int | None = None  # sample time of the newest reading
    notes: tuple[str, ...] = ()  # what these instruments cannot do
    lives: Lives = NO_LIVES
    layout: Graph | None = None  # as configured now


def view(
    plan: ModulePlan,
    assessment: Assessment | None,
    states: Mapping[str, Detection],
    newest_us: int | None,
    stale: StandingAlarm | None = None,
    findings: Mapping[str, Finding] = NOTHING_FOUND,
    lives: Lives = NO_LIVES,
) -> ModuleView:
    """Put together what is shown of a module.

    ``stale``: the alarm that is not judged in event time. ``findings``: of the alarms judged by the hour.
    """
    by_clock = (stale,) if stale else ()
    if assessment is None:
        return ModuleView(plan.path, None, by_clock, newest_us, lives=lives)
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
    notes = (doubt,) if doubt else ()
    layout = plan.module.layout
    return ModuleView(plan.path, assessment, alarms + by_clock, newest_us, notes, lives, layout)


def stale_alarm(text: str, since_us: int | None) -> StandingAlarm:
    """The alarm on a feed, which no assessment knows."""
    return StandingAlarm(FEED_STALE.name, FEED_STALE.priority, since_us, Facts(text))


def unfit(assessment: Assessment) -> Iterator[tuple[str, Quantity]]:
    """Suction probes that are not fit now, each with the superheat that it shows."""
    for name, quantity in assessment.quantities.items():
        probe = name.removeprefix(AT_PROBE)
        if probe != name and assessment.fitness[probe][0] is not Fitness.FIT:
            yield probe, quantity

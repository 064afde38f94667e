"""What a brief is made of: plain data, gathered by the service."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from agent.alarms.drift import PROBE_DRIFT
from agent.alarms.entry import rank
from agent.alarms.instruments import PROBE_FAILED
from agent.assess import Tracking
from agent.assess.identity import Identity
from agent.outlets.shown import SI, Display
from agent.outlets.terminal.alarm_list import Happened
from agent.outlets.terminal.by_hand import NOTHING_BY_HAND, MeasuredByHand
from agent.outlets.terminal.evidence import Evidence
from agent.outlets.view import ModuleView, StandingAlarm
from agent.outlets.visit.course import Course
from agent.outlets.visit.readings import Raw
from agent.outlets.visit.then_now import ThenNow
from agent.piping import Explanation
from agent.settings import ModulePlan

USUAL_SPAN = "14d"  # how far back a brief looks unless it is said
_OF_INSTRUMENTS = (PROBE_FAILED.name, PROBE_DRIFT.name)


@dataclass(frozen=True)
class LayoutHeld:
    """A layout of the module and since when it holds; ``by`` and ``why`` as somebody typed them."""

    name: str
    from_us: int  # 0: as configured from the start
    by: str
    why: str


@dataclass(frozen=True)
class Brief:
    """All that a brief tells of a module. Times in µs of UTC."""

    module: ModulePlan
    made_us: int
    from_us: int
    to_us: int
    view: ModuleView  # as it is when the brief is made
    course: Course
    explanation: Explanation
    layouts: tuple[LayoutHeld, ...]  # ascending; the last one holds now
    happened: tuple[Happened, ...] = ()  # in the span, by the time when it became known
    confirmed: tuple[Happened, ...] = ()  # that a person stood up for the module as it is described
    raised: Mapping[str, str] = field(default_factory=dict)  # per alarm what was found when it last came
    evidence: Evidence | None = None  # None: no whole hour is known
    identity: Identity | None = None  # likewise
    sides: tuple[Tracking, ...] = ()  # of probes whose side the layout leaves open
    by_hand: MeasuredByHand = NOTHING_BY_HAND
    runs: bool = True  # an agent works on the store
    ambient_pa: float | None = None  # what a gauge counts from; None: the site's height is not known
    readings: Mapping[str, Raw] = field(default_factory=dict)  # the newest of each signal that has one
    event: Course | None = None  # around the beginning of the alarm that the visit is for
    then_now: ThenNow | None = None  # likewise; None: no such alarm, or it did not run steadily
    display: Display = SI

    @cached_property
    def suspects(self) -> tuple[str, ...]:
        """Signals that failed, that an alarm of instruments names, or that a suspicion is about."""
        names = list(self.view.assessment.failed) if self.view.assessment else []
        for alarm in self.view.alarms:
            if alarm.name in _OF_INSTRUMENTS:
                words = re.findall(r"\w+", f"{alarm.facts.text} {self.raised.get(alarm.name, '')}")
                names += [word for word in words if word in self.module.module.signals]
        for suspicion in self.evidence.suspected.suspicions if self.evidence else ():
            names += suspicion.signals
        return tuple(dict.fromkeys(names))

    @property
    def cause(self) -> StandingAlarm | None:
        """The alarm that the visit is for; None: none stands whose beginning is known."""
        return main_alarm(self.view)

    @property
    def name(self) -> str:
        """System and module, as commands take it."""
        return self.module.path.local


def main_alarm(view: ModuleView) -> StandingAlarm | None:
    """The oldest of the most urgent alarms that people are told of; where they are told of none, of all."""
    known = [each for each in view.alarms if each.since_us is not None]
    wanted = [each for each in known if view.lives.is_told(each.name)] or known
    return min(wanted, key=lambda each: (-rank(each.priority), each.since_us or 0), default=None)

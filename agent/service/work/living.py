"""The lives of a module's alarms on their way through one step, and what comes to be told on it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple, Protocol

import orjson

from agent.alarms import (
    FEED_STALE,
    PROBE_FAILED,
    ROOTS,
    Deed,
    Event,
    Life,
    Line,
    Moment,
    Priority,
    Repeat,
    Root,
    Telling,
    Transition,
    facts,
    held_back,
    priority,
)
from agent.assess import Assessment
from agent.service.work.watched import Watched
from agent.settings import ModulePlan
from agent.store import JournalEntry, OutboxEntry

BY_TIME = "time"  # who ends a shelf that runs out

AssessmentAt = Callable[[int], Assessment | None]


class ToTell(NamedTuple):
    """What is to be told, and whom."""

    entry: JournalEntry  # the line of the journal that it is of
    routes: tuple[str, ...]
    telling: Telling | None  # None: something of the past, which changes no life
    priority: Priority
    life: Life
    why_now: str = ""  # of what is told later than it came to be known


class Announcer(Protocol):
    """Knows who is to be told, and makes the notices."""

    @property
    def receivers(self) -> tuple[str, ...]:
        """Names of all that are told of the past."""
        ...

    @property
    def repeat(self) -> Repeat: ...

    def moments(self, at_us: int) -> Mapping[str, Moment]:
        """A time as each receiver has it that is told of alarms, by name."""
        ...

    def why_held(self, route: str, known_us: int, said_day: int | None, priority: Priority) -> str:
        """Why a receiver is told only now of what was known then; empty: for no reason of its own."""
        ...

    def notices(
        self,
        plan: ModulePlan,
        told: Sequence[ToTell],
        latest: Assessment | None,
        assessment_at: AssessmentAt,
        now_us: int,
    ) -> Sequence[OutboxEntry]: ...


class Living:
    """The lives of a module's alarms on their way through one step."""

    def __init__(
        self,
        watched: Watched,
        now_us: int,
        latest: Assessment | None,
        shadow: bool,
        announcer: Announcer | None,
    ) -> None:
        self.watched = watched
        self.now_us = now_us
        self.latest = latest
        self.shadow = shadow
        self.lives = {name: watched.lives.get(name, Life()) for name in watched.plan.catalogue}
        self.written: list[JournalEntry] = []  # what follows
        self.told: list[ToTell] = []  # of what was detected, what is to be told
        self.late: list[tuple[str, Telling, Callable[[JournalEntry], ToTell]]] = []  # what is told only now
        self._announcer = announcer
        self._receivers = announcer.receivers if announcer else ()
        self._moments = announcer.moments(now_us) if announcer else {}
        self._repeat = announcer.repeat if announcer else Repeat(0, 0)
        self._why: dict[str, str] = {}
        layout = watched.plan.module.layout
        self._pressures = frozenset(filter(None, (layout.suction_transducer, layout.discharge_transducer)))

    def let_time_pass(self, name: str) -> None:
        before = self.lives[name]
        self.lives[name] = before.after_time(self.now_us)
        if self.lives[name] != before:
            until_us = before.state.shelved_until_us or self.now_us
            self._write(name, Event.UNSHELVED, until_us, {"who": BY_TIME})
            self._why[name] = "its shelving is over"

    def do(self, name: str, deed: Deed, at_us: int) -> None:
        self.lives[name] = self.lives[name].after_deed(deed._replace(said_us=at_us), self.now_us)
        self._write(name, deed.event, at_us, {"who": deed.who, "why": deed.why, "until_us": deed.until_us})
        if deed.event in (Event.UNSHELVED, Event.RETURNED):
            self._why[name] = f"{deed.who} ended what held it back"

    def take_in(self, entry: JournalEntry) -> None:
        """A line of detection, and whether it is told at once."""
        name, before = entry.alarm, self.lives[entry.alarm]
        body = orjson.loads(entry.body)
        line = Line(Transition(entry.transition), entry.event_us, body["since_us"])
        latching = self.watched.plan.catalogue[name].latching
        self.lives[name] = before.after_line(line, self.now_us, latching=latching, why=body.get("why", ""))
        self.hold(name)
        closed = before.state.active and not self.lives[name].state.active
        urgency = Priority(body["priority"])
        if line.transition is Transition.RAISED or closed:
            for telling, told_at, routes in self._due(name, urgency):
                self.told.append(ToTell(entry, routes, telling, told_at, self.lives[name]))
        elif self._receivers and not self.shadow and self.lives[name].state.is_told(self.now_us):
            self.told.append(ToTell(entry, self._receivers, None, urgency, self.lives[name]))

    def hold(self, name: str) -> None:
        """Begin or end what suppresses an alarm: the mode, or one that it follows from."""
        before = self.lives[name]
        self.lives[name] = before.after_hold(self._holder(name), self.now_us)
        if self.lives[name].held_by == before.held_by:
            return
        if held_by := self.lives[name].held_by:
            self._write(name, Event.SUPPRESSED, self.now_us, {"why": f"held back by {held_by}"})
        else:
            self._write(name, Event.UNSUPPRESSED, self.now_us, {"why": f"was held back by {before.held_by}"})
            self._why.setdefault(name, f"{before.held_by} no longer holds it back")

    def tell(self, name: str) -> None:
        """What has not been told yet, and nothing holds back any more; and what is to be said again."""
        before = self.lives[name]
        for telling, told_at, routes in self._due(name, self._priority(name)):
            by_reason: dict[str, list[str]] = defaultdict(list)
            for route in routes:
                by_reason[self._why_now(name, telling, before, route, told_at)].append(route)
            for why, told in by_reason.items():
                make = partial(
                    ToTell,
                    routes=tuple(told),
                    telling=telling,
                    priority=told_at,
                    life=self.lives[name],
                    why_now=why,
                )
                self.late.append((name, telling, make))

    def _due(self, name: str, urgency: Priority) -> Iterator[tuple[Telling, Priority, tuple[str, ...]]]:
        """What is due to be told of an alarm, at which priority and whom; it counts as told then."""
        before = self.lives[name]
        self.lives[name], told = before.after_telling(
            urgency, self._moments, self._repeat, shadow=self.shadow
        )
        alike: dict[tuple[Telling, Priority], list[str]] = defaultdict(list)
        for route, telling in told.items():
            was = before.said_to(route).priority if telling is Telling.OVER else None
            alike[telling, was or urgency].append(route)
        for (telling, told_at), routes in alike.items():
            yield telling, told_at, tuple(routes)

    def _priority(self, name: str) -> Priority:
        entry, state = self.watched.plan.catalogue[name], self.watched.states.get(name)
        if state is None or self.latest is None:
            return entry.priority
        return priority(entry, state, self.latest)

    def _why_now(self, name: str, telling: Telling, before: Life, route: str, urgency: Priority) -> str:
        said = before.said_to(route)
        if telling is Telling.AGAIN:
            again = "it was over, came again and stands" if said.since_us is None else "it still stands"
            return f"{again}, and nobody has acknowledged it"
        if telling is Telling.STANDS and said.since_us == before.since_us and said.priority is not None:
            return f"its priority has risen from {said.priority} to {urgency}"
        if name in self._why:
            return self._why[name]
        is_over = telling is Telling.OVER
        known_us = (before.changed_us if is_over else before.known_us) or self.now_us
        day = None if is_over else said.day
        held = self._announcer.why_held(route, known_us, day, urgency) if self._announcer else ""
        return held or "nothing holds it back any more"

    def _holder(self, name: str) -> str:
        entry = self.watched.plan.catalogue[name]
        if not self.lives[name].state.active or entry.never_suppressed:
            return ""
        held = held_back([entry], self._roots(), self.latest, self._pressures)
        if name in held:
            return held[name]
        by_mode = self.latest is not None and self.latest.mode in entry.suppressed_in
        return f"mode {self.latest.mode}" if self.latest is not None and by_mode else ""

    def _roots(self) -> list[Root]:
        """The roots that stand. One out of service holds nothing back; a shelved one does."""
        roots = []
        for name in ROOTS:
            life = self.lives.get(name, Life())
            if not life.state.active or life.state.out_of_service:
                continue
            if name == FEED_STALE.name:
                roots.append(Root(name, self.watched.feed.about))
            elif name == PROBE_FAILED.name and self.latest is not None:
                plan = self.watched.plan
                probes = facts(plan.catalogue[name], self.latest, plan.configured_probe).probe or ""
                roots.append(Root(name, frozenset(filter(None, probes.split(", ")))))
        return roots

    def _write(self, name: str, event: Event, event_us: int, body: Mapping[str, object]) -> None:
        said = {key: value for key, value in body.items() if value not in (None, "")}
        text = orjson.dumps({"since_us": self.lives[name].since_us, **said}).decode()
        self.written.append(
            JournalEntry(self.watched.module_id, name, event_us, self.now_us, event, text),
        )


def newest_line(known: Sequence[JournalEntry], work: Living, name: str, telling: Telling) -> JournalEntry:
    """The newest line that says how it stands, as a line that is known now."""
    stands = telling is not Telling.OVER
    wanted = (Transition.RAISED, Transition.AMENDED) if stands else (Transition.CLEARED, Transition.WITHDRAWN)
    for entry in reversed(known):
        if entry.alarm == name and entry.transition in wanted:
            told = entry._replace(known_us=work.now_us)
            return told._replace(transition=Transition.RAISED) if stands else told
    since_us, priority = work.lives[name].since_us, work.watched.plan.catalogue[name].priority
    body = orjson.dumps({"since_us": since_us or work.now_us, "priority": priority, "text": ""})
    transition = Transition.RAISED if stands else Transition.CLEARED
    at_us = work.now_us
    return JournalEntry(work.watched.module_id, name, at_us, at_us, transition, body.decode())

"""What becomes of a module's alarms at the live edge, and what people are told of it.

A step is worked out first and written whole with what caused it: the states, their lines in the journal and
the notices are kept together or not at all, so that a kill in between loses and doubles nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple, Protocol

import orjson

from agent.alarms import (
    FEED_STALE,
    PROBE_FAILED,
    ROOTS,
    Deed,
    Event,
    Life,
    Line,
    Root,
    State,
    Telling,
    Transition,
    facts,
    held_back,
)
from agent.assess import Assessment, load_assessment
from agent.settings import ModulePlan
from agent.store import AlarmState, JournalEntry, ModuleService, OutboxEntry, Store

if TYPE_CHECKING:
    from agent.service.watched import Watched

EVER_US = 2**62
BY_TIME = "time"  # who ends a shelf that runs out
DETECTED = frozenset(Transition)  # the journal's lines on what was found; the others are on what was done

AssessmentAt = Callable[[int], Assessment | None]


class Deferred(NamedTuple):
    """A line of the journal that is told only now, and why now."""

    entry: JournalEntry
    why: str


class Announce(Protocol):
    """Makes notices of what is to be told of a module."""

    def __call__(
        self,
        plan: ModulePlan,
        journal: Sequence[JournalEntry],
        latest: Assessment | None,
        assessment_at: AssessmentAt,
        *,
        deferred: Sequence[Deferred] = (),
    ) -> Sequence[OutboxEntry]: ...


class Step(NamedTuple):
    """What follows from what happened; to be written in its transaction."""

    lives: Mapping[str, Life]  # of the alarms that changed
    journal: Sequence[JournalEntry]  # what happened, and what follows
    notices: Sequence[OutboxEntry]

    @property
    def alarm_states(self) -> list[AlarmState]:
        """The lives in the form they are kept in."""
        return [
            AlarmState(name, life.since_us, life.changed_us, life.dump()) for name, life in self.lives.items()
        ]


class Alarms:
    """Carries the alarms of modules through what happens to them. Without ``announce`` nobody is told."""

    def __init__(self, store: Store, announce: Announce | None = None) -> None:
        self.store = store
        self._announce = announce

    def step(
        self,
        watched: Watched,
        now_us: int,
        latest: Assessment | None,
        assessment_at: AssessmentAt,
        *,
        journal: Sequence[JournalEntry] = (),
        deeds: Iterable[tuple[str, Deed, int]] = (),
        shadow: bool | None = None,
    ) -> Step:
        """Work out what follows now.

        ``journal``: lines of detection. ``deeds``: alarm, what a person did to it, and when. ``shadow``: in
        place of what the module's time says. Raises RefusedError for a deed that cannot be done.
        """
        work = _Work(watched, now_us, latest, watched.in_shadow(now_us) if shadow is None else shadow)
        for name in work.lives:
            work.let_time_pass(name)
        for name, deed, at_us in deeds:
            work.do(name, deed, at_us)
        for entry in sorted(journal, key=lambda entry: entry.alarm not in ROOTS):
            work.take_in(entry)
        for name in list(work.lives):
            work.hold(name)
            work.tell(name)
        entries = [*journal, *work.written]
        notices: Sequence[OutboxEntry] = ()
        if self._announce and (work.told or work.late):
            kept = self.store.journal(watched.module_id, 0, EVER_US)
            known = [*sorted(kept, key=lambda entry: entry.id or 0), *journal]
            late = [Deferred(_last(known, work, name, what), why) for name, what, why in work.late]
            notices = self._announce(watched.plan, work.told, latest, assessment_at, deferred=late)
        changed = {n: life for n, life in work.lives.items() if life != watched.lives.get(n, Life())}
        return Step(changed, entries, notices)

    def settle(self, watched: Watched, now_us: int) -> None:
        """Do what follows from time alone, and from what holds alarms back now."""
        step = self.step(watched, now_us, watched.latest, lambda at_us: self._assessment_at(watched, at_us))
        if step.lives:
            self.store.finish(
                watched.module_id,
                watched.revision_id,
                [],
                journal=step.journal,
                notices=step.notices,
                alarm_states=step.alarm_states,
            )
            watched.lives |= step.lives

    def _assessment_at(self, watched: Watched, at_us: int) -> Assessment | None:
        kept = self.store.assessments(watched.module_id, at_us, at_us)
        return load_assessment(*kept[0]) if kept else watched.latest


class _Work:
    """The lives of a module's alarms on their way through one step."""

    def __init__(self, watched: Watched, now_us: int, latest: Assessment | None, shadow: bool) -> None:
        self.watched = watched
        self.now_us = now_us
        self.latest = latest
        self.shadow = shadow
        self.lives = {name: watched.lives.get(name, Life()) for name in watched.plan.catalogue}
        self.written: list[JournalEntry] = []  # what follows
        self.told: list[JournalEntry] = []  # of what was detected, what is to be told
        self.late: list[tuple[str, Telling, str]] = []  # what is told only now, and why
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
        self.lives[name] = self.lives[name].after_deed(deed, self.now_us)
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
        if line.transition is Transition.RAISED or closed:
            self.lives[name], telling = self.lives[name].after_telling(self.now_us, shadow=self.shadow)
            if telling is (Telling.OVER if closed else Telling.STANDS):
                self.told.append(entry)
        elif not self.shadow and self.lives[name].state.is_told(self.now_us):
            self.told.append(entry)

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
        """What has not been told yet, and nothing holds back any more."""
        self.lives[name], telling = self.lives[name].after_telling(self.now_us, shadow=self.shadow)
        if telling:
            self.late.append((name, telling, self._why.get(name, "nothing holds it back any more")))

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


def _last(known: Sequence[JournalEntry], work: _Work, name: str, telling: Telling) -> JournalEntry:
    """The newest line that says how it stands, as a line that is known now."""
    stands = telling is Telling.STANDS
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


def taken_up(kept: Iterable[AlarmState], announced_us: Mapping[str, int]) -> dict[str, Life]:
    """Lives as they are kept; of an alarm that an older version raised: it stands, and people were told."""
    lives = {each.alarm: Life.load(each.state) for each in kept}
    for name, since_us in announced_us.items():
        standing = State(active=True, acknowledged=False)
        lives.setdefault(name, Life(standing, since_us, since_us, told_us=since_us))
    return lives


def shadow_ends_us(
    plan: ModulePlan, service: ModuleService, opened_us: int, first_us: int | None
) -> int | None:
    """When a module's alarms begin to be sent; None: they are.

    ``opened_us``: since when it is watched. ``first_us``: the first grid time assessed; a backlog of the
    time before counts from when it is watched. Of a unit that was replaced it counts from then.
    """
    confirmed = service.confirmed_us is not None and service.unconfirmed_us is None
    if confirmed or not plan.shadow_us:
        return None
    return max(opened_us, first_us or opened_us, service.replaced_us or 0) + plan.shadow_us

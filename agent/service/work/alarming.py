"""What becomes of a module's alarms at the live edge, and what people are told of it.

A step is worked out first and written whole with what caused it: the states, their lines in the journal and
the notices are kept together or not at all, so that a kill in between loses and doubles nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from typing import NamedTuple

import orjson

from agent.alarms import EVERYBODY, FEED_STALE, ROOTS, Deed, Life, Said, State, Transition
from agent.assess import Assessment, load_assessment
from agent.readings import EVER_US
from agent.service.work.living import Announcer, AssessmentAt, Living, newest_line
from agent.service.work.watched import Watched
from agent.store import AlarmState, JournalEntry, OutboxEntry, Store, StoreError

NORMAL = Life()  # of which nobody was told anything
DETECTED = frozenset(Transition)  # the journal's lines on what was found; the others are on what was done


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
    """Carries the alarms of modules through what happens to them. Without ``announcer`` nobody is told."""

    def __init__(self, store: Store, announcer: Announcer | None = None) -> None:
        self.store = store
        self._announcer = announcer

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
        in_shadow = watched.in_shadow(now_us) if shadow is None else shadow
        work = Living(watched, now_us, latest, in_shadow, self._announcer)
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
        if self._announcer and (work.told or work.late):
            kept = self.store.journal(watched.module_id, 0, EVER_US) if work.late else []
            known = [*sorted(kept, key=lambda entry: entry.id or 0), *journal]
            late = [make(newest_line(known, work, name, what)) for name, what, make in work.late]
            told = [*work.told, *late]
            notices = self._announcer.notices(watched.plan, told, latest, assessment_at, now_us)
        changed = {n: life for n, life in work.lives.items() if life != watched.lives.get(n, Life())}
        return Step(changed, entries, notices)

    def settle(self, watched: Watched, now_us: int) -> None:
        """Do what follows from time alone, and from what holds alarms back now."""
        if all(life == NORMAL for life in watched.lives.values()):
            return
        step = self.step(watched, now_us, watched.latest, lambda at_us: self._assessment_at(watched, at_us))
        if step.lives:
            self._write(watched, step)

    def look_at_feed(self, watched: Watched, now_us: int, unconnected_us: int | None) -> None:
        """Judge whether readings come as they should; as for `Feed.judge`. Raises StoreError."""
        before = copy(watched.feed)
        line = watched.feed.judge(now_us, unconnected_us, watched.latest)
        if line is None:
            return
        feed = watched.feed
        body = {
            "since_us": line.since_us,
            "priority": FEED_STALE.priority,
            "cause": feed.cause,
            "text": feed.text,
        }
        entry = JournalEntry(
            watched.module_id,
            FEED_STALE.name,
            line.event_us,
            line.event_us,
            line.transition,
            orjson.dumps(body).decode(),
        )
        latest = watched.latest
        try:
            self._write(watched, self.step(watched, now_us, latest, lambda _: latest, journal=[entry]))
        except StoreError:
            feed.take_back(before)  # told again in the next round
            raise

    def _write(self, watched: Watched, step: Step) -> None:
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


def taken_up(kept: Iterable[AlarmState], announced_us: Mapping[str, int]) -> dict[str, Life]:
    """Lives as they are kept; of an alarm that an older version raised: it stands, and people were told."""
    lives = {each.alarm: Life.load(each.state) for each in kept}
    for name, since_us in announced_us.items():
        standing = State(active=True, acknowledged=False)
        said = {EVERYBODY: Said(since_us, at_us=since_us)}
        lives.setdefault(name, Life(standing, since_us, since_us, said=said))
    return lives

"""Telling people: notices go into the outbox with what caused them, and from there to their receivers.

Delivered at least once, on each route in order: a notice that is not accepted holds back those behind it, and
is tried again until it is. A kill between the receiver's answer and the mark sends the same text once more.
"""

from __future__ import annotations

import logging
import threading
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence

import orjson

from agent.alarms import Facts, Line, Priority, Transition, facts
from agent.assess import SECOND, Assessment, Status
from agent.assess.assessment import Basis
from agent.outlets.notices import (
    Day,
    Happening,
    ModuleDay,
    Notice,
    compose,
    heartbeat,
    heartbeat_key,
)
from agent.outlets.routes import Route
from agent.piping import RETURN
from agent.service.alarming import EVER_US, Deferred
from agent.service.looking import look
from agent.settings import ModulePlan, Plan
from agent.store import JournalEntry, OutboxEntry, Store, StoreError

WAKE_S = 3.0
OUTCOMES = ("sent", "failed")
FIRST_PAUSE_US = 60 * SECOND
LONGEST_PAUSE_US = 3600 * SECOND
HOUR_US = 3600 * SECOND
DAY_US = 24 * HOUR_US

_CLOSING = (Transition.CLEARED, Transition.WITHDRAWN)
_log = logging.getLogger(__name__)


def announce(
    store: Store,
    plan: ModulePlan,
    journal: Sequence[JournalEntry],
    latest: Assessment | None,
    assessment_at: Callable[[int], Assessment | None],
    routes: Iterable[str],
    deferred: Sequence[Deferred] = (),
) -> list[OutboxEntry]:
    """What the routes are told of journal entries on one module; to be asked before their commit, for it.

    ``assessment_at``: what the entry of an event time rests on. An alarm that is raised is told with the
    ``latest`` instead: it may have begun hours ago, and whoever is woken wants to know how it is now.
    ``deferred``: older entries that something had held back.
    """
    names = list(routes)
    entries = [*journal, *(each.entry for each in deferred)]
    if not entries or not names:
        return []
    now_us = max(entry.known_us for entry in entries)
    happenings = _happenings(store, plan, entries, latest, assessment_at)
    for number, each in enumerate(deferred, len(journal)):
        happenings[number] = happenings[number]._replace(told_us=now_us, why_now=each.why)
    notices = compose(plan.path, plan.module.refrigerant, happenings, now_us)
    return _addressed(notices, names, now_us)


class Notifier:
    """Takes what waits in the outbox to the routes, and puts in a sign of life each day."""

    def __init__(self, store: Store, routes: Sequence[Route], clock: Callable[[], int], plan: Plan) -> None:
        self._store = store
        self._routes = {route.name: route for route in routes}
        self._clock = clock
        self._plan = plan
        self._accepted: set[int] = set()  # by the receiver, and not marked yet
        self._counts = {(name, outcome): 0 for name in self._routes for outcome in OUTCOMES}

    def counts(self) -> Mapping[tuple[str, str], int]:
        """Attempts of this process by route and outcome, sent or failed."""
        return dict(self._counts)

    def run(self, stop: threading.Event) -> None:
        """Work until told to stop; a send that is under way is finished first."""
        self._tell_stranded()
        while True:
            try:
                self.work(stop)
            except StoreError as error:
                _log.error("notices wait for the store: %s", error)
            except Exception:
                _log.exception("a round of notices failed and is tried again")
            if stop.wait(WAKE_S):
                return

    def work(self, stop: threading.Event) -> None:
        """Put in the sign of life where it is due, then send what is due."""
        now_us = self._clock()
        if self.heartbeat_due(now_us):
            notice = heartbeat(_day(self._store, self._plan, now_us), now_us)
            self._store.enqueue(_addressed([notice], self._routes, now_us))
        while not stop.is_set():
            due = [each for each in self._store.next_notices() if self._is_due(each)]
            if not due:
                return
            for each in due:
                if stop.is_set():
                    return
                self._deliver(each)

    def heartbeat_due(self, now_us: int) -> bool:
        """Whether a route has not been given this day's sign of life though its hour has come."""
        if now_us % DAY_US < self._plan.settings.notices.heartbeat_hour * HOUR_US:
            return False
        return not self._routes.keys() <= self._store.routes_told(heartbeat_key(now_us))

    def _is_due(self, entry: OutboxEntry) -> bool:
        ahead_us = entry.next_us - self._clock()
        # Further ahead than any pause is a clock that has been set back.
        return entry.route in self._routes and not 0 < ahead_us <= LONGEST_PAUSE_US

    def _deliver(self, entry: OutboxEntry) -> None:
        if entry.id not in self._accepted:
            error = self._routes[entry.route].send(entry.subject, entry.body)
            if error is not None:
                self._counts[entry.route, "failed"] += 1
                pause_us = min(FIRST_PAUSE_US << min(entry.attempts, 10), LONGEST_PAUSE_US)
                _log.warning(
                    "route %s: %r is tried again in %d min: %s",
                    entry.route,
                    entry.subject,
                    pause_us // (60 * SECOND),
                    error,
                )
                self._store.notice_failed(entry.id, error, self._clock() + pause_us)
                return
            self._counts[entry.route, "sent"] += 1
            self._accepted.add(entry.id)  # a store that fails now must not make it go out every few seconds
        self._store.notice_sent(entry.id, self._clock())
        self._accepted.discard(entry.id)

    def _tell_stranded(self) -> None:
        try:
            waiting = self._store.waiting_notices()
        except StoreError as error:
            _log.error("the outbox cannot be read: %s", error)
            return
        for route in waiting.keys() - self._routes.keys():
            _log.warning("%d notices wait for route %s, which is not configured", waiting[route], route)


def _addressed(notices: Iterable[Notice], routes: Iterable[str], now_us: int) -> list[OutboxEntry]:
    names = list(routes)
    return [OutboxEntry(now_us, route, *notice) for notice in notices for route in names]


def _happenings(
    store: Store,
    plan: ModulePlan,
    journal: Sequence[JournalEntry],
    latest: Assessment | None,
    assessment_at: Callable[[int], Assessment | None],
) -> list[Happening]:
    """The entries with what they rest on, in their order."""
    closed = Counter(
        entry.alarm
        for entry in store.journal(journal[0].module_id, 0, EVER_US)
        if entry.transition in _CLOSING
    )
    found = []
    for entry in journal:
        known, body = plan.catalogue[entry.alarm], orjson.loads(entry.body)
        evidence = Facts(**{name: body[name] for name in Facts._fields if name in body})
        raised = entry.transition == Transition.RAISED
        if raised and latest is not None and not (known.by_wall_clock or known.by_hour):
            evidence = facts(known, latest, plan.configured_probe)
        found.append(
            Happening(
                entry=known,
                line=Line(Transition(entry.transition), entry.event_us, body["since_us"]),
                episode=closed[entry.alarm],
                priority=Priority(body["priority"]),
                facts=evidence,
                assessment=latest if raised else assessment_at(entry.event_us),
            )
        )
        closed[entry.alarm] += entry.transition in _CLOSING
    return found


def _day(store: Store, plan: Plan, now_us: int) -> Day:
    """The 24 hours before now."""
    assess = plan.settings.assess
    step_us = assess.step_s * SECOND
    until_us = (now_us - assess.grace_s * SECOND) // step_us * step_us
    ids = store.module_ids()
    modules = []
    for module, view in zip(plan.modules, look(store, plan, now_us), strict=True):
        undecided = assessed = 0
        for body, count in (
            store.assessed_counts(ids[module.path], until_us - DAY_US + step_us, until_us)
            if module.path in ids
            else ()
        ):
            words = Basis.load(body)
            assessed += count
            undecided += count * (words.mode != "off" and words.said[RETURN].status is not Status.DECIDED)
        missing = max(DAY_US // step_us - assessed, 0)
        step_h = step_us / HOUR_US
        modules.append(ModuleDay(view, module.module.refrigerant, undecided * step_h, missing * step_h))
    refused = store.refused_between(now_us - DAY_US, now_us)
    return Day(plan.settings.site, modules, refused, store.waiting_notices())
